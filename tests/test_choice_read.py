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


MOTOR = READ | CASES["motor"][0]
BOTH_WIRES = READ | {"brown_live": "yes", "orange_live": "yes", "position": "open"}
# what came after the reading of a dead motor, and whether the reading still counts
LATER: dict[str, tuple[list[dict[str, str]], bool]] = {
    "nothing was done since": ([], True),
    "a head was fitted since": ([{"completed": "2026-10-05", "action": "head"}], False),
    "left fixed since": ([{"completed": "2026-10-05", "outcome": "fixed"}], False),
    "nobody was in since": ([{"outcome": "no_access"}], True),
    "later readings find nothing": ([BOTH_WIRES], False),
}
AGES = {"2025-11-25": True, "2025-11-24": False}  # today: 25 November 2026
NO_RULE = "no rule but the readings"
# every story is one home with one valve, H and V of the story's number, so that all are judged at once
STORIES = {
    **{part: [("2026-10-01", {"outcome": "temporary"} | READ | read)] for part, (read, _) in CASES.items()},
    **{
        name: [("2026-10-01", MOTOR), *(("2026-10-05", cells) for cells in later)] for name, (later, _) in LATER.items()
    },
    **{day: [(day, MOTOR)] for day in AGES},
    NO_RULE: [("2026-10-01", MOTOR)],
}
NUMBER = {name: number for number, name in enumerate(STORIES)}


@pytest.fixture(scope="module")
def case() -> Case:
    """Every story's valve, with a finding by hand beside what the rules say of its readings."""
    valves = [valve(f"V{n}", f"H{n}") for n in NUMBER.values()]
    visits = [
        {
            "visit_id": f"J{n}-{m}", "home_id": f"H{n}", "valve_id": f"V{n}", "reported": day, "attended": day,
            "kind": "call_out", **cells,
        }
        for name, n in NUMBER.items() for m, (day, cells) in enumerate(STORIES[name], 1)
    ]  # fmt: skip
    homes = [{"home_id": f"H{n}", "postcode": "ZZ99 1AA"} for n in NUMBER.values()]
    read = findings(known_facts(portfolio(homes, valves, visits)), load_policy(), {})
    by_hand = found(*([HEAD_OLD, "money", f"H{n}", f"V{n}"] for name, n in NUMBER.items() if name != NO_RULE))
    both = pd.concat([by_hand, read.loc[read["rule"].str.startswith("readings-name")]], ignore_index=True)
    return Case(valves, both, homes=homes, visits=visits)


def jobs_of(case: Case, name: str) -> pd.DataFrame:
    return case.jobs.loc[case.jobs["valve_id"].eq(f"V{NUMBER[name]}")]


@pytest.mark.parametrize("part", CASES)
def test_options_under_a_named_part(part: str, case: Case) -> None:
    for option, reason in zip(("leave", "motor", "head", "full"), CASES[part][1], strict=True):
        row = case.option(f"V{NUMBER[part]}", option)
        assert reason in row["why_not"]
        assert row["feasible"] == ("no" if reason else "yes"), (option, row["why_not"])
    job = jobs_of(case, part).iloc[0]
    assert f"Readings of 1 October 2026 (J{NUMBER[part]}-1) fit one fault only: {READING_PART[part]}" in job["reason"]
    assert job["severity"] == "fault"
    assert (job["tasks"] == "wiring") == (part == "controls_or_wiring")


@pytest.mark.parametrize("name", LATER)
def test_readings_count_until_something_is_done(name: str, case: Case) -> None:
    assert counts(case, name) == LATER[name][1]


@pytest.mark.parametrize("day", AGES)
def test_readings_count_for_twelve_months(day: str, case: Case) -> None:
    assert counts(case, day) == AGES[day]


def counts(case: Case, name: str) -> bool:
    return "readings-name-head" in case.option(f"V{NUMBER[name]}", "leave")["why_not"]


def test_readings_alone_make_work(case: Case) -> None:
    assert len(jobs_of(case, NO_RULE)) == 1
