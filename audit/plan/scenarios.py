"""What more hours, fewer hours, other teams or a budget would bring: the same visits planned anew under each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from audit.plan.fitted import Fitted, Work, bounded, fitted
from audit.plan.problem import CRUMB
from audit.plan.slots import usable
from schemas.results import RESULT_COLUMNS

STEPS = (-0.1, 0.1)  # beside a single budget, so that what a pound buys can be seen
PLAN = "as planned"
FIGURES = (
    *("visits_planned", "visits_left_out", "danger_left_out", "faults_left_out"),
    *("hours_used", "cost_gbp", "benefit_gbp", "gap_percent"),
)


@dataclass(frozen=True)
class Scenarios:
    """What was asked for.

    Attributes:
        hours: Shares by which every team has more hours, 0.1 for a tenth more, −0.1 for a tenth less.
        budgets: GBP; the first one binds the plan, the others are compared with it.
        capacities: Other capacity tables, by name.
        said: What has to be said of them.
    """

    hours: tuple[float, ...] = ()
    budgets: tuple[float, ...] = ()
    capacities: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    said: tuple[str, ...] = ()

    @property
    def budget(self) -> float:
        """What all visits of the plan may cost, in GBP."""
        return self.budgets[0] if self.budgets else np.inf

    @property
    def compared(self) -> tuple[float, ...]:
        """The budgets that are compared, the plan's own left out; no ceiling is one of them."""
        if not self.budgets:
            return ()
        steps = [round(self.budget * (1.0 + step), 2) for step in STEPS] if len(self.budgets) == 1 else self.budgets
        return tuple(sorted({*steps, np.inf} - {self.budget}))

    @property
    def any(self) -> bool:
        """Whether anything was asked for."""
        return bool(self.hours or self.budgets or self.capacities)


@dataclass(frozen=True)
class _Case:
    """One plan of a series: its name, the hours and money there are, and what came out."""

    name: str
    hours: float
    budget: float
    found: Fitted


def planned(work: Work, slots: pd.DataFrame, asked: Scenarios) -> tuple[Fitted, pd.DataFrame, tuple[str, ...]]:
    """Plan the quarter, and under each scenario.

    More hours, or more money, never bring less: the plan for less of them remains possible, and is taken where no
    better one was found. So too for the plan itself.

    Returns:
        The plan; the table `scenarios` (`schemas.results`), empty where nothing was asked for; what has to be said.
    """
    base = fitted(work, slots)
    hours = _rising(
        [(share, work, _scaled(slots, share), _named(share)) for share in asked.hours], 0.0, base, work, slots
    )
    base = next((case.found for case in hours if case.name == PLAN), base)
    budgets = [(budget, replace(work, budget=budget), slots, _ceiling(budget)) for budget in asked.compared]
    money = _rising(budgets, work.budget, base, work, slots)
    base = next((case.found for case in money if case.name == PLAN), base)
    hours = [replace(case, found=base) if case.name == PLAN else case for case in hours]
    tables = [_table("hours", hours), _table("budget", money)]
    said = asked.said
    for name, capacity in asked.capacities.items():
        other, told = usable(
            capacity, work.starts, round(work.policy.number("quarter.weeks")), work.facts.homes["patch"]
        )
        said += tuple(sentence if sentence.startswith(name) else f"{name}: {sentence}" for sentence in told)
        found = fitted(work, other)
        found = better(found, base) if _holds(other, slots) else found
        pair = [_case(PLAN, slots, work, base), _case(name, other, work, found)]
        tables.append(_table("capacity", pair))
    known = [column.name for column in RESULT_COLUMNS["scenarios"]]
    filled = [table for table in tables if len(table)]
    table = pd.concat(filled, ignore_index=True) if filled else pd.DataFrame(columns=known)
    return base, table.drop_duplicates(["series", "scenario"], ignore_index=True)[known], said


def better(one: Fitted, other: Fitted | None) -> Fitted:
    """The plan that is worth more: danger placed, danger in time, homes without heat, then GBP; of equals the first.

    Where the other one is taken, the bound of the first, which was made for these hours, says how good it is.
    """
    if other is None or one.score >= other.score:
        return one
    bound = max(one.bound, other.bound if other.score[:-1] > one.score[:-1] else other.score[-1])
    money = {name: one.figures[name] for name in ("budget_gbp",) if name in one.figures}
    worth = other.score[-1]
    return replace(other, bound=bound, figures=other.figures | bounded(worth, max(bound, worth)) | money)


Wanted = tuple[float, Work, pd.DataFrame, str]  # how much, what to plan with, hours, name


def _rising(wanted: Sequence[Wanted], own: float, base: Fitted, work: Work, slots: pd.DataFrame) -> list[_Case]:
    """Plan a series from little to much, the plan itself among it; none where nothing was asked for."""
    if not wanted:
        return []
    series = {much: (with_it, there, name) for much, with_it, there, name in wanted if much != own}
    cases: list[_Case] = []
    before: Fitted | None = None
    for much in sorted({*series, own}):
        with_it, there, name = series.get(much, (work, slots, PLAN))
        before = better(base if much == own else fitted(with_it, there), before)
        cases.append(_case(name, there, with_it, before))
    return cases


def _case(name: str, slots: pd.DataFrame, work: Work, found: Fitted) -> _Case:
    return _Case(name, float(slots["hours"].sum()), work.budget, found)


def _scaled(slots: pd.DataFrame, share: float) -> pd.DataFrame:
    return slots.assign(hours=(slots["hours"] * max(1.0 + share, 0.0)).round(4))


def _holds(more: pd.DataFrame, less: pd.DataFrame) -> bool:
    """Whether each slot has at least the hours it has in `less`, so that a plan for those still fits."""
    key = ["week_starting", "team", "patch"]
    both = less.merge(more, how="left", on=key, suffixes=("", "_more"))
    return bool(both["hours_more"].fillna(0.0).ge(both["hours"] - CRUMB).all())


def _named(share: float) -> str:
    return f"hours {'+' if share > 0 else '−'}{100.0 * abs(share):g} %"


def _ceiling(budget: float) -> str:
    return "no ceiling" if np.isinf(budget) else f"budget £{budget:,.0f}"


def _table(series: str, cases: Sequence[_Case]) -> pd.DataFrame:
    """One row a case, and what it brings more than the case before it."""
    rows = [
        {
            "series": series,
            "scenario": case.name if np.isinf(case.budget) or case.name != PLAN else f"{PLAN}: {_ceiling(case.budget)}",
            "hours_there": round(case.hours, 2),
            "budget_gbp": np.nan if np.isinf(case.budget) else case.budget,
            **{name: case.found.figures[name] for name in FIGURES},
            "worth_gbp": case.found.score[-1],
        }
        for case in cases
    ]
    table = pd.DataFrame(rows)
    if table.empty:
        return table
    more = table[["hours_there", "cost_gbp", "benefit_gbp", "worth_gbp"]].diff().round(2)
    return table.assign(
        extra_hours=more["hours_there"],
        extra_cost_gbp=more["cost_gbp"],
        extra_benefit_gbp=more["benefit_gbp"],
        extra_worth_gbp=more["worth_gbp"],
        per_extra_hour_gbp=(more["worth_gbp"] / more["hours_there"].where(more["hours_there"].gt(0))).round(2),
        per_extra_pound=(
            more["worth_gbp"] / more["cost_gbp"].where(more["cost_gbp"].gt(0) & (series == "budget"))
        ).round(4),
    )
