"""Numbers in a date column: spreadsheet day numbers, 20080102, years, and ages that count back from today."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import pandas as pd

from audit.intake.values.date_order import days
from audit.intake.values.date_text import YEAR_ONLY
from audit.intake.values.parsed import Asked, Bools, Floats, Ints, Judged, Notes, Times
from audit.intake.values.serials import from_serials
from audit.intake.values.wording import WRITE_DATE, counted

NO_TODAY: Final = "an age needs the day on which the list was made, which is not known"
NAT: Final = np.datetime64("NaT", "us")
AGE: Final = (
    r"(?i)^\s*(?P<n>\d{1,3}(?:\.\d+)?)\s*(?P<unit>years?|yrs?|y|months?|mths?|weeks?|wks?|days?)\.?\s*(?:old|ago)?\s*$"
)
# months or days of one unit, by its word without a plural s
_MONTHS: Final = {"year": 12, "yr": 12, "y": 12, "month": 1, "mth": 1}
_DAYS: Final = {"week": 7, "wk": 7, "day": 1}
_OLDEST_MONTHS: Final = 12 * 150


def age_unit(header: str) -> str:
    """The unit of ages that a header names ("age in years", "yrs", "months old"), without a plural s; else empty."""
    words = [word.removesuffix("s") for word in header.lower().replace("(", " ").replace(")", " ").split()]
    found = [word for word in words if word in _MONTHS or word in _DAYS]
    return found[0] if found else ""


def count_back(numbers: Floats, units: Sequence[str], asked: Asked) -> Times:
    """Dates so many years, months, weeks or days before `as_today`; NaT without it."""
    if asked.as_today is None:
        return np.full(len(numbers), NAT)
    months = np.array([_MONTHS.get(unit, 0) for unit in units], dtype=np.int64)
    less = np.array([_DAYS.get(unit, 0) for unit in units], dtype=np.int64) * np.round(numbers).astype(np.int64)
    today = pd.Timestamp(asked.as_today)
    index = today.year * 12 + today.month - 1 - np.round(numbers * months).astype(np.int64)
    year, month = np.floor_divide(index, 12), np.mod(index, 12) + 1
    last = np.select([month == 2, np.isin(month, (4, 6, 9, 11))], [28, 30], 31)
    found = days(year, month, np.where(months > 0, np.minimum(today.day, last), today.day))
    times: Times = (found - less.astype("timedelta64[D]")).astype("datetime64[us]")
    return times


def read_numbers(numbers: Floats, count: Ints, asked: Asked) -> Judged:
    """Dates of the distinct numbers of a date column; `count` is how many cells hold each."""
    judged = Judged(np.full(len(numbers), NAT), Notes(len(numbers)), Notes(len(numbers)))
    low, high = (asked.policy.number(f"intake.{name}") for name in ("earliest_year", "latest_year"))
    _ages(numbers, count, judged, asked)
    whole = np.isfinite(numbers) & (numbers == np.floor(numbers))
    year = whole & (numbers >= low) & (numbers <= high) & _open(judged)
    judged.values[year] = _days(numbers[year].astype(np.int64), 1, 1)
    judged.repaired.add(year, YEAR_ONLY, "write the whole date")
    _serials(numbers, count, judged, asked)
    for length in (8, 12, 14):
        _compact(numbers, whole, length, judged)
    return judged


def _open(judged: Judged) -> Bools:
    nothing: Bools = np.isnat(judged.values)
    return nothing & ~judged.bad.mask


def _ages(numbers: Floats, count: Ints, judged: Judged, asked: Asked) -> None:
    unit = age_unit(asked.header_unit)
    if not unit:
        return
    months = numbers * _MONTHS[unit] if unit in _MONTHS else numbers * _DAYS[unit] / 30
    aged = np.isfinite(numbers) & (numbers >= 0) & (months <= _OLDEST_MONTHS)
    if asked.as_today is None:
        judged.bad.add(aged, NO_TODAY, WRITE_DATE)
        return
    judged.values[aged] = count_back(numbers[aged], [unit] * int(aged.sum()), asked)
    judged.said.append(
        f"{asked.name}: {unit}s counted back from {asked.as_today} in {counted(count[aged].sum(), 'cell')}; "
        "the day of the year is assumed."
    )


def _serials(numbers: Floats, count: Ints, judged: Judged, asked: Asked) -> None:
    """Day numbers whose date lies in the plausible years; said once for the column, with an example."""
    dates = from_serials(numbers, epoch_1904=asked.epoch_1904)
    years = dates.astype("datetime64[Y]").astype(np.int64) + 1970
    low, high = (asked.policy.number(f"intake.{name}") for name in ("earliest_year", "latest_year"))
    serial = ~np.isnat(dates) & (years >= low) & (years <= high) & _open(judged)
    judged.values[serial] = dates[serial]
    if serial.any():
        first = int(np.flatnonzero(serial)[0])
        since = ", counted from 1904 as the workbook says" if asked.epoch_1904 else ""
        judged.said.append(
            f"{asked.name}: spreadsheet day numbers read as dates in {counted(count[serial].sum(), 'cell')}, "
            f"such as {numbers[first]:.10g} = {str(dates[first])[:10]}{since}."
        )


def _compact(numbers: Floats, whole: Bools, length: int, judged: Judged) -> None:
    """Dates written as 20080102, 200801021435 or 20080102143507; 02012008 only where it cannot be the former."""
    fits = whole & (numbers >= 10 ** (length - 1)) & (numbers < 10**length) & _open(judged)
    if length == 8:
        _day_first_compact(numbers, whole, judged)
        fits &= _open(judged)
    number = numbers[fits].astype(np.int64)
    date, clock = np.divmod(number, 10 ** (length - 8))
    seconds = clock * (100 if length == 12 else 1)
    hour, minute, second = seconds // 10_000, seconds // 100 % 100, seconds % 100
    found = _days(date // 10_000, date // 100 % 100, date % 100)
    found[(hour > 23) | (minute > 59) | (second > 59)] = NAT
    judged.values[fits] = found + ((hour * 60 + minute) * 60 + second).astype("timedelta64[s]")


def _day_first_compact(numbers: Floats, whole: Bools, judged: Judged) -> None:
    """02012008 (or 2012008, its zero lost) is day, month, year: no year starts 0201."""
    fits = whole & (numbers >= 1_010_000) & (numbers < 10**8) & _open(judged)
    number = np.where(fits, numbers, 0).astype(np.int64)
    year = number % 10_000
    as_year_first = _days(number // 10_000, number // 100 % 100, number % 100)
    fits &= (year >= 1900) & (year <= 2100) & (np.isnat(as_year_first) | (number // 10_000 < 1900))
    judged.values[fits] = _days(year[fits], number[fits] // 10_000 % 100, number[fits] // 1_000_000)
    judged.repaired.add(fits, "read as day, month, year without separators", WRITE_DATE)


def _days(year: Ints, month: Ints | int, day: Ints | int) -> Times:
    shape = np.zeros(len(year), dtype=np.int64)
    return days(year, month + shape, day + shape).astype("datetime64[us]")
