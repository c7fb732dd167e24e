"""Jobs: hours, parts, drain-down and money by hand; what makes a job and what does not; the order of work."""

from __future__ import annotations

import pytest

from schemas import words
from schemas.results import RESULT_COLUMNS
from tests.choosing import BODY_OLD, HEAD_OLD, Case, found, policy, valve
from tests.frames import frame

EXTRA = 0.5 * (0.75 * 30 + 0.25 * 90 + 0.3 * 30 - 30)  # half of faults left come as a call-out: £54 instead of £30
OLD_HEAD = {"head_fitted": "2010-11-25", "body_fitted": "2010-11-25", "motor_replaceable": "no"}
WORN = {"head_fitted": "2003-11-25", "body_fitted": "2003-11-25", "motor_replaceable": "no"}
REPEATED = ["no-fault-found-again", "fault"]
STIFF = ["lever-stiff", "fault", "H1", "V1"]


def only_job(case: Case) -> dict[str, object]:
    """The one job of a case."""
    assert len(case.jobs) == 1, case.jobs
    return case.jobs.iloc[0].to_dict()


@pytest.mark.parametrize(
    ("rule", "cells", "hours", "parts", "drain_down", "cost"),
    [
        ("not-earthed", {}, 0.5, "", "no", 20),
        ("switch-overloaded", {}, 1.0, "relay × 1", "no", 52),
        ("mixed-voltages", {}, 1.0, "", "no", 40),
        ("lever-left-latched", {}, 0.2, "", "no", 8),
        ("location-too-hot", {}, 3.0, "inhibitor × 1", "yes", 135),
        ("location-too-hot", {"isolation": "yes"}, 3.0, "inhibitor × 1", "yes", 135),  # pipe is cut beyond them
        ("too-close-to-pump", {}, 2.5, "inhibitor × 1", "yes", 115),
        ("lever-stiff", {}, 2.5, "valve_2port_22 × 1; inhibitor × 1", "yes", 195),
        ("lever-stiff", {"isolation": "yes"}, 1.5, "valve_2port_22 × 1", "no", 140),
        ("head-does-not-suit-body", {"head_kind": "mid_position"}, 0.8, "head_zone × 1", "no", 82),
        ("head-does-not-suit-body", {"changeover_in_use": "yes"}, 0.8, "head_zone_changeover × 1", "no", 92),
        ("wires-do-not-match-head", {"changeover_in_use": "yes"}, 0.3, "", "no", 12),
    ],
)
def test_hours_parts_and_cost(
    rule: str, cells: dict[str, str], hours: float, parts: str, drain_down: str, cost: float
) -> None:
    job = only_job(Case([valve("V1", **cells)], found([rule, "fault", "H1", "V1"]), policy=policy(money__horizon=1)))
    seen = (job["hours"], job["parts"], job["drain_down"], job["cost_gbp"])
    assert seen == (pytest.approx(hours), parts, drain_down, pytest.approx(cost))


def test_work_on_one_valve_that_drains_twice_drains_once() -> None:
    job = only_job(Case([valve("V1")], found(STIFF, ["location-too-hot", "fault", "H1", "V1"])))
    assert job["hours"] == pytest.approx(2.5 + 3.0 - 1.0)
    assert job["parts"] == "valve_2port_22 × 1; inhibitor × 1"
    assert job["tasks"] == "relocate"


def test_moving_a_valve_re_makes_its_pipework() -> None:
    rows = [["location-too-hot", "fault", "H1", "V1"], ["too-close-to-pump", "fault", "H1", "V1"]]
    job = only_job(Case([valve("V1")], found(*rows), policy=policy(money__horizon=1)))
    assert (job["tasks"], job["hours"]) == ("relocate", pytest.approx(3.0))


