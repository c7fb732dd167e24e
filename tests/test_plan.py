"""The quarter: one visit a home, hours that hold, danger first, and what is left out with its reason."""

from __future__ import annotations

import datetime as dt
from functools import cache
from typing import Any

import numpy as np
import pandas as pd
import pytest

from audit.life import chance_fail
from audit.plan import plan, quarter_start
from audit.plan.fitted import days
from audit.plan.quarter import NO_STOCK
from audit.plan.reckoning import OPTIONS, of_jobs
from audit.plan.slots import usable
from audit.plan.stock import order
from audit.plan.visits import visits
from audit.plan.windows import area, problem, windows
from audit.telling import counted, danger_lines
from schemas.results import RESULT_COLUMNS
from schemas.sentences import how_good
from tests.choosing import Case, found, policy, valve
from tests.frames import Row, frame

START = dt.date(2026, 11, 30)
HOMES = [
    {"home_id": "H1", "patch": "North", "postcode": "ZZ99 1AA", "address": "1 Example Road", "scheme": "Birch Court"},
    {"home_id": "H2", "patch": "South"},
    {"home_id": "H3", "patch": "North", "gas_check_due": "2027-02-10"},
    {"home_id": "H4"},
]
# jobs of 0.5 h (danger, H1 and H2), 2.5 h and 0.2 h (fault, H1 and H3), 3 h (fault, H4); half an hour more a visit
ROWS = [
    ["not-earthed", "danger", "H1", "V1"], ["lever-stiff", "fault", "H1", "V2"], ["not-earthed", "danger", "H2", "V3"],
    ["lever-left-latched", "fault", "H3", "V4"], ["location-too-hot", "fault", "H4", "V5"],
]  # fmt: skip


@cache
def case() -> Case:
    valves = [valve("V1"), valve("V2"), valve("V3", "H2"), valve("V4", "H3")]
    valves += [valve("V5", "H4", head_fitted="2026-06-01")]  # its head is kept when it is moved
    return Case(valves, found(*ROWS), homes=HOMES, policy=policy(plan__travel=0.0))


def planned(*capacity: Row) -> tuple[pd.DataFrame, dict[str, Any]]:
    it = case()
    return plan(it.facts, it.jobs, frame("capacity", capacity), it.prices, it.policy, START)


def week(hours: float, team: str = "Team 1", patch: str = "", starting: str = "2026-11-30") -> dict[str, str]:
    return {"team": team, "patch": patch, "week_starting": starting, "hours": str(hours)}


@pytest.mark.parametrize(
    ("as_of", "start"),
    [
        ("2026-11-25", "2026-11-30"),  # Wednesday
        ("2026-11-29", "2026-11-30"),  # Sunday
        ("2026-11-30", "2026-12-07"),  # Monday: the next one
        ("2024-12-31", "2025-01-06"),
    ],
)
def test_the_quarter_starts_on_the_first_monday_after(as_of: str, start: str) -> None:
    assert quarter_start(dt.date.fromisoformat(as_of)) == dt.date.fromisoformat(start)


def test_one_visit_a_home_with_all_its_jobs() -> None:
    table, _ = planned()
    visits = table.set_index("home_id")
    assert list(table.columns) == [column.name for column in RESULT_COLUMNS["planned-visits"]]
    assert visits["hours"].to_dict() == pytest.approx({"H1": 3.5, "H2": 1.0, "H3": 0.7, "H4": 3.5})
    assert visits.loc["H1", "parts"] == "valve_2port_22 × 1; inhibitor × 1"
    assert visits.loc["H1", "severity"] == "danger"
    assert visits.loc["H1", "jobs"].startswith(
        "V1: At the heating valve in the airing cupboard: connect the head's earth, prove it, and write "
        "down that it is proved (Earth proved = yes); keep the head isolated until then.\nV2: Renew"
    )
    assert visits.loc["H1", "why"] == "V1: not-earthed.\nV2: lever-stiff."
    assert visits.loc["H1", "cost_gbp"] == pytest.approx(0.5 * 40 + 2.5 * 40 + 80 + 15 + 30)
    assert visits["drain_down"].to_dict() == {"H1": "yes", "H2": "no", "H3": "no", "H4": "yes"}
    assert visits.loc["H1", ["postcode", "scheme", "patch"]].tolist() == ["ZZ99 1AA", "Birch Court", "North"]
    assert visits.loc["H3", "gas_check_due"] == pd.Timestamp("2027-02-10")


