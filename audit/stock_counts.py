"""Counts of the stock by scheme, kind and place, by age and by temperature; see `audit.summary` for the columns."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from audit.calendar import months_between
from audit.model import Facts
from audit.policy import Policy
from audit.state import RECENT_MONTHS
from schemas import words as w

UNKNOWN = "not recorded"
NO_ONE_VALVE = "no one valve"  # jobs on a home's system, and call-outs that name no valve
AGE_STEP, AGE_LAST = 5, 30  # years: how ages are grouped for the eye; no limit
READING_STEP = 5.0  # °C, likewise
GROUPINGS = {"scheme": "scheme", "kind": "head_kind", "place": "location"}
RULE_COLUMNS = {
    "heads_past_life": "head-past-service-life",
    "bodies_past_life": "body-past-service-life",
    "too_hot": "location-too-hot",
}
RENEWALS = ("motor", "head", "full")
JOB_SUMS = ("hours", "cost_gbp", "benefit_gbp")


def stock_rows(facts: Facts, findings: pd.DataFrame, jobs: pd.DataFrame) -> pd.DataFrame:
    """Return one row a valve with everything that the group tables add up, and below them what names no valve.

    The rows below, one a home, carry findings and jobs on the home's system and call-outs that name no valve; valve_id
    is missing.
    """
    valves = facts.valves
    calls = _call_outs(facts)
    stock = valves[["valve_id", "home_id", "head_age_years"]].copy()
    stock["call_outs_12m"] = _counted(calls["valve_id"], valves["valve_id"])
    for column in GROUPINGS.values():
        stock[column] = valves[column].fillna(UNKNOWN)
    place = pd.Index(valves["valve_id"]).get_indexer(pd.Index(findings["valve_id"]))  # -1 where about no valve
    for name in w.SEVERITY:
        stock[name] = _flagged(place, findings["severity"].eq(name), len(stock))
    for column, rule in RULE_COLUMNS.items():
        stock[column] = _flagged(place, _past(findings, rule), len(stock))
    own = jobs.loc[jobs["valve_id"].notna()].drop_duplicates("valve_id").set_index("valve_id")
    of_valve = own[["option", *JOB_SUMS]].reindex(pd.Index(valves["valve_id"])).set_axis(stock.index)
    stock["jobs"] = of_valve["option"].notna().astype("int64")
    for name in RENEWALS:
        stock[name] = of_valve["option"].eq(name)
    stock = stock.assign(**{column: of_valve[column].astype("float64").fillna(0.0) for column in JOB_SUMS})
    return pd.concat([stock, _of_homes(facts, findings, jobs, calls, stock)], ignore_index=True)


def _past(findings: pd.DataFrame, rule: str) -> pd.Series[bool]:
    """Findings of a rule that say that the limit is passed; one that asks to measure again does not."""
    return findings["rule"].eq(rule) & findings["severity"].ne("record")


def _call_outs(facts: Facts) -> pd.DataFrame:
    """One row a call-out of the last 12 months, counted once however many reports or valves it has.

    home_id, and valve_id: the first valve of the register that is named, else missing.
    """
    calls = facts.visits.loc[facts.visits["is_call_out"], ["event", "home_id", "reported", "valve_id"]]
    known = calls["valve_id"].where(calls["valve_id"].isin(facts.valves["valve_id"]))
    grouped = calls.assign(valve_id=known).groupby("event", sort=True)
    events = grouped.agg(home_id=("home_id", "first"), reported=("reported", "min"), valve_id=("valve_id", "first"))
    return events.loc[months_between(events["reported"].dt.normalize(), facts.as_of).lt(RECENT_MONTHS)]


def _counted(ids: pd.Series, register: pd.Series) -> np.ndarray[Any, Any]:
    return ids.value_counts().reindex(pd.Index(register), fill_value=0).to_numpy(dtype="int64")


def _of_homes(
    facts: Facts, findings: pd.DataFrame, jobs: pd.DataFrame, calls: pd.DataFrame, stock: pd.DataFrame
) -> pd.DataFrame:
    """One row a home with findings, jobs or recent call-outs that no valve is named for; the columns of `stock`."""
    own = (
        jobs.loc[jobs["valve_id"].isna()]
        .groupby("home_id")
        .agg(jobs=("option", "size"), **{column: (column, "sum") for column in JOB_SUMS})
    )
    unnamed = calls.loc[calls["valve_id"].isna()].groupby("home_id").size()
    found = findings.loc[findings["valve_id"].isna() & findings["home_id"].notna(), ["home_id", "severity"]]
    seen = pd.DataFrame({name: found["severity"].eq(name).groupby(found["home_id"]).any() for name in w.SEVERITY})
    rows = own.join([unnamed.rename("call_outs_12m"), seen], how="outer").rename_axis("home_id").reset_index()
    rows = rows.fillna(0.0)
    scheme = facts.homes.set_index("home_id")["scheme"].reindex(rows["home_id"]).set_axis(rows.index)
    rows = rows.assign(scheme=scheme.fillna(UNKNOWN), head_kind=NO_ONE_VALVE, location=NO_ONE_VALVE)
    flags = dict.fromkeys([*RULE_COLUMNS, *RENEWALS], False)
    whole = {"call_outs_12m": "int64", "jobs": "int64", **dict.fromkeys(w.SEVERITY, "bool")}
    rows = rows.assign(**flags, head_age_years=np.nan, valve_id=pd.Series(pd.NA, index=rows.index, dtype="str"))
    return rows.astype(whole)[list(stock.columns)]


def _flagged(place: np.ndarray[Any, Any], chosen: pd.Series[bool], valves: int) -> np.ndarray[Any, Any]:
    """Which valves, by place in the register, have a finding among the chosen."""
    flags = np.zeros(valves, dtype=bool)
    at = place[chosen.to_numpy()]
    flags[at[at >= 0]] = True
    return flags


def by_group(stock: pd.DataFrame, column: str) -> pd.DataFrame:
    """Add up the rows of `stock_rows` by one of its columns, the groups with most danger and faults first."""
    grouped = stock.groupby(column, sort=True)
    flags = [*RULE_COLUMNS, *w.SEVERITY, *RENEWALS, "jobs"]
    table = grouped.agg(
        homes=("home_id", "nunique"),
        valves=("valve_id", "count"),
        head_age_median_years=("head_age_years", "median"),
        head_ages_known=("head_age_years", "count"),
    )
    sums = grouped[[*flags, "call_outs_12m", *JOB_SUMS]].sum()
    table = table.join(sums)
    table["head_age_unknown"] = table["valves"] - table["head_ages_known"]
    table["call_outs_per_100"] = 100.0 * table["call_outs_12m"] / table["valves"].where(table["valves"].gt(0))
    order = ["homes", "valves", "head_age_median_years", "head_age_unknown", *RULE_COLUMNS, "call_outs_12m"]
    order += ["call_outs_per_100", *w.SEVERITY, *RENEWALS, "jobs", *JOB_SUMS]
    table = table[order].rename_axis("group").reset_index()
    worst = table.assign(worst=table["danger"] + table["fault"])
    worst = worst.sort_values(["worst", "valves", "group"], ascending=[False, False, True], kind="stable")
    return worst.drop(columns="worst").reset_index(drop=True)


def age_bands(valves: pd.DataFrame) -> pd.DataFrame:
    """Count heads and bodies by band of age, in years."""
    edges = [*range(0, AGE_LAST + 1, AGE_STEP)]
    labels = [f"{low} to {low + AGE_STEP - 1}" for low in edges[:-1]] + [f"{AGE_LAST} and over"]
    table = pd.DataFrame({"band": [*labels, "not known"]})
    for part, name in (("head", "heads"), ("body", "bodies")):
        band = pd.cut(valves[f"{part}_age_years"], [*edges, float("inf")], right=False, labels=labels)
        count = band.astype("str").fillna("not known").value_counts()
        table[name] = table["band"].map(count).fillna(0).astype("int64")
    every = max(len(valves), 1)
    return table.assign(head_share=table["heads"] / every, body_share=table["bodies"] / every)


def temperature_bands(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Band each kind of reading around its limit, so that the limit is an edge."""
    readings = (
        ("air at the head", facts.valves["location_temp_c"], "place.location_limit", True),
        ("water at the valve", facts.valves["flow_temp_c"], "water.flow_limit", True),
        ("hot water store", facts.homes["store_temp_c"], "water.store_minimum", False),
        ("hot tap", facts.homes["tap_temp_c"], "water.tap_minimum", False),
        ("bath tap", facts.homes["bath_tap_temp_c"], "water.bath_tap_maximum", True),
    )
    return pd.concat([_bands(*reading, policy) for reading in readings], ignore_index=True)


