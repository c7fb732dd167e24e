"""Lives of single valves, by hand. The log runs from 2019 to 2026 and has no season."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from audit.life.lifetimes import Lives, lives
from audit.policy import Policy, load_policy
from tests.life_cases import quiet, stock

LOG = quiet(range(2019, 2026))
NAN = float("nan")


def even() -> Policy:
    """The policy, with so many even failures that a few of the log make no season."""
    from dataclasses import replace

    policy = load_policy()
    return Policy({**policy, "life.even_season": replace(policy["life.even_season"], value=1e9)})


def built(valve: dict[str, Any], visits: list[dict[str, Any]], others: list[dict[str, Any]] | None = None) -> Lives:
    return lives(stock([valve, *(others or [])], [*visits, *LOG]), even())


def opening(table: pd.DataFrame) -> list[float]:
    row = table.iloc[0]
    return [row["origin"], row["age"], row["span"], float(row["failed"])]


def call(day: str, action: str, cause: str) -> dict[str, Any]:
    return {"reported": day, "action": action, "cause": cause}


OLD = {"body_fitted": "2009-01-01", "head_fitted": "2009-01-01"}

HEADS = (
    # case, valve, visits, opening (origin, age, span, failed), later lives (entered, ended, failed)
    ("never renewed", OLD, [], [10, 10, 7, 0], []),
    ("renewed once before the log", {**OLD, "head_fitted": "2015-01-01"}, [], [10, 4, 7, 0], []),
    (
        "failed in the log: its start is overwritten",
        {**OLD, "head_fitted": "2022-01-01"},
        [call("2022-01-01", "head", "head")],
        [10, NAN, 3, 1],
        [(0.25, 4, 0)],
    ),
    (
        "failed twice",
        {**OLD, "head_fitted": "2024-01-01"},
        [call("2022-01-01", "head", "head"), call("2024-01-01", "head", "head")],
        [10, NAN, 3, 1],
        [(0.25, 2, 1), (0.25, 2, 0)],
    ),
    (
        "a motor first: the head's own date is set aside, the motor's age not known",
        OLD,
        [call("2022-01-01", "motor", "motor")],
        [10, NAN, 3, 1],
        [],
    ),
    (
        "a motor after a head keeps two fifths of its age",
        {**OLD, "head_fitted": "2020-01-01"},
        [call("2020-01-01", "head", "head"), call("2025-01-01", "motor", "motor")],
        [10, NAN, 1, 1],
        [(0.25, 5, 1), (2.25, 3, 0)],
    ),
    (
        "renewed as planned: censored",
        {**OLD, "head_fitted": "2022-01-01"},
        [{"reported": "2022-01-01", "action": "head", "kind": "planned"}],
        [10, NAN, 3, 0],
        [(0.25, 4, 0)],
    ),
    (
        "only the register tells of a new head in the log: censored, its own life is left out",
        {**OLD, "head_fitted": "2022-01-01"},
        [],
        [10, NAN, 3, 0],
        [],
    ),
    ("fitted inside the log", {"body_fitted": "2021-01-01", "head_fitted": "2021-01-01"}, [], [0, 0, 5, 0], []),
    ("body's date not known", {"head_fitted": "2015-01-01"}, [], [NAN, 4, 7, 0], []),
    ("head's date before its body's is wrong", {**OLD, "head_fitted": "2001-01-01"}, [], [10, NAN, 7, 0], []),
    ("head's date days after its body's is the same", {**OLD, "head_fitted": "2009-01-20"}, [], [10, 10, 7, 0], []),
)  # fmt: skip


@pytest.mark.parametrize(("case", "valve", "visits", "first", "later"), HEADS, ids=[row[0] for row in HEADS])
def test_lives_of_a_head(
    case: str, valve: dict[str, Any], visits: list[dict[str, Any]], first: list[float], later: list[tuple]
) -> None:
    found = built(valve, visits).head
    np.testing.assert_allclose(opening(found.openings), first, atol=0.01)
    rows = found.later[["entered", "ended", "failed"]].to_numpy(float)
    np.testing.assert_allclose(rows, np.array(later, dtype=float).reshape(-1, 3), atol=0.01)


BODIES = (
    ("still there", OLD, [], [NAN, 10, 7, 0], []),
    (
        "failed in the log: its start is overwritten",
        {**OLD, "body_fitted": "2022-01-01", "head_fitted": "2022-01-01"},
        [call("2022-01-01", "full", "body")],
        [NAN, NAN, 3, 1],
        [(0.25, 4, 0)],
    ),
    (
        "the register is behind the log: its start is known",
        OLD,
        [call("2022-01-01", "full", "body")],
        [NAN, 10, 3, 1],
        [(0.25, 4, 0)],
    ),
    (
        "renewed along with a failed head: censored",
        {**OLD, "body_fitted": "2022-01-01", "head_fitted": "2022-01-01"},
        [call("2022-01-01", "full", "motor")],
        [NAN, NAN, 3, 0],
        [(0.25, 4, 0)],
    ),
    ("fitted inside the log", {"body_fitted": "2021-01-01", "head_fitted": "2021-01-01"}, [], [0, 0, 5, 0], []),
)


@pytest.mark.parametrize(("case", "valve", "visits", "first", "later"), BODIES, ids=[row[0] for row in BODIES])
def test_lives_of_a_body(
    case: str, valve: dict[str, Any], visits: list[dict[str, Any]], first: list[float], later: list[tuple]
) -> None:
    found = built(valve, visits).body
    np.testing.assert_allclose(opening(found.openings), first, atol=0.01)
    rows = found.later[["entered", "ended", "failed"]].to_numpy(float)
    np.testing.assert_allclose(rows, np.array(later, dtype=float).reshape(-1, 3), atol=0.01)


def test_a_head_whose_body_date_was_overwritten_takes_its_home_s_first_day() -> None:
    renewed = {"home_id": "H1", "body_fitted": "2022-01-01", "head_fitted": "2022-01-01"}
    found = built(renewed, [call("2022-01-01", "full", "body")], [{**OLD, "home_id": "H1"}])
    np.testing.assert_allclose(opening(found.head.openings), [10, NAN, 3, 0], atol=0.01)


def test_a_home_fitted_out_inside_the_log_began_with_its_first_body() -> None:
    renewed = {"home_id": "H1", "body_fitted": "2024-01-01", "head_fitted": "2024-01-01"}
    other = {"home_id": "H1", "body_fitted": "2020-01-01", "head_fitted": "2020-01-01"}
    found = built(renewed, [call("2024-01-01", "full", "body")], [other])
    np.testing.assert_allclose(opening(found.body.openings), [0, 0, 4, 1], atol=0.01)


def test_ages_today_follow_heads_and_motors() -> None:
    visits = [call("2020-01-01", "head", "head"), call("2025-01-01", "motor", "motor")]
    found = built({**OLD, "head_fitted": "2020-01-01"}, visits)
    assert found.head_age[0] == pytest.approx(0.4 * 5 + 1, abs=0.01)
    assert found.body_age[0] == pytest.approx(17, abs=0.01)


def test_a_register_that_is_not_kept_up_says_nothing_of_heads() -> None:
    valves = [{**OLD, "valve_id": f"V{i}", "home_id": f"H{i}"} for i in range(1, 21)]
    visits = [{**call("2022-01-01", "head", "head"), "valve_id": f"V{i}", "home_id": f"H{i}"} for i in range(1, 13)]
    found = lives(stock(valves, [*visits, *LOG]), even())
    assert found.head.openings["age"].isna().all()
    assert any("register's head dates do not follow" in line for line in found.said)


def test_the_log_s_shares_stand_for_the_past() -> None:
    """Two motors, one whole valve and one head of four failures; one planned head in 70 valve-years."""
    valves = [{**OLD, "valve_id": f"V{i}", "home_id": f"H{i}"} for i in range(1, 11)]
    work = [("motor", "motor"), ("motor", "motor"), ("full", "motor"), ("head", "head")]
    visits = [{**call("2022-01-01", *each), "valve_id": f"V{i}", "home_id": f"H{i}"} for i, each in enumerate(work, 1)]
    planned = {"reported": "2022-01-01", "action": "head", "kind": "planned", "valve_id": "V9", "home_id": "H9"}
    unseen = lives(stock(valves, [*visits, planned, *LOG]), even()).head.unseen
    assert (unseen.motor_share, unseen.whole_share, unseen.kept) == pytest.approx((0.5, 0.25, 0.4))
    assert unseen.other_rate == pytest.approx(1 / 70, rel=0.01)