def test_benefit_is_the_sum_of_the_jobs() -> None:
    table, totals = planned()
    jobs = case().jobs.groupby("home_id")["benefit_gbp"].sum()
    assert table.set_index("home_id")["benefit_gbp"].to_dict() == pytest.approx(jobs.to_dict())
    assert totals["benefit_gbp"] == pytest.approx(jobs.sum())


def test_without_capacity_all_are_one_ranked_list() -> None:
    table, totals = planned()
    assert table["home_id"].tolist() == ["H2", "H1", "H3", "H4"]  # danger, shortest first; fault by benefit per hour
    assert table["rank"].tolist() == [1, 2, 3, 4]
    faults = {"H1": 2, "H2": 1, "H3": 1, "H4": 1}  # £100 each, besides the benefit, over 13 weeks
    wait = {row["home_id"]: (row["benefit_gbp"] + 100 * faults[row["home_id"]]) / 13 for _, row in table.iterrows()}
    assert table.set_index("home_id")["wait_gbp"].to_dict() == pytest.approx(wait, abs=0.01)
    assert table["status"].eq("planned").all()
    assert table[["team", "week_starting"]].isna().all(axis=None)
    assert (totals["visits_planned"], totals["hours_there"], totals["hours_used"]) == (4, 0, 8.7)
    assert "No capacity was given" in totals["said"][0]


def test_visits_go_to_the_earliest_week_with_room() -> None:
    table, totals = planned(week(4.5, starting="2026-12-07"), week(2.0))
    visits = table.set_index("home_id")
    assert visits["week_starting"].dt.strftime("%d %b").to_dict() == {
        "H2": "30 Nov", "H1": "07 Dec", "H3": "30 Nov", "H4": visits["week_starting"].dt.strftime("%d %b")["H4"]
    }  # fmt: skip
    assert visits["status"].to_dict() == {"H2": "planned", "H1": "planned", "H3": "planned", "H4": "left_out"}
    assert (totals["visits_planned"], totals["visits_left_out"]) == (3, 1)
    assert visits.loc["H3", "reason"].startswith("its first week")
    assert visits.loc["H1", "reason"].startswith("the first week in which its teams have the hours")
    assert (totals["hours_there"], totals["hours_used"]) == (6.5, 5.2)
    assert totals["cost_gbp"] == pytest.approx(visits.loc[["H1", "H2", "H3"], "cost_gbp"].sum())


def test_teams_work_their_patch_or_anywhere() -> None:
    table, _ = planned(week(20, "Team N", "North"), week(20, "Team S", "South"), week(20, "Team X"))
    teams = table.set_index("home_id")["team"]
    assert teams[["H1", "H2", "H3"]].tolist() == ["Team N", "Team S", "Team N"]


def test_a_patch_without_a_team_falls_to_one_that_works_anywhere() -> None:
    table, _ = planned(week(20, "Team N", "North"), week(20, "Team X"))
    assert table.set_index("home_id").loc["H2", "team"] == "Team X"


@pytest.mark.parametrize(
    ("capacity", "home", "reason"),
    [
        ([week(1, patch="North")], "H2", "no team has hours for its patch in the quarter; the danger stays"),
        (
            [week(0.9, patch="South"), week(9, "Team N", "North", "2026-12-07")],  # 9 - 3.5 - 0.7 - 3.5
            "H2",
            "needs 1 h in one go, longer than any week of its teams (0.9 h without travel); Team N has 1.3 h left in "
            "the week of 7 Dec 2026, if it may work there; the danger stays",
        ),
        (
            [week(0.8)],
            "H2",
            "needs 1 h in one go, longer than any week of its teams (0.8 h without travel); the danger stays",
        ),
        (
            [week(3.6, "Team N", "North"), week(9, "Team S", "South")],  # H1 takes 3.5 of 3.6; H2 and H4 1 + 3.5 of 9
            "H3",
            "no team that works in North has 0.7 h left for it; Team S has 4.5 h left in the week of 30 Nov 2026, if "
            "it may work there; ",
        ),
        (
            [week(4.7)],
            "H4",
            "others are worth more for the hours there are, and none has 3.5 h left for it",
        ),
    ],
)
def test_why_a_visit_is_left_out(capacity: list[Row], home: str, reason: str) -> None:
    row = planned(*capacity)[0].set_index("home_id").loc[home]
    assert row["status"] == "left_out"
    assert row["reason"].startswith(reason)
    assert pd.isna(row["team"])
    assert pd.isna(row["week_starting"])


