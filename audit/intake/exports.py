"""Which of two exports was written later: by the dates in their names and by the latest days that they hold."""

from __future__ import annotations

import datetime as dt
import re
from calendar import monthrange
from functools import cached_property

import numpy as np
import pandas as pd

from audit.intake.problems import Bools, Table
from audit.intake.sheet import Rows

DAYS = ("reported", "attended", "completed")  # what the latest days of a log are looked for in
HELD = 0.8  # a log that lacks more of the other's jobs of its own time is a selection: its last day says nothing
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
NAMED = (  # a date in a name: year, month, day; day, month, year; year, month; a month's name and the year; the year
    r"(?P<y>20\d\d)[-_. ]?(?P<m>[01]\d)[-_. ]?(?P<d>[0-3]\d)",
    r"(?P<d>[0-3]?\d)[-_. ](?P<m>[01]?\d)[-_. ](?P<y>20\d\d)",
    r"(?P<y>20\d\d)[-_. ](?P<m>[01]\d)",
    rf"(?:(?P<d>[0-3]?\d)(?:st|nd|rd|th)?[-_. ]*)?(?P<w>{'|'.join(MONTHS)})[a-z]*[-_. ]*(?P<y>20\d\d)",
    r"(?P<y>20\d\d)",
)
PATTERNS = tuple(re.compile(rf"(?<!\d){pattern}(?!\d)") for pattern in NAMED)
Span = tuple[dt.date, dt.date]


class Exports:
    """The sheets that a table was put together from, and which were written after which."""

    def __init__(self, table: Table) -> None:
        self.table = table
        _, first, at = np.unique(table.piece, return_index=True, return_inverse=True)
        rows = table.frame.iloc[first]
        names = list(zip(rows["source_file"], rows["source_sheet"].fillna(""), strict=True))
        self.names = list(dict.fromkeys(names))
        self.of: Rows = np.array([self.names.index(name) for name in names], dtype=np.int64)[at]  # by row: its export
        self.spans = [named_day(sheet) or named_day(file.rpartition(".")[0]) for file, sheet in self.names]

    def later(self, one: Rows, other: Rows) -> Bools:
        """Tell for pairs of rows of one thing whether the one was clearly written after the other.

        It was where they come from two exports, some sign says so and none says the contrary: the dates in the names,
        and for visits the latest days of whole logs and the day of completion. Two attendances are no amendment.
        """
        signs = [self._by_name(one, other)]
        apart = self.of[one] != self.of[other]
        if self.table.name == "visits":
            signs += [*self._by_days(one, other), _sign(self._day("completed", one), self._day("completed", other))]
            apart &= _sign(self._day("attended", one), self._day("attended", other)) == 0
        every = np.array(signs)
        return np.asarray(apart & (every.min(axis=0) >= 0) & (every.max(axis=0) > 0), dtype=bool)

    def order(self, rows: Rows) -> tuple[Rows, ...]:
        """Keys for `np.lexsort`, the least telling first, that put rows written later before others."""
        of = self.of[rows]
        listed = sorted(range(len(self.names)), key=lambda export: self.names[export])
        place = self.table.frame["source_row"].to_numpy()[rows]
        keys = [place, np.argsort(listed)[of]]
        if self.table.name == "visits":
            last = self.last.reindex(range(len(self.names)))
            keys += [_late(self._day("completed", rows))]
            keys += [_late(days)[of] for days in (last.max(axis=1), last["reported"])]
        named = [span[0].toordinal() if span else 0 for span in self.spans]
        return (*keys, -np.array(named, dtype=np.int64)[of])

    def _day(self, column: str, rows: Rows) -> pd.Series:
        days: pd.Series = self.table.frame[column].iloc[rows].dt.normalize().reset_index(drop=True)
        return days

    def _by_name(self, one: Rows, other: Rows) -> Rows:
        pairs, at = self._pairs(one, other)
        return np.array([_of_spans(self.spans[a], self.spans[b]) for a, b in pairs], dtype=np.int64)[at]

    def _by_days(self, one: Rows, other: Rows) -> list[Rows]:
        """By the last day reported and by the last day of any kind, where the earlier holds the jobs of its time."""
        pairs, at = self._pairs(one, other)
        last = self.last
        found = []
        for each in (last["reported"], last.max(axis=1)):
            signs = [_sign(each.iloc[[a]], each.iloc[[b]])[0] for a, b in pairs]
            held = [self._holds(*((b, a) if s > 0 else (a, b))) for s, (a, b) in zip(signs, pairs, strict=True)]
            found.append(np.where(held, signs, 0)[at])
        return found

    def _pairs(self, one: Rows, other: Rows) -> tuple[list[list[int]], Rows]:
        pairs, at = np.unique(np.stack([self.of[one], self.of[other]], axis=1), axis=0, return_inverse=True)
        return pairs.tolist(), at.reshape(-1)

    @cached_property
    def last(self) -> pd.DataFrame:
        """By export: the last day of each kind."""
        return self.table.frame[list(DAYS)].groupby(self.of).max()

    def _holds(self, earlier: int, later: int) -> bool:
        """Tell whether an export has most jobs that the later one has from between its first and last report."""
        frame = self.table.frame
        mine, reported = self.of == earlier, frame["reported"]
        window = reported[mine]
        asked = (self.of == later) & reported.between(window.min(), window.max()).to_numpy()
        return bool(asked.any() and frame["visit_id"][asked].isin(frame["visit_id"][mine]).mean() >= HELD)


def _sign(one: pd.Series, other: pd.Series) -> Rows:
    """1 where the one is greater, -1 where it is less, 0 where they are alike or either is missing."""
    one, other = one.reset_index(drop=True), other.reset_index(drop=True)
    return (one > other).to_numpy(dtype=np.int64) - (one < other).to_numpy(dtype=np.int64)


def _late(days: pd.Series) -> Rows:
    """Numbers that are less for later days; days that are missing come last."""
    return -days.fillna(pd.Timestamp(0)).to_numpy("datetime64[us]").astype(np.int64)


def _of_spans(one: Span | None, other: Span | None) -> int:
    if one is None or other is None:
        return 0
    return int(one[0] > other[1]) - int(one[1] < other[0])


def named_day(name: str) -> Span | None:
    """First and last day that a name may mean, such as 1 to 31 May for "jobs May 2024"; of several the last."""
    text = name.casefold()
    for pattern in PATTERNS:
        spans = [span for found in pattern.finditer(text) if (span := _span(found.groupdict()))]
        if spans:
            return max(spans)
    return None


def _span(part: dict[str, str | None]) -> Span | None:
    year, month, day = int(part["y"] or 0), part.get("m"), part.get("d")
    word = part.get("w")
    number = MONTHS.index(word) + 1 if word else int(month or 0)
    try:
        if not number:
            return dt.date(year, 1, 1), dt.date(year, 12, 31)
        first = dt.date(year, number, int(day or 1))
        return first, first if day else first.replace(day=monthrange(year, number)[1])
    except ValueError:
        return None