def test_two_valves_of_one_system_drain_it_once() -> None:
    case = Case([valve("V1"), valve("V2")], found(STIFF, ["lever-stiff", "fault", "H1", "V2"]))
    jobs = case.jobs.set_index("valve_id")
    assert jobs["hours"].tolist() == pytest.approx([1.5, 2.5] if jobs.index[0] == "V2" else [2.5, 1.5])
    assert jobs.loc["V1", "parts"] == "valve_2port_22 × 1; inhibitor × 1"
    assert jobs.loc["V2", "parts"] == "valve_2port_22 × 1"
    assert "drain-down and dose counted once for the home" in jobs.loc["V2", "working"]
    assert "in the same drain-down" in jobs.loc["V2", "what"]
    assert jobs["drain_down"].tolist() == ["yes", "yes"]


def test_two_systems_of_one_home_are_drained_each() -> None:
    valves = [valve("V1", system="flat"), valve("V2", system="annexe")]
    case = Case(valves, found(STIFF, ["lever-stiff", "fault", "H1", "V2"]))
    assert case.jobs["parts"].tolist() == ["valve_2port_22 × 1; inhibitor × 1"] * 2


def test_a_valve_best_left_makes_no_job() -> None:
    case = Case([valve("V1")], found([HEAD_OLD, "money", "H1", "V1"]))
    assert case.chosen("V1") == "leave"
    assert case.jobs.empty


def test_tasks_of_the_system_make_one_job_for_the_home() -> None:
    rows = [
        ["store-too-cool", "fault", "H1"], ["flow-too-hot", "fault", "H1", "V1"], ["flow-too-hot", "fault", "H1", "V2"],
        ["no-fault-found-again", "fault", "H1"],
    ]  # fmt: skip
    job = only_job(Case([valve("V1"), valve("V2")], found(*rows)))
    assert job["tasks"] == "set_temperature; diagnose"
    assert job["valve_id"] != job["valve_id"]  # missing: the work is on the home's system
    assert (job["option"], job["hours"], job["severity"]) == ("leave", pytest.approx(1.3), "fault")
    assert job["what"] == (
        "In the home's heating system: set and prove the water temperature, the taps guarded against "
        "scalding; find the one cause behind the repeats."
    )


def test_water_near_boiling_is_measured_again_before_anything_is_opened() -> None:
    """One valve at 94 °C, another at 97 °C: the dangerous one is told first, whatever else the system asks for."""
    near = (
        "Water at the valve 97 °C, above the limit of 93 °C; near boiling (above 95 °C): a slip of reading, or danger."
    )
    rows = [
        ["flow-too-hot", "danger", "H1", "V1", "", near], ["flow-too-hot", "fault", "H1", "V2"],
        ["several-valves-one-home", "fault", "H1"],
    ]  # fmt: skip
    job = only_job(Case([valve("V1"), valve("V2")], found(*rows)))
    assert (job["tasks"], job["severity"]) == ("near_boiling; set_temperature; water_quality", "danger")
    assert job["hours"] == pytest.approx(0.5 + 0.3 + 0.5)
    assert job["what"].startswith(
        "In the home's heating system: first measure the water at the valve again, with a second thermometer; if it is "
        "near boiling, danger: boiler off and isolated, open nothing that holds water, call a competent, "
    )
    assert job["in_short"] == "task only: water near boiling, test the water, water temperature"


def test_the_worst_finding_gives_the_severity_and_every_finding_a_reason() -> None:
    rows = [[HEAD_OLD, "money", "H1", "V1", "", "Head is old."], ["not-earthed", "danger", "H1", "V1", "", "No earth."]]
    job = only_job(Case([valve("V1", motor_replaceable="no")], found(*rows)))
    assert (job["severity"], job["reason"], job["tasks"]) == ("danger", "No earth; Head is old", "earth")


def test_of_many_findings_three_are_told_and_the_rest_counted() -> None:
    rules = ["flow-direction-wrong", "insertion-out-of-range", "lever-stiff", "location-too-hot", "too-close-to-pump"]
    job = only_job(Case([valve("V1")], found(*([rule, "fault", "H1", "V1"] for rule in rules))))
    assert job["reason"] == "flow-direction-wrong; insertion-out-of-range; lever-stiff; and 2 more"