@pytest.mark.parametrize(
    ("capacity", "said"),
    [
        (
            [week(30, starting="2026-11-23")],
            ["capacity.csv, row 2: outside the quarter, 30 November 2026 to", "no visit could be planned"],
        ),
        ([week(30), week(30, starting="2027-03-01")], ["capacity.csv, row 3: outside the quarter"]),
        ([week(0)], ["No team has hours in the quarter, 30 November 2026 to 28 February 2027"]),
        ([week(30), week(30, starting="2027-02-22")], []),
    ],
)
def test_impossible_capacity_is_said(capacity: list[Row], said: list[str]) -> None:
    table, totals = planned(*capacity)
    assert len(totals["said"]) == len(said)
    for sentence, part in zip(totals["said"], said, strict=True):
        assert part in sentence
    assert table["status"].eq("planned").any() == (totals["hours_there"] > 0)


def test_rows_of_one_team_and_week_are_added_up() -> None:
    slots, _ = usable(frame("capacity", [week(2), week(1.5), week(9, "Team 2")]), START, 13)
    assert slots["hours"].tolist() == [3.5, 9]


@pytest.mark.parametrize("capacity", [[], [week(5)], [week(0)]])
def test_no_jobs_no_visits(capacity: list[Row]) -> None:
    it = case()
    table, totals = plan(it.facts, it.jobs.head(0), frame("capacity", capacity), it.prices, it.policy, START)
    assert table.empty
    assert list(table.columns) == [column.name for column in RESULT_COLUMNS["planned-visits"]]
    assert (totals["visits_planned"], totals["hours_used"], totals["benefit_gbp"]) == (0, 0, 0)


def test_row_order_changes_nothing() -> None:
    it = case()
    capacity = frame("capacity", [week(4, "Team 2"), week(3), week(3, starting="2026-12-07")])
    one = plan(it.facts, it.jobs, capacity, it.prices, it.policy, START)
    two = plan(it.facts, it.jobs.iloc[::-1], capacity.iloc[::-1], it.prices, it.policy, START)
    pd.testing.assert_frame_equal(one[0], two[0])
    for name, table in one[1].pop("tables").items():
        pd.testing.assert_frame_equal(table, two[1]["tables"][name])
    two[1].pop("tables")
    assert one[1] == two[1]


def test_danger_is_placed_before_anything_else() -> None:
    table, _ = planned(week(1.0))
    assert table.loc[table["status"].eq("planned"), "severity"].tolist() == ["danger"]


def test_danger_in_a_long_visit_goes_on_its_own() -> None:
    """H1 needs 3.5 h, of which its danger takes 1 h: there is a week of 2 h, and no longer one."""
    table, totals = planned(week(2.0), week(2.0, starting="2026-12-07"))
    danger = table.loc[table["severity"].eq("danger")].set_index("home_id")
    assert danger["status"].to_dict() == {"H1": "planned", "H2": "planned"}
    assert danger.loc["H1", ["hours", "of_visits"]].tolist() == [1.0, "visit 1 of 3"]
    rest = table.loc[table["home_id"].eq("H1") & table["severity"].eq("fault")]
    assert sorted(rest["hours"]) == [1.5, 2.0]  # 2.5 h of work over two weeks, half an hour at each coming
    assert rest["status"].eq("left_out").all()
    assert rest["reason"].str.startswith("longer than any week of its teams, and no weeks in a row were found").all()
    assert totals["danger_left_out"] == 0


def test_danger_gives_up_the_other_work_where_hours_are_short() -> None:
    """Both dangers need 1 h alone; H1's whole visit of 3.5 h would fit the week, but not beside H2's."""
    table, _ = planned(week(4.0))
    danger = table.loc[table["severity"].eq("danger")]
    assert danger["status"].tolist() == ["planned", "planned"]


