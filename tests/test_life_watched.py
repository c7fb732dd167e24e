"""From when to when a valve was watched."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from audit.life.watched import watched
from audit.policy import load_policy
from tests.life_cases import AS_OF, quiet, stock


def span(visits: list[dict[str, Any]], scheme: str = "Birch Court") -> tuple[str, str]:
    first, last = watched(stock([{"scheme": scheme}], visits), load_policy())
    return tuple(str((pd.Timestamp(0) + pd.Timedelta(days=day[0])).date()) for day in (first, last))


def monthly(years: range, **own: Any) -> list[dict[str, Any]]:
    return [{**visit, **own} for visit in quiet(years)]


@pytest.mark.parametrize(
    ("case", "visits", "expected"),
    [
        ("a log that still runs", monthly(range(2019, 2026)), ("2019-01-01", AS_OF)),
        ("a log that ended", monthly(range(2019, 2023)), ("2019-01-01", "2022-12-01")),
        (
            "one mistyped date years early",
            [{"reported": "1999-05-05"}, *monthly(range(2019, 2026))],
            ("2019-01-01", AS_OF),
        ),
        (
            "a stray visit some months before the log begins in earnest",
            [{"reported": "2018-06-05"}, *monthly(range(2019, 2026)) * 6],
            ("2019-01-01", AS_OF),
        ),
        (
            "one contractor after another",
            monthly(range(2019, 2022), source_file="a.csv") + monthly(range(2022, 2026), source_file="b.csv"),
            ("2019-01-01", AS_OF),
        ),
        (
            "a contractor of other schemes began earlier",
            monthly(range(2015, 2026), source_file="a.csv", scheme="Oak Rise")
            + monthly(range(2021, 2026), source_file="b.csv"),
            ("2021-01-01", AS_OF),
        ),
        (
            "a stray visit of another contractor's file does not make it ours",
            [
                *monthly(range(2015, 2026), source_file="a.csv", scheme="Oak Rise"),
                {"source_file": "a.csv", "reported": "2016-02-02"},
                *monthly(range(2021, 2026), source_file="b.csv"),
            ],
            ("2021-01-01", AS_OF),
        ),
        ("nobody kept a log", [{"reported": "2025-12-01"}], ("2025-12-01", AS_OF)),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_first_and_last_day(case: str, visits: list[dict[str, Any]], expected: tuple[str, str]) -> None:
    assert span(visits) == expected


def test_a_scheme_without_visits_takes_the_latest_start_and_the_earliest_end() -> None:
    visits = monthly(range(2015, 2024), source_file="a.csv") + monthly(range(2019, 2026), source_file="b.csv")
    assert span(visits, scheme="Elm Close") == ("2019-01-01", "2023-12-01")
