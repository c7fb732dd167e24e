"""Laws of the findings that must hold for any books."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Final

import pandas as pd
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from schemas import words as w
from tests.frames import AS_OF, Row, found, portfolio

# each example is a small portfolio of many homes, so a few say a lot
FEW: Final = settings(max_examples=4, deadline=None, suppress_health_check=[HealthCheck.too_slow])
HOMES: Final = tuple(f"H{n}" for n in range(1, 9))
CLEAN: Final = {
    **{"arrangement": "two_port_zones", "ports": "2", "body_size_mm": "22", "head_kind": "zone", "wires": "5"},
    **{"voltage_v": "230", "body_fitted": "2020-01-01", "head_fitted": "2020-01-01", "location": "airing_cupboard"},
    **{"location_temp_c": "40", "location_temp_on": "2026-06-01", "flow_temp_c": "65", "switch_load_a": "0.5"},
    **{"switch_load_kind": "inductive", "earthed": "yes", "changeover_in_use": "no", "pump_distance_m": "2"},
    **{"insertion_mm": "12", "flow_direction_ok": "yes", "lever": "free"},
}


def cell(*texts: object) -> st.SearchStrategy[str]:
    return st.sampled_from(["", *map(str, texts)])


def date(first: dt.date, last: dt.date) -> st.SearchStrategy[str]:
    return st.just("") | st.dates(first, last).map(str)


PAST: Final = date(dt.date(1995, 1, 1), AS_OF)
VALVE: Final = st.fixed_dictionaries(
    {
        "home_id": st.sampled_from(HOMES),
        "system": cell("main", "annexe"),
        "arrangement": cell(*w.ARRANGEMENT),
        "ports": cell(2, 3),
        "body_size_mm": cell(15, 22, 28),
        "head_kind": cell(*w.HEAD_KIND),
        "wires": cell(3, 5, 6),
        "voltage_v": cell(24, 230),
        "body_fitted": PAST,
        "location": cell(*w.LOCATION),
        "location_temp_c": cell(40, 51, 53, 60),
        "location_temp_on": PAST,
        "switch_load_a": cell(0.5, 2, 4),
        "switch_load_kind": cell(*w.LOAD_KIND),
        "earthed": cell("yes", "no"),
        "changeover_in_use": cell("yes", "no"),
        "insertion_mm": cell(9, 12, 23),
        "lever": cell(*w.LEVER),
    }
)
FOUND_ON_SITE: Final = {
    "outcome": cell(*w.OUTCOME),
    "cause": cell(*w.CAUSE),
    "action": cell(*w.ACTION),
    "location_temp_c": cell(40, 60),
    "store_temp_c": cell(55, 60),
    "tap_temp_c": cell(45, 49, 60),
    "lever": cell(*w.LEVER),
}
REPORT: Final = {
    "home_id": st.sampled_from(HOMES),
    "kind": cell(*w.VISIT_KIND),
    "symptom": cell(*w.SYMPTOM),
}


@st.composite
def visits(draw: st.DrawFn, first: dt.date, last: dt.date) -> Row:
    """A visit reported in a span of days, completed within 20 days if at all."""
    reported = draw(st.dates(first, last))
    wait = draw(st.none() | st.integers(0, 20))
    done = "" if wait is None else str(reported + dt.timedelta(days=wait))
    return {"reported": str(reported), "completed": done, **draw(st.fixed_dictionaries({**REPORT, **FOUND_ON_SITE}))}


BEFORE: Final = visits(AS_OF - dt.timedelta(days=500), AS_OF)
AFTER: Final = visits(AS_OF + dt.timedelta(days=1), AS_OF + dt.timedelta(days=99))


def numbered(rows: list[Row], key: str, letter: str) -> list[dict[str, str]]:
    return [{**row, key: f"{letter}{n:02d}"} for n, row in enumerate(rows, 1)]


@st.composite
def books(draw: st.DrawFn) -> dict[str, list[dict[str, str]]]:
    """Rows of homes, valves and visits, by table."""
    valves = numbered(draw(st.lists(VALVE, min_size=8, max_size=16)), "valve_id", "V")
    log = numbered(draw(st.lists(BEFORE, min_size=10, max_size=30)), "visit_id", "J")
    for row in log:
        row["valve_id"] = draw(
            st.sampled_from(["", *(v["valve_id"] for v in valves if v["home_id"] == row["home_id"])])
        )
    return {"homes": [{"home_id": home, "scheme": "S1"} for home in HOMES], "valves": valves, "visits": log}


@FEW
@given(book=books(), seed=st.integers(0, 2**16))
def test_the_order_of_the_rows_does_not_matter(book: dict[str, list[dict[str, str]]], seed: int) -> None:
    given_order = portfolio(**book)
    shuffled = replace(
        given_order,
        **{t: getattr(given_order, t).sample(frac=1, random_state=seed) for t in ("homes", "valves", "visits")},
    )
    pd.testing.assert_frame_equal(found(shuffled), found(given_order))


@FEW
@given(book=books(), clean_first=st.booleans())
def test_a_clean_valve_in_a_home_of_its_own_changes_no_finding(
    book: dict[str, list[dict[str, str]]], clean_first: bool
) -> None:
    name = "A0" if clean_first else "Z9"  # before or after all others
    quiet = {
        "visit_id": name,
        "home_id": name,
        "reported": "2026-06-01",
        "completed": "2026-06-01",
        "kind": "safety_check",
    }
    more = {
        "homes": [*book["homes"], {"home_id": name}],
        "valves": [*book["valves"], {**CLEAN, "valve_id": name, "home_id": name}],
        "visits": [*book["visits"], quiet],
    }
    pd.testing.assert_frame_equal(found(portfolio(**more)), found(portfolio(**book)))


NOT_THERE_YET: Final = {"body_fitted": "2026-11-26", "head_fitted": "", "location_temp_on": "", "flow_temp_on": ""}


@FEW
@given(book=books(), later=st.lists(AFTER, max_size=5), new_valves=st.lists(VALVE, max_size=2))
def test_nothing_after_the_as_of_date_changes_a_finding(
    book: dict[str, list[dict[str, str]]], later: list[Row], new_valves: list[Row]
) -> None:
    more = {
        **book,
        "valves": [
            *book["valves"],
            *({**row, **NOT_THERE_YET} for row in numbered(new_valves, "valve_id", "W")),
        ],
        "visits": [*book["visits"], *numbered(later, "visit_id", "L")],
    }
    pd.testing.assert_frame_equal(found(portfolio(**more)), found(portfolio(**book)))


@FEW
@given(book=books(), site=st.fixed_dictionaries(FOUND_ON_SITE), other=st.fixed_dictionaries(FOUND_ON_SITE))
def test_what_a_later_attendance_finds_is_not_known(
    book: dict[str, list[dict[str, str]]], site: Row, other: Row
) -> None:
    open_visit = {
        "visit_id": "X1",
        "home_id": "H1",
        "reported": str(AS_OF),
        "completed": "2026-11-26",
        "kind": "call_out",
    }

    def judged(found_on_site: Row) -> pd.DataFrame:
        return found(portfolio(**{**book, "visits": [*book["visits"], {**open_visit, **found_on_site}]}))

    pd.testing.assert_frame_equal(judged(site), judged(other))


@FEW
@given(book=books())
def test_every_finding_is_complete_and_ranked(book: dict[str, list[dict[str, str]]]) -> None:
    findings = found(portfolio(**book))
    assert list(findings["rank"]) == list(range(1, len(findings) + 1))
    said = ["rule", "severity", "home_id", "observed", "statement", "action", "limit_source"]
    assert findings[said].notna().all(axis=None)
    assert list(findings["severity"]) == sorted(findings["severity"], key=list(w.SEVERITY).index)
    assert not findings.duplicated(["rule", "home_id", "valve_id", "visit_id", "group"]).any()
    numeric = findings["margin"].notna()
    assert findings.loc[numeric, "unit"].ne("").all()
