"""What is known on the as-of date, and the state of valves and homes that follows."""

from __future__ import annotations

import datetime as dt

import pandas as pd
import pytest

from audit.known import known_on
from schemas.results import PROBLEM_COLUMNS
from schemas.tables import COLUMNS
from tests.frames import AS_OF, Row, frame, known_facts, portfolio

VALVE = {"valve_id": "V1", "home_id": "H1"}
VISIT = {"visit_id": "J1", "home_id": "H1", "reported": "2026-01-05"}


def known(**rows: list[Row]) -> tuple[dict[str, pd.DataFrame], pd.DataFrame]:
    return known_on({table: frame(table, rows.get(table, [])) for table in COLUMNS}, pd.Timestamp(AS_OF))


def valve(row: Row | None = None, visits: list[Row] | None = None, as_of: dt.date = AS_OF) -> pd.Series:
    """The state of V1 in H1 after the visits to it."""
    log = [{**VISIT, "visit_id": f"J{n}", "valve_id": "V1", **visit} for n, visit in enumerate(visits or [], 1)]
    return known_facts(portfolio(valves=[{**VALVE, **(row or {})}], visits=log), as_of).valves.iloc[0]


# ---------------------------------------------------------------- what was known


def test_a_visit_reported_later_is_returned_with_its_place_and_reason() -> None:
    tables, problems = known(visits=[{**VISIT, "reported": "2026-11-26T00:00"}])
    assert tables["visits"].empty
    assert list(problems.columns) == [c.name for c in PROBLEM_COLUMNS]
    problem = problems.iloc[0]
    assert len(problems) == 1
    assert (problem["table"], problem["file"], problem["row"]) == ("visits", "visits.csv", 2)
    assert (problem["column"], problem["value"], problem["effect"]) == ("reported", "2026-11-26", "returned")
    assert "after the as-of date 2026-11-25" in problem["reason"]
    assert problem["mend"]


def test_the_whole_as_of_day_is_known() -> None:
    end = {**VISIT, "reported": "2026-11-25T23:59", "completed": "2026-11-25T23:59", "action": "head"}
    tables, problems = known(visits=[end], valves=[{**VALVE, "body_fitted": "2026-11-25", "head_fitted": "2026-11-25"}])
    assert problems.empty
    assert list(problems.columns) == [c.name for c in PROBLEM_COLUMNS]
    assert tables["visits"]["action"].item() == "head"


@pytest.mark.parametrize("later", [{"completed": "2026-11-26"}, {"attended": "2026-11-26", "completed": "2026-11-26"}])
def test_of_a_visit_finished_later_only_the_report_is_known(later: Row) -> None:
    told = {"kind": "call_out", "symptom": "leak", "valve_id": "V1", "system": "main"}
    found = {
        **{"outcome": "fixed", "cause": "body", "action": "full", "parts": "motor", "hours": "2", "cost_gbp": "90"},
        **{"engineer": "E07", "notes": "new", "location_temp_c": "60", "flow_temp_c": "70", "store_temp_c": "50"},
        **{"tap_temp_c": "45", "demand_heating": "yes", "white_live": "yes", "position": "mid", "lever": "stiff"},
    }
    tables, problems = known(visits=[{**VISIT, **told, **found, **later}])
    row = tables["visits"].iloc[0]
    assert row[list(told)].to_dict() == told
    assert row[["attended", "completed", *found]].isna().all()
    assert list(problems["effect"]) == ["repaired"]


def test_attended_before_and_completed_after_keeps_the_attendance() -> None:
    visit = {**VISIT, "attended": "2026-11-20", "completed": "2026-11-26", "outcome": "fixed"}
    row = known(visits=[visit])[0]["visits"].iloc[0]
    assert row["attended"] == pd.Timestamp("2026-11-20")
    assert pd.isna(row["completed"])
    assert pd.isna(row["outcome"])


def test_register_dates_that_are_later_are_blanked_with_their_readings() -> None:
    late = {"body_fitted": "2026-11-27", "head_fitted": "2026-11-26"}
    late |= {"location_temp_on": "2026-11-26", "flow_temp_on": "2026-12-01"}
    row = {**VALVE, **late, "location_temp_c": "60", "flow_temp_c": "70", "lever": "free"}
    tables, problems = known(valves=[row], visits=[{**VISIT, "visit_id": "J1", "valve_id": VALVE["valve_id"]}])
    row = tables["valves"].iloc[0]
    assert row[[*late, "location_temp_c", "flow_temp_c"]].isna().all()
    assert row["lever"] == "free"
    assert sorted(problems["column"]) == ["body_fitted", "flow_temp_on", "head_fitted", "location_temp_on"]
    assert set(problems["effect"]) == {"repaired"}


