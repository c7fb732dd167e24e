"""Visits longer than any week of their teams, taken apart by job; and danger on its own where hours are short."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import pandas as pd

from audit.choice.bill import drain_hours
from audit.choice.prices import Prices
from audit.plan.stretches import taken_apart
from audit.policy import Policy

CRUMB = 1e-9  # hours: sums of decimal hours may miss by this much
AGAIN, DRAINS = "in the same drain-down", "drain down, refill, vent and dose inhibitor"


def in_trips(
    work: pd.DataFrame, room: pd.Series, apart: Collection[str], prices: Prices, policy: Policy
) -> pd.DataFrame:
    """Return the jobs with `trip`: 0 for the home's first visit, 1 and on for return visits; and in stretches.

    Args:
        work: Jobs sorted by home_id, most severe first, with `worst` (0 is danger).
        room: Hours that the longest visit to each home may take, indexed by home_id; missing means any.
        apart: Homes whose danger has a visit of its own, whatever the hours.
        prices: For the drain-down that a return visit makes anew.
        policy: For the visit's own hours.
    """
    own = policy.number("hours.visit")
    together = work.groupby("home_id")["hours"].sum() + own
    long = together.index[together.gt(room.reindex(together.index).fillna(np.inf) + CRUMB)]
    trip = pd.Series(0, index=work.index, dtype="int64")
    for home, jobs in work.loc[work["home_id"].isin(long.union(list(apart)))].groupby("home_id"):
        trip.loc[jobs.index.to_numpy()] = np.array(_packed(jobs, float(room.get(home, np.inf)) - own, home in apart))
    return taken_apart(_drained(work.assign(trip=trip), prices, policy), room, own)


def _packed(jobs: pd.DataFrame, most: float, apart: bool) -> list[int]:
    """First fit, danger first, then the test of the water, jobs that drain next to each other.

    `apart` keeps danger to the first trip.
    """
    hours, danger, drains = jobs["hours"].tolist(), jobs["worst"].eq(0).tolist(), jobs["drains"].tolist()
    tests = jobs["tasks"].fillna("").str.contains("water_quality", regex=False).tolist()
    trips = [0] * len(hours)
    used = [0.0]
    for job in sorted(range(len(hours)), key=lambda job: (not danger[job], not tests[job], not drains[job], job)):
        first = 1 if apart and any(danger) and not danger[job] else 0
        fits = [trip for trip in range(first, len(used)) if not used[trip] or used[trip] + hours[job] <= most + CRUMB]
        if not fits:
            used.append(0.0)
            fits = [len(used) - 1]
        used[fits[0]] += hours[job]
        trips[job] = fits[0]
    return trips


def _drained(work: pd.DataFrame, prices: Prices, policy: Policy) -> pd.DataFrame:
    """A trip that drains, but whose dose went with another, makes its own drain-down: hours, dose, cost."""
    dosed = work["parts"].fillna("").str.contains("inhibitor", regex=False)
    key = [work["home_id"], work["trip"]]
    lacks = work["drains"] & work["trip"].gt(0) & ~dosed.groupby(key).transform("any")
    lacks &= work["what"].fillna("").str.contains(AGAIN, regex=False)
    lacks &= lacks.groupby(key).cumsum().eq(1)
    if not lacks.any():
        return work
    hours = drain_hours(policy)
    extra = hours * prices.cost["labour_hour"] + prices.cost["inhibitor"]
    parts = work["parts"].fillna("")
    dose = parts.where(parts.eq(""), parts + "; ") + "inhibitor × 1"
    return work.assign(
        hours=work["hours"] + hours * lacks,
        cost_gbp=work["cost_gbp"] + extra * lacks,
        benefit_gbp=work["benefit_gbp"] - extra * lacks,
        parts=parts.mask(lacks, dose).astype("str"),
        what=work["what"].mask(lacks, work["what"].str.replace(AGAIN, DRAINS, regex=False)).astype("str"),
    )