SENTENCES = {
    "a head with its wires": (
        valve("V1", ports="3", arrangement="mid_position", head_kind="mid_position", circuit="both", **OLD_HEAD),
        [[HEAD_OLD, "money"], ["switch-overloaded", "fault"]],
        "Renew the mid-position head (five wires, 230 V) of the three-port valve in the airing cupboard; take the load "
        "off the end switch with a relay between them; where its contacts are burnt, renew the head; prove the earth.",
    ),
    "the earth is the task itself": (
        valve("V1", location="loft", circuit="hot_water"),
        [["not-earthed", "danger"]],
        "At the hot water valve in the loft: connect the head's earth, prove it, and write down that it is "
        "proved (Earth proved = yes); keep the head isolated until then.",
    ),
    "a whole valve": (
        valve("V1", circuit="", location=""),
        [["lever-stiff", "fault"]],
        "Renew body and head (two-port, 22 mm, zone head, five wires, 230 V) of the valve; drain down, refill, vent "
        "and dose inhibitor; prove the earth.",
    ),
    "a whole valve between isolating valves": (
        valve("V1", isolation="yes", wires="", voltage_v="", body_size_mm=""),
        [["lever-stiff", "fault"]],
        "Renew body and head (two-port, zone head) of the heating valve in the airing cupboard; close the isolating "
        "valves, no drain-down; prove the earth.",
    ),
    "a head of another kind": (
        valve("V1", head_kind="mid_position", motor_replaceable="no"),
        [["head-does-not-suit-body", "fault"]],
        "Prove the wiring and fit a zone head (230 V), the kind that suits body and wiring, to the heating valve in "
        "the airing cupboard; prove the earth.",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", SENTENCES)
def test_sentence_for_the_engineer(name: str) -> None:
    row, rules, sentence = SENTENCES[name]
    case = Case([row], found(*([rule, severity, "H1", "V1"] for rule, severity in rules)))
    assert only_job(case)["what"] == sentence


def test_every_word_of_circuit_and_place_has_its_phrase() -> None:
    from audit.choice.wording import CIRCUIT, HEAD, PLACE

    assert set(CIRCUIT) == set(words.CIRCUIT)
    assert set(PLACE) == set(words.LOCATION)
    assert set(HEAD) == {f"head_{kind}" for kind in words.HEAD_KIND}


def test_every_word_of_work_has_its_label_hours_and_price() -> None:
    in_force = policy()
    assert set(words.TASK_LABEL) == set(words.TASK) <= {name.removeprefix("hours.") for name in in_force}
    assert set(words.RATE_LABEL) == set(words.RATE_ITEM)


def test_the_water_is_tested_before_a_new_part_goes_in() -> None:
    case = Case([valve("V1")], found(STIFF, ["several-valves-one-home", "fault", "H1"], [*REPEATED[:2], "H1"]))
    of_home, of_valve = (case.jobs.loc[case.jobs["valve_id"].isna() == home].iloc[0] for home in (True, False))
    assert of_home["what"].startswith(
        "In the home's heating system: first thing on the visit, test the system water; if it fails, fit no new part"
    )
    assert of_valve["what"].startswith("Only once the system water has passed its test: renew body and head (two-port")
    assert (of_home["in_short"], of_valve["in_short"]) == (
        "task only: test the water, find the cause",
        "new body and head",
    )


def test_needed_work_saves_the_call_out_it_may_come_as() -> None:
    job = only_job(Case([valve("V1")], found(["not-earthed", "danger", "H1", "V1"])))
    assert job["benefit_gbp"] == pytest.approx(EXTRA)
    assert job["chosen_why"] == "danger: made safe whatever it costs"


def test_jobs_of_one_home_save_a_call_out_each_but_one() -> None:
    case = Case(
        [valve("V1"), valve("V2")], found(["not-earthed", "danger", "H1", "V1"], ["not-earthed", "danger", "H1", "V2"])
    )
    assert case.jobs["benefit_gbp"].tolist() == pytest.approx([EXTRA + 15, EXTRA + 15])
    assert case.jobs["working"].str.endswith("one call-out of £30, not 2, for the home").all()


def test_benefit_of_a_single_renewal_is_that_of_its_option() -> None:
    case = Case([valve("V1")], found(["head-replaced-again", "fault", "H1", "V1"]))
    assert only_job(case)["benefit_gbp"] == case.option("V1", "full")["benefit_gbp"]


REPEAT_VISITS = [
    {"visit_id": name, "home_id": "H1", "valve_id": "V1", "reported": reported, "kind": "call_out", "symptom": "noise"}
    for name, reported in (("in", "2025-11-25"), ("out", "2025-11-24"))
]


@pytest.mark.parametrize(("visit", "jobs"), [("in", 1), ("out", 0)])
def test_repeats_make_work_for_twelve_months(visit: str, jobs: int) -> None:
    case = Case(
        [valve("V1")], found(["repeat-call-out", "fault", "H1", "V1", visit]), visits=REPEAT_VISITS,
        policy=policy(repeats__act_window=12),
    )  # fmt: skip
    assert len(case.jobs) == jobs


def test_many_repeats_of_one_home_are_one_job() -> None:
    rows = [["repeat-call-out", "fault", "H1", "V1", "in"], ["repeat-call-out", "fault", "H1", "", ""]]
    job = only_job(Case([valve("V1")], found(*rows), visits=REPEAT_VISITS))
    assert (job["tasks"], job["hours"]) == ("diagnose", pytest.approx(1.0))


def test_order_of_work() -> None:
    """Danger shortest first, then faults of homes to be kept warm, then faults and money by benefit per hour."""
    homes = [{"home_id": "H3", "priority_household": "yes"}]
    valves = [valve(f"V{n}", f"H{n}") for n in (1, 2, 3, 4)] + [valve("V5", "H5", **WORN), valve("V6", "H5", **WORN)]
    rows = [
        ["not-earthed", "danger", "H1", "V1"], ["switch-overloaded", "danger", "H1", "V1"],  # 1.5 h
        ["not-earthed", "danger", "H2", "V2"],  # 0.5 h
        ["switch-overloaded", "fault", "H3", "V3"],  # 1 h, a home to be kept warm
        ["lever-left-latched", "fault", "H4", "V4"],  # 0.2 h, the same benefit
        [HEAD_OLD, "money", "H5", "V5"], [HEAD_OLD, "money", "H5", "V6"],
    ]  # fmt: skip
    case = Case(valves, found(*rows), homes=homes)
    assert case.jobs["home_id"].tolist() == ["H2", "H1", "H3", "H4", "H5", "H5"]
    assert case.jobs["rank"].tolist() == [1, 2, 3, 4, 5, 6]


def test_columns_and_no_missing_number() -> None:
    case = Case(
        [valve("V1"), valve("V2")], found(STIFF, [BODY_OLD, "money", "H1", "V2"], ["store-too-cool", "fault", "H1"])
    )
    assert list(case.jobs.columns) == [column.name for column in RESULT_COLUMNS["jobs"]]
    assert case.jobs.drop(columns=["valve_id", "circuit", "chance_fail_quarter"]).notna().all(axis=None)


def test_assumed_prices_are_said_in_the_working() -> None:
    """Four in ten of such faults come as a call-out, dearer by 0.25 × £57 (out of hours) and 0.3 × £38 (again)."""
    in_force = policy(money__fault_call_out_share=0.4)
    job = only_job(Case([valve("V1")], found(STIFF), rates=frame("rates"), policy=in_force))
    assert job["working"] == (
        "2.5 h × £42/h + 22 mm two-port valve £78 + inhibitor £16 = £199 (all prices assumed); the visit's call-out "
        "comes on top, once; benefit £10.26, its cost taken off: doing it rather than leaving the valve £10.26"
    )