def test_a_valve_whose_body_came_later_is_returned_where_nothing_shows_one_before() -> None:
    late = {"body_fitted": "2026-11-27", "head_fitted": "2026-11-27"}
    tables, problems = known(valves=[{**VALVE, **late}])
    assert tables["valves"].empty
    assert problems[["column", "effect"]].to_numpy().tolist() == [["body_fitted", "returned"]]


def test_dates_that_lie_ahead_by_nature_stay() -> None:
    ahead = {"home_id": "H1", "gas_check_due": "2027-03-01", "heating_renewal_due": "2030-01-01"}
    tables, problems = known(homes=[ahead])
    assert tables["homes"][["gas_check_due", "heating_renewal_due"]].notna().all(axis=None)
    assert problems.empty


# ---------------------------------------------------------------- ages


@pytest.mark.parametrize(
    ("register", "visits", "head", "body"),
    [
        ({}, [], (None, None), (None, None)),
        (
            {"head_fitted": "2015-05-01", "body_fitted": "2010-05-01"},
            [],
            ("2015-05-01", "its own date"),
            ("2010-05-01", "its own date"),
        ),
        ({"body_fitted": "2010-05-01"}, [], ("2010-05-01", "the body's date"), ("2010-05-01", "its own date")),
        ({"head_fitted": "2015-05-01"}, [], ("2015-05-01", "its own date"), ("2015-05-01", "the head's date")),
        (
            {"body_fitted": "2010-05-01"},
            [{"completed": "2020-01-06T15:00", "action": "head"}],
            ("2020-01-06", "a visit"),
            ("2010-05-01", "its own date"),
        ),
        (
            {"head_fitted": "2012-01-01"},
            [{"completed": "2020-01-06", "action": "head"}],
            ("2020-01-06", "a visit"),
            ("2012-01-01", "the head's date"),
        ),
        (
            {"head_fitted": "2012-01-01", "body_fitted": "2012-01-01"},
            [{"completed": "2020-01-06", "action": "full"}],
            ("2020-01-06", "a visit"),
            ("2020-01-06", "a visit"),
        ),
        (
            {"body_fitted": "2018-01-01"},
            [{"completed": "2015-01-06", "action": "head"}],
            ("2018-01-01", "the body's date"),
            ("2018-01-01", "its own date"),
        ),
        (
            {"head_fitted": "2020-01-06"},
            [{"completed": "2020-01-06", "action": "head"}],
            ("2020-01-06", "its own date"),
            ("2020-01-06", "the head's date"),
        ),
        (
            {},
            [{"completed": "2020-01-06", "action": "head"}, {"completed": "2014-01-06", "action": "head"}],
            ("2020-01-06", "a visit"),
            ("2014-01-06", "the head's date"),
        ),
        (
            {"body_fitted": "2010-05-01"},
            [{"completed": "2020-01-06", "action": "motor"}, {"action": "head"}, {"completed": "2021-01-06"}],
            ("2010-05-01", "the body's date"),
            ("2010-05-01", "its own date"),
        ),
    ],
)  # fmt: skip
def test_since_when_head_and_body_are_in_service(
    register: Row, visits: list[Row], head: tuple[str | None, str | None], body: tuple[str | None, str | None]
) -> None:
    state = valve(register, visits)
    for part, (since, basis) in {"head": head, "body": body}.items():
        if since is None:
            assert state[[f"{part}_since", f"{part}_age_years", f"{part}_age_basis"]].isna().all()
            continue
        assert state[f"{part}_since"] == pd.Timestamp(since)
        assert state[f"{part}_age_basis"] == basis


def test_ages_are_whole_years_on_the_anniversary() -> None:
    state = valve({"head_fitted": "2014-11-25", "body_fitted": "2001-11-25"})
    assert (state["head_age_years"], state["body_age_years"]) == (12, 25)


# ---------------------------------------------------------------- readings, lever, earth


