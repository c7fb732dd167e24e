"""SI 1994/133 (right to repair), Schedule: loss of space or water heating, https://legislation.gov.uk/uksi/1994/133/schedules/made.

One working day between 31 October and 1 May, three between 30 April and 1 November, all four days excluded, so that
winter is 1 November to 30 April and summer 1 May to 31 October. The Schedule does not define a working day here;
weekends and England's bank holidays are left out, as landlords apply it. Day 1 is the day after the report.
"""

from __future__ import annotations

import calendar
import datetime as dt

import pandas as pd
import pytest

from audit.calendar import deadline, is_winter, repair_days, working_days
from audit.policy import load_policy


def day(text: str) -> pd.Series:
    return pd.Series(pd.to_datetime([text])).astype("datetime64[us]")


@pytest.mark.parametrize(
    ("reported", "allowed"), [("2026-04-30", 1), ("2026-05-01", 3), ("2026-10-31", 3), ("2026-11-01", 1)]
)
def test_both_seasons_meet_without_gap_or_overlap(reported: str, allowed: int) -> None:
    assert repair_days(day(reported), load_policy()).item() == allowed


@pytest.mark.parametrize("year", [2023, 2024])
def test_every_day_of_a_year_is_in_one_season(year: int) -> None:
    every = pd.Series(pd.date_range(f"{year}-01-01", f"{year}-12-31"))
    november, may = dt.date(year, 11, 1), dt.date(year, 5, 1)
    expected = [date < may or date >= november for date in every.dt.date]
    assert list(is_winter(every)) == expected
    assert sum(expected) == 181 + calendar.isleap(year)  # 31+28+31+30 days to 30 April, 30+31 from 1 November


@pytest.mark.parametrize(
    ("reported", "allowed", "due"),
    [
        ("2025-10-27", 10, "2025-11-10"),
        ("2025-12-19", 10, "2026-01-07"),
        ("2025-12-23", 5, "2026-01-02"),
        ("2025-12-24", 1, "2025-12-29"),
        ("2025-12-24", 3, "2025-12-31"),
        ("2026-04-02", 1, "2026-04-07"),
        ("2026-04-02", 3, "2026-04-09"),
        ("2026-12-24", 1, "2026-12-29"),
        ("2026-12-24", 10, "2027-01-12"),
        ("2027-12-24", 3, "2027-12-31"),
    ],
)
def test_deadlines_counted_by_hand_on_the_printed_bank_holidays(reported: str, allowed: int, due: str) -> None:
    assert deadline(day(reported), pd.Series([float(allowed)])).item() == pd.Timestamp(due)
    assert working_days(day(reported), day(due)).item() == allowed
    later = str(pd.Timestamp(due) + pd.Timedelta(days=1))
    assert working_days(day(reported), day(later)).item() == allowed + 1