def test_a_return_visit_pays_its_own_call_out_and_drain_down() -> None:
    """Three valves to renew at 2.5 h, of which two share the first one's drain-down (1 h): 2.5 + 1.5 + 1.5 + 0.5 h."""
    rows = [["body-past-service-life", "money", "H1", f"V{n}"] for n in (1, 2, 3)]
    rows += [["lever-stiff", "fault", "H1", f"V{n}"] for n in (1, 2, 3)]
    it = Case(
        [valve("V1"), valve("V2", circuit="hot_water"), valve("V3", circuit="heating_2")],
        found(*rows),
        homes=[{"home_id": "H1"}],
        policy=policy(plan__travel=0.0),
    )
    whole, _ = plan(it.facts, it.jobs, frame("capacity", [week(6)]), it.prices, it.policy, START)
    assert whole["hours"].tolist() == [6.0]
    apart, _ = plan(it.facts, it.jobs, frame("capacity", [week(5), week(5, "Team 2")]), it.prices, it.policy, START)
    assert sorted(apart["hours"]) == [3.0, 4.5]  # 2.5 + 1.5 + 0.5; 1.5 + 1 for draining anew + 0.5
    assert apart["cost_gbp"].sum() == pytest.approx(whole["cost_gbp"].sum() + 30 + 40 + 15)
    assert apart["benefit_gbp"].sum() == pytest.approx(whole["benefit_gbp"].sum() - 30 - 40 - 15, abs=0.02)
    assert apart["parts"].str.count("inhibitor × 1").tolist() == [1, 1]


def test_parts_are_named_by_what_they_must_fit() -> None:
    table, totals = planned(week(20))
    named = table.set_index("home_id")["parts_named"]
    assert named["H1"] == ("valve body, 2 port, 22 mm, with zone head, 5 wires, 230 V × 1; inhibitor, one dose × 1")
    assert totals["tables"]["parts_load"].query("part == 'valve_2port_22'")["pieces"].tolist() == [1.0]


@pytest.mark.parametrize(
    ("on_hand", "lead", "short", "by", "note"),
    [
        ("0", "5", 1, "2026-11-25", "order by then"),
        ("0", "10", 1, "2026-11-20", "order now: 5 days late for its first visits"),
        ("1", "10", 0, None, "enough on hand"),
        ("0", "", 1, None, "order now: lead time not recorded"),
        ("", "5", None, None, "stock not recorded: count it before the first week"),
    ],
)
def test_parts_are_ordered_in_time(on_hand: str, lead: str, short: int | None, by: str | None, note: str) -> None:
    """One body is needed in the week of 30 November; today is 25 November."""
    it = case()
    stock = frame("parts", [{"part": "valve_2port_22", "on_hand": on_hand, "lead_time_days": lead}])
    capacity = frame("capacity", [week(20)])
    _, totals = plan(it.facts, it.jobs, capacity, it.prices, it.policy, START, stock)
    line = totals["tables"]["parts_order"].set_index("part").loc["valve_2port_22"]
    assert line["needed"] == 1
    assert line["shortage"] == short or (short is None and pd.isna(line["shortage"]))
    assert line["order_by"] == (pd.Timestamp(by) if by else pd.NaT) or pd.isna(line["order_by"])
    assert line["note"] == note


@pytest.mark.parametrize(
    ("on_hand", "short", "note"),
    [
        ("0", [2, 1], ["order now: lead time not recorded"] * 2),
        ("2", [None, None], ["the store's list does not tell voltages: look which its 2 are; 3 needed in all; "] * 2),
        ("", [None, None], ["stock not recorded: count it before the first week"] * 2),
    ],
)
def test_parts_to_order_are_told_apart_by_voltage(on_hand: str, short: list[int | None], note: list[str]) -> None:
    """Three bodies with heads, of which one is for 24 V."""
    valves = [valve("V1"), valve("V2", "H2"), valve("V3", "H3", voltage_v="24")]
    rows = found(*(["lever-stiff", "fault", f"H{n}", f"V{n}"] for n in (1, 2, 3)))
    it = Case(valves, rows, homes=HOMES, policy=policy(plan__travel=0.0))
    stock = frame("parts", [{"part": "valve_2port_22", "on_hand": on_hand}])
    _, totals = plan(it.facts, it.jobs, frame("capacity", [week(20)]), it.prices, it.policy, START, stock)
    table = totals["tables"]["parts_order"]
    lines = table.loc[table["part"].eq("valve_2port_22")]
    assert lines[["voltage", "needed"]].to_numpy().tolist() == [["230 V", 2], ["24 V", 1]]
    assert [None if pd.isna(count) else count for count in lines["shortage"]] == short
    assert [text[: len(start)] for text, start in zip(lines["note"], note, strict=True)] == note
    assert table.loc[table["part"].eq("inhibitor"), "voltage"].tolist() == [""]


