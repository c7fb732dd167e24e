"""Ages on and around their anniversaries, and working days around days off."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.calendar import deadline, months_between, repair_days, working_days, years_between
from audit.policy import load_policy

DAYS = st.dates(dt.date(1980, 1, 1), dt.date(2060, 12, 31))


def days(*texts: str | None) -> pd.Series:
    return pd.Series(pd.to_datetime(list(texts), format="ISO8601")).astype("datetime64[us]")


@pytest.mark.parametrize(
    ("since", "until", "months"),
    [
        ("2014-11-25", "2026-11-25", 144),
        ("2014-11-25", "2014-11-25", 0),
        ("2026-10-25", "2026-11-25", 1),
        ("2026-10-25", "2026-11-10", 16 / 31),  # 16 of the 31 days from 25 October to 25 November
        ("2024-02-29", "2025-02-28", 11 + 30 / 31),  # from 29 January, 30 of the 31 days to 1 March
        ("2024-02-29", "2025-03-01", 12),
        ("2024-02-29", "2028-02-29", 48),
        ("2026-01-31", "2026-02-28", 28 / 29),
        ("2026-01-31", "2026-03-01", 1),
        ("2025-12-31", "2026-01-01", 1 / 31),
    ],
)
def test_months_by_the_calendar(since: str, until: str, months: float) -> None:
    assert months_between(days(since), pd.Timestamp(until)).item() == pytest.approx(months, abs=1e-12)


def test_years_are_whole_on_the_anniversary_and_times_of_day_are_ignored() -> None:
    years = years_between(days("2014-11-25T17:30", "2014-11-26", "2014-11-24", None), pd.Timestamp("2026-11-25T08:00"))
    assert years.iloc[0] == 12
    assert years.iloc[1] < 12 < years.iloc[2]
    assert np.isnan(years.iloc[3])


@given(since=DAYS, until=DAYS)
def test_a_later_day_is_never_older_and_a_day_is_at_most_a_28th_of_a_month(since: dt.date, until: dt.date) -> None:
    first, second = (
        months_between(days(str(since)), pd.Timestamp(day)).item() for day in (until, until + dt.timedelta(days=1))
    )
    assert 0 < second - first <= 1 / 28 + 1e-9


@pytest.mark.parametrize(
    ("reported", "done", "count"),
    [
        ("2026-02-05", "2026-02-05", 0),  # Thursday, the same day
        ("2026-02-05", "2026-02-06", 1),  # Friday
        ("2026-02-05", "2026-02-07", 2),  # Saturday: after the end of day 1
        ("2026-02-05", "2026-02-09", 2),  # Monday
        ("2026-02-07", "2026-02-07", 0),  # Saturday, the same day
        ("2026-02-07", "2026-02-08", 1),  # Sunday
        ("2026-02-07", "2026-02-09", 1),  # Monday
        ("2026-04-02", "2026-04-06", 1),  # Maundy Thursday to Easter Monday
        ("2026-04-02", "2026-04-07", 1),
        ("2026-12-24", "2026-12-29", 1),  # 25 and 28 December are bank holidays
    ],
)
def test_working_days(reported: str, done: str, count: int) -> None:
    assert working_days(days(reported), days(done)).item() == count


def test_missing_days_stay_missing() -> None:
    assert working_days(days("2026-02-05", None), days(None, "2026-02-05")).isna().all()
    assert working_days(days(), days()).empty
    assert deadline(days(None), pd.Series([1.0])).isna().all()
    assert deadline(days(), pd.Series([], dtype="float64")).empty


def test_the_landlords_own_days_off_count() -> None:
    thursday, monday = days("2026-02-05"), days("2026-02-09")
    own = [dt.date(2026, 2, 6)]
    assert working_days(thursday, monday).item() == 2
    assert working_days(thursday, monday, own).item() == 1
    assert deadline(thursday, pd.Series([1.0]), own).item() == pd.Timestamp("2026-02-09")


def test_a_period_of_no_days_ends_on_the_day_of_the_report_even_on_a_day_off() -> None:
    saturday = days("2026-02-07")
    assert deadline(saturday, pd.Series([0.0])).item() == saturday.item()


@given(
    reported=st.dates(dt.date(2015, 1, 1), dt.date(2030, 12, 31)),
    wait=st.integers(0, 40),
    allowed=st.integers(0, 10),
)
def test_more_working_days_than_allowed_is_the_same_as_after_the_deadline(
    reported: dt.date, wait: int, allowed: int
) -> None:
    done = reported + dt.timedelta(days=wait)
    late = working_days(days(str(reported)), days(str(done))).item() > allowed
    assert late == (pd.Timestamp(done) > deadline(days(str(reported)), pd.Series([float(allowed)])).item())


def test_the_season_is_that_of_the_report() -> None:
    seasons = repair_days(days("2026-04-30T23:59", "2026-05-01", "2026-10-31", "2026-11-01"), load_policy())
    assert list(seasons) == [1, 3, 3, 1]
