"""The next plan: what the planner kept stays, what was taken out stays out, and every change has its reason."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from audit.plan import Scenarios, plan
from audit.plan.former import former_frame
from tests.frames import Row, frame
from tests.test_plan import START, case, week

# H1 3.5 h (danger), H2 1 h (danger), H3 0.7 h, H4 3.5 h (fault); see test_plan
LATE, EARLY = pd.Timestamp("2027-03-01"), pd.Timestamp("2026-10-05")
TWO_WEEKS = (week(20.0), week(8.0, starting="2026-12-07"), week(8.0, "Team 2", starting="2026-12-07"))


def last(*rows: dict[str, Any]) -> pd.DataFrame:
    """A former plan; a row that says no more is a planned visit of Team 1 in the first week."""
    usual = {"include": "yes", "team": "Team 1", "week_starting": pd.Timestamp(START), "status": "planned"}
    filled = [
        usual | {"place": f"list, row {at}", "visit_number": f"{row['home_id']}-P1"} | row
        for at, row in enumerate(rows, 5)
    ]
    return former_frame(pd.DataFrame(filled))


def planned(
    former: pd.DataFrame, *capacity: Row, budgets: tuple[float, ...] = ()
) -> tuple[pd.DataFrame, dict[str, Any]]:
    it = case()
    hours = frame("capacity", capacity or TWO_WEEKS)
    table, totals = plan(
        it.facts, it.jobs, hours, it.prices, it.policy, START, former=former, asked=Scenarios(budgets=budgets)
    )
    return table.set_index("home_id"), totals


def day(text: str) -> pd.Timestamp:
    return pd.Timestamp(text)


def test_a_kept_visit_stays_in_its_team_and_week() -> None:
    kept = {"home_id": "H3", "keep": "yes", "team": "Team 2", "week_starting": day("2026-12-07")}
    table, totals = planned(last(kept))
    assert table.loc["H3", ["team", "week_starting", "keep"]].tolist() == ["Team 2", day("2026-12-07"), "yes"]
    assert table.loc["H3", "reason"] == "kept here by the planner"
    free, _ = planned(last())
    assert free.loc["H3", "week_starting"] == day("2026-11-30")
    assert free["keep"].isna().all()
    assert not [sentence for sentence in totals["said"] if "kept" in sentence]


def test_a_visit_taken_out_stays_out_and_danger_too_is_said() -> None:
    table, totals = planned(last({"home_id": "H4", "include": "no"}, {"home_id": "H2", "include": "no"}))
    assert table.loc[["H4", "H2"], "status"].tolist() == ["left_out", "left_out"]
    assert table.loc[["H4", "H2"], "include"].tolist() == ["no", "no"]
    assert table.loc["H4", "reason"].startswith("taken out by the planner (include: no); leaving it costs about £")
    assert table.loc["H2", "reason"].endswith("the danger stays: it must be made safe outside this plan")
    assert totals["danger_left_out"] == 1
    assert table.loc["H1", "status"] == "planned"


@pytest.mark.parametrize(
    ("kept", "said"),
    [
        ({"team": "Team 9"}, "row 5: the visit to H4 cannot be kept where it stood: no team Team 9 has hours"),
        ({"team": "Team 2"}, "Team 2 has no hours in the week of 30 November 2026; it is planned afresh."),
        ({"team": None}, "no team is given"),
        ({"week_starting": pd.NaT}, "no week is given"),
        ({"week_starting": LATE}, "the week of 1 March 2027 lies outside the quarter, whose last week"),
        ({"week_starting": EARLY}, "1 of the visits kept in the last work list stood in weeks before"),
        ({"home_id": "H77"}, "row 5: the visit to H77 is to a home that is not known, and was not used."),
        ({"visit_number": None}, "the visit to H4 has no visit number in its row, which was not used."),
    ],
)  # fmt: skip
def test_what_cannot_be_kept_is_said_and_the_rest_is_planned(kept: dict[str, Any], said: str) -> None:
    table, totals = planned(last({"home_id": "H4", "keep": "yes"} | kept))
    assert sum(said in sentence for sentence in totals["said"]) == 1
    assert table["status"].eq("planned").all()
    assert table["keep"].isna().all()


def test_a_kept_visit_outside_its_teams_hours_is_said() -> None:
    rows = [{"home_id": home, "keep": "yes"} for home in ("H4", "H3")]
    table, totals = planned(last(*rows), week(3.0), week(9.0, starting="2026-12-07"))
    said = [sentence for sentence in totals["said"] if "cannot be kept" in sentence]
    assert said == [
        "list, row 5: the visit to H4 cannot be kept where it stood: it needs 3.5 h, and Team 1 has 2.3 h left in the "
        "week of 30 November 2026; it is planned afresh."
    ]
    assert table.loc["H3", ["keep", "week_starting"]].tolist() == ["yes", day("2026-11-30")]


def test_of_two_rows_for_one_visit_the_first_counts() -> None:
    rows = [{"home_id": "H4", "keep": "yes", "week_starting": day(start)} for start in ("2026-12-07", "2026-11-30")]
    table, totals = planned(last(*rows))
    assert table.loc["H4", "week_starting"] == day("2026-12-07")
    assert [s for s in totals["said"] if "row 6" in s] == [
        "list, row 6: the visit to H4 has a row already, which counts."
    ]


def test_hours_and_danger_hold_beside_what_is_kept() -> None:
    """The week has 4.5 h: H4, kept, takes 3.5 h of them; of the dangers, 4.5 h, the next week holds all."""
    table, _ = planned(last({"home_id": "H4", "keep": "yes"}), week(4.5), week(4.5, starting="2026-12-07"))
    assert table.loc[["H4", "H2", "H1"], "status"].eq("planned").all()
    assert table.loc["H4", "week_starting"] == day("2026-11-30")
    used = table.groupby("week_starting")["hours"].sum()
    assert used.le(4.5).all()


def test_what_was_not_done_is_planned_again_with_its_history() -> None:
    """Today is 25 November 2026, a Wednesday: the week of the 23rd is not over."""
    before = {"week_starting": day("2026-10-05")}
    rows = [
        {"home_id": "H1", **before, "outcome": "no_access", "done_on": day("2026-10-07")},
        {"home_id": "H2", **before, "history": "planned for w/c 7 Sep 2026, not done, planned again"},
        {"home_id": "H3", "week_starting": day("2026-11-23")},
        {"home_id": "H4"},
    ]
    table, _ = planned(last(*rows))
    assert table.loc["H1", "history"] == "planned for w/c 5 Oct 2026, no access on 7 Oct 2026, planned again"
    assert table.loc["H2", "history"] == (
        "planned for w/c 7 Sep 2026, not done, planned again; planned for w/c 5 Oct 2026, not done, planned again"
    )
    assert table.loc["H3", "history"] == "planned for w/c 23 Nov 2026, its week not over yet, planned again"
    assert pd.isna(table.loc["H4", "history"])


def test_every_change_has_its_reason() -> None:
    before = {"week_starting": day("2026-10-05")}
    over = {"done_on": day("2026-10-08"), "outcome": "fixed"}
    rows = [
        {"home_id": "H1", **before},
        {"home_id": "H2", "visit_number": "H2-P2", **before, **over},
        {"home_id": "H2", "visit_number": "H2-P3", **before},
        {"home_id": "H3", "status": "left_out", "include": None, "week_starting": pd.NaT, "team": None},
        {"home_id": "H4"},
    ]
    _, totals = planned(last(*rows))
    found = totals["tables"]["plan_changes"].set_index("visit_number")
    assert found["change"].to_dict() == {
        "H2-P1": "new", "H3-P1": "new", "H1-P1": "moved", "H2-P2": "done", "H2-P3": "dropped", "H4-P1": "kept"
    }  # fmt: skip
    assert found["reason"].str.split(",").str[0].to_dict() == {
        "H2-P1": "found since: V3: not-earthed.",
        "H3-P1": "left out before; now its first week",
        "H1-P1": "not done; now its first week",
        "H2-P2": "fixed on 8 Oct 2026",
        "H2-P3": "not done; nothing to do is found there any more",
        "H4-P1": "its first week",
    }
    assert found.loc["H1-P1", ["was_week", "was_team"]].tolist() == [day("2026-10-05"), "Team 1"]


def test_a_visit_left_out_is_put_in_where_the_planner_says_so() -> None:
    """H1's danger and H4 want 7 h of the 8 h of the two weeks; H3 is put in before they compete."""
    left = {"home_id": "H3", "status": "left_out", "include": "yes", "week_starting": pd.NaT, "team": None}
    table, _ = planned(last(left), week(4.0), week(4.0, starting="2026-12-07"))
    assert table.loc["H3", ["status", "week_starting", "keep"]].tolist() == ["planned", day(str(START)), "yes"]
    _, totals = planned(last(left), week(0.5))
    assert sum("cannot be put in (Include: yes)" in sentence for sentence in totals["said"]) == 1