def test_parts_of_several_voltages_are_ordered_for_the_first_week_that_needs_each() -> None:
    """Of two on hand none may be for 24 V: the one needed on 2 November is ordered for then, and so are the others."""
    planned = pd.DataFrame(
        {"rank": [1, 2, 3], "week_starting": pd.to_datetime(["2026-11-02", "2026-11-16", "2026-11-30"])}
    )
    parts = pd.DataFrame({"rank": [1, 2, 3], "part": "head_zone", "voltage": ["24 V", "230 V", "230 V"], "pieces": 1.0})
    stock = frame("parts", [{"part": "head_zone", "on_hand": "2", "lead_time_days": "5"}])
    lines = order(planned, parts, stock, pd.Timestamp("2026-10-01")).set_index("voltage")
    assert lines["order_by"].dt.strftime("%d %b").to_dict() == {"24 V": "28 Oct", "230 V": "11 Nov"}
    assert lines.loc["24 V", "note"].endswith("3 needed in all; order by then, unless the 2 on hand are 24 V")


def test_danger_left_out_is_told_first() -> None:
    table, _ = planned(week(0.9))
    lines = danger_lines(table)
    assert lines[0] == "DANGER NOT IN THE PLAN: 2 visits; make these homes safe outside it:"
    assert lines[1].startswith(
        "  H1: needs 1 h in one go, longer than any week of its teams (0.9 h without travel); the danger stays"
    )


def test_danger_in_the_plan_is_not_to_wait_for_its_visit() -> None:
    lines = danger_lines(planned(week(20))[0])
    assert lines[0] == "DANGER IN THE PLAN: 2 visits; have these homes made safe today, do not wait for the visit:"
    assert lines[1].startswith("  H2: visit in the week of 30 November 2026, V3: ")  # the shorter one
    assert lines[2].startswith("  H1: visit in the week of 30 November 2026, V1: ")


@pytest.mark.parametrize(("number", "said"), [(0, "0 visits"), (1, "1 visit"), (1200, "1,200 visits")])
def test_numbers_agree_with_their_noun(number: int, said: str) -> None:
    assert counted(number, "visit") == said


def test_the_plan_says_how_far_it_may_be_from_the_best() -> None:
    table, totals = planned(week(4.7))
    assert totals["benefit_gbp"] == pytest.approx(table.loc[table["status"].eq("planned"), "benefit_gbp"].sum())
    assert totals["bound_gbp"] >= totals["worth_gbp"] > totals["benefit_gbp"]  # faults count besides their money
    assert f"worth is £{totals['worth_gbp']:,.0f}, at most 0.0 % below" in how_good(totals)
    assert totals["gap_percent"] == pytest.approx(0.0, abs=0.1)


def test_a_visit_joins_the_gas_safety_check() -> None:
    """H3's check is due on 10 February 2027: in a week from 14 December on, half an hour and the call-out are saved."""
    early, _ = planned(week(20))
    late, _ = planned(week(20, starting="2026-12-14"))
    before, after = (table.set_index("home_id").loc["H3"] for table in (early, late))
    assert (before["hours"], after["hours"]) == pytest.approx((0.7, 0.2))
    assert before["cost_gbp"] - after["cost_gbp"] == pytest.approx(30.0)
    assert after["benefit_gbp"] - before["benefit_gbp"] == pytest.approx(
        30.0 - 2 / 13 * before["benefit_gbp"], abs=0.01
    )
    assert after["gas_note"].startswith("joins the gas safety check: from 11 Dec 2026 to 10 Feb 2027")
    assert after["reason"].startswith("joins the gas safety check: no call-out and no travel of its own")


@pytest.mark.parametrize(("starting", "left"), [("2026-11-30", 13), ("2026-12-07", 12), ("2027-02-22", 1)])
def test_each_week_that_a_visit_waits_loses_a_thirteenth_of_what_it_saves(starting: str, left: int) -> None:
    table, _ = planned(week(20, starting=starting))
    whole = case().jobs.groupby("home_id")["benefit_gbp"].sum()["H4"]
    assert table.set_index("home_id").loc["H4", "benefit_gbp"] == pytest.approx(whole * left / 13, abs=0.01)


@pytest.mark.parametrize("age", [4.0, 9.0, 14.0])
@pytest.mark.parametrize("shape", [1.0, 2.0, 3.5])
def test_the_chance_of_failing_grows_evenly_over_a_quarter(age: float, shape: float) -> None:
    """So what a week costs is a thirteenth of the quarter, to within 3 % of it, for parts that last 10 years."""
    whole = chance_fail(age, 0.25, shape, 10.0)
    for weeks in range(1, 13):
        assert chance_fail(age, 0.25 * weeks / 13, shape, 10.0) / whole == pytest.approx(weeks / 13, abs=0.03)


