"""Find, in the content of an .ods workbook, how far each sheet's cells reach and which of them hold an error."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from xml.parsers import expat

from audit.intake.sheet import letters

BIG_REPEAT = re.compile(rb'number-(?:rows|columns)-repeated="[0-9]{4,}"')


@dataclass
class Table:
    """How far the filled cells of one sheet reach, and its error cells by (row, column) from 0."""

    rows: int = 0
    columns: int = 0
    cells: int = 0
    marks: dict[tuple[int, int], str] = field(default_factory=dict)

    @property
    def far(self) -> str:
        """The corner of the reach, as a spreadsheet names it."""
        return f"{letters(self.columns - 1)}{self.rows}" if self.columns else "A1"


def tables_of(pieces: Iterable[bytes]) -> dict[str, Table]:
    """Walk through the content and measure every sheet."""
    walk = _Walk()
    parser = expat.ParserCreate()
    parser.StartElementHandler = walk.start
    parser.EndElementHandler = walk.stop
    parser.CharacterDataHandler = walk.text
    parser.buffer_text = True
    try:
        for piece in pieces:
            parser.Parse(piece, False)
        parser.Parse(b"", True)
    except expat.ExpatError as error:
        raise EOFError(str(error)) from None
    return walk.tables


class _Walk:
    def __init__(self) -> None:
        self.tables: dict[str, Table] = {}
        self.table = Table()
        self.row = self.row_repeat = self.column = 0
        self.cell: dict[str, str] | None = None
        self.words: list[str] = []

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        if tag == "table:table":
            self.table = self.tables[attributes.get("table:name", "")] = Table()
            self.row = 0
        elif tag == "table:table-row":
            self.row_repeat = int(attributes.get("table:number-rows-repeated", "1"))
            self.column = 0
        elif tag in ("table:table-cell", "table:covered-table-cell"):
            self.cell, self.words = attributes, []

    def text(self, words: str) -> None:
        if self.cell is not None:
            self.words.append(words)

    def stop(self, tag: str) -> None:
        if tag == "table:table-row":
            self.row += self.row_repeat
        elif tag in ("table:table-cell", "table:covered-table-cell") and self.cell is not None:
            repeat = int(self.cell.get("table:number-columns-repeated", "1"))
            words = "".join(self.words).strip()
            if words or "office:value-type" in self.cell:
                self._filled(repeat, words)
            self.column += repeat
            self.cell = None

    def _filled(self, repeat: int, words: str) -> None:
        self.table.rows = max(self.table.rows, self.row + self.row_repeat)
        self.table.columns = max(self.table.columns, self.column + repeat)
        self.table.cells += 1
        if self.cell is not None and self.cell.get("calcext:value-type") == "error":
            for row in range(self.row, self.row + min(self.row_repeat, 10_000)):
                for column in range(self.column, self.column + min(repeat, 1_000)):
                    self.table.marks[row, column] = words or "#ERROR"
