"""Scenarios: more hours or more money never bring less, and what each extra hour or pound brings adds up."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.errors import CannotUse
from audit.plan import Scenarios, plan
from audit.plan.slots import usable
from audit.scenario_options import scenarios_of
from audit.telling import scenario_lines
from schemas.results import RESULT_COLUMNS
from tests.frames import default_policy, frame
from tests.test_plan import START, case, week

HOURS = (week(3.0), week(2.0, starting="2026-12-07"))


def compared(asked: Scenarios) -> pd.DataFrame:
    it = case()
    _, totals = plan(it.facts, it.jobs, frame("capacity", HOURS), it.prices, it.policy, START, asked=asked)
    table: pd.DataFrame = totals["tables"]["scenarios"]
    return table


def test_without_scenarios_nothing_is_compared() -> None:
    table = compared(Scenarios())
    assert table.empty
    assert list(table.columns) == [column.name for column in RESULT_COLUMNS["scenarios"]]


def test_rows_rise_with_the_hours_and_the_plan_stands_among_them() -> None:
    table = compared(Scenarios(hours=(0.5, -0.2)))
    assert table["scenario"].tolist() == ["hours −20 %", "as planned", "hours +50 %"]
    assert table["hours_there"].tolist() == [4.0, 5.0, 7.5]
    assert table["extra_hours"].tolist()[1:] == [1.0, 2.5]
    extra = table["worth_gbp"].diff()
    assert table["extra_worth_gbp"].tolist()[1:] == pytest.approx(extra.tolist()[1:])
    assert table["per_extra_hour_gbp"].tolist()[1:] == pytest.approx([extra[1] / 1.0, extra[2] / 2.5], abs=0.01)
    assert table["per_extra_pound"].isna().all()


def test_one_budget_is_compared_with_a_tenth_less_and_more_and_none() -> None:
    table = compared(Scenarios(budgets=(200.0,)))
    assert table["scenario"].tolist() == ["budget £180", "as planned: budget £200", "budget £220", "no ceiling"]
    assert table["budget_gbp"].tolist()[:3] == [180.0, 200.0, 220.0]
    assert (table["cost_gbp"][:3] <= table["budget_gbp"][:3]).all()
    assert table["per_extra_hour_gbp"].isna().all()


def test_other_teams_are_compared_with_the_plan() -> None:
    table = compared(Scenarios(capacities={"winter.csv": frame("capacity", (*HOURS, week(9.0, "Team 2")))}))
    assert table["scenario"].tolist() == ["as planned", "winter.csv"]
    assert table["extra_hours"].tolist()[1] == 9.0
    assert table["visits_left_out"].tolist()[1] == 0
    assert table["worth_gbp"].iloc[1] > table["worth_gbp"].iloc[0] > 0


def test_what_an_extra_hour_brings_says_against_what() -> None:
    row = {"series": "hours", "visits_planned": 2, "hours_used": 4.0, "cost_gbp": 200.0, "worth_gbp": 100.0}
    row |= {"danger_left_out": 0, "faults_left_out": 1, "per_extra_pound": np.nan}
    rows = [
        row | {"scenario": "hours −10 %", "per_extra_hour_gbp": np.nan},
        row | {"scenario": "as planned", "per_extra_hour_gbp": 27.05},
        row | {"series": "capacity", "scenario": "as planned", "per_extra_hour_gbp": np.nan},
        row | {"series": "capacity", "scenario": "b.csv", "per_extra_hour_gbp": -5.59, "extra_worth_gbp": -228.0},
    ]
    ends = [line.partition("1 fault")[2] for line in scenario_lines(pd.DataFrame(rows))[1:]]
    assert ends == [
        *("", "; £27.05 for each extra hour, against 'hours −10 %'", ""),
        "; worth £228 less than 'as planned', the hours lie in other weeks or patches",
    ]


def test_hours_that_no_home_can_use_buy_nothing() -> None:
    homes = frame("homes", [{"home_id": "H1", "patch": "North"}, {"home_id": "H2", "patch": "South"}])["patch"]
    rows = [week(20.0), week(500.0, "Team 2", patch="Nowhere"), week(4.0, "Team 3", patch="North")]
    slots, said = usable(frame("capacity", rows), START, 13, homes)
    assert slots["hours"].tolist() == [20.0, 4.0]
    assert len(said) == 1
    assert said[0].startswith("capacity.csv, row 3: a patch in which no home lies; not used (500 h)")
    anywhere = pd.concat([homes, homes.iloc[:1].mask([True])])  # a home without a patch may be anywhere
    assert usable(frame("capacity", rows), START, 13, anywhere)[0]["hours"].sum() == 524.0


def test_a_week_that_has_begun_counts_with_the_working_days_left() -> None:
    """The quarter starts on a Wednesday: 3 of 5 working days are left; 13 weeks count from that week's Monday."""
    rows = [week(24.0, starting="2026-11-23"), week(24.0), week(24.0, starting="2027-02-22")]
    slots, said = usable(frame("capacity", rows), dt.date(2026, 11, 25), 13)
    assert slots["hours"].tolist() == pytest.approx([14.4, 24.0])
    assert "row 2: the quarter starts within the week, on Wednesday 25 November 2026" in said[0]
    assert "14.4 h" in said[0]
    assert "row 4: outside the quarter" in said[1]
    it = case()
    table, totals = plan(it.facts, it.jobs, frame("capacity", rows[:1]), it.prices, it.policy, dt.date(2026, 11, 25))
    assert totals["hours_there"] == 14.4
    assert table["week_starting"].dropna().eq(pd.Timestamp("2026-11-23")).any()
    weekend = usable(frame("capacity", rows[:1]), dt.date(2026, 11, 28), 13)
    assert weekend[0].empty


