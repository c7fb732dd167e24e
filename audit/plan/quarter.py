"""The plan of the quarter: visits with team and week, what was left out and what that costs."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pandas as pd

from audit.choice.prices import Prices
from audit.model import Facts
from audit.plan import gas, reasons
from audit.plan.fill import NOWHERE, fill
from audit.plan.slots import longest, usable
from audit.plan.stock import load, order
from audit.plan.visits import RANKED_BY, visits
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
) -> tuple[pd.DataFrame, dict[str, Any]]:
    """Return the `planned-visits` table, ranked, and the totals of the quarter.

    Visits go by rank into the hours of `capacity` (columns team, patch, week_starting, hours). With an empty capacity
    every visit counts as planned, in one ranked list without team or week. `stock` has part, on_hand, lead_time_days.

    Returns:
        The table, and a dict: visits_planned, visits_left_out, danger_left_out, hours_there, hours_used, cost_gbp,
        benefit_gbp (of the planned), benefit_left_out_gbp, said (sentences the reader must see), and tables (by name:
        parts_load, parts_order, pieces; see `audit.plan.stock`).
    """
    weeks = round(policy.number("quarter.weeks"))
    said: tuple[str, ...] = ("No capacity was given: the visits are one ranked list, without teams and weeks.",)
    slots = capacity
    if capacity.empty:
        ranked, parts = visits(facts, jobs, prices, policy)
        table = _listed(ranked)
    else:
        slots, said = usable(capacity, quarter_start, weeks)
        table, parts = _fitted(facts, jobs, prices, policy, slots)
    table = table.assign(gas_note=gas.notes(table["gas_check_due"], table["week_starting"], facts.as_of))
    planned, danger = table["status"].eq("planned"), table["severity"].eq("danger")
    checks = gas.said(facts.homes.drop_duplicates("home_id")["gas_check_due"], facts.as_of)
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
        "said": (*said, *checks),
        "tables": {
            "parts_load": load(table.loc[planned], parts),
            "parts_order": order(table.loc[planned], parts, stock, facts.as_of),
            "pieces": parts,
        },
    }
    return table[[column.name for column in RESULT_COLUMNS["planned-visits"]]], totals


def _listed(ranked: pd.DataFrame) -> pd.DataFrame:
    return ranked.assign(
        team=pd.Series(np.nan, index=ranked.index, dtype="str"),
        week_starting=pd.Series(pd.NaT, index=ranked.index, dtype="datetime64[us]"),
        status=pd.Series("planned", index=ranked.index, dtype="str"),
        reason=pd.Series("in the order of the ranking; no capacity was given", index=ranked.index, dtype="str"),
    )


def _fitted(
    facts: Facts, jobs: pd.DataFrame, prices: Prices, policy: Policy, slots: pd.DataFrame
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Place the visits; where danger finds no room with the home's other work, it goes on its own."""
    homes = facts.homes.drop_duplicates("home_id")
    room = longest(slots, homes["patch"]).set_axis(homes["home_id"])
    room = room.where(room.gt(0.0))  # no team at all: nothing to split for
    ranked, parts = visits(facts, jobs, prices, policy, room)
    table = _placed(ranked, slots)
    stuck = table["severity"].eq("danger") & table["status"].eq("left_out")
    if stuck.any():
        ranked, parts = visits(facts, jobs, prices, policy, room, apart=frozenset(table.loc[stuck, "home_id"]))
        table = _placed(ranked, slots)
    return table, parts


def _placed(ranked: pd.DataFrame, slots: pd.DataFrame) -> pd.DataFrame:
    place = fill(ranked["hours"].to_numpy(), ranked["patch"], slots)
    there = place != NOWHERE
    at = slots.reindex(place).set_axis(ranked.index)
    own = at["patch"].eq(ranked["patch"]).fillna(False)
    why_not = reasons.left_out(ranked, longest(slots, ranked["patch"]))
    return ranked.assign(
        team=at["team"].astype("str"),
        week_starting=at["week_starting"].astype("datetime64[us]"),
        status=pd.Series(np.where(there, "planned", "left_out"), index=ranked.index, dtype="str"),
        reason=why_not.mask(there, reasons.why_here(at, own)),
    )
