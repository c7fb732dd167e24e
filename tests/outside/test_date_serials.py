"""Spreadsheet day numbers against what ECMA-376 and published tables of dates say.

Sources: ECMA-376 (ISO/IEC 29500) part 1, 18.17.4.1, "Date conversion for serial date-times": the 1900 system counts
1 January 1900 as 1 and has a 29 February 1900 (60) that never was; the 1904 system counts 1 January 1904 as 0. Section
number from memory. The numbers of 2000 to 2026 follow from the calendar: days since the start.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from audit.intake.values.serials import from_serials, to_serial

# date, 1900 system, 1904 system
KNOWN = [
    ("1904-01-01", 1462, 0),
    ("1904-01-02", 1463, 1),
    ("2000-01-01", 36526, 35064),
    ("2024-02-29", 45351, 43889),
    ("2025-10-27", 45957, 44495),
    ("2026-11-25", 46351, 44889),
]


@pytest.mark.parametrize(("day", "in_1900", "in_1904"), KNOWN)
def test_known_days(day: str, in_1900: int, in_1904: int) -> None:
    assert from_serials(np.array([float(in_1900)]))[0] == np.datetime64(day)
    assert from_serials(np.array([float(in_1904)]), epoch_1904=True)[0] == np.datetime64(day)
    assert to_serial(np.datetime64(day)) == in_1900
    assert to_serial(np.datetime64(day), epoch_1904=True) == in_1904


def test_the_systems_lie_1462_days_apart() -> None:
    """Four years with one leap day, and the 29 February 1900 that never was: 4 × 365 + 1 + 1."""
    assert 4 * 365 + 1 + 1 == 1462
    serials = np.array([40_000.0, 45_351.0])
    apart = from_serials(serials, epoch_1904=True) - from_serials(serials)
    assert list(apart / np.timedelta64(1, "D")) == [1462, 1462]


@pytest.mark.parametrize(
    ("serial", "day"), [(1, "1900-01-01"), (31, "1900-01-31"), (59, "1900-02-28"), (61, "1900-03-01")]
)
def test_around_the_day_that_never_was(serial: int, day: str) -> None:
    assert from_serials(np.array([float(serial)]))[0] == np.datetime64(day)


def test_the_day_that_never_was_is_no_date() -> None:
    assert np.isnat(from_serials(np.array([60.0, 60.5, 0.0, -1.0, np.nan]))).all()


@pytest.mark.parametrize(
    ("serial", "moment"),
    [
        (45351.5, "2024-02-29T12:00:00"),
        (45351.25, "2024-02-29T06:00:00"),
        (45351.607638889, "2024-02-29T14:35:00"),
        (45351.999998, "2024-03-01T00:00:00"),  # 0.17 s before midnight: to the nearest second
    ],
)
def test_fractions_are_the_time_of_day(serial: float, moment: str) -> None:
    assert from_serials(np.array([serial]))[0] == np.datetime64(moment)


def test_every_day_of_a_century_against_the_calendar() -> None:
    start = dt.date(1950, 1, 1)
    serial = (start - dt.date(1899, 12, 30)).days
    days = from_serials(np.arange(serial, serial + 36_525, dtype=np.float64))
    assert days[0] == np.datetime64(start)
    assert (np.diff(days) == np.timedelta64(1, "D")).all()
