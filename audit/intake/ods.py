"""Find, in the content of an .ods workbook, how far each sheet's cells reach and which of them hold an error."""

from __future__ import annotations

import html
import re
from dataclasses import dataclass, field

from audit.intake.sheet import letters

TAG = re.compile(rb"<table:(?:table (?P<table>[^>]*)|table-row(?P<row>[^>]*)|(?:covered-)?table-cell(?P<cell>[^>]*))>")
REPEATED = re.compile(rb'-repeated="(\d+)"')
NAME = re.compile(rb'table:name="([^"]*)"')
TEXT = re.compile(rb"<text:p[^>]*>([^<]*)<")
MANY_ROWS, MANY_COLUMNS = 10_000, 1_000  # an error repeated further is marked this far


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


class Walk:
    """Walks through the content piece by piece; `tables` are the sheets found so far."""

    def __init__(self) -> None:
        self.tables: dict[str, Table] = {}
        self._table = Table()
        self._row = self._repeat = self._column = 0
        self._rest = b""

    def take(self, piece: bytes) -> int:
        """Look at the next bytes; returns how many wait for their end."""
        data = self._rest + piece
        cut = max(data.rfind(b"<table:"), 0)
        self._look(data[:cut])
        self._rest = data[cut:]
        return len(self._rest)

    def end(self) -> None:
        """Look at what is left."""
        self._look(self._rest)

    def _look(self, data: bytes) -> None:
        for tag in TAG.finditer(data):
            kind = tag.lastgroup
            told = tag.group(kind or 0)
            if kind == "cell":
                self._cell(told, data, tag.end())
            elif kind == "row":
                self._row += self._repeat
                self._repeat, self._column = _repeat(told), 0
            else:
                name = NAME.search(told)
                self._table = self.tables[html.unescape(name.group(1).decode()) if name else ""] = Table()
                self._row = self._repeat = 0

    def _cell(self, told: bytes, data: bytes, end: int) -> None:
        repeat = _repeat(told)
        if b"office:value-type" in told:
            table = self._table
            table.rows = max(table.rows, self._row + self._repeat)
            table.columns = max(table.columns, self._column + repeat)
            table.cells += 1
            if b'value-type="error"' in told:
                self._mark(data, end, repeat)
        self._column += repeat

    def _mark(self, data: bytes, end: int, repeat: int) -> None:
        text = TEXT.search(data, end, data.find(b"</table:", end))
        shown = html.unescape(text.group(1).decode("utf-8", "replace")) if text else "#ERROR"
        for row in range(self._row, self._row + min(self._repeat, MANY_ROWS)):
            for column in range(self._column, self._column + min(repeat, MANY_COLUMNS)):
                self._table.marks[row, column] = shown


def _repeat(told: bytes) -> int:
    if b"-repeated" not in told:
        return 1
    found = REPEATED.search(told)
    return int(found.group(1)) if found else 1
