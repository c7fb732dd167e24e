"""What readings ask for at a valve: which options they rule out, and until when they count."""

from __future__ import annotations

import pandas as pd
import pytest

from audit.findings import findings
from audit.policy import load_policy
from schemas.words import READING_PART
from tests.choosing import HEAD_OLD, Case, found, valve
from tests.frames import known_facts, portfolio

# a two-port zone head on heating: what was read, and for leave, motor, head, full a part of the reason, "" if possible
READ = {"position": "closed", "grey_live": "yes", "demand_heating": "yes", "demand_hot_water": "no"}
CASES: dict[str, tuple[dict[str, str], tuple[str, str, str, str]]] = {
    "motor": (
        {"brown_live": "yes", "orange_live": "no", "lever": "free"},
        ("a fault needs renewing (readings-name-head)", "", "", ""),
    ),
    "body": (
        {"brown_live": "yes", "orange_live": "no", "lever": "stiff"},
        (
            "a fault needs renewing (readings-name-body)",
            "needs the body renewed (readings-name-body)",
            "needs the body",
            "",
        ),
    ),
    "end_switch": (
        {"brown_live": "yes", "orange_live": "no", "position": "open"},
        ("a fault needs renewing", "a new motor would not mend that", "", ""),
    ),
    "controls_or_wiring": (
        {"brown_live": "no", "orange_live": "no"},
        ("", "name controls or wiring", "name controls or wiring", "name controls or wiring"),
    ),
}


def visit(number: int, day: str, **cells: str) -> dict[str, str]:
    return {
        "visit_id": f"J{number}", "home_id": "H1", "valve_id": "V1", "reported": day, "attended": day,
        "kind": "call_out", **cells,
    }  # fmt: skip


def judged(*visits: dict[str, str], rules: tuple[str, ...] = (HEAD_OLD,)) -> Case:
    """A valve with findings by hand, and what the rules say of its readings."""
    read = findings(known_facts(portfolio((), [valve("V1")], visits)), load_policy(), {})
    by_hand = found(*([rule, "money", "H1", "V1"] for rule in rules))
    both = pd.concat([by_hand, read.loc[read["rule"].str.startswith("readings-name")]], ignore_index=True)
    return Case([valve("V1")], both, visits=visits)


@pytest.mark.parametrize("part", CASES)
def test_options_under_a_named_part(part: str) -> None:
    read, reasons = CASES[part]
    case = judged(visit(1, "2026-10-01", outcome="temporary", **(READ | read)))
    for option, reason in zip(("leave", "motor", "head", "full"), reasons, strict=True):
        row = case.option("V1", option)
        assert reason in row["why_not"]
        assert row["feasible"] == ("no" if reason else "yes"), (option, row["why_not"])
    job = case.jobs.iloc[0]
    assert f"Readings of 1 October 2026 (J1) fit one fault only: {READING_PART[part]}" in job["reason"]
    assert job["severity"] == "fault"
    assert (job["tasks"] == "wiring") == (part == "controls_or_wiring")


MOTOR = READ | CASES["motor"][0]
LATER = {
    "nothing was done since": ([], True),
    "a head was fitted since": ([visit(2, "2026-10-05", completed="2026-10-05", action="head")], False),
    "left fixed since": ([visit(2, "2026-10-05", completed="2026-10-05", outcome="fixed")], False),
    "nobody was in since": ([visit(2, "2026-10-05", outcome="no_access")], True),
    "later readings find nothing": (
        [visit(2, "2026-10-05", **(READ | {"brown_live": "yes", "orange_live": "yes", "position": "open"}))], False,
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", LATER)
def test_readings_count_until_something_is_done(case: str) -> None:
    visits, counts = LATER[case]
    made = judged(visit(1, "2026-10-01", **MOTOR), *visits)
    assert ("readings-name-head" in made.option("V1", "leave")["why_not"]) == counts


@pytest.mark.parametrize(("day", "counts"), [("2025-11-25", True), ("2025-11-24", False)])  # today: 25 November 2026
def test_readings_count_for_twelve_months(day: str, counts: bool) -> None:
    made = judged(visit(1, day, **MOTOR))
    assert ("readings-name-head" in made.option("V1", "leave")["why_not"]) == counts


def test_readings_alone_make_work() -> None:
    assert judged(visit(1, "2026-10-01", **MOTOR), rules=()).jobs["valve_id"].tolist() == ["V1"]
