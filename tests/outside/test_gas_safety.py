"""Gas Safety (Installation and Use) Regulations 1998, regulations 36(3) and 36A: worked examples of the two months.

Due 10 February 2019, done 5 January 2019, due again 10 February 2020: text of the regulations as quoted by a letting
agent. Due 10 August 2023, done 5 July 2023, due again 10 August 2024: a landlords' association. Done on 9 June for
10 August is more than two months early, so that the twelve months run from 9 June: from memory, check the clause.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from audit.plan.gas import first_day, joins, next_due


def days(*texts: str) -> pd.Series:
    return pd.Series(pd.to_datetime(list(texts))).astype("datetime64[us]")


@pytest.mark.parametrize(
    ("due", "done", "again"),
    [
        ("2019-02-10", "2019-01-05", "2020-02-10"),
        ("2023-08-10", "2023-07-05", "2024-08-10"),
        ("2023-08-10", "2023-06-09", "2024-06-09"),  # too early
        ("2023-08-10", "2023-06-11", "2024-08-10"),  # the first day of the two months that end on 10 August
        ("2023-08-10", "2023-08-10", "2024-08-10"),
        ("2023-08-10", "2023-08-11", "2024-08-11"),  # a day late: a year from then
        ("2024-02-29", "2024-02-29", "2025-02-28"),
    ],
)
def test_the_date_is_kept_within_two_months(due: str, done: str, again: str) -> None:
    assert next_due(days(due), days(done)).tolist() == days(again).tolist()


@pytest.mark.parametrize(
    ("due", "first"),
    [
        ("2023-08-10", "2023-06-11"), ("2019-02-10", "2018-12-11"), ("2023-04-30", "2023-03-01"),
        ("2023-02-28", "2023-01-01"), ("2023-04-29", "2023-03-01"), ("2023-12-31", "2023-11-01"),
    ],
)  # fmt: skip
def test_the_two_months_that_end_with_the_due_date(due: str, first: str) -> None:
    assert first_day(days(due)).tolist() == days(first).tolist()


def test_a_week_joins_only_with_all_its_working_days() -> None:
    """Due Wednesday 10 February 2027: from Friday 11 December on; whole weeks from 14 December to 1 February."""
    mondays = np.arange(np.datetime64("2026-11-30"), np.datetime64("2027-02-22"), 7)
    found = mondays[joins(days("2027-02-10"), mondays)[0]]
    assert (str(found[0]), str(found[-1]), len(found)) == ("2026-12-14", "2027-02-01", 8)


def test_no_due_date_no_join() -> None:
    missing = pd.Series([pd.NaT], dtype="datetime64[us]")
    assert not joins(missing, np.array(["2026-11-30"], dtype="datetime64[D]")).any()
    assert first_day(missing).isna().all()
