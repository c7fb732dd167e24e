"""Which options are possible, and the words for why not: one case a reason."""

from __future__ import annotations

from functools import cache

import pytest

from schemas import words
from tests.choosing import BODY_OLD, HEAD_OLD, Case, found, valve

OLD = found([HEAD_OLD, "money", "H1", "V1"])
# case: cells of the valve, findings, then for leave, motor, head, full a part of the reason, or "" where possible
CASES: dict[str, tuple[dict[str, str], list[str], tuple[str, str, str, str]]] = {
    "an old head on a sound body": ({}, [HEAD_OLD], ("", "", "", "")),
    "head does not come off": ({"head_detachable": "no"}, [HEAD_OLD], ("", "", "does not come off", "")),
    "motor cannot be changed": ({"motor_replaceable": "no"}, [HEAD_OLD], ("", "cannot be changed", "", "")),
    "motor not recorded": ({"motor_replaceable": ""}, [HEAD_OLD], ("", "not recorded whether the motor", "", "")),
    "detaching not recorded": ({"head_detachable": ""}, [HEAD_OLD], ("", "", "", "")),
    "lever stiff": ({"lever": "stiff"}, [HEAD_OLD], ("", "lever is stiff", "lever is stiff", "")),
    "body past its life": (
        {"body_fitted": "2000-01-01"}, [HEAD_OLD, BODY_OLD], ("", "body is past its service", "body is past its", "")
    ),
    "young head on an old body": (
        {"body_fitted": "2000-01-01", "head_fitted": "2025-01-01"}, [BODY_OLD], ("", "body is past", "body is past", "")
    ),
    "young head, asked for all the same": (
        {"head_fitted": "2025-01-01"}, [HEAD_OLD], ("", "no fault in the head", "no fault in the head", "")
    ),
    "a fault that only tells of wiring": (
        {}, ["switch-overloaded"], ("", "nothing was found", "nothing was found", "nothing was found")
    ),
    "a fault in the body": (
        {}, ["head-replaced-again"],
        ("a fault needs renewing (head-replaced-again)", "needs the body renewed", "needs the body renewed", ""),
    ),
    "a head of the wrong kind": (
        {"head_fitted": "2025-01-01"}, ["head-does-not-suit-body"],
        ("a fault needs renewing (head-does-not-suit-body)", "wrong kind", "", ""),
    ),
}  # fmt: skip


@cache
def every_case() -> Case:
    """One home a case, with a valve named after it."""
    valves = [valve(name, f"home of {name}", **cells) for name, (cells, _, _) in CASES.items()]
    rows = [[rule, "fault", f"home of {name}", name] for name, (_, rules, _) in CASES.items() for rule in rules]
    return Case(valves, found(*rows))


@pytest.mark.parametrize("name", CASES)
def test_reason(name: str) -> None:
    for option, reason in zip(words.OPTION, CASES[name][2], strict=True):
        row = every_case().option(name, option)
        assert row["feasible"] == ("no" if reason else "yes"), (option, row["why_not"])
        assert reason in row["why_not"]


LEAK = {"visit_id": "J1", "home_id": "H1", "valve_id": "V1", "reported": "2026-03-01", "attended": "2026-03-01",
        "kind": "call_out", "symptom": "leak"}  # fmt: skip


@pytest.mark.parametrize(
    ("outcome", "action", "why"),
    [("temporary", "none", "the body leaks"), ("fixed", "none", ""), ("no_access", "", "")],
)
def test_a_leak_counts_until_it_is_left_fixed(outcome: str, action: str, why: str) -> None:
    case = Case([valve("V1")], OLD, visits=[LEAK | {"outcome": outcome, "action": action}])
    assert case.option("V1", "head")["why_not"] == why


def test_a_later_visit_without_a_leak_ends_it() -> None:
    later = LEAK | {"visit_id": "J2", "reported": "2026-04-01", "attended": "2026-04-02", "symptom": "noise"}
    case = Case([valve("V1")], OLD, visits=[LEAK | {"outcome": "temporary"}, later | {"outcome": "fixed"}])
    assert case.option("V1", "head")["feasible"] == "yes"