@settings(max_examples=2, deadline=None)
@given(
    st.lists(st.integers(-60, 80).map(lambda percent: percent / 100), min_size=1, max_size=3),
    st.lists(st.integers(0, 900).map(float), max_size=2),
)
def test_more_hours_or_money_never_bring_less(hours: list[float], budgets: list[float]) -> None:
    table = compared(Scenarios(hours=tuple(hours), budgets=tuple(budgets)))
    for _, rows in table.groupby("series"):
        danger, worth = rows["danger_left_out"].to_numpy(), rows["worth_gbp"].to_numpy()
        assert (np.diff(danger) <= 0).all()
        assert (np.diff(worth)[np.diff(danger) == 0] >= -0.01).all()
        assert rows["gap_percent"].between(0, 100).all()
        assert (rows["cost_gbp"] <= rows["budget_gbp"].fillna(np.inf)).all()


@pytest.mark.parametrize(("text", "share"), [("+10%", 0.1), ("-10%", -0.1), ("−7.5 %", -0.075), ("20", 0.2)])
def test_shares_of_hours_are_understood(text: str, share: float) -> None:
    assert scenarios_of([text], (), (), default_policy()).hours == (pytest.approx(share),)


@pytest.mark.parametrize(
    ("text", "pounds"),
    [("5000", 5000.0), ("£5,000", 5000.0), ("£ 1,234,567.50", 1_234_567.5), ("0", 0.0), ("750 GBP", 750.0)],
)
def test_pounds_are_understood(text: str, pounds: float) -> None:
    assert scenarios_of((), [text], (), default_policy()).budgets == (pounds,)


@pytest.mark.parametrize(
    ("hours", "budgets", "said"),
    [
        (["lots"], [], "--hours lots: give a share of the hours more or less"),
        (["-150%"], [], "--hours -150%: give a share"),
        (["0.1"], [], r"--hours 0.1: is a share of 10 % meant, or of 0.1 %\? Write \+10% or \+0.1%"),
        ([], ["-5"], "--budget -5: give pounds from 0 up"),
        ([], ["inf"], "--budget inf: give pounds"),
        ([], ["5.000,00"], "--budget 5.000,00: give pounds"),
    ],
)
def test_scenarios_that_cannot_be_are_said(hours: list[str], budgets: list[str], said: str) -> None:
    with pytest.raises(CannotUse, match=said):
        scenarios_of(hours, budgets, (), default_policy())


def test_a_file_of_hours_is_read_and_one_without_is_refused(tmp_path: Path) -> None:
    hours = tmp_path / "winter.csv"
    hours.write_text("team,week_starting,hours\nTeam 1,2026-11-30,30\n", encoding="utf-8")
    read = scenarios_of((), (), [hours], default_policy()).capacities
    assert read["winter.csv"]["hours"].tolist() == [30.0]
    hours.write_text(
        "team,week_starting,hours\nTeam 1,2026-11-30,30\nTeam 1,2026-11-30,30\nTeam 2,2026-11-30,-4\n", encoding="utf-8"
    )
    copied, negative = scenarios_of((), (), [hours], default_policy()).said
    assert copied.startswith("winter.csv, row 3: the row is a copy of winter.csv, row 2; counted once")
    assert negative.startswith("winter.csv, row 4, column hours: -4 h is outside the bounds")
    assert "not used: mend the value" in negative
    homes = tmp_path / "homes.csv"
    homes.write_text("home_id,postcode\nH1,ZZ99 1AA\n", encoding="utf-8")
    with pytest.raises(CannotUse, match="no usable row of teams' hours was found"):
        scenarios_of((), (), [homes], default_policy())
