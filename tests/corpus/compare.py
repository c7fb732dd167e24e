"""Holds what was read against what was planted, cell by cell, by the place in the file that every row was put at."""

from __future__ import annotations

import datetime as dt
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from audit.intake import Reading
from schemas.tables import COLUMNS
from tests.corpus.plant import IDS, RETURNED, Book, Planted

Place = tuple[str, str, str, int]  # table, file, sheet, row


@dataclass
class Tally:
    """Cells planted, as planted, of these returned or said as planted; differing but said; and what must be nothing."""

    cells: int = 0
    as_planted: int = 0
    planted_faults: int = 0
    differ: list[str] = field(default_factory=list)  # not as planted, but returned or said
    silent: list[str] = field(default_factory=list)  # changed or invented without a word
    lost: list[str] = field(default_factory=list)  # rows neither used, merged nor returned


def compared(book: Book, reading: Reading) -> Tally:
    """Compare every planted cell of a book with what was read."""
    found = _Found(reading)
    tally = Tally()
    groups: dict[tuple[str, Any], list[Planted]] = defaultdict(list)
    for row in book.planted:
        if row.fate == RETURNED:
            _hold_returned(row, found, tally)
        else:
            key = row.cells.get(IDS[row.table]) or row.place
            groups[row.table, key].append(row)
    for rows in groups.values():
        _hold_used(rows, found, tally, book)
    _hold_nothing_more(book, found, tally)
    return tally


class _Found:
    """What the reading says, by place."""

    def __init__(self, reading: Reading) -> None:
        self.used: dict[Place, Mapping[str, Any]] = {}
        for table, frame in reading.tables.items():
            for record in frame.to_dict("records"):
                place = (
                    table,
                    *(_blank(record[c]) for c in ("source_file", "source_sheet")),
                    int(record["source_row"]),
                )
                self.used[place] = record
        self.effects: dict[Place, set[str]] = defaultdict(set)
        self.told: dict[Place, set[str]] = defaultdict(set)
        self.fields = {(m.file, _blank(m.sheet), c.header.label): c.column for m in reading.maps for c in m.chosen}
        for problem in reading.problems.to_dict("records"):
            file, sheet, column = problem["file"], _blank(problem["sheet"]), problem["column"]
            place = (problem["table"], file, sheet, int(problem["row"]))
            self.effects[place].add(problem["effect"])
            self.told[place] |= {column, self.fields.get((file, sheet, column), column)}
        self.unused = {(m.file, _blank(m.sheet), " ".join(h.text.split())) for m in reading.maps for h in m.unused}

    def tells(self, row: Planted, column: str) -> bool:
        """True where the problems speak of that cell, or a sentence of its whole column."""
        told = self.told[row.table, *row.place]
        header = " ".join(row.headers.get(column, column).split())
        if column in told or any(header and re.search(rf"(^|/ ){re.escape(header)}$", t) for t in told):
            return True
        return (row.file, row.sheet, header) in self.unused


def _blank(value: Any) -> str:
    return "" if value is None or value != value else str(value)


def _hold_returned(row: Planted, found: _Found, tally: Tally) -> None:
    """A row that cannot be used must be returned, and say which of its cells are at fault."""
    place = (row.table, *row.place)
    cells = len(row.cells)
    tally.cells += cells
    if place in found.used:
        tally.silent.append(f"{row.place}: used, but cannot be: {found.used[place]}")
    elif "returned" not in found.effects[place]:
        tally.lost.append(f"{row.table} {row.place}")
    else:
        tally.as_planted += cells
        tally.planted_faults += cells
        tally.differ += [f"{row.place} {c}: the fault is not named" for c in row.said if not found.tells(row, c)]


def _hold_used(rows: list[Planted], found: _Found, tally: Tally, book: Book) -> None:
    """One of the rows that say the same thing must be used with the planted cells, the others merged."""
    places = {(row.table, *row.place): row for row in rows}
    used = [place for place in places if place in found.used]
    for place, row in places.items():
        if place not in found.used and not found.effects[place] & {"merged", "returned"}:
            tally.lost.append(f"{row.table} {row.place}")
    if len(used) != 1:
        cells = sum(len(row.cells) for row in rows)
        tally.cells += cells
        kind = tally.differ if not used and "returned" in found.effects[next(iter(places))] else tally.silent
        kind.append(f"{rows[0].table} {rows[0].place}: {len(used)} of {len(rows)} rows used")
        return
    tally.as_planted += sum(len(row.cells) for place, row in places.items() if place != used[0])
    tally.cells += sum(len(row.cells) for place, row in places.items() if place != used[0])
    _hold_cells(places[used[0]], rows, found.used[used[0]], found, tally, book)


def _hold_cells(
    row: Planted, alike: list[Planted], read: Mapping[str, Any], found: _Found, tally: Tally, book: Book
) -> None:
    """Compare the cells of a row that is used; a fault may be said of any row that says the same thing."""
    for column in (c.name for c in COLUMNS[row.table]):
        told = any(found.tells(one, column) for one in alike)
        where = f"{row.table} {row.place} {column}"
        value = read[column]
        if column not in row.cells:
            if not _missing(value) and not told and column not in book.also.get(row.table, ()):
                tally.silent.append(f"{where}: invented {value!r}")
            continue
        tally.cells += 1
        meant = row.cells[column]
        if column in row.said and not told:
            tally.silent.append(f"{where}: a fault without a word, read as {value!r}")
        elif _same(value, meant, book.near.get(column, 0)) or (column in book.lines and _lines(value) == _lines(meant)):
            tally.as_planted += 1
            tally.planted_faults += column in row.said
        else:
            (tally.differ if told else tally.silent).append(f"{where}: {meant!r} was read as {value!r}")


def _hold_nothing_more(book: Book, found: _Found, tally: Tally) -> None:
    """No row may be read that nobody planted."""
    planted = {(row.table, *row.place) for row in book.planted}
    tables = {row.table for row in book.planted}
    tally.silent += [
        f"{place}: a row that is none" for place in found.used if place not in planted and place[0] in tables
    ]


def _missing(value: Any) -> bool:
    return bool(pd.isna(value))


def _same(value: Any, meant: Any, days: int = 0) -> bool:
    if meant is None or _missing(value):
        return meant is None and _missing(value)
    if isinstance(meant, float):
        return abs(float(value) - meant) <= 1e-9 + 1e-9 * abs(meant)
    if isinstance(meant, dt.datetime):
        return abs(value - meant) <= dt.timedelta(days=days)
    return bool(value == meant)


def _lines(value: Any) -> list[str]:
    return str(value).splitlines()


def totals(tallies: Iterable[Tally]) -> Tally:
    """All books together."""
    whole = Tally()
    for tally in tallies:
        whole.cells += tally.cells
        whole.as_planted += tally.as_planted
        whole.planted_faults += tally.planted_faults
        whole.differ += tally.differ
        whole.silent += tally.silent
        whole.lost += tally.lost
    return whole
