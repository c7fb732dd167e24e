"""The plan of the quarter: visits with team and week, what was left out and what that costs."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pandas as pd

from audit.choice.prices import Prices, pounds
from audit.model import Facts
from audit.plan.fill import NOWHERE, fill, usable
from audit.plan.visits import visits
from audit.policy import Policy
from schemas.results import RESULT_COLUMNS


def quarter_start(as_of: dt.date) -> dt.date:
    """Return the first Monday after the as-of date."""
    return as_of + dt.timedelta(days=7 - as_of.weekday())


def plan(
    facts: Facts, jobs: pd.DataFrame, capacity: pd.DataFrame, prices: Prices, policy: Policy, quarter_start: dt.date
) -> tuple[pd.DataFrame, dict[str, Any]]:
    """Return the `planned-visits` table, ranked, and the totals of the quarter.

    Visits go by rank into the hours of `capacity` (columns team, patch, week_starting, hours). With an empty capacity
    every visit counts as planned, in one ranked list without team or week.

    Returns:
        The table, and a dict: visits_planned, visits_left_out, hours_there, hours_used, cost_gbp, benefit_gbp (of the
        planned), benefit_left_out_gbp, and said (sentences the reader must see).
    """
    ranked = visits(facts, jobs, prices, policy)
    weeks = round(policy.number("quarter.weeks"))
    said: tuple[str, ...] = ("No capacity was given: the visits are one ranked list, without teams and weeks.",)
    slots = capacity
    if capacity.empty:
        table = _listed(ranked)
    else:
        slots, said = usable(capacity, quarter_start, weeks)
        table = _placed(ranked, slots)
    planned = table["status"].eq("planned")
    totals = {
        "visits_planned": int(planned.sum()),
        "visits_left_out": int((~planned).sum()),
        "hours_there": round(float(slots["hours"].sum()), 2),
        "hours_used": round(float(table.loc[planned, "hours"].sum()), 2),
        "cost_gbp": round(float(table.loc[planned, "cost_gbp"].sum()), 2),
        "benefit_gbp": round(float(table.loc[planned, "benefit_gbp"].sum()), 2),
        "benefit_left_out_gbp": round(float(table.loc[~planned, "benefit_gbp"].sum()), 2),
        "said": said,
    }
    return table[[column.name for column in RESULT_COLUMNS["planned-visits"]]], totals


def _listed(ranked: pd.DataFrame) -> pd.DataFrame:
    return ranked.assign(
        team=pd.Series(np.nan, index=ranked.index, dtype="str"),
        week_starting=pd.Series(pd.NaT, index=ranked.index, dtype="datetime64[us]"),
        status=pd.Series("planned", index=ranked.index, dtype="str"),
        reason=pd.Series("in the order of the ranking; no capacity was given", index=ranked.index, dtype="str"),
    )


def _placed(ranked: pd.DataFrame, slots: pd.DataFrame) -> pd.DataFrame:
    place = fill(ranked["hours"].to_numpy(), ranked["patch"], slots)
    there = place != NOWHERE
    at = slots.reindex(place).set_axis(ranked.index)
    own = at["patch"].eq(ranked["patch"]).fillna(False)
    return ranked.assign(
        team=at["team"].astype("str"),
        week_starting=at["week_starting"].astype("datetime64[us]"),
        status=pd.Series(np.where(there, "planned", "left_out"), index=ranked.index, dtype="str"),
        reason=_left_out(ranked, slots).mask(there, _why_here(at, own)),
    )


def _why_here(at: pd.DataFrame, own: pd.Series) -> pd.Series:
    team = pd.Series(np.where(own, "the patch's own team", "a team open to this home"), index=at.index, dtype="str")
    return "earliest week with room, " + team


def _left_out(ranked: pd.DataFrame, slots: pd.DataFrame) -> pd.Series:
    """Why a visit found no room, and what leaving it costs."""
    longest = slots.groupby("patch", dropna=False)["hours"].max()
    anywhere = float(longest[longest.index.isna()].max()) if longest.index.isna().any() else 0.0
    own = ranked["patch"].map(longest[longest.index.notna()]).astype("float64")
    most = own.fillna(0.0).clip(lower=anywhere)
    most = most.mask(ranked["patch"].isna(), float(slots["hours"].max()) if len(slots) else 0.0)
    needs = ranked["hours"].map(lambda hours: f"{hours:.4g} h").astype("str")
    why = "no week has " + needs + " left for it"
    why = why.mask(most.lt(ranked["hours"]), "needs " + needs + ", longer than any week of its teams")
    why = why.mask(most.eq(0.0), "no team has hours for its patch in the quarter")
    cost = ranked["benefit_gbp"].map(pounds).astype("str")
    costs = "leaving it forgoes " + cost
    costs = costs.mask(ranked["severity"].eq("fault"), "leaving it costs about " + cost + " and the fault stays")
    costs = costs.mask(ranked["severity"].eq("danger"), "the danger stays: it must be made safe outside this plan")
    return why + "; " + costs
