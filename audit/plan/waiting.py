"""What a visit counts for the household besides its money, and what each week that it waits costs."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from audit.calendar import months_between
from audit.choice.jobs import RANK_KEYS, rank_keys
from audit.model import Facts
from audit.plan.problem import Numbers
from audit.policy import Policy
from audit.rules.response import not_restored
from audit.state import RECENT_MONTHS

MENDS: Final = ("danger", "fault")  # severities that count besides their money


def without_heat(facts: Facts, policy: Policy) -> pd.Series:
    """Return the homes whose call-out for lost heat or hot water is still open, and was not left working for now."""
    lost = not_restored(facts, policy)
    return lost.loc[lost["outcome"].ne("temporary").fillna(True), "home_id"]


def came_back(facts: Facts, policy: Policy) -> pd.Series:
    """Return how many call-outs of the last 12 months came within the long repeat window of another, by home_id."""
    log = facts.visits
    again = log["is_call_out"] & log["gap_days"].le(policy.number("repeats.long_window"))
    recent = months_between(log["reported"].dt.normalize(), facts.as_of).lt(RECENT_MONTHS)
    return log.loc[again & recent].groupby("home_id").size()


def faults(work: pd.DataFrame) -> pd.Series:
    """Return the faults that each job mends: one, shared among its stretches; none where it only saves money."""
    return work["severity"].isin(MENDS) / work["stretches"]


def counts(visits: pd.DataFrame, policy: Policy) -> pd.Series:
    """Return what mending counts for the household, GBP: so much a fault, and more in a priority household.

    A fault that came back counts again for each time.
    """
    mends = visits["faults"].gt(0)
    times = visits["faults"] + visits["came_back"].where(mends, 0)
    first = visits["priority_household"].eq("yes") & mends
    return policy.number("plan.fault_worth") * times + policy.number("plan.priority_worth") * first


def a_week(visits: pd.DataFrame, cold_weeks: int, policy: Policy) -> Numbers:
    """Return what each week of waiting costs, GBP, shape (n,).

    Benefit and what mending counts are lost evenly over the quarter; a home without heat loses the household's
    allowance for lost heat in each of its cold weeks besides.
    """
    weeks = policy.number("quarter.weeks")
    heat = policy.number("money.no_heat_winter") * cold_weeks * visits["no_heat"]
    lost = visits["benefit_gbp"].clip(lower=0.0) + counts(visits, policy) + heat
    return np.round(lost.to_numpy(dtype=np.float64) / weeks, 2)


def ranked(visits: pd.DataFrame, policy: Policy) -> pd.Index:
    """Return the visits' index, most urgent first; see `audit.plan.visits.RANKED_BY`."""
    fault = visits["severity"].eq("fault")
    lost = visits["benefit_gbp"].mask(fault, visits["benefit_gbp"].clip(lower=0.0) + counts(visits, policy))
    keys = rank_keys(visits.assign(benefit_gbp=lost)).assign(heat=~(fault & visits["no_heat"]), trip=visits["trip"])
    return keys.sort_values([RANK_KEYS[0], "heat", *RANK_KEYS[1:], "trip"], kind="stable").index
