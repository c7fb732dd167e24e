"""Visits placed in the hours there are: the table, its totals, and what has to be said."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.choice.prices import Prices
from audit.model import Facts
from audit.plan import reasons
from audit.plan.fit import fit, gap
from audit.plan.former import Wishes, no_former, wishes
from audit.plan.problem import CRUMB, NOWHERE, Placed, Problem, hours_used, possible, spent
from audit.plan.slots import longest
from audit.plan.stretches import in_a_row, none_in_a_row
from audit.plan.visits import visits
from audit.plan.waiting import a_week
from audit.plan.windows import Windows, allowance, area, first_week, problem, week_of, windows
from audit.policy import Policy


@dataclass(frozen=True)
class Work:
    """What the visits are made from, and what the planner wants of the plan."""

    facts: Facts
    jobs: pd.DataFrame
    prices: Prices
    policy: Policy
    starts: dt.date
    stock: pd.DataFrame
    exact: bool = False
    former: pd.DataFrame = field(default_factory=no_former)
    budget: float = np.inf


@dataclass(frozen=True)
class Fitted:
    """A plan: its visits, their parts, figures, sentences, and `score`.

    The score is danger placed, danger in time, the same of homes without heat, and the worth in GBP. No plan of the
    same hours and budget is worth more than `bound`, with danger and homes without heat placed as they are.
    """

    table: pd.DataFrame
    parts: pd.DataFrame
    figures: dict[str, Any]
    said: tuple[str, ...]
    score: tuple[float, ...]
    bound: float = np.inf
    in_a_row: bool = False  # some work goes over several weeks


def fitted(work: Work, slots: pd.DataFrame) -> Fitted:
    """Place the visits. Work longer than a week goes into weeks in a row where that is worth more than leaving it."""
    found = _fitted(work, slots, in_a_row)
    if found.table["team"].notna().any() and found.in_a_row:
        without = _fitted(work, slots, lambda visits, wished, *_: none_in_a_row(visits, wished))
        return found if found.score >= without.score else without
    return found


def _fitted(work: Work, slots: pd.DataFrame, rows: Callable[..., Wishes]) -> Fitted:
    """Place the visits; where danger finds no room, or none in time, with the home's other work, it goes on its own.

    If that is not enough, so does every home's danger.
    """
    facts, prices, policy = work.facts, work.prices, work.policy
    homes = facts.homes.drop_duplicates("home_id")
    room = longest(slots, homes["patch"]).set_axis(homes["home_id"]) - policy.number("plan.travel")
    room -= allowance(homes["scheme"], facts, policy)
    room = room.where(room.gt(0.0))  # no team at all: nothing to split for
    starts = min([pd.Timestamp(work.starts), *slots["week_starting"].head(1)])
    apart: frozenset[str] = frozenset()
    while True:
        ranked, parts = visits(facts, work.jobs, prices, policy, room, apart)
        ranked = ranked.assign(area=area(ranked, policy))
        there = windows(ranked, parts, work.stock, facts, prices, policy, starts)
        wished, told = wishes(work.former, ranked, slots, there, policy.number("plan.travel"))
        wished = rows(ranked, wished, slots, there, policy.number("plan.travel"))
        it, there = _problem(work, ranked, slots, there, wished)
        found, said = fit(it, policy.number("plan.exact_small"), policy.number("plan.exact_largest"), asked=work.exact)
        danger = it.ranks[0]
        stuck = danger & _stuck(it, found) & possible(it).any(axis=1)
        if not stuck.any() or apart.issuperset(ranked.loc[danger, "home_id"]):
            break
        apart = frozenset(ranked.loc[danger if apart else stuck, "home_id"])
    table = _placed(ranked, slots, there, it, found, wished, work)
    return Fitted(
        table,
        parts,
        _figures(table, it, found),
        (*said, *told),
        _score(it, found),
        found.bound,
        bool((wished.slot != NOWHERE).sum() > wished.kept.sum()),
    )


def _problem(
    work: Work, ranked: pd.DataFrame, slots: pd.DataFrame, there: Windows, wished: Wishes
) -> tuple[Problem, Windows]:
    there = wished.on(there, week_of(slots, there))
    it = problem(
        ranked,
        slots,
        there,
        work.policy,
        barred=wished.out,
        fixed=wished.slot,
        call_out=work.prices.cost["call_out"],
        budget=work.budget,
    )
    return it, there


def _stuck(it: Problem, found: Placed) -> npt.NDArray[np.bool_]:
    """The urgent left out, or later than they should be."""
    week = np.where(found.slot == NOWHERE, it.worth.shape[1], it.week[found.slot] if len(it.week) else 0)
    return np.asarray(it.urgent & (week > it.latest))


def _score(it: Problem, found: Placed) -> tuple[float, ...]:
    placed, late = found.slot != NOWHERE, _stuck(it, found)
    counts = [int((rank & good).sum()) for rank in it.ranks for good in (placed, ~late)]
    return *counts, round(found.worth, 2)


def _figures(table: pd.DataFrame, it: Problem, found: Placed) -> dict[str, Any]:
    """Benefit; worth, the most that any plan could be worth, and the gap between; hours for travel and shut doors."""
    planned = table["status"].eq("planned")
    used = float(hours_used(it, found.slot).sum())
    allowed = float(table.loc[planned, "allowance_h"].sum())
    fault, danger = (table["severity"].eq(name) & ~planned for name in ("fault", "danger"))
    figures: dict[str, Any] = {
        "visits_planned": int(planned.sum()),
        "visits_left_out": int((~planned).sum()),
        "danger_left_out": int(danger.sum()),
        "faults_left_out": int(fault.sum()),
        "hours_used": round(float(table.loc[planned, "hours"].sum()), 2),
        "cost_gbp": round(float(table.loc[planned, "cost_gbp"].sum()), 2),
        "benefit_gbp": round(float(table.loc[planned, "benefit_gbp"].sum()), 2),
        "worth_gbp": round(found.worth, 2),
        **bounded(found.worth, found.worth + gap(it, found)),
        "method": found.how,
        "hours_no_access": round(allowed, 2),
        "hours_travel": round(used - allowed - float(table.loc[planned, "hours"].sum()), 2),
    }
    return figures if np.isinf(it.budget) else figures | {"budget_gbp": it.budget}


def bounded(worth: float, most: float) -> dict[str, float]:
    """Return `bound_gbp`, the most that any plan of these hours could be worth, and `gap_percent` below it."""
    bound = round(most, 2)
    return {"bound_gbp": bound, "gap_percent": round(100.0 * (most - worth) / most, 3) if bound > 0 else 0.0}


def _placed(
    ranked: pd.DataFrame,
    slots: pd.DataFrame,
    there: Windows,
    it: Problem,
    found: Placed,
    wished: Wishes,
    work: Work,
) -> pd.DataFrame:
    call_out = work.prices.cost["call_out"]
    planned = found.slot != NOWHERE
    at = slots.reindex(found.slot).set_axis(ranked.index)
    first = first_week(there)
    rows = np.arange(len(ranked))
    week = np.where(planned, it.week[found.slot] if len(it.week) else 0, np.maximum(first, 0))
    earliest = pd.Series(np.where(first >= 0, there.weeks[first], np.datetime64("NaT")), index=ranked.index)
    joined = there.joins[rows, week] & planned
    kept = wished.kept & planned
    made = ranked.assign(
        team=at["team"].astype("str"),
        week_starting=at["week_starting"].astype("datetime64[us]"),
        status=pd.Series(np.where(planned, "planned", "left_out"), index=ranked.index, dtype="str"),
        hours=np.where(planned, there.hours[rows, week], ranked["hours"]).round(4),
        allowance_h=there.allowance,
        wait_gbp=a_week(ranked, int(there.winter.sum()), work.policy),
        joins=joined,
        whole_gbp=ranked["benefit_gbp"],
        benefit_gbp=np.where(planned, there.benefit[rows, week], ranked["benefit_gbp"]).round(2),
        cost_gbp=(ranked["cost_gbp"] - call_out * joined).round(2),
        earliest_week=earliest.astype("datetime64[us]"),
        include=pd.Series(np.where(wished.barred, "no", ""), index=ranked.index, dtype="str").where(wished.barred),
        keep=pd.Series(np.where(kept, "yes", ""), index=ranked.index, dtype="str").where(kept),
    )
    made = made.assign(days=days(made["hours"], made["people"], work.policy.number("plan.day")))
    late = it.ranks[0] & planned & (week > it.latest)
    longer = longest(slots, ranked["patch"]) - it.travel
    dear = _dear(it, found)
    spare = reasons.spare_elsewhere(ranked, slots, it, found, there)
    why_not = reasons.left_out(
        ranked, longer, there, it.worth, barred=wished.barred, dear=dear, split=wished.split, spare=spare
    )
    why = reasons.why_here(ranked, at, week, possible(it), there, joined=joined, late=late, kept=kept)
    return made.assign(reason=why_not.mask(planned, why))


def days(hours: pd.Series, people: pd.Series, day: float) -> pd.Series:
    """Say who has to be there and over how many days, where one person or one day is not enough; else missing."""
    each = hours / people
    count = np.ceil((each - CRUMB) / day)
    last = (each - day * (count - 1)).map("{:.3g}".format).astype("str")
    whole = count.map("{:.0f} days: ".format).astype("str") + f"{day:g} h a day, " + last + " h on the last"
    whole = whole.where(count.gt(1), "").astype("str")
    who = people.map("{:.0f} people at once, the hours of each counted".format).astype("str").where(people.gt(1), "")
    both: pd.Series = who + np.where(who.ne("") & whole.ne(""), "; ", "") + whole
    return both.astype("str").where(both.ne(""))


def _dear(it: Problem, found: Placed) -> npt.NDArray[np.bool_]:
    """Visits that cost more, in every week, than what is left of the budget."""
    if it.cost is None or np.isinf(it.budget):
        return np.zeros(len(it.worth), dtype=bool)
    return np.asarray(it.cost.min(axis=1) > it.budget - spent(it, found.slot))