def test_a_home_without_heat_goes_first_and_counts_its_loss_for_every_cold_week() -> None:
    """H1 and H2 are alike, but H2 waits for its heat: £40 for each cold week from the visit on; February ends them."""
    rows = found(["lever-stiff", "fault", "H1", "V1"], ["lever-stiff", "fault", "H2", "V2"])
    no_heat = {"visit_id": "J1", "home_id": "H2", "reported": "2026-11-24", "kind": "call_out", "symptom": "no_heating"}
    it = Case([valve("V1"), valve("V2", "H2")], rows, homes=HOMES, visits=[no_heat], policy=policy(plan__travel=0.0))
    ranked, parts = visits(it.facts, it.jobs, it.prices, it.policy)
    there = windows(ranked, parts, NO_STOCK, it.facts, it.prices, it.policy, pd.Timestamp(START))
    slots, _ = usable(frame("capacity", [week(20)]), START, 13)
    worth = problem(ranked.assign(area=""), slots, there, it.policy).worth
    at = {home: place for place, home in enumerate(ranked["home_id"])}
    assert ranked["home_id"].tolist() == ["H2", "H1"]
    assert worth[at["H2"]] - worth[at["H1"]] == pytest.approx(
        40.0 * np.arange(13, 0, -1) + (there.benefit[at["H2"]] - there.benefit[at["H1"]])
    )
    weeks = frame("capacity", [week(4.5), week(4.5, starting="2026-12-07")])
    table, _ = plan(it.facts, it.jobs, weeks, it.prices, it.policy, START)
    reasons = table.set_index("home_id")["reason"]
    assert reasons["H2"].startswith("home without heat or hot water: its first week")
    assert reasons["H1"].startswith("could be from the week of 30 Nov 2026, but the hours till then save more")


def test_a_fault_that_came_back_costs_more_to_wait() -> None:
    """H2's second call-out came 9 days after its first: £100 more over 13 weeks; a year ago counts no more."""
    rows = found(["lever-stiff", "fault", "H1", "V1"], ["lever-stiff", "fault", "H2", "V2"])
    days = {"H1": ("2025-10-01", "2025-10-10"), "H2": ("2026-10-01", "2026-10-10")}
    calls = [
        {"visit_id": f"J{home}{n}", "home_id": home, "reported": day, "completed": day, "kind": "call_out"}
        for home, pair in days.items()
        for n, day in enumerate(pair)
    ]
    it = Case([valve("V1"), valve("V2", "H2")], rows, homes=HOMES, visits=calls, policy=policy(plan__travel=0.0))
    table, _ = plan(it.facts, it.jobs, frame("capacity", []), it.prices, it.policy, START)
    assert table["home_id"].tolist() == ["H2", "H1"]
    assert table["wait_gbp"].diff().iloc[1] == pytest.approx(-100 / 13, abs=0.02)


def test_a_check_before_the_visit_or_overdue_is_said() -> None:
    """Today is 25 November 2026."""
    homes = [{"home_id": "H1", "gas_check_due": "2026-12-02"}, {"home_id": "H2", "gas_check_due": "2026-11-20"}]
    it = Case([valve("V1"), valve("V2", "H2")], found(*ROWS[:1], ["not-earthed", "danger", "H2", "V2"]), homes=homes)
    table, totals = plan(it.facts, it.jobs, frame("capacity", [week(20)]), it.prices, it.policy, START)
    notes = table.set_index("home_id")["gas_note"]
    assert notes["H1"] == "gas safety check due 2 Dec 2026, before this visit: it is done on its own, by its date"
    assert notes["H2"].startswith("GAS SAFETY CHECK OVERDUE since 20 Nov 2026")
    assert "1 home is past the due date on 25 November 2026" in totals["said"][0]


