"""Books with planted truth: pages remember which row of which file holds what, and what must come of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from schemas.column import Column
from schemas.tables import COLUMNS
from tests.corpus.stock import Record

Cell = Callable[[Any, int], Any]  # a planted value and the number of its row, from 0: what stands in the file
Headers = Mapping[str, str]  # canonical column -> header; an empty header leaves the column out
Grid = list[list[Any]]

USED: Final = "used"
RETURNED: Final = "returned"
RULES: Final = {(c.table, c.name): c for columns in COLUMNS.values() for c in columns}
IDS: Final = {table: next((c.name for c in columns if c.unique), "") for table, columns in COLUMNS.items()}


@dataclass(frozen=True)
class Spoilt:
    """A cell as it stands in the file, what it must be read as, and whether that must be said.

    Without a meaning it must be said, and the cell be missing or the row returned.
    """

    cell: Any
    meant: Any = None
    told: bool = False


@dataclass(frozen=True)
class Planted:
    """One row of data in a file. `cells` is the truth, `said` the columns of which the problems must speak."""

    table: str
    file: str
    sheet: str
    row: int
    fate: str
    cells: Record
    headers: Headers
    said: frozenset[str] = frozenset()

    @property
    def place(self) -> tuple[str, str, int]:
        """File, sheet, row."""
        return self.file, self.sheet, self.row


@dataclass(frozen=True)
class Error:
    """A formula error, as a workbook keeps it."""

    text: str


@dataclass
class Page:
    """One sheet of a workbook, or one text file, filled from the top; rows count from 1."""

    name: str = ""
    grid: Grid = field(default_factory=list)
    planted: list[Planted] = field(default_factory=list)
    merges: list[str] = field(default_factory=list)
    hidden: str = ""  # "hidden" or "veryHidden"

    def lines(self, *rows: Sequence[Any]) -> Page:
        """Add rows that are not data: titles, totals, remarks."""
        self.grid += [list(row) for row in rows]
        return self

    def blank(self, count: int = 1) -> Page:
        """Add empty rows."""
        self.grid += [[] for _ in range(count)]
        return self

    def header(self, headers: Headers, left: int = 0) -> Page:
        """Add a header row."""
        return self.lines([None] * left + [h for h in headers.values() if h])

    def rows(
        self,
        table: str,
        records: Iterable[Record],
        headers: Headers,
        show: Mapping[str, Cell] | None = None,
        left: int = 0,
        spoilt: Mapping[tuple[int, str], Spoilt] | None = None,
        fates: Mapping[int, str] | None = None,
        truths: Sequence[Record] | None = None,
    ) -> Page:
        """Add rows of data below a header that is there already.

        Args:
            table: The table that they belong to.
            records: Their truth.
            headers: Canonical columns in the file's order, each with its header.
            show: How the values of a column are written; as they are where not named.
            left: Empty columns before the first.
            spoilt: By place in `records` and column: cells written otherwise.
            fates: By place in `records`: RETURNED where the row cannot be used.
            truths: What the rows must be read as, where that is not what stands in them (a later export counts).
        """
        names = [name for name, header in headers.items() if header]
        spoilt, fates, show = spoilt or {}, fates or {}, show or {}
        for n, record in enumerate(records):
            wrong = {name: fault for (place, name), fault in spoilt.items() if place == n}
            shown = {name: show[name](record[name], n) if name in show else record[name] for name in names}
            shown |= {name: fault.cell for name, fault in wrong.items()}
            truth = truths[n] if truths else {c: record[c] for c in names}
            truth = truth | {name: fault.meant for name, fault in wrong.items()}
            said = frozenset(name for name, fault in wrong.items() if fault.meant is None or fault.told)
            self.grid.append([None] * left + [shown[name] for name in names])
            fate = fates.get(n, USED)
            self.planted.append(Planted(table, "", self.name, len(self.grid), fate, truth, headers, said))
        return self

    def table(self, table: str, records: Iterable[Record], headers: Headers, **more: Any) -> Page:
        """Add a header and the rows below it."""
        return self.header(headers, more.get("left", 0)).rows(table, records, headers, **more)


@dataclass
class Book:
    """The files of one case and what must come of them.

    `says` are patterns that what is said, or a problem's reason, must match; `asks` is a pattern of the sentence where
    the book must be refused. `near` allows days between the planted and the read date of a column.
    """

    files: list[Path] = field(default_factory=list)
    planted: list[Planted] = field(default_factory=list)
    says: Sequence[str] = ()
    asks: str = ""
    near: Mapping[str, int] = field(default_factory=dict)
    also: Mapping[str, Sequence[str]] = field(default_factory=dict)  # table -> columns that may be filled besides
    lines: Sequence[str] = ()  # columns with texts of several lines: any end of line will do

    def add(self, path: Path, pages: Iterable[Page]) -> Book:
        """Take in a file that was written."""
        self.files.append(path)
        for page in pages:
            for row in page.planted:
                sheet = row.sheet if path.suffix.lower() in (".xlsx", ".ods") else ""
                self.planted.append(
                    Planted(row.table, path.name, sheet, row.row, row.fate, row.cells, row.headers, row.said)
                )
        return self


UNPLANTED: Final = (("visits", "earthed"), ("visits", "left_isolated"))  # tests/test_dangers.py holds these


def headers_of(table: str, names: Headers | None = None, order: Sequence[str] = ()) -> dict[str, str]:
    """The canonical headers of a table, some of them renamed or, by an empty text, left out."""
    names = names or {}
    listed = order or [c.name for c in COLUMNS[table]]
    return {name: names.get(name, "" if (table, name) in UNPLANTED else name) for name in listed}


def rule(table: str, column: str) -> Column:
    """What is known of a column."""
    return RULES[table, column]


# ---------------------------------------------------------------- cells


def number_text(value: float) -> str:
    """A number as people type it."""
    return f"{value:.10g}"


def day(style: str) -> Cell:
    """Dates in one style."""
    return lambda value, n: None if value is None else f"{value:{style}}"


def typed(table: str, headers: Headers, style: str = "%d/%m/%Y") -> dict[str, Cell]:
    """Every column as text, dates in one style, numbers as typed; for text files."""
    return {name: _text(style) for name in headers if headers[name]}


def _text(style: str) -> Cell:
    def show(value: Any, n: int) -> Any:
        if isinstance(value, dt.datetime):
            return f"{value:{style}}"
        return number_text(value) if isinstance(value, float) else value

    return show
