"""Batches of valves that call out more often than their peers of the same kind and age."""

from __future__ import annotations

import pandas as pd

from audit.model import Facts
from audit.policy import Policy
from audit.rules.repeats import NOT_THE_VALVE
from audit.statistics.rates import benjamini_hochberg, central_p

BAND = 5  # years: peers were fitted in the same five years
YEAR = 365.25


def failing_batches(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Compare each batch's faults with those expected at the rate of all valves of its head kind and years of fitting.

    A chain of repeats counts once for each valve, where a visit names the valve and nothing says that the cause lay
    elsewhere: attempts at one fault are no measure of how often it comes.
    Exposure runs from the fitting of the body, or the first visit in the log, to the as-of date.

    Returns:
        Rows of the batches with more faults than expected that stay named at the policy's share of false names over all
        batches tried (Benjamini-Hochberg on exact Poisson p-values): make, batch, observed, expected, p_adjusted.
    """
    valves = facts.valves.loc[facts.valves["batch"].notna() & facts.valves["body_since"].notna()]
    valves = valves.assign(make=valves["make"].fillna(""), head_kind=valves["head_kind"].fillna(""))
    valves = valves.assign(
        years=_exposure(valves, facts),
        band=valves["body_since"].dt.year // BAND,
        observed=valves["valve_id"]
        .map(_faults(facts.visits, policy.number("repeats.long_window")))
        .astype("float64")
        .fillna(0.0),
    )
    peers = valves.groupby(["head_kind", "band"])[["observed", "years"]].transform("sum")
    valves = valves.assign(expected=valves["years"] * peers["observed"] / peers["years"])
    table = valves.groupby(["make", "batch"], as_index=False)[["observed", "expected"]].sum()
    table = table.loc[table["expected"].gt(0)].reset_index(drop=True)
    if table.empty:
        return table.assign(p_adjusted=pd.Series(dtype="float64"))
    table["p_adjusted"] = benjamini_hochberg(central_p(table["observed"], table["expected"]))
    share = policy.number("repeats.batch_false_share") / 100
    return table.loc[table["p_adjusted"].le(share) & table["observed"].gt(table["expected"])].reset_index(drop=True)


def _exposure(valves: pd.DataFrame, facts: Facts) -> pd.Series:
    start = valves["body_since"].clip(lower=facts.visits["reported"].min())
    years: pd.Series = (facts.as_of - start).dt.total_seconds() / 86_400 / YEAR
    return years.clip(lower=1 / YEAR)


def _faults(visits: pd.DataFrame, window_days: float) -> pd.Series:
    """Faults of each valve, by valve_id; those that repeat another of the home are left out."""
    repeats = visits.loc[visits["gap_days"].le(window_days), "episode"]
    of_valve = visits.loc[visits["is_fault"] & visits["valve_id"].notna() & ~visits["episode"].isin(repeats)]
    of_valve = of_valve.loc[~of_valve["cause"].isin(NOT_THE_VALVE) & ~of_valve["outcome"].eq("no_access")]
    return of_valve.drop_duplicates(["episode", "valve_id"])["valve_id"].value_counts()
