"""Bank holidays of England and Wales as gov.uk prints them, substitute days included."""

from __future__ import annotations

import datetime as dt

import pytest

from audit.calendar import bank_holidays

PRINTED = {
    2024: "01-01 03-29 04-01 05-06 05-27 08-26 12-25 12-26",
    2025: "01-01 04-18 04-21 05-05 05-26 08-25 12-25 12-26",
    2026: "01-01 04-03 04-06 05-04 05-25 08-31 12-25 12-28",
    2027: "01-01 03-26 03-29 05-03 05-31 08-30 12-27 12-28",
}


@pytest.mark.parametrize("year", PRINTED)
def test_weekdays_off_are_the_printed_ones(year: int) -> None:
    printed = {dt.date.fromisoformat(f"{year}-{day}") for day in PRINTED[year].split()}
    ours = {day for day in bank_holidays([year]) if day.year == year}
    assert {day for day in ours if day.weekday() < 5} == printed
    assert ours - printed <= {dt.date(2026, 12, 26), dt.date(2027, 12, 25), dt.date(2027, 12, 26)}  # weekends


def test_substitute_and_spring_days_of_2028() -> None:
    printed = {
        dt.date(2028, 1, 3),
        dt.date(2028, 4, 14),
        dt.date(2028, 4, 17),
        dt.date(2028, 5, 1),
        dt.date(2028, 5, 29),
    }
    assert printed <= bank_holidays([2028])