FIXED = {"done_on": "2026-10-08", "outcome": "fixed"}


@pytest.mark.parametrize(
    ("cells", "change", "reason"),
    [
        ({"done_on": "2027-05-01", "outcome": "fixed"}, "not used", "not used: its day, 1 May 2027, is after 25 Nov"),
        ({"unused": "no day was written", "outcome": "fixed"}, "not used", "not used: no day was written; now"),
        (FIXED | {"puts_right": "V1 = not-earthed"}, "moved", "but found there still: V1 not-earthed; now"),
        (FIXED | {"puts_right": "V1 = too-close-to-pump"}, "moved", "; found there since: V1 not-earthed, V2"),
        (FIXED | {"denied": "yes"}, "moved", "but its note says otherwise"),
    ],
)  # fmt: skip
def test_what_could_not_be_used_or_stays_is_said(cells: dict[str, Any], change: str, reason: str) -> None:
    row = {"home_id": "H1", "week_starting": day("2026-10-05")} | cells
    _, totals = planned(last(row | ({"done_on": day(cells["done_on"])} if "done_on" in cells else {})))
    found = totals["tables"]["plan_changes"].set_index("visit_number").loc["H1-P1"]
    assert found["change"] == change
    assert reason in found["reason"]


def test_include_no_beats_keep_and_is_said() -> None:
    table, totals = planned(last({"home_id": "H4", "include": "no", "keep": "yes"}))
    assert table.loc["H4", "status"] == "left_out"
    assert any("has Include no and Keep yes" in sentence for sentence in totals["said"])


def test_without_a_former_plan_nothing_changed() -> None:
    assert planned(last())[1]["tables"]["plan_changes"].empty


def test_without_capacity_what_was_taken_out_stays_out() -> None:
    it = case()
    former = last({"home_id": "H4", "include": "no"})
    table, _ = plan(it.facts, it.jobs, frame("capacity", []), it.prices, it.policy, START, former=former)
    assert table.set_index("home_id")["status"].to_dict() == {
        "H1": "planned", "H2": "planned", "H3": "planned", "H4": "left_out"
    }  # fmt: skip


@pytest.mark.parametrize("budget", [0.0, 150.0, 300.0, 10_000.0])
def test_a_budget_binds(budget: float) -> None:
    table, totals = planned(last(), budgets=(budget,))
    assert table.loc[table["status"].eq("planned"), "cost_gbp"].sum() <= budget
    assert totals["budget_gbp"] == budget
    left = table.loc[table["status"].eq("left_out")]
    assert left.loc[left["severity"].eq("fault"), "reason"].str.startswith("others are worth more for the budget").all()
    assert left.empty == (budget == 10_000.0)
