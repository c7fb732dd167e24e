"""Options: costs by hand, the cheapest chosen, one call-out for a home's valves, order of rows without effect."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.choice import jobs, options
from audit.choice.money import annuity
from audit.choice.options import near
from schemas import words
from schemas.results import RESULT_COLUMNS
from tests.choosing import BODY_OLD, HEAD_OLD, Case, found, policy, rates, valve
from tests.frames import frame

OLD = found([HEAD_OLD, "money", "H1", "V1"])
# heads fail with even chance a quarter, bodies never: the future is the same whatever is done
MEMORYLESS = {"life__head_shape": 1.0, "life__head_scale": 10.0, "life__body_scale": 100.0, "life__body_shape": 10.0}


KINDS: list[dict[str, str]] = [
    {},
    {"isolation": "yes"},
    {"body_size_mm": "28"},
    {"body_size_mm": "15"},
    {"ports": "3", "arrangement": "mid_position", "head_kind": "mid_position"},
    {"ports": "3", "arrangement": "diverter", "head_kind": "diverter", "body_size_mm": "28"},
]


@cache
def every_kind() -> Case:
    """A valve of each kind, named after what is special about it."""
    names = [" ".join(["V", *cells.values()]) for cells in KINDS]
    valves = [valve(name, f"home of {name}", **cells) for name, cells in zip(names, KINDS, strict=True)]
    return Case(valves, found(*([HEAD_OLD, "money", f"home of {name}", name] for name in names)))


def test_columns_and_rows() -> None:
    case = Case([valve("V2"), valve("V1")], found([HEAD_OLD, "money", "H1", "V2"], [HEAD_OLD, "money", "H1", "V1"]))
    assert list(case.options.columns) == [column.name for column in RESULT_COLUMNS["options"]]
    assert case.options["valve_id"].tolist() == ["V1"] * 4 + ["V2"] * 4
    assert case.options["option"].tolist() == [*words.OPTION] * 2


@pytest.mark.parametrize(
    ("option", "cells", "cost", "working"),
    [
        ("leave", {}, 0, "nothing now"),
        ("motor", {}, 74, "0.6 h × £40/h + motor £20 + call-out £30 = £74"),
        ("head", {}, 100, "0.5 h × £40/h + zone head £50 + call-out £30 = £100"),
        ("full", {}, 225, "2.5 h × £40/h + 22 mm two-port valve £80 + inhibitor £15 + call-out £30 = £225"),
        ("full", {"isolation": "yes"}, 170, "1.5 h × £40/h + 22 mm two-port valve £80 + call-out £30 = £170"),
        (
            "full",
            {"body_size_mm": "28"},
            255,
            "2.5 h × £40/h + 28 mm two-port valve £110 + inhibitor £15 + call-out £30 = £255",
        ),
        (
            "full",
            {"body_size_mm": "15"},
            225,
            "2.5 h × £40/h + 22 mm two-port valve £80 + inhibitor £15 + call-out £30 = £225",
        ),
        (
            "head",
            {"ports": "3", "arrangement": "mid_position", "head_kind": "mid_position"},
            120,
            "0.5 h × £40/h + mid-position head £70 + call-out £30 = £120",
        ),
        (
            "full",
            {"ports": "3", "arrangement": "diverter", "head_kind": "diverter", "body_size_mm": "28"},
            280,
            "2.5 h × £40/h + 28 mm three-port valve £135 + inhibitor £15 + call-out £30 = £280",
        ),
    ],
)
def test_cost_now(option: str, cells: dict[str, str], cost: float, working: str) -> None:
    row = every_kind().option(" ".join(["V", *cells.values()]), option)
    assert (row["cost_now_gbp"], row["working"]) == (cost, working)


def test_an_assumed_price_is_said_in_the_working() -> None:
    case = Case([valve("V1")], OLD, rates=rates().query("item != 'labour_hour'"))
    assert case.option("V1", "head")["working"] == (
        "0.5 h × £42/h + zone head £50 + call-out £30 = £101 (labour assumed)"
    )
    bare = Case([valve("V1")], OLD, rates=frame("rates"))
    assert bare.option("V1", "head")["working"].endswith("= £107 (all prices assumed)")


def test_what_is_not_recorded_is_said_in_the_working() -> None:
    cells = {"ports": "", "head_kind": "", "head_detachable": "", "arrangement": "", "body_size_mm": ""}
    case = Case([valve("V1", **cells)], OLD)
    assert "kind of head not recorded, a zone head taken" in case.option("V1", "head")["working"]
    assert "whether the head comes off, taken as yes" in case.option("V1", "head")["working"]
    assert "ports or size not recorded, a 22 mm two-port valve taken" in case.option("V1", "full")["working"]


def test_later_cost_by_hand_over_one_quarter() -> None:
    """One quarter to go, no discounting: the chance of a head's failure times what mending it on call costs.

    Seven in ten fail in the cold half-year, with an allowance of £40 for the cold.
    """
    in_force = policy(**MEMORYLESS, money__discount_rate=0)
    case = Case([valve("V1")], OLD, homes=[{"home_id": "H1", "heating_renewal_due": "2027-02-24"}], policy=in_force)
    chance = 1 - np.exp(-0.025)
    attendance = 0.75 * 30 + 0.25 * 90 + 0.3 * 30  # a quarter out of hours, three in ten come twice
    for option in ("leave", "head"):
        row = case.option("V1", option)
        assert row["chance_fail_quarter"] == pytest.approx(chance)
        assert row["chance_fail_year"] == pytest.approx(1 - np.exp(-0.1))
        assert row["expected_later_gbp"] == pytest.approx(chance * (attendance + 28 + 0.5 * 40 + 50), abs=0.005)
    assert case.option("V1", "leave")["annual_gbp"] == pytest.approx(chance * 152 / 0.25, abs=0.005)
    assert "over 0.25 years, until the heating is renewed" in case.option("V1", "head")["working"]


def test_a_valve_that_is_moved_is_reckoned_in_its_cooler_place() -> None:
    """The move: three hours at £40, a dose, the call-out. Its head fails there a quarter as often as in the heat."""
    in_force = policy(**MEMORYLESS, money__discount_rate=0)
    hot = found(["location-too-hot", "fault", "H1", "V1"])
    case = Case([valve("V1")], hot, homes=[{"home_id": "H1", "heating_renewal_due": "2027-02-24"}], policy=in_force)
    lived = case.lived.assign(head_scale=2.5, head_pace=4.0)
    table = options(case.facts, hot, lived, case.prices, in_force)
    kept, new = (table.set_index("option").loc[option] for option in ("leave", "head"))
    assert (kept["cost_now_gbp"], new["cost_now_gbp"]) == (165, 235)
    assert kept["expected_later_gbp"] == pytest.approx((1 - np.exp(-0.025)) * 152, abs=0.005)
    assert (kept["chosen"], kept["feasible"], new["feasible"]) == ("yes", "yes", "yes")
    assert kept["chosen_why"] == "of what is possible, this costs least"
    assert kept["working"].endswith(
        "moved, the head kept: the head ages from then on at the pace of air up to 40 °C, not 4.0 times as fast"
    )
    job = jobs(case.facts, hot, table, lived, case.prices, in_force).iloc[0]
    assert job["chance_fail_quarter"] == pytest.approx(1 - np.exp(-0.1))  # left where it is
    assert (job["in_short"], job["cost_gbp"]) == ("move the valve, head kept", 135)
    assert "(now and later £168.75 with the head kept, £238.75 with a new head)" in job["working"]


def test_the_chances_are_those_of_the_ages_after_the_option() -> None:
    case = Case([valve("V1", head_fitted="2014-11-25", body_fitted="2006-11-25")], OLD)  # 12 and 20 years

    def chance(head: float, body: float, years: float) -> float:
        lasts = [(head / 13) ** 2.4 - ((head + years) / 13) ** 2.4, (body / 32) ** 3 - ((body + years) / 32) ** 3]
        return float(1 - np.exp(sum(lasts)))

    for option, head, body in (("leave", 12, 20), ("head", 0, 20), ("full", 0, 0)):
        row = case.option("V1", option)
        assert row["chance_fail_quarter"] == pytest.approx(chance(head, body, 0.25))
        assert row["chance_fail_year"] == pytest.approx(chance(head, body, 1.0))


def test_annual_cost_is_the_total_over_the_horizon() -> None:
    rows = every_kind().options
    assert rows["annual_gbp"].to_numpy() == pytest.approx(rows["total_gbp"] / annuity(30, 0.035), abs=0.006)
    assert rows["total_gbp"].to_numpy() == pytest.approx(rows["cost_now_gbp"] + rows["expected_later_gbp"], abs=0.011)


def test_what_never_wears_out_is_left() -> None:
    case = Case([valve("V1")], OLD, policy=policy(**MEMORYLESS))
    assert case.chosen("V1") == "leave"
    assert case.option("V1", "head")["benefit_gbp"] == pytest.approx(-100)  # spent for nothing


def test_a_worn_out_head_is_renewed_before_it_fails() -> None:
    """A head that is as good as dead costs its mending on call, £124, or £100 now."""
    dear = rates(out_of_hours_call_out=400)
    worn = valve("V1", head_fitted="1996-11-25", body_fitted="2010-11-25", motor_replaceable="no")
    case = Case([worn], OLD, rates=dear, policy=policy(life__head_scale=2.0))
    assert case.chosen("V1") == "head"
    assert case.option("V1", "head")["benefit_gbp"] > 0


def two_heads(**cells: str) -> Case:
    """Two heads whose renewal saves less than a call-out each, and more than one together."""
    old = {"motor_replaceable": "no", "head_fitted": "2009-11-25", "body_fitted": "2009-11-25"}
    valves = [valve("V1", **old), valve("V2", **old | cells)]
    return Case(valves, found([HEAD_OLD, "money", "H1", "V1"], [HEAD_OLD, "money", cells.get("home_id", "H1"), "V2"]))


def test_two_valves_of_one_home_share_the_call_out() -> None:
    alone, together = two_heads(home_id="H2"), two_heads()
    save = alone.option("V1", "head")["benefit_gbp"]
    assert -15 < save < 0  # a call-out costs £30: half of it makes the difference
    assert [alone.chosen("V1"), alone.chosen("V2")] == ["leave", "leave"]
    assert together.option("V1", "head")["chosen_why"] == (
        "pays because the home's visit is shared: its call-out of £30 counts once, and without it this saves "
        f"£{save + 30:.2f}"
    )
    assert [together.chosen("V1"), together.chosen("V2")] == ["head", "head"]


def test_a_home_that_is_visited_anyway_pays_the_call_out_once() -> None:
    valves = [valve("V1", motor_replaceable="no")]
    case = Case(valves, found([HEAD_OLD, "money", "H1", "V1"], ["store-too-cool", "fault", "H1"]))
    assert case.chosen("V1") == "head"


def test_a_fault_that_needs_renewing_is_never_left() -> None:
    case = Case([valve("V1")], found(["head-replaced-again", "fault", "H1", "V1"]), policy=policy(**MEMORYLESS))
    assert case.chosen("V1") == "full"
    extra = 0.5 * (0.75 * 30 + 0.25 * 90 + 0.3 * 30 - 30)  # half of such faults come as a call-out
    assert case.option("V1", "full")["benefit_gbp"] == pytest.approx(extra)
    assert case.option("V1", "leave")["benefit_gbp"] == 0
    told = case.options.set_index("option")["chosen_why"].to_dict()
    full = "a fault needs it (head-replaced-again); of what mends it, this costs least"
    assert told == {"leave": "", "motor": "", "head": "", "full": full}


def test_exactly_one_possible_option_is_chosen() -> None:
    valves = [valve("V1", head_detachable="no"), valve("V2", lever="stiff"), valve("V3", "H2")]
    rules = [
        [HEAD_OLD, "money", "H1", "V1"],
        ["lever-stiff", "fault", "H1", "V2"],
        ["not-earthed", "danger", "H2", "V3"],
    ]
    table = Case(valves, found(*rules)).options
    picked = table.loc[table["chosen"].eq("yes")]
    assert picked["valve_id"].tolist() == ["V1", "V2", "V3"]
    assert picked["feasible"].eq("yes").all()


def test_records_to_mend_make_no_options() -> None:
    case = Case([valve("V1")], found(["age-unknown", "record", "H1", "V1"]))
    assert case.options.empty
    assert case.jobs.empty
    assert list(case.jobs.columns) == [column.name for column in RESULT_COLUMNS["jobs"]]


def test_unknown_ages_are_said_and_reckoned() -> None:
    case = Case([valve("V1", head_fitted="", body_fitted="")], found(["lever-stiff", "fault", "H1", "V1"]))
    assert "age not known" in case.option("V1", "full")["working"]
    assert case.options.drop(columns=["why_not", "flip", "dearer_gbp"]).notna().all(axis=None)


DAYS = st.dates(pd.Timestamp("1990-01-01").date(), pd.Timestamp("2026-11-01").date()).map(str)
CELLS = st.fixed_dictionaries(
    {
        "head_fitted": DAYS,
        "head_detachable": st.sampled_from(["yes", "no", ""]),
        "motor_replaceable": st.sampled_from(["yes", "no", ""]),
        "isolation": st.sampled_from(["yes", "no", ""]),
        "lever": st.sampled_from(["free", "stiff", ""]),
        "head_kind": st.sampled_from(["zone", "mid_position", ""]),
    }
)
RULES = st.sampled_from([HEAD_OLD, BODY_OLD, "head-replaced-again", "switch-overloaded", "head-does-not-suit-body"])


@settings(max_examples=3, deadline=None)
@given(st.lists(st.tuples(CELLS, RULES, st.integers(1, 9)), min_size=12, max_size=25))
def test_laws_of_the_options(rows: list[tuple[dict[str, str], str, int]]) -> None:
    valves = [valve(f"V{n}", f"H{home}", **cells) for n, (cells, _, home) in enumerate(rows)]
    findings = found(*([rule, "fault", f"H{home}", f"V{n}"] for n, (_, rule, home) in enumerate(rows)))
    soon = policy(money__horizon=3)
    case = Case(valves, findings, policy=soon)
    turned = Case(valves[::-1], findings.iloc[::-1], policy=soon)
    pd.testing.assert_frame_equal(case.options, turned.options)
    pd.testing.assert_frame_equal(case.jobs, turned.jobs)
    table = case.options
    assert table.loc[table["chosen"].eq("yes"), "feasible"].eq("yes").all()
    assert table.groupby("valve_id")["chosen"].agg(lambda words: words.eq("yes").sum()).eq(1).all()
    numbers = table.drop(columns="dearer_gbp").select_dtypes("number")
    assert np.isfinite(numbers.to_numpy()).all()
    assert table[["chance_fail_quarter", "chance_fail_year"]].stack().between(0, 1).all()
    assert (case.jobs["benefit_gbp"] >= 0).all()


def test_options_are_a_pure_function() -> None:
    case = Case([valve("V1")], OLD)
    before = case.facts.valves.copy()
    again = options(case.facts, OLD, case.lived, case.prices, case.policy)
    pd.testing.assert_frame_equal(case.options, again)
    pd.testing.assert_frame_equal(case.facts.valves, before)


def test_options_that_cost_nearly_the_same_are_named() -> None:
    """Motor and head lie 42 pence apart, in the first valve; in the second 50 pounds."""
    totals = {"leave": [400.0, 400.0], "motor": [200.42, 250.0], "head": [200.0, 200.0], "full": [300.0, 300.0]}
    every = {name: np.array([True, True]) for name in totals}
    dearer = np.array([0.42, 50.0])
    told = near({name: np.array(cost) for name, cost in totals.items()}, every, "head", dearer, policy())
    assert told.tolist() == ["; near enough equal to motor, £0.42 apart", ""]