def test_drain_downs_of_priority_households_wait_for_the_warmer_months() -> None:
    """Renewing a body drains the home; the quarter begins on 30 November, and April is its first warm month."""
    home = {"home_id": "H1", "priority_household": "yes"}
    rows = found(["body-past-service-life", "money", "H1", "V1"], ["lever-stiff", "fault", "H1", "V1"])
    weeks = frame("capacity", [week(20), week(20, starting="2027-04-05")])
    long = policy(plan__travel=0.0, quarter__weeks=20.0)
    it = Case([valve("V1")], rows, homes=[home], policy=long)
    cold, _ = plan(it.facts, it.jobs, weeks, it.prices, long, START)
    assert cold["week_starting"].tolist() == [pd.Timestamp("2027-04-05")]
    only, _ = plan(it.facts, it.jobs, weeks.head(1), it.prices, long, START)
    assert only["reason"].iloc[0].startswith("others are worth more") or "cold months" in only["reason"].iloc[0]
    no_heat = {"visit_id": "J1", "home_id": "H1", "reported": "2026-11-24", "kind": "call_out", "symptom": "no_heating"}
    now = Case([valve("V1")], rows, homes=[home], visits=[no_heat], policy=long)
    warm, _ = plan(now.facts, now.jobs, weeks, now.prices, long, START)
    assert warm["week_starting"].tolist() == [pd.Timestamp("2026-11-30")]


def test_a_part_that_is_not_on_hand_sets_the_first_week() -> None:
    """Ordered today, 25 November, a body of 20 days is there on 15 December: its first whole week is the 21st."""
    it = case()
    stock = frame("parts", [{"part": "valve_2port_22", "on_hand": "0", "lead_time_days": "20"}])
    weeks = frame("capacity", [week(20, starting=f"2026-12-{day}") for day in ("07", "14", "21")])
    rows = it.jobs.loc[it.jobs["severity"].ne("danger")]
    table, _ = plan(it.facts, rows, weeks, it.prices, it.policy, START, stock)
    late = table.set_index("home_id").loc["H1"]
    assert late["week_starting"] == pd.Timestamp("2026-12-21")
    assert late["reason"].startswith("its first week, its parts are there from 15 Dec 2026")


def test_work_for_two_counts_the_hours_of_both() -> None:
    """H1 renews a body in 2.5 h, H4 moves a valve in 3 h; half an hour a visit and person, £40 an hour."""
    it = case()
    two = policy(plan__travel=0.0, people__relocate=2.0)
    one, _ = planned(week(40))
    both, _ = plan(it.facts, it.jobs, frame("capacity", [week(40)]), it.prices, two, START)
    before, after = (table.set_index("home_id") for table in (one, both))
    assert (before.loc["H4", "hours"], after.loc["H4", "hours"]) == (3.5, 7.0)
    assert after.loc["H4", "cost_gbp"] - before.loc["H4", "cost_gbp"] == pytest.approx(3.0 * 40)
    assert after.loc["H4", "days"] == "2 people at once, the hours of each counted"
    assert after.loc["H1", "hours"] == before.loc["H1", "hours"]
    assert before["days"].isna().all()


@pytest.mark.parametrize(
    ("hours", "people", "said"),
    [
        (7.5, 1.0, None),
        (7.6, 1.0, "2 days: 7.5 h a day, 0.1 h on the last"),
        (17.3, 1.0, "3 days: 7.5 h a day, 2.3 h on the last"),
        (15.0, 2.0, "2 people at once, the hours of each counted"),
        (20.0, 2.0, "2 people at once, the hours of each counted; 2 days: 7.5 h a day, 2.5 h on the last"),
    ],
)
def test_a_visit_longer_than_a_day_says_its_days(hours: float, people: float, said: str | None) -> None:
    told = days(pd.Series([hours]), pd.Series([people]), 7.5)
    assert told.tolist() == [said] or (said is None and told.isna().all())


def test_homes_without_patch_and_postcode_lie_in_squares() -> None:
    """Squares of 5 km, counted from the grid's own origin."""
    there = [("", "", 4_000.0, 14_000.0), ("", "ZZ99 1AA", 4_000.0, 14_000.0), ("North", "ZZ99 1AA", 1.0, 1.0)]
    there += [("", "", 4_999.0, 10_000.0), ("", "", 5_000.0, 10_000.0), ("", "", float("nan"), 1.0)]
    homes = pd.DataFrame(there, columns=["patch", "postcode", "easting", "northing"]).replace("", None)
    found = area(homes.astype({"patch": "str", "postcode": "str"}), policy())
    assert found.tolist() == ["square 0.0 2.0", "ZZ99", "North", "square 0.0 2.0", "square 1.0 2.0", ""]