def test_the_latest_reading_wins_whoever_took_it() -> None:
    register = {"location_temp_c": "40", "location_temp_on": "2026-02-01", "flow_temp_c": "70"}
    state = valve(register, [
        {"completed": "2026-01-10", "location_temp_c": "50", "flow_temp_c": "65"},
        {"completed": "2026-01-08", "location_temp_c": "55", "flow_temp_c": "60"},
    ])  # fmt: skip
    assert (state["location_temp_c"], state["location_temp_on"]) == (40, pd.Timestamp("2026-02-01"))
    assert (state["flow_temp_c"], state["flow_temp_on"]) == (65, pd.Timestamp("2026-01-10"))


def test_a_reading_counts_from_completion_else_attendance_else_report() -> None:
    state = valve({}, [
        {"reported": "2026-01-01", "attended": "2026-03-09", "location_temp_c": "41"},
        {"reported": "2026-03-08", "location_temp_c": "42"},
        {"reported": "2026-01-02", "attended": "2026-01-03", "completed": "2026-03-07", "location_temp_c": "43"},
    ])  # fmt: skip
    assert (state["location_temp_c"], state["location_temp_on"]) == (41, pd.Timestamp("2026-03-09"))


def test_moving_the_valve_voids_older_readings_of_the_place_and_no_others() -> None:
    visits = [
        {"completed": "2026-01-10", "location_temp_c": "60", "flow_temp_c": "65"},
        {"completed": "2026-02-10", "action": "relocate"},
    ]
    state = valve({"location_temp_c": "60"}, visits)
    assert pd.isna(state["location_temp_c"])
    assert pd.isna(state["location_temp_on"])
    assert state["flow_temp_c"] == 65
    after = valve({"location_temp_c": "60"}, [*visits, {"completed": "2026-02-11", "location_temp_c": "35"}])
    assert after["location_temp_c"] == 35


@pytest.mark.parametrize(
    ("register", "visits", "lever", "on"),
    [
        ("stiff", [], "stiff", None),
        ("", [], None, None),
        ("stiff", [{"attended": "2026-01-06", "lever": "free"}], "free", "2026-01-06"),
        ("stiff", [{"completed": "2026-01-06", "action": "full"}], "free", "2026-01-06"),
        ("stiff", [{"completed": "2026-01-06", "action": "full", "lever": "latched"}], "latched", "2026-01-06"),
        ("stiff", [{"attended": "2026-01-06", "action": "full"}], "stiff", None),
        ("stiff", [{"completed": "2026-01-06", "action": "head"}], "stiff", None),
        (
            "",
            [{"completed": "2026-01-06", "lever": "stiff"}, {"completed": "2026-01-05", "lever": "free"}],
            "stiff",
            "2026-01-06",
        ),
    ],
)  # fmt: skip
def test_lever(register: str, visits: list[Row], lever: str | None, on: str | None) -> None:
    state = valve({"lever": register}, visits)
    assert (None if pd.isna(state["lever"]) else state["lever"]) == lever
    assert (None if pd.isna(state["lever_on"]) else str(state["lever_on"].date())) == on


def test_a_completed_visit_puts_the_earth_right() -> None:
    fixed = {"action": "earth", "outcome": "fixed"}
    assert valve({"earthed": "no"}, [{"completed": "2026-01-06", **fixed}])["earthed"] == "yes"
    assert valve({"earthed": "no"}, [fixed])["earthed"] == "no"
    assert pd.isna(valve()["earthed"])


def test_latest_store_and_tap_of_a_home() -> None:
    visits = [
        {**VISIT, "visit_id": "J1", "completed": "2026-01-06", "store_temp_c": "55", "tap_temp_c": "45"},
        {**VISIT, "visit_id": "J2", "completed": "2026-02-06", "store_temp_c": "62"},
        {**VISIT, "visit_id": "J3", "home_id": "H2", "completed": "2026-03-06", "store_temp_c": "40"},
    ]
    home = known_facts(portfolio(visits=visits)).homes.iloc[0]
    assert (home["store_temp_c"], home["store_temp_on"]) == (62, pd.Timestamp("2026-02-06"))
    assert (home["tap_temp_c"], home["tap_temp_on"]) == (45, pd.Timestamp("2026-01-06"))


# ---------------------------------------------------------------- counts, and what is filled in


