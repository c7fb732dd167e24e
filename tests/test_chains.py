"""Chains of repeat call-outs, by hand."""

from __future__ import annotations

import pandas as pd
import pytest

from audit.repeats.chains import chains
from tests.frames import default_policy, known_facts, portfolio

Row = dict[str, str]


def call(number: int, reported: str, completed: str = "", **more: str) -> Row:
    return {
        "visit_id": f"J{number}",
        "home_id": "H1",
        "reported": reported,
        "attended": completed,
        "completed": completed,
        "kind": "call_out",
        **more,
    }


def chained(*visits: Row, valves: tuple[Row, ...] = ({"valve_id": "V1", "home_id": "H1"},)) -> pd.DataFrame:
    return chains(known_facts(portfolio(valves=valves, visits=visits)), default_policy())


def row(table: pd.DataFrame, window: int) -> pd.Series:
    rows = table.loc[table["window_days"].eq(window)]
    assert len(rows) == 1
    return rows.iloc[0]


@pytest.mark.parametrize(
    ("second", "windows"),
    [
        ("2026-03-29", [28, 90]),  # 28 days after 1 March: at the short window
        ("2026-03-30", [90]),
        ("2026-05-30", [90]),  # 90 days after: at the long window
        ("2026-05-31", []),
    ],
)
def test_two_call_outs_are_a_chain_up_to_the_window(second: str, windows: list[int]) -> None:
    table = chained(call(1, "2026-03-01", "2026-03-02"), call(2, second, second))
    assert table["window_days"].tolist() == windows


def test_a_chain_counts_its_visits_days_and_money() -> None:
    table = chained(
        call(1, "2026-03-01", "2026-03-04", cost_gbp="100", action="head"),
        call(2, "2026-03-10", outcome="no_access", cost_gbp="38"),
        {"visit_id": "J3", "home_id": "H1", "reported": "2026-03-11", "completed": "2026-03-12", "kind": "follow_on"}
        | {"cost_gbp": "90", "action": "head"},
        call(4, "2026-03-20", "2026-03-21", cost_gbp="72", action="full"),
    )
    short = row(table, 28)
    assert (short["call_outs"], short["visits"], short["no_access"]) == (3, 4, 1)
    assert (short["first"], short["last"]) == (pd.Timestamp("2026-03-01"), pd.Timestamp("2026-03-20"))
    assert short["days_open"] == 3 + 1 + 1
    assert short["cost_gbp"] == 300
    assert short["parts_fitted"] == "head, then head, then full"
    assert short["likely_root"] == "body, not the head"


def test_another_home_or_system_is_another_chain() -> None:
    other = call(2, "2026-03-05", "2026-03-06") | {"home_id": "H2"}
    second_system = call(3, "2026-03-05", "2026-03-06", system="annexe")
    assert chained(call(1, "2026-03-01", "2026-03-02"), other, second_system).empty


@pytest.mark.parametrize(
    ("facts", "root"),
    [
        ({"lever": "stiff"}, "body seized or stiff"),
        ({"lever": "latched"}, "lever left latched"),
        ({"outcome": "no_fault_found"}, "wiring or a control upstream"),
        ({}, "not clear from the log"),
    ],
)
def test_the_likely_root_follows_from_the_facts(facts: Row, root: str) -> None:
    table = chained(call(1, "2026-03-01", "2026-03-02", **facts), call(2, "2026-03-05", "2026-03-06", **facts))
    assert row(table, 28)["likely_root"] == root


def test_a_hot_place_is_named_where_nothing_stronger_is_known() -> None:
    hot = ({"valve_id": "V1", "home_id": "H1", "location_temp_c": "60", "location_temp_on": "2026-01-01"},)
    table = chained(call(1, "2026-03-01", "2026-03-02"), call(2, "2026-03-05", "2026-03-06"), valves=hot)
    assert row(table, 28)["likely_root"] == "hot location"


def test_no_visits_no_chains() -> None:
    table = chained()
    assert table.empty
    assert "likely_root" in table


def test_the_order_of_rows_does_not_matter() -> None:
    visits = [call(n, f"2026-03-{n:02d}", f"2026-03-{n:02d}") for n in range(1, 9)]
    pd.testing.assert_frame_equal(chained(*visits), chained(*reversed(visits)))