def test_work_longer_than_a_week_goes_into_weeks_in_a_row() -> None:
    """H4 needs 3 h of work, the weeks have 2 h: an hour and a half in each of two, half an hour to come each time."""
    it = case()
    jobs = it.jobs.loc[it.jobs["home_id"].eq("H4")]
    weeks = [week(2.0), week(2.0, "Team 2", starting="2026-12-07"), week(2.0, starting="2026-12-21")]
    weeks += [week(2.0, starting="2026-12-28"), week(1.0, starting="2026-12-07")]
    table, _ = plan(it.facts, jobs, frame("capacity", weeks), it.prices, it.policy, START)
    table = table.sort_values("week_starting")
    assert table["week_starting"].dt.strftime("%d %b").tolist() == ["21 Dec", "28 Dec"]
    assert table["team"].tolist() == ["Team 1", "Team 1"]
    assert table["hours"].tolist() == [2.0, 2.0]
    assert table["jobs"].str.contains("Part 1 of 2: goes on in the next week.", regex=False).tolist() == [True, False]
    assert table["jobs"].str.contains("Part 2 of 2: goes on from the week before.", regex=False).tolist() == [
        False,
        True,
    ]
    assert table["parts"].ne("").tolist() == [True, False]
    assert table["work"].tolist() == ["V5 = other", "V5 = relocate"]
    whole, _ = plan(it.facts, jobs, frame("capacity", [week(9.0)]), it.prices, it.policy, START)
    assert table["cost_gbp"].sum() == pytest.approx(whole["cost_gbp"].sum() + 30.0, abs=0.02)


def test_faults_of_equal_benefit_are_ranked_by_their_chance_of_failing_then_by_household() -> None:
    """A lever put back saves the same in each home; the heads are 15, 2 and 15 years old, and H4 is to be kept warm."""
    old, young = {}, {"head_fitted": "2024-11-25", "body_fitted": "2024-11-25"}
    valves = [valve(f"V{n}", f"H{n}", **cells) for n, cells in ((1, young), (2, old), (3, old), (4, old))]
    rows = found(*(["lever-left-latched", "fault", f"H{n}", f"V{n}"] for n in (1, 2, 3, 4)))
    homes = [{"home_id": f"H{n}", "priority_household": "yes" if n == 4 else "no"} for n in (1, 2, 3, 4)]
    it = Case(valves, rows, homes=homes)
    table, _ = plan(it.facts, it.jobs, frame("capacity"), it.prices, it.policy, START)
    assert table["benefit_gbp"].nunique() == 1
    assert table["home_id"].tolist() == ["H4", "H2", "H3", "H1"]
    assert it.jobs["home_id"].tolist() == ["H4", "H2", "H3", "H1"]
    left = it.options.query("option == 'leave'").set_index("valve_id")["chance_fail_quarter"]
    assert table["chance_fail_quarter"].tolist() == pytest.approx(left[["V4", "V2", "V3", "V1"]].tolist(), abs=1e-6)


@pytest.mark.parametrize("capacity", [[], [week(4.7)], [week(20, starting="2026-12-14")], [week(5), week(5, "Team 2")]])
def test_the_sums_of_benefit_hang_together(capacity: list[Row]) -> None:
    """Every bold line is the one before it and the lines between, to the penny, and is the sum of its own table."""
    it = case()
    table, totals = plan(it.facts, it.jobs, frame("capacity", capacity), it.prices, it.policy, START)
    lines = pd.concat([of_jobs(it.options, it.jobs, it.prices, it.policy), totals["tables"]["benefit"]])
    sums = lines.loc[lines["total"], "benefit_gbp"].tolist()
    running = 0.0
    for line in lines.to_dict("records"):
        running += line["benefit_gbp"] * (not line["total"] or line["line"] == OPTIONS)
        if line["total"]:
            assert running == pytest.approx(line["benefit_gbp"], abs=0.001)
    possible = it.options.query("feasible == 'yes'").groupby("valve_id")["benefit_gbp"].max()
    planned = table.loc[table["status"].eq("planned"), "benefit_gbp"].sum()
    assert sums[0] == pytest.approx(possible.sum())
    assert sums[1] == pytest.approx(it.jobs["benefit_gbp"].sum())
    assert sums[3] == pytest.approx(planned) == pytest.approx(totals["benefit_gbp"])
    step = lines.set_index("line")["benefit_gbp"]
    assert abs(step["nothing is counted below nought; pennies rounded"]) <= 0.01 * len(it.jobs)
    left = table.loc[table["status"].eq("left_out"), "benefit_gbp"].sum()
    assert step["left out"] == pytest.approx(-left)
