"""What was renewed, and whether it had failed: one table of cases, dates of 2020."""

from __future__ import annotations

from typing import Any

import pytest

from audit.life.replaced import replaced
from audit.policy import load_policy
from tests.life_cases import stock

H, B = "head failed", "body failed"


def listed(visits: list[dict[str, Any]], valves: list[dict[str, Any]] | None = None) -> list[tuple[str, str, str]]:
    facts = stock(valves or [{}], visits)
    events, _ = replaced(facts, load_policy())
    failed = events["head_failed"].map({True: H, False: ""}) + events["body_failed"].map({True: B, False: ""})
    names = facts.valves["valve_id"].to_numpy()[events["valve"]]
    return list(zip(names, events["what"], failed, strict=True))


def call(day: str, action: str, cause: str | None = None, **own: Any) -> dict[str, Any]:
    return {"reported": f"2020-{day}", "action": action, "cause": cause, **own}


@pytest.mark.parametrize(
    ("case", "visits", "expected"),
    [
        ("a head that failed", [call("03-01", "head", "head")], [("V1", "head", H)]),
        ("a motor that failed", [call("03-01", "motor", "motor")], [("V1", "motor", H)]),
        ("a head without a cause", [call("03-01", "head")], [("V1", "head", H)]),
        ("a head changed, the programmer was to blame", [call("03-01", "head", "control")], [("V1", "head", "")]),
        ("a head changed as planned", [call("03-01", "head", "head", kind="planned")], [("V1", "head", "")]),
        ("a whole valve for a seized body", [call("03-01", "full", "body")], [("V1", "full", B)]),
        ("a whole valve for a failed head", [call("03-01", "full", "motor")], [("V1", "full", H)]),
        ("a whole valve as planned", [call("03-01", "full", "body", kind="planned")], [("V1", "full", "")]),
        ("nothing renewed", [call("03-01", "none", "none_found")], []),
        ("nobody in", [call("03-01", "head", "head", outcome="no_access")], []),
        (
            "the return visit of a call-out",
            [call("03-01", "none", "head", outcome="parts_needed"), call("03-04", "head", "head", kind="follow_on")],
            [("V1", "head", H)],
        ),
        (
            "the return visit of planned work",
            [call("03-01", "none", kind="planned"), call("03-04", "head", "head", kind="follow_on")],
            [("V1", "head", "")],
        ),
        (
            "heads changed in vain before the body: one fault, the body's",
            [call("03-01", "head", "head"), call("03-20", "head", "head"), call("05-01", "full", "body")],
            [("V1", "full", B)],
        ),
        (
            "a head changed in vain, a loose wire put right",
            [call("03-01", "head", "head"), call("03-20", "wiring", "wiring")],
            [("V1", "head", "")],
        ),
        (
            "the same head again within the window: one failure",
            [call("03-01", "motor", "motor"), call("03-20", "head", "head")],
            [("V1", "head", H)],
        ),
        (
            "two failures far apart",
            [call("03-01", "head", "head"), call("09-01", "head", "head")],
            [("V1", "head", H), ("V1", "head", H)],
        ),
        (
            "planned work soon after a fault is not the same fault",
            [call("03-01", "head", "head"), call("03-20", "full", kind="planned")],
            [("V1", "head", H), ("V1", "full", "")],
        ),
        ("a valve that is not in the register", [call("03-01", "head", "head", valve_id="X9", home_id="H8")], []),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_replacements(case: str, visits: list[dict[str, Any]], expected: list[tuple[str, str, str]]) -> None:
    assert listed(visits) == expected


TWO = [
    {"home_id": "H1", "circuit": "heating", "head_fitted": "2020-03-02"},
    {"home_id": "H1", "circuit": "hot_water", "head_fitted": "2015-01-01"},
]


@pytest.mark.parametrize(
    ("case", "visit", "valve"),
    [
        ("the register's date tells", call("03-01", "head", symptom="other"), "V1"),
        ("the date outweighs the symptom", call("03-01", "head", symptom="no_hot_water"), "V1"),
        ("the symptom tells", call("07-01", "head", symptom="no_hot_water"), "V2"),
        ("the symptom tells", call("07-01", "head", symptom="heating_stays_on"), "V1"),
    ],
)
def test_which_valve_of_the_home(case: str, visit: dict[str, Any], valve: str) -> None:
    facts = stock(TWO, [{**visit, "valve_id": None}])
    events, inferred = replaced(facts, load_policy())
    assert (facts.valves["valve_id"].iloc[events["valve"].iloc[0]], inferred) == (valve, 1)


def test_a_lot_falls_the_same_on_every_run_and_on_both_valves() -> None:
    visits = [call("07-01", "head", symptom="other", valve_id=None, reported=f"{2000 + i}-07-01") for i in range(40)]
    first, again = (replaced(stock(TWO, visits), load_policy())[0] for _ in range(2))
    assert first.equals(again)
    assert set(first["valve"]) == {0, 1}


def test_whole_valves_without_a_cause_are_shared_out_as_those_with_one() -> None:
    """Of 60 with a cause every third tells of the head, so about a third of the 300 without one do."""
    named = [call("01-01", "full", "motor" if i % 3 == 0 else "body", valve_id=f"V{i + 1}") for i in range(60)]
    silent = [call("01-01", "full", valve_id=f"V{i + 61}") for i in range(300)]
    events, _ = replaced(stock([{}] * 360, named + silent), load_policy())
    share = events["head_failed"].iloc[60:].mean()
    assert 0.25 < share < 0.42
    assert (events["head_failed"] ^ events["body_failed"]).all()