def test_call_outs_of_the_last_twelve_months_are_events() -> None:
    call = {"kind": "call_out"}
    state = valve({}, [
        {**call, "reported": "2025-11-25", "completed": "2025-11-25", "symptom": "noise"},  # a day too long ago
        {**call, "reported": "2025-11-26", "completed": "2025-11-27", "symptom": "leak"},
        {**call, "reported": "2026-01-05T08:00", "completed": "2026-01-05T09:00", "symptom": "no_heating"},
        {**call, "reported": "2026-01-05T18:00", "completed": "2026-01-06", "symptom": "too_hot"},  # the same day
        {**call, "reported": "2026-03-05", "completed": "2026-03-06"},
        {"kind": "planned", "reported": "2026-04-05", "completed": "2026-04-06"},
    ])  # fmt: skip
    assert state["call_outs_12m"] == 3
    assert state["last_symptom"] == "too_hot"
    assert state["last_call_out"] == pd.Timestamp("2026-03-05")


def test_heads_and_motors_on_this_body() -> None:
    done = [("2023-11-24", "head"), ("2023-11-25", "motor"), ("2025-01-05", "head"), ("2025-06-05", "wiring")]
    visits = [{"reported": day, "completed": day, "action": action} for day, action in done]
    assert valve({}, visits)["heads_renewed_recently"] == 2
    assert valve({"body_fitted": "2024-01-01"}, visits)["heads_renewed_recently"] == 1
    assert valve()["heads_renewed_recently"] == 0
    assert valve({}, visits)["heads_renewed_last"] == pd.Timestamp("2025-01-05")


def test_the_valve_is_filled_where_the_home_has_one_and_the_system_where_it_is_clear() -> None:
    book = portfolio(
        valves=[
            {"valve_id": "V1", "home_id": "H1"},
            {"valve_id": "V2", "home_id": "H2", "system": "flat"},
            {"valve_id": "V3", "home_id": "H2", "system": "shop"},
            {"valve_id": "V4", "home_id": "H3", "system": "north"},
        ],
        visits=[
            {"visit_id": "J1", "home_id": "H1", "reported": "2026-01-05"},
            {"visit_id": "J2", "home_id": "H2", "reported": "2026-01-05"},
            {"visit_id": "J3", "home_id": "H2", "reported": "2026-01-05", "valve_id": "V3"},
            {"visit_id": "J4", "home_id": "H3", "reported": "2026-01-05"},
            {"visit_id": "J5", "home_id": "H3", "reported": "2026-01-05", "system": "south"},
        ],
    )
    visits = known_facts(book).visits.set_index("visit_id")
    filled = visits[["valve_id", "system"]].astype("object").where(visits[["valve_id", "system"]].notna(), None)
    assert filled.loc[["J1", "J2", "J3", "J4", "J5"]].to_numpy().tolist() == [
        ["V1", "main"],
        [None, "main"],
        ["V3", "shop"],
        ["V4", "north"],
        [None, "south"],
    ]


def test_valves_carry_what_the_plan_needs_of_their_home() -> None:
    home = {"home_id": "H1", "scheme": "Birch Court", "postcode": "ZZ99 3AB", "patch": "North"}
    home |= {"priority_household": "yes", "heating_renewal_due": "2028-01-01"}
    known_now = known_facts(portfolio(homes=[home], valves=[VALVE], visits=[VISIT]))
    state = known_now.valves.iloc[0]
    assert {name: state[name] for name in home if name != "heating_renewal_due"} == {
        name: text for name, text in home.items() if name != "heating_renewal_due"
    }
    assert state["heating_renewal_due"] == pd.Timestamp("2028-01-01")
    assert known_now.visits["scheme"].item() == "Birch Court"


def test_order_of_the_visits() -> None:
    rows = [
        ("J2", "H1", "2026-01-05"),
        ("J1", "H1", "2026-01-05"),
        ("J4", "H1", "2026-01-04"),
        ("J3", "H0", "2026-02-01"),
    ]
    visits = [{"visit_id": visit, "home_id": home, "reported": day} for visit, home, day in rows]
    assert list(known_facts(portfolio(visits=visits)).visits["visit_id"]) == ["J3", "J4", "J1", "J2"]


def test_empty_tables_keep_their_types() -> None:
    empty = known_facts(portfolio())
    assert (empty.valves.empty, empty.visits.empty, empty.homes.empty) == (True, True, True)
    assert str(empty.valves["head_since"].dtype).startswith("datetime64")
    assert empty.valves["head_age_years"].dtype == "float64"
    assert empty.valves["heads_renewed_recently"].dtype == "int64"
    assert empty.valves["lever"].dtype == "str"
