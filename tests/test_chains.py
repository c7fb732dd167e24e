"""Chains of repeat call-outs, by hand."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pandas as pd
import pytest

from audit import sample
from audit.facts import facts
from audit.model import Facts
from audit.repeats import rooted
from audit.repeats.chains import followed
from audit.rules.repeats import head_replaced_again
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
    return followed(known_facts(portfolio(valves=valves, visits=visits)), default_policy())[0]


def only(table: pd.DataFrame) -> pd.Series:
    assert len(table) == 1
    return table.iloc[0]


@pytest.mark.parametrize(
    ("second", "window"),
    [
        ("2026-03-30", 28),  # 28 days after 2 March, when the first was completed
        ("2026-03-31", 90),
        ("2026-05-31", 90),  # 90 days after
        ("2026-06-01", None),
    ],
)
def test_two_call_outs_are_one_chain_up_to_the_window_after_completion(second: str, window: int | None) -> None:
    table = chained(call(1, "2026-03-01", "2026-03-02"), call(2, second, second))
    assert table["window_days"].tolist() == ([] if window is None else [window])


def test_a_chain_is_shown_once_and_tells_how_many_came_within_the_short_window() -> None:
    days = ("2026-01-01", "2026-01-20", "2026-03-20", "2026-03-30")  # 19, 59 and 10 days apart
    found = only(chained(*(call(n, day, day) for n, day in enumerate(days))))
    assert (found["window_days"], found["call_outs"], found["repeats_short"]) == (90, 4, 2)


def test_a_chain_counts_its_visits_days_and_money() -> None:
    found = only(
        chained(
            call(1, "2026-03-01", "2026-03-04", cost_gbp="100", action="head", symptom="no_heating"),
            call(2, "2026-03-10", outcome="no_access", cost_gbp="38", symptom="noise"),
            call(3, "2026-03-11", "2026-03-12", kind="follow_on", cost_gbp="90", action="head"),
            call(4, "2026-03-20", "2026-03-21", cost_gbp="72", action="full", symptom="no_heating"),
        )
    )
    assert (found["call_outs"], found["visits"], found["no_access"]) == (3, 4, 1)
    assert (found["first"], found["last"]) == (pd.Timestamp("2026-03-01"), pd.Timestamp("2026-03-20"))
    assert found["days_open"] == 3 + 2 + 1
    assert found["days_without_heat"] == 3 + 1
    assert found["cost_gbp"] == 300
    assert found["parts_fitted"] == "head, then head, then whole valve"
    assert found["symptoms"] == "no heating, then noise, then no heating"


def test_a_new_whole_valve_that_nothing_followed_is_watched() -> None:
    heads = [call(n, day, day, action="head") for n, day in enumerate(("2026-03-01", "2026-03-10"), 1)]
    found = only(chained(*heads, call(3, "2026-03-20", "2026-03-21", action="full")))
    assert found["likely_root"] == "body seized or stiff; put right by the last visit"
    assert found["state"] == "put right by the last visit"
    assert found["next_step"] == (
        "Nothing: watch. Whole valve renewed on 21 Mar 2026 (J3); it held 249 days up to now."  # to 25 November
    )


def test_a_fix_that_has_held_no_longer_than_the_window_is_not_called_held() -> None:
    heads = [call(n, day, day, action="head") for n, day in enumerate(("2026-09-01", "2026-09-10"), 1)]
    found = only(chained(*heads, call(3, "2026-09-25", "2026-09-26", action="full")))
    assert found["next_step"] == (
        "Watch: Whole valve renewed on 26 Sep 2026 (J3); 60 days so far; earlier fixes held 9, 15 days."
    )


def test_renewals_count_for_each_body_alone() -> None:
    valves = tuple({"valve_id": f"V{n}", "home_id": "H1"} for n in (1, 2, 3))
    days = ("2026-01-01", "2026-02-01", "2026-03-01")
    visits = [call(n, day, day, action="head", valve_id=f"V{n}") for n, day in enumerate(days, 1)]
    found = only(chained(*visits, valves=valves))
    assert found["likely_root"] == "water quality, wiring centre or pump"
    assert "again on one body" not in found["evidence"]
    assert found["evidence"].startswith(
        "different valves failed within a year: V1 1 Jan 2026 (J1), V2 1 Feb 2026 (J2), V3 1 Mar 2026 (J3)"
    )


def test_heads_renewed_again_are_told_with_dates_and_visits() -> None:
    days = ("2025-06-01", "2026-01-01", "2026-02-01")
    found = only(chained(*(call(n, day, day, action="head") for n, day in enumerate(days, 1))))
    assert (
        "heads or motors renewed again on one body: head 1 Jan 2026 (J2) after head 1 Jun 2025 (J1) on V1, "
        "head 1 Feb 2026 (J3) after head 1 Jan 2026 (J2) on V1"
    ) in found["evidence"]


def test_a_valve_counts_as_failed_where_its_return_visit_found_the_fault() -> None:
    valves = tuple({"valve_id": f"V{n}", "home_id": "H1"} for n in (1, 2))
    found = only(
        chained(
            call(1, "2026-01-01", "2026-01-01", action="head", valve_id="V1"),
            call(2, "2026-02-01", outcome="no_access", valve_id="V2"),
            call(3, "2026-02-02", "2026-02-03", kind="follow_on", action="head", valve_id="V2"),
            valves=valves,
        )
    )
    assert "V1 1 Jan 2026 (J1), V2 2 Feb 2026 (J3)" in found["evidence"]


def test_nobody_in_starts_no_chain() -> None:
    assert chained(
        call(1, "2026-03-01", "2026-03-01", outcome="no_access"), call(2, "2026-03-10", "2026-03-11", outcome="fixed")
    ).empty


def test_a_repeat_of_the_rule_is_always_in_a_chain() -> None:
    days = [("2026-01-01", "2026-01-09"), ("2026-01-25", "2026-02-20"), ("2026-05-01", "2026-05-02")]
    days += [("2026-08-30", "")]
    visits = [call(n, *day) for n, day in enumerate(days)]
    facts = known_facts(portfolio(valves=[{"valve_id": "V1", "home_id": "H1"}], visits=visits))
    held = followed(facts, default_policy())[1]["visit_id"]
    assert facts.visits.loc[facts.visits["gap_days"].le(90), "visit_id"].tolist() == ["J1"]
    assert held.tolist() == ["J0", "J1", "J2"]  # J2 came 96 days after the report, and 70 after the completion


def test_another_home_or_system_is_another_chain() -> None:
    other = call(2, "2026-03-05", "2026-03-06") | {"home_id": "H2"}
    second_system = call(3, "2026-03-05", "2026-03-06", system="annexe")
    assert chained(call(1, "2026-03-01", "2026-03-02"), other, second_system).empty


@pytest.mark.parametrize(
    ("facts", "root"),
    [
        ({"lever": "stiff"}, "body seized or stiff"),
        ({"lever": "latched"}, "lever left latched"),
        ({"cause": "wiring"}, "wiring or a control upstream"),
        ({"cause": "end_switch"}, "end switch"),
        ({"cause": "spring"}, "return spring or paddle"),
        ({"cause": "boiler"}, "pump, boiler or another part, not the valve"),
        ({"cause": "water_quality"}, "water quality, wiring centre or pump"),
        ({}, "not clear from the log"),
    ],
)
def test_the_likely_root_follows_from_the_facts(facts: Row, root: str) -> None:
    valves = tuple({"valve_id": f"V{n}", "home_id": "H1"} for n in (1, 2))  # the visits name no valve
    found = only(
        chained(
            call(1, "2026-09-01", "2026-09-02", **facts), call(2, "2026-09-05", "2026-09-06", **facts), valves=valves
        )
    )
    assert found["likely_root"] == root


@pytest.mark.parametrize(
    ("air", "told", "step"),
    [
        ("60", "clearly above the limit (1 valve)", "Move V1 or cool its place; the next head will fail early too."),
        ("54", "above the limit within the reading's uncertainty (1 valve)",
         "Measure the air at V1 while heating and cylinder are hot; move it or cool its place where that is clearly "
         "above the limit."),
    ],
)  # fmt: skip
def test_a_hot_place_is_named_before_the_body_and_moved_only_where_clearly_over(air: str, told: str, step: str) -> None:
    place = {"location_temp_c": air, "location_temp_on": "2026-01-01"}
    valves = ({"valve_id": "V1", "home_id": "H1", **place}, {"valve_id": "V2", "home_id": "H1", **place})
    days = ("2026-08-01", "2026-09-01", "2026-10-01")
    visits = [call(n, day, day, action="head", valve_id="V1") for n, day in enumerate(days)]
    found = only(chained(*visits, valves=valves))
    assert (found["likely_root"], found["next_step"]) == ("hot location", step)
    assert f"air {told}: V1 {air} °C on 1 Jan 2026, limit 52 °C" in found["evidence"]


def test_a_named_batch_is_told_by_the_register_and_by_the_code_noted() -> None:
    batches = pd.DataFrame(
        {"valve_id": ["V1"], "batch": ["b-12"], "group": ["b-12, Make A"], "observed": [12.0], "expected": [4.96]}
    ).astype({"valve_id": "str", "batch": "str", "group": "str"})
    visits = [
        call(1, "2026-03-01", "2026-03-02", action="head", valve_id="V1"),
        call(2, "2026-03-05", "2026-03-06", action="head", valve_id="V2", notes="Same date code: B-12 as before"),
    ]
    valves = tuple({"valve_id": f"V{n}", "home_id": "H1"} for n in (1, 2))
    found = only(followed(known_facts(portfolio(valves=valves, visits=visits)), default_policy(), batches)[0])
    told = "batch b-12 (12 failures where 5 were expected)"
    assert found["evidence"].startswith(f"of a batch that fails too often: V1 {told}, {told} noted (J2)")
    assert found["hypothesis"] == "batch"


def test_a_stale_reading_says_nothing() -> None:
    hot = ({"valve_id": "V1", "home_id": "H1", "location_temp_c": "60", "location_temp_on": "2024-01-01"},)
    found = only(chained(call(1, "2026-03-01", "2026-03-02"), call(2, "2026-03-05", "2026-03-06"), valves=hot))
    assert "60 °C" not in found["evidence"]


def test_no_visits_no_chains() -> None:
    table = chained()
    assert table.empty
    assert "likely_root" in table


def test_the_order_of_rows_does_not_matter() -> None:
    visits = [call(n, f"2026-03-{n:02d}", f"2026-03-{n:02d}", lever="stiff", action="head") for n in range(1, 9)]
    pd.testing.assert_frame_equal(chained(*visits), chained(*reversed(visits)))


@cache
def stock() -> tuple[Facts, tuple[pd.DataFrame, pd.DataFrame]]:
    """What is known of an invented stock, and its chains with their visits."""
    made = sample.make(150, 5)
    known = facts(sample.portfolio(made), made.as_of, default_policy())
    return known, followed(known, default_policy())


def test_a_stock_with_its_rows_shuffled_has_the_same_chains() -> None:
    known, found = stock()
    book = sample.portfolio(sample.make(150, 5))
    mixed = {name: getattr(book, name).sample(frac=1, random_state=8) for name in ("homes", "valves", "visits")}
    shuffled = facts(replace(book, **mixed), known.as_of.date(), default_policy())
    for one, other in zip(found, followed(shuffled, default_policy()), strict=True):
        assert len(one) > 40
        pd.testing.assert_frame_equal(one, other)


def test_heads_replaced_again_and_the_chains_never_contradict() -> None:
    known, (chains, steps) = stock()
    found = head_replaced_again(known, default_policy()).assign(rule="head-replaced-again", rank=0)
    told = rooted(found, chains, steps, known)[["valve_id", "severity", "action"]]
    assert set(told["severity"]) == {"fault", "record"}
    faults = known.visits.loc[known.visits["is_fault"]].drop_duplicates("valve_id", keep="last")
    last = faults[["valve_id", "visit_id"]].merge(steps[["visit_id", "chain"]]).merge(chains)
    both = told.merge(last.loc[last["state"].ne("long ago")], on="valve_id")
    assert {"to do", "put right by the last visit"} <= set(both["state"])
    for row in both.to_dict("records"):
        renewed = row["severity"] == "fault"
        assert renewed == row["next_step"].startswith(f"Renew the whole valve {row['valve_id']};")
        assert row["action"].endswith(row["next_step"])
