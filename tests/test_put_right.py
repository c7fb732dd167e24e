"""What a visit put right asks for no work again: the register, readings and repeats, each with its own proof."""

from __future__ import annotations

import datetime as dt

import pandas as pd
import pytest

from audit.put_right import closed, put_right_chains
from tests.frames import Row, default_policy, found, known_facts, portfolio

AS_OF = dt.date(2026, 12, 31)
DAY = "2026-11-03"
MENDED = {"kind": "planned", "outcome": "fixed", "reported": DAY, "attended": DAY, "completed": DAY}


def visit(number: str, rules: str, **cells: str) -> Row:
    """A visit of a work list, to the home's only valve."""
    return {"visit_id": number, "home_id": "H1", "valve_id": "V1", "rules_put_right": rules, **MENDED, **cells}


def after(rule: str, valve: Row, *visits: Row) -> pd.Series:
    """The finding of one rule on one valve after some visits: its row."""
    book = portfolio(valves=[{"valve_id": "V1", "home_id": "H1", **valve}], visits=visits)
    facts = known_facts(book, AS_OF)
    table = closed(found(book, AS_OF), facts)
    assert table["rank"].tolist() == list(range(1, len(table) + 1))
    return table.loc[table["rule"].eq(rule)].iloc[0]


OF_REGISTER = [
    ("insertion-out-of-range", {"insertion_mm": "8", "body_size_mm": "22"}, "insertion_mm 8 mm"),
    ("too-close-to-pump", {"pump_distance_m": "0.4"}, "pump_distance_m 0.4 m"),
    ("flow-direction-wrong", {"flow_direction_ok": "no"}, "flow_direction_ok no"),
    ("head-does-not-suit-body", {"head_kind": "mid_position", "ports": "2"}, "head_kind mid-position, ports 2"),
    ("wires-do-not-match-head", {"head_kind": "zone", "wires": "3"}, "head_kind zone, wires 3"),
    ("switch-overloaded", {"switch_load_a": "4"}, "switch_load_a 4 A"),
]  # fmt: skip


@pytest.mark.parametrize(("rule", "valve", "stands"), OF_REGISTER)
def test_what_only_the_register_says_is_a_record_for_its_keeper(rule: str, valve: dict[str, str], stands: str) -> None:
    assert after(rule, valve)["severity"] == "fault"
    told = after(rule, valve, visit("P1", rule))
    assert told["severity"] == "record"
    assert told["statement"].endswith(
        "; the visit of 3 November 2026 (P1) says that it was put right, but so the register stands still: "
        f"valves.csv, row 2 ({stands})."
    )
    columns = " and ".join(piece.split(" ")[0] for piece in stands.split(", "))
    assert told["action"] == f"Write what is there now into {columns}: valves.csv, row 2."


@pytest.mark.parametrize(
    "other",
    [
        {"outcome": "temporary"},  # not fixed
        {"completed": ""},  # not finished
        {"rules_put_right": "flow-direction-wrong"},  # another finding
        {"home_id": "H2", "valve_id": "V2"},  # another valve
    ],
)
def test_what_was_not_put_right_stays_a_fault(other: dict[str, str]) -> None:
    stays = after("too-close-to-pump", {"pump_distance_m": "0.4"}, visit("P1", "too-close-to-pump") | other)
    assert stays["severity"] == "fault"


@pytest.mark.parametrize(
    ("read", "severity"), [("2026-11-02", "record"), ("2026-11-03", "fault"), ("2026-12-01", "fault")]
)
def test_a_reading_of_the_visit_or_later_outweighs_its_word(read: str, severity: str) -> None:
    """The store was read at 56 °C the day before the visit, on it (after the work), or later."""
    cold = {"visit_id": "J1", "home_id": "H1", "reported": read, "attended": read, "store_temp_c": "56"}
    told = after("store-too-cool", {}, visit("P1", "store-too-cool"), cold)
    assert told["severity"] == severity
    if severity == "record":
        assert "the visit of 3 November 2026 (P1) says that it was put right" in told["statement"]
        assert told["action"].startswith("Measure the hot water store at the next visit, whatever it is for")


def test_danger_is_never_closed_by_a_visits_word_alone() -> None:
    """Two voltages in one system; and water near boiling, a fault only because the reading is old."""
    low = {"valve_id": "V2", "home_id": "H1", "voltage_v": "24"}
    book = portfolio([], [{"valve_id": "V1", "home_id": "H1", "voltage_v": "230"}, low],
                     [visit("P1", "mixed-voltages", valve_id="")])  # fmt: skip
    table = closed(found(book, AS_OF), known_facts(book, AS_OF))
    told = table.loc[table["rule"].eq("mixed-voltages")].iloc[0]
    assert told["severity"] == "danger"
    assert told["statement"].endswith("valves.csv, row 2 (voltage_v 230 V), row 3 (voltage_v 24 V).")
    assert told["action"].endswith(
        "A visit's word alone does not close a danger: write what is there now into voltage_v: "
        "valves.csv, row 2, row 3."
    )
    hot = after("flow-too-hot", {"flow_temp_c": "98", "flow_temp_on": "2024-05-03"}, visit("P1", "flow-too-hot"))
    assert hot["severity"] == "fault"
    assert hot["action"].endswith("measure the water at the valve and enter the reading.")


CALLS = [
    {"visit_id": f"J{at}", "home_id": "H1", "valve_id": "V1", "kind": "call_out", "reported": day, "completed": day}
    for at, day in enumerate(["2026-09-01", "2026-09-15", "2026-11-20"], 1)
]  # fmt: skip


def test_a_repeat_is_over_until_something_new_is_reported() -> None:
    """Two call-outs in September; their cause was found on 3 November; a third came on the 20th, after 66 days."""
    found_it = visit("P1", "repeat-call-out", valve_id="")
    over = after("repeat-call-out", {}, *CALLS[:2], found_it)
    assert over["severity"] == "record"
    assert over["statement"].endswith("(P1) found the cause and put it right, and nothing was reported since.")
    assert after("repeat-call-out", {}, *CALLS, found_it)["severity"] == "fault"


def test_a_chain_whose_cause_was_found_is_put_right() -> None:
    from audit.repeats import followed

    for calls, state in ((CALLS[:2], "put right by the last visit"), (CALLS, "to do")):
        book = portfolio(visits=[*calls, visit("P1", "repeat-call-out", valve_id="")])
        facts = known_facts(book, AS_OF)
        chains = put_right_chains(followed(facts, default_policy())[0], facts)
        assert chains["state"].tolist() == [state]
    assert "Cause found" not in chains["next_step"].item()