def _bands(reading: str, values: pd.Series[float], name: str, upper: bool, policy: Policy) -> pd.DataFrame:
    limit = policy.number(name)
    edges = [limit + step * READING_STEP for step in (-3, -2, -1, 0, 1, 2)]
    if upper:  # at the limit is still inside
        labels = [f"up to {edges[0]:g}", *(f"over {low:g} to {low + READING_STEP:g}" for low in edges)]
        labels[-1] = f"over {edges[-1]:g}"
        past = [False] * 4 + [True] * 3
    else:
        labels = [f"under {edges[0]:g}", *(f"{low:g} to under {low + READING_STEP:g}" for low in edges)]
        labels[-1] = f"{edges[-1]:g} and over"
        past = [True] * 4 + [False] * 3
    band = pd.cut(values, [-float("inf"), *edges, float("inf")], right=upper, labels=labels)
    count = band.value_counts(sort=False)
    return pd.DataFrame(
        {
            "reading": reading,
            "band": labels,
            "readings": count.to_numpy(),
            "past_limit": ["yes" if flag else "no" for flag in past],
            "limit": f"{'at most' if upper else 'at least'} {limit:g} {policy[name].unit}",
        }
    )


def options_cost(options: pd.DataFrame, stock: pd.DataFrame) -> pd.DataFrame:
    """Add up the options, in GBP, over all valves that have them and by scheme, kind and place."""
    groups = stock.loc[stock["valve_id"].notna()].set_index("valve_id")[list(GROUPINGS.values())]
    table = options.join(groups, on="valve_id").assign(all="all valves that work is asked for")
    chosen = table["chosen"].eq("yes")
    table = table.assign(feasible=table["feasible"].eq("yes"), chosen=chosen)
    table["now_if_feasible"] = table["cost_now_gbp"].where(table["feasible"])
    money = ["cost_now_gbp", "expected_later_gbp", "total_gbp", "benefit_gbp"]
    table[money] = table[money].where(chosen)
    order = {name: place for place, name in enumerate(w.OPTION)}
    parts = []
    for grouped_by, column in {"all": "all", **GROUPINGS}.items():
        grouped = table.groupby([column, "option"])
        part = grouped.agg(valves=("valve_id", "size"), feasible=("feasible", "sum"), chosen=("chosen", "sum"))
        part["cost_now_median_gbp"] = grouped["now_if_feasible"].median()
        part = part.join(grouped[money].sum()).reset_index(names=["group", "option"])
        part = part.sort_values(["group", "option"], key=lambda s: s.map(order) if s.name == "option" else s)
        parts.append(part.assign(grouped_by=grouped_by))
    columns = ["grouped_by", "group", "option", "valves", "feasible", "chosen", "cost_now_median_gbp", *money]
    return pd.concat(parts, ignore_index=True)[columns]
