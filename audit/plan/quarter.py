"""The plan of the quarter: visits with team and week, what was left out and what that costs."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.choice.prices import Prices
from audit.model import Facts
from audit.plan import gas, reasons
from audit.plan.fit import fit, gap
from audit.plan.problem import NOWHERE, Placed, Problem, hours_used
from audit.plan.slots import longest, usable
from audit.plan.stock import load, order
from audit.plan.visits import RANKED_BY, visits
from audit.plan.windows import Windows, allowance, first_week, problem, windows
from audit.policy import Policy
from schemas.results import RESULT_COLUMNS

NO_STOCK = pd.DataFrame({"part": pd.Series(dtype="str"), "on_hand": [], "lead_time_days": []})


def quarter_start(as_of: dt.date) -> dt.date:
    """Return the first Monday after the as-of date."""
    return as_of + dt.timedelta(days=7 - as_of.weekday())


def plan(
    facts: Facts,
    jobs: pd.DataFrame,
    capacity: pd.DataFrame,
    prices: Prices,
    policy: Policy,
    quarter_start: dt.date,
    stock: pd.DataFrame = NO_STOCK,
    *,
    exact: bool = False,
) -> tuple[pd.DataFrame, dict[str, Any]]:
    """Return the `planned-visits` table, ranked, and the totals of the quarter.

    Visits go into the hours of `capacity` (columns team, patch, week_starting, hours): danger first, then so that the
    whole is worth most (`audit.plan.fit`). With an empty capacity every visit counts as planned, in one ranked list
    without team or week. `stock` has part, on_hand, lead_time_days; `exact` asks for the solver's proven best.

    Returns:
        The table, and a dict: visits_planned, visits_left_out, danger_left_out, hours_there, hours_used, cost_gbp,
        benefit_gbp (of the planned), benefit_left_out_gbp, bound_gbp, gap_percent,
        method, hours_travel, hours_no_access, said (sentences the reader must see), and tables (by name:
        parts_load, parts_order, pieces; see `audit.plan.stock`).
    """
    weeks = round(policy.number("quarter.weeks"))
    homes = facts.homes.drop_duplicates("home_id")
    if capacity.empty:
        table, parts = visits(facts, jobs, prices, policy)
        table, slots = _listed(table), capacity
        figures: dict[str, Any] = {}
        said: tuple[str, ...] = ("No capacity was given: the visits are one ranked list, without teams and weeks.",)
    else:
        slots, said = usable(capacity, quarter_start, weeks)
        table, parts, figures, more = _fitted(facts, jobs, prices, policy, slots, stock, quarter_start, exact)
        said += more
    table = table.assign(gas_note=gas.notes(table["gas_check_due"], table["week_starting"], facts.as_of))
    planned, danger = table["status"].eq("planned"), table["severity"].eq("danger")
    totals = {
        "visits_planned": int(planned.sum()),
        "visits_left_out": int((~planned).sum()),
        "danger_left_out": int((danger & ~planned).sum()),
        "hours_there": round(float(slots["hours"].sum()), 2),
        "hours_used": round(float(table.loc[planned, "hours"].sum()), 2),
        "cost_gbp": round(float(table.loc[planned, "cost_gbp"].sum()), 2),
        "benefit_gbp": round(float(table.loc[planned, "benefit_gbp"].sum()), 2),
        "benefit_left_out_gbp": round(float(table.loc[~planned, "benefit_gbp"].sum()), 2),
        "ranked_by": RANKED_BY,
        **figures,
        "said": (*said, *gas.said(homes.set_index("home_id")["gas_check_due"], facts.as_of)),
        "tables": {
            "parts_load": load(table.loc[planned], parts),
            "parts_order": order(table.loc[planned], parts, stock, facts.as_of),
            "pieces": parts,
            "slots": slots[["week_starting", "team", "patch", "hours"]],
        },
    }
    return table[[column.name for column in RESULT_COLUMNS["planned-visits"]]], totals


def _listed(ranked: pd.DataFrame) -> pd.DataFrame:
    return ranked.assign(
        team=pd.Series(np.nan, index=ranked.index, dtype="str"),
        week_starting=pd.Series(pd.NaT, index=ranked.index, dtype="datetime64[us]"),
        status=pd.Series("planned", index=ranked.index, dtype="str"),
        reason=pd.Series("in the order of the ranking; no capacity was given", index=ranked.index, dtype="str"),
        allowance_h=0.0,
        earliest_week=pd.Series(pd.NaT, index=ranked.index, dtype="datetime64[us]"),
    )


def _fitted(
    facts: Facts,
    jobs: pd.DataFrame,
    prices: Prices,
    policy: Policy,
    slots: pd.DataFrame,
    stock: pd.DataFrame,
    starts: dt.date,
    exact: bool,
) -> tuple[pd.DataFrame, pd.DataFrame, dict[str, Any], tuple[str, ...]]:
    """Place the visits; where danger finds no room, or none in time, with the home's other work, it goes on its own."""
    homes = facts.homes.drop_duplicates("home_id")
    room = longest(slots, homes["patch"]).set_axis(homes["home_id"]) - policy.number("plan.travel")
    room -= allowance(homes["scheme"], facts, policy)
    room = room.where(room.gt(0.0))  # no team at all: nothing to split for
    apart: frozenset[str] = frozenset()
    while True:
        ranked, parts = visits(facts, jobs, prices, policy, room, apart)
        there = windows(ranked, parts, stock, facts, prices, policy, pd.Timestamp(starts))
        it = problem(ranked, slots, there, policy)
        found, said = fit(it, policy.number("plan.exact_small"), policy.number("plan.exact_largest"), asked=exact)
        stuck = frozenset(ranked.loc[_stuck(it, found), "home_id"]) - apart
        if apart or not stuck:
            break
        apart = stuck
    table = _placed(ranked, slots, there, it, found, prices.cost["call_out"])
    return table, parts, _figures(table, it, found), said


