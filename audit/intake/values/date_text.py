"""Dates as people and programs write them: text into day, month, year and time of day."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
import pyarrow.compute as pc

from audit.intake.values import arrow
from audit.intake.values.clock import clock_of
from audit.intake.values.parsed import Bools, Floats, Ints, Notes

# fixed width, read by position: 02/01/2008, 02-01-2008 14:35, 02.01.2008 14:35:07
FIXED: Final = r"^\d\d[/.-]\d\d[/.-]\d{4}(?: \d\d:\d\d(?::\d\d)?)?$"
_REST: Final = r"(?:(?:\s*[,t]\s*|\s+)(?P<rest>\S.*))?$"
_MON: Final = r"(?P<mon>[a-z]{3,9})\.?"
_DAY: Final = r"(?P<d>\d{1,2})(?:st|nd|rd|th)?"
_YEAR: Final = r"'?(?P<y>\d{4}|\d{2})"
# the first that fits is taken; y, m, d are known to be year, month, day; a, b are two of them in an order to be settled
SHAPES: Final = (
    rf"^(?P<y>\d{{4}})\s?[-/.\s]\s?(?P<m>\d{{1,2}})\s?[-/.\s]\s?(?P<d>\d{{1,2}}){_REST}",
    rf"^(?P<a>\d{{1,2}})\s?[-/.\s\\,]\s?(?P<b>\d{{1,2}})\s?[-/.\s\\,]\s?{_YEAR}{_REST}",
    rf"^{_DAY}(?:\s+of\s+|[-/.\s,]*){_MON}[-/.\s,]*{_YEAR}{_REST}",
    rf"^{_MON}[-/.\s]*{_DAY}(?:\s*,\s*|[-/.\s]+)(?P<y>\d{{4}}){_REST}",
    rf"^(?P<y>\d{{4}})[-/.\s]+{_MON}[-/.\s]+{_DAY}{_REST}",
    r"^(?P<y>\d{4})(?P<m>\d{2})(?P<d>\d{2})[t\s_-]?(?P<rest>\d{4}(?:\d{2})?(?:\.\d+)?.*)$",
    rf"^{_MON}[-/.\s,]*{_YEAR}$",
    r"^(?P<m>\d{1,2})\s?[-/.]\s?(?P<y>\d{4})$",
    r"^(?P<y>\d{4})\s?(?P<sep>[-/.])\s?(?P<m>\d{1,2})$",
    r"^(?P<y>\d{4})$",
)
_WEEKDAY: Final = r"^(?P<w>mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?\s*,?\s*(?:the\s+)?(?P<n>\d)"
_ROUGH: Final = r"^(?:approx(?:imately)?|about|around|circa|ca?|est(?:imated)?)\.?[\s~]*(\d)|^~\s*(\d)"
_ROUGH_WORDS: Final = r"(?:approx|est|estimated|circa|ish|about)\.?"
_ROUGH_END: Final = rf"(?:\s*\?+|\s*\(\s*{_ROUGH_WORDS}\s*\)|\s+{_ROUGH_WORDS})$"
_WEEK: Final = r"^(?:w/?c|w/?b|wk|week)\.?\s*(?:commencing|beginning|starting|comm?\.?|beg\.?)?\s*:?\s*(\d)"
_CLOCK_FIRST: Final = r"^(\d{1,2}:\d{2}(?::\d{2})?(?:\s*[ap]\.?m\.?)?)\s*(?:on\s+|,\s*|\s)(\d{1,4}[-/.\s].+)$"
_SECOND_DATE: Final = r"\d{1,4}[-/.]\d{1,2}[-/.]\d{2,4}|\d\s?[a-z]{3,9}\s?\d{2,4}$"
MONTHS: Final = (
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
)  # fmt: skip
WEEKDAYS: Final = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass
class Fields:
    """What was read of each text, arrays of one length: numbers 0 where nothing was read.

    `loose`: day and month may stand the other way round. `weekday`: named in the cell, from Monday = 0, -1 if none.
    `micros`: microseconds since midnight. `zone`: minutes east of Greenwich, NaN if none was written.
    """

    day: Ints
    month: Ints
    year: Ints
    loose: Bools
    weekday: Ints
    micros: Ints
    zone: Floats
    bad: Notes
    repaired: Notes


def _empty(length: int) -> Fields:
    day, month, year, micros = (np.zeros(length, dtype=np.int64) for _ in range(4))
    weekday = np.full(length, -1, dtype=np.int64)
    loose, zone = np.zeros(length, dtype=bool), np.full(length, np.nan)
    return Fields(day, month, year, loose, weekday, micros, zone, Notes(length), Notes(length))


def read_dates(text: pd.Series[str], pivot: float) -> Fields:
    """Read every text as a date; `pivot` is the two-digit year from which on the century is 1900."""
    fields = _empty(len(text))
    array = arrow.texts(text)
    fixed = arrow.matches(array, FIXED)
    _read_fixed(fields, array, fixed)
    left = np.flatnonzero(~fixed)
    tidied, weekday, rough, week = _tidy(array.take(left))
    fields.repaired.add(left[week], "only the week is given; its first day is taken", "write the day itself")
    fields.weekday[left] = weekday
    for shape in SHAPES:
        there, part = arrow.pieces(tidied, shape)
        _fill(fields, left[there], part, pivot)
        fields.repaired.add(
            left[there & rough], "the date is given as approximate", "write the date alone once it is known"
        )
        left, tidied, rough = left[~there], tidied.filter(~there), rough[~there]
    return fields


def _read_fixed(fields: Fields, array: Any, where: Bools) -> None:
    """Fill from texts of fixed width, by position: no search, several times faster."""
    found = array.filter(where)
    fields.day[where] = arrow.ints(arrow.slices(found, 0, 2))
    fields.month[where] = arrow.ints(arrow.slices(found, 3, 5))
    fields.year[where] = arrow.ints(arrow.slices(found, 6, 10))
    fields.loose[where] = True
    fields.micros[where], _, readable = clock_of(arrow.slices(found, 11))
    fields.bad.add(np.flatnonzero(where)[~readable], "the time of day is impossible", "write the time as 14:35")


def _tidy(array: Any) -> tuple[Any, Ints, Bools, Bools]:
    """Small letters, plain blanks and dashes, no weekday, no "about"; gives weekday, whether rough, whether a week."""
    text = pc.utf8_lower(array)
    for pattern, plain in (
        (r"[\t\n\r\x{a0}\x{2007}\x{202f}\x{200b}\x{feff}]|\s\s+", " "),
        ("[‐‑‒–—−]", "-"),
        ("[’‘`´]", "'"),
    ):
        text = arrow.replace(text, pattern, plain)
    text = pc.utf8_trim(text, " '\";,.*")
    week = arrow.matches(text, _WEEK)
    text = arrow.replace(text, _WEEK, r"\1")
    named, part = arrow.pieces(text, _WEEKDAY)
    weekday = np.full(len(array), -1, dtype=np.int64)
    weekday[named] = np.array([WEEKDAYS.index(day) for day in part["w"].to_pylist()], dtype=np.int64)
    text = arrow.replace(text, _WEEKDAY, r"\2")
    rough = arrow.matches(text, _ROUGH) | arrow.matches(text, _ROUGH_END)
    text = arrow.replace(arrow.replace(text, _ROUGH, r"\1\2"), _ROUGH_END, "")
    return arrow.replace(text, _CLOCK_FIRST, r"\2 \1"), weekday, rough, week


def _fill(fields: Fields, at: Ints, part: dict[str, Any], pivot: float) -> None:
    """Lay the pieces of one shape into the fields at the places `at`."""
    if not len(at):
        return
    loose = "a" in part
    fields.loose[at] = loose
    fields.day[at] = arrow.ints(part["a" if loose else "d"]) if loose or "d" in part else 1
    fields.month[at] = _months(fields, at, part)
    years = arrow.ints(part["y"])
    short = arrow.matches(part["y"], r"^\d{2}$")
    fields.year[at] = np.where(short, _full_year(years, pivot), years)
    if "rest" in part:
        _fill_clock(fields, at, part["rest"])
    if loose:
        _year_first(fields, at[short & (fields.day[at] > 31)], pivot)
    elif "d" not in part:
        _assume_day(fields, at, part)


def _full_year(years: Ints, pivot: float) -> Ints:
    full: Ints = np.where(years >= pivot, years + 1900, years + 2000)
    return full


def _fill_clock(fields: Fields, at: Ints, rest: Any) -> None:
    fields.micros[at], fields.zone[at], readable = clock_of(rest)
    two = arrow.matches(rest, _SECOND_DATE) & ~readable
    fields.bad.add(at[two], "two dates stand in one cell", "keep one date in the cell")
    fields.repaired.add(
        at[~readable & ~two],
        "what follows the date is no time of day; only the day is used",
        "keep the date alone, or add the time as 14:35",
    )


def _months(fields: Fields, at: Ints, part: dict[str, Any]) -> Ints:
    """Months as numbers or of their names; a slip in a name is put right and said, other words give month 0."""
    if "mon" not in part:
        name = "b" if "b" in part else "m"
        return arrow.ints(part[name]) if name in part else np.ones(len(at), dtype=np.int64)
    encoded = part["mon"].dictionary_encode()
    codes, names = np.asarray(encoded.indices), encoded.dictionary.to_pylist()
    found = [_month(name) for name in names]
    slip = np.array([slip for _, slip in found], dtype=bool)[codes]
    fields.repaired.add(at[slip], "the month's name is misspelt", "write the month as three letters")
    numbers: Ints = np.array([number for number, _ in found], dtype=np.int64)[codes]
    return numbers


def _month(name: str) -> tuple[int, bool]:
    """Number of a month's name or its beginning, and whether the name is misspelt; 0 if it is none."""
    for number, full in enumerate(MONTHS, 1):
        if full.startswith(name):
            return number, False
    for number, full in enumerate(MONTHS, 1):
        if full[:3] == name[:3] and len(name) > 3 and len(set(full) ^ set(name)) <= 2:
            return number, True
    return 0, False


def _year_first(fields: Fields, at: Ints, pivot: float) -> None:
    """Two-digit years in front, such as 98-01-31: only where the first number can be nothing else."""
    year, day = fields.day[at], fields.year[at] % 100
    fields.year[at], fields.day[at] = _full_year(year, pivot), day
    fields.loose[at] = False
    fields.repaired.add(at, "read as year, month, day: the first number can only be a year", "write the year in full")


def _assume_day(fields: Fields, at: Ints, part: dict[str, Any]) -> None:
    """Month and year, or the year alone: its first day, said. 2008/09 may as well be a financial year."""
    if "sep" in part:
        both = arrow.matches(part["sep"], "/") & (fields.year[at] % 100 + 1 == fields.month[at])
        fields.bad.add(at[both], "may be a month or a financial year", "write the whole date, with its day")
    if "mon" in part or "m" in part:
        fields.repaired.add(
            at, "only month and year are given; the first of the month is taken", "write the whole date"
        )
    else:
        fields.repaired.add(at, YEAR_ONLY, "write the whole date")


YEAR_ONLY: Final = "only the year is given; 1 January is taken"