def _stuck(it: Problem, found: Placed) -> npt.NDArray[np.bool_]:
    """Danger left out, or later than it should be."""
    week = np.where(found.slot == NOWHERE, it.worth.shape[1], it.week[found.slot] if len(it.week) else 0)
    return np.asarray(it.urgent & (week > it.latest))


def _figures(table: pd.DataFrame, it: Problem, found: Placed) -> dict[str, Any]:
    """Benefit, the most that any plan could bring beside it, and the gap between; hours for travel and shut doors.

    The bound is on worth, in which a fault counts more than its money; what a better plan could gain in worth is
    added to the benefit of this one.
    """
    planned = table["status"].eq("planned")
    benefit = round(float(table.loc[planned, "benefit_gbp"].sum()), 2)
    bound = round(benefit + gap(it, found), 2)
    spent = float(hours_used(it, found.slot).sum())
    allowed = float(table.loc[planned, "allowance_h"].sum())
    return {
        "bound_gbp": bound,
        "gap_percent": round(100.0 * (bound - benefit) / bound, 3) if bound > 0 else 0.0,
        "method": found.how,
        "hours_no_access": round(allowed, 2),
        "hours_travel": round(spent - allowed - float(table.loc[planned, "hours"].sum()), 2),
    }


def _placed(
    ranked: pd.DataFrame, slots: pd.DataFrame, there: Windows, it: Problem, found: Placed, call_out: float
) -> pd.DataFrame:
    planned = found.slot != NOWHERE
    at = slots.reindex(found.slot).set_axis(ranked.index)
    first = first_week(there)
    rows = np.arange(len(ranked))
    week = np.where(planned, it.week[found.slot] if len(it.week) else 0, np.maximum(first, 0))
    earliest = pd.Series(np.where(first >= 0, there.weeks[first], np.datetime64("NaT")), index=ranked.index)
    joined = there.joins[rows, week] & planned
    made = ranked.assign(
        team=at["team"].astype("str"),
        week_starting=at["week_starting"].astype("datetime64[us]"),
        status=pd.Series(np.where(planned, "planned", "left_out"), index=ranked.index, dtype="str"),
        hours=np.where(planned, there.hours[rows, week], ranked["hours"]).round(4),
        allowance_h=there.allowance,
        benefit_gbp=np.where(planned, there.benefit[rows, week], ranked["benefit_gbp"]).round(2),
        cost_gbp=(ranked["cost_gbp"] - call_out * joined).round(2),
        earliest_week=earliest.astype("datetime64[us]"),
    )
    own = at["patch"].eq(ranked["patch"]).fillna(False)
    late = it.urgent & planned & (week > it.latest)
    longer = longest(slots, ranked["patch"]) - it.travel
    why_not = reasons.left_out(ranked, longer, there, it.worth)
    return made.assign(reason=why_not.mask(planned, reasons.why_here(at, own, joined, late, week, first)))
