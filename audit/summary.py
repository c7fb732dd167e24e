"""Counts for the stock summary, the work list and the page. The reports show them and compute nothing.

`summaries` gives these tables; "not recorded" stands for a missing group, shares are between 0 and 1:

| table | one row a | columns |
|---|---|---|
| `headline` | number to show first | key, name, value, unit |
| `by_scheme`, `by_kind`, `by_place` | scheme, head kind, location | group, homes, valves, head_age_median_years, \
head_age_unknown, heads_past_life, bodies_past_life, too_hot, call_outs_12m, call_outs_per_100, danger, fault, money, \
record (valves with such a finding), motor, head, full (jobs), jobs, hours, cost_gbp, benefit_gbp |
| `age_bands` | band of years | band, heads, bodies (valves), head_share, body_share |
| `temperature_bands` | reading and band | reading, band, readings, past_limit (yes/no), limit (in words) |
| `options_cost` | grouping, group and option | grouped_by (all, scheme, kind, place), group, option, valves, \
feasible, chosen, cost_now_median_gbp, cost_now_gbp, expected_later_gbp, total_gbp, benefit_gbp (sums over the chosen) |
| `findings_by_rule` | rule that fired | rule, severity, findings, homes, valves |
| `findings_by_severity` | severity | severity, findings, homes, valves |
| `week_load` | team and week | team, week_starting, hours_there, hours_used, share, visits, drain_downs |
| `weeks` | week | week_starting, hours_there, hours_used, share, visits, drain_downs |
| `parts_total` | part | part, name, pieces, visits |
| `left_out` | reason | reason, visits, danger (visits), hours, cost_gbp, benefit_gbp |
| `chain_visits` | chain and visit | chain, then visit_id, valve_id, reported, completed, kind, symptom, outcome, \
cause, action, engineer, cost_gbp, notes, wait_days, shows |
| `months` | calendar month, the last 36 | see `audit.repeats.monthly` |
| `fixes_held` | action | see `audit.repeats.held` |
| `clues` | clue | clue, then points for each hypothesis, by its label |
| `records` | table read | table, rows_in, used, merged, returned, used_share |
| `reasons` | reason a row was not used as it stood | table, effect, column, reason, rows |
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from audit.model import Facts
from audit.policy import Policy
from audit.repeats import fixes_held, followed, hypothesis_table, repeat_rate
from schemas import words as w

UNKNOWN = "not recorded"
AGE_STEP, AGE_LAST = 5, 30  # years: how ages are grouped for the eye; no limit
READING_STEP = 5.0  # °C, likewise
MONTHS_SHOWN = 36
NUMBER = r"£?[0-9][0-9,]*(?:\.[0-9]+)?"
GROUPINGS = {"scheme": "scheme", "kind": "head_kind", "place": "location"}
RULE_COLUMNS = {
    "heads_past_life": "head-past-service-life",
    "bodies_past_life": "body-past-service-life",
    "too_hot": "location-too-hot",
}
RENEWALS = ("motor", "head", "full")
JOB_SUMS = ("hours", "cost_gbp", "benefit_gbp")
Tables = dict[str, pd.DataFrame]


def summaries(
    facts: Facts,
    findings: pd.DataFrame,
    options: pd.DataFrame,
    jobs: pd.DataFrame,
    visits: pd.DataFrame,
    chains: pd.DataFrame,
    capacity: pd.DataFrame,
    policy: Policy,
    problems: pd.DataFrame,
    counts: pd.DataFrame,
) -> Tables:
    """Count what the reports show.

    Args:
        facts: The stock on the as-of date.
        findings: Result table, as are `options`, `jobs`, `visits` (planned visits) and `chains`.
        options: Four rows a valve that has a finding.
        jobs: One row a valve or home with work to do.
        visits: Planned and left-out visits.
        chains: Chains of repeats.
        capacity: Hours of each team and week; may be empty.
        policy: The limits in force.
        problems: Rows returned, repaired or merged.
        counts: Rows in, used, merged and returned for each table.

    Returns:
        The tables named in the module's docstring.
    """
    stock = _stock(facts, findings, jobs)
    planned = visits.loc[visits["status"].eq("planned")]
    left = visits.loc[visits["status"].eq("left_out")]
    week_load = _week_load(planned, capacity, policy)
    parts = _parts(planned)
    return {
        "headline": _headline(facts, findings, planned, left, chains, week_load, counts),
        **{f"by_{name}": _by(stock, column) for name, column in GROUPINGS.items()},
        "age_bands": _age_bands(facts.valves),
        "temperature_bands": _temperature_bands(facts, policy),
        "options_cost": _options_cost(options, stock),
        "findings_by_rule": _findings_by(findings, ["rule", "severity"]),
        "findings_by_severity": _findings_by(findings, ["severity"]),
        "week_load": week_load,
        "weeks": _with_share(week_load.groupby("week_starting", as_index=False)[list(LOAD)].sum()),
        "parts_total": _parts_total(parts),
        "left_out": _left_out(left),
        "chain_visits": _chain_visits(facts, chains, policy),
        "months": repeat_rate(facts, policy, MONTHS_SHOWN),
        "fixes_held": fixes_held(facts, policy),
        "clues": hypothesis_table(),
        "records": counts.assign(used_share=counts["used"] / counts["rows_in"].where(counts["rows_in"].gt(0))),
        "reasons": _reasons(problems),
    }


def _stock(facts: Facts, findings: pd.DataFrame, jobs: pd.DataFrame) -> pd.DataFrame:
    """One row a valve with everything that the group tables add up."""
    valves = facts.valves
    stock = valves[["valve_id", "home_id", "head_age_years", "call_outs_12m"]].copy()
    for column in GROUPINGS.values():
        stock[column] = valves[column].fillna(UNKNOWN)
    place = pd.Index(valves["valve_id"]).get_indexer(pd.Index(findings["valve_id"]))  # -1 where about no valve
    for name in w.SEVERITY:
        stock[name] = _flagged(place, findings["severity"].eq(name), len(stock))
    for column, rule in RULE_COLUMNS.items():
        stock[column] = _flagged(place, findings["rule"].eq(rule), len(stock))
    own = jobs.loc[jobs["valve_id"].notna()].drop_duplicates("valve_id").set_index("valve_id")
    of_valve = own[["option", *JOB_SUMS]].reindex(pd.Index(valves["valve_id"])).set_axis(stock.index)
    stock["jobs"] = of_valve["option"].notna()
    for name in RENEWALS:
        stock[name] = of_valve["option"].eq(name)
    return stock.assign(**{column: of_valve[column].astype("float64").fillna(0.0) for column in JOB_SUMS})


def _flagged(place: np.ndarray[Any, Any], chosen: pd.Series[bool], valves: int) -> np.ndarray[Any, Any]:
    """Which valves, by place in the register, have a finding among the chosen."""
    flags = np.zeros(valves, dtype=bool)
    at = place[chosen.to_numpy()]
    flags[at[at >= 0]] = True
    return flags


def _by(stock: pd.DataFrame, column: str) -> pd.DataFrame:
    grouped = stock.groupby(column, sort=True)
    flags = [*RULE_COLUMNS, *w.SEVERITY, *RENEWALS, "jobs"]
    table = grouped.agg(
        homes=("home_id", "nunique"),
        valves=("valve_id", "size"),
        head_age_median_years=("head_age_years", "median"),
        head_ages_known=("head_age_years", "count"),
    )
    sums = grouped[[*flags, "call_outs_12m", *JOB_SUMS]].sum()
    table = table.join(sums)
    table["head_age_unknown"] = table["valves"] - table["head_ages_known"]
    table["call_outs_per_100"] = 100.0 * table["call_outs_12m"] / table["valves"]
    order = ["homes", "valves", "head_age_median_years", "head_age_unknown", *RULE_COLUMNS, "call_outs_12m"]
    order += ["call_outs_per_100", *w.SEVERITY, *RENEWALS, "jobs", *JOB_SUMS]
    table = table[order].rename_axis("group").reset_index()
    worst = table.assign(worst=table["danger"] + table["fault"])
    worst = worst.sort_values(["worst", "valves", "group"], ascending=[False, False, True], kind="stable")
    return worst.drop(columns="worst").reset_index(drop=True)


def _age_bands(valves: pd.DataFrame) -> pd.DataFrame:
    edges = [*range(0, AGE_LAST + 1, AGE_STEP)]
    labels = [f"{low} to {low + AGE_STEP - 1}" for low in edges[:-1]] + [f"{AGE_LAST} and over"]
    table = pd.DataFrame({"band": [*labels, "not known"]})
    for part, name in (("head", "heads"), ("body", "bodies")):
        band = pd.cut(valves[f"{part}_age_years"], [*edges, float("inf")], right=False, labels=labels)
        count = band.astype("str").fillna("not known").value_counts()
        table[name] = table["band"].map(count).fillna(0).astype("int64")
    every = max(len(valves), 1)
    return table.assign(head_share=table["heads"] / every, body_share=table["bodies"] / every)


def _temperature_bands(facts: Facts, policy: Policy) -> pd.DataFrame:
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


def _options_cost(options: pd.DataFrame, stock: pd.DataFrame) -> pd.DataFrame:
    groups = stock.set_index("valve_id")[list(GROUPINGS.values())]
    table = options.join(groups, on="valve_id").assign(all="all valves with a finding")
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


def _findings_by(findings: pd.DataFrame, columns: list[str]) -> pd.DataFrame:
    table = findings.groupby(columns, as_index=False).agg(
        findings=("rule", "size"), homes=("home_id", "nunique"), valves=("valve_id", "nunique")
    )
    place = {name: order for order, name in enumerate(w.SEVERITY)}
    ranked = table.assign(place=table["severity"].map(place)).sort_values(
        ["place", "findings", columns[0]], ascending=[True, False, True], kind="stable"
    )
    return ranked.drop(columns="place").reset_index(drop=True)


LOAD = ("hours_there", "hours_used", "visits", "drain_downs")


def _week_load(planned: pd.DataFrame, capacity: pd.DataFrame, policy: Policy) -> pd.DataFrame:
    """Hours used of hours there. Weeks of the quarter only: from the first planned week on."""
    key = ["week_starting", "team"]
    used = planned.assign(drains=planned["drain_down"].eq("yes"))
    used = used.groupby(key, as_index=False).agg(
        hours_used=("hours", "sum"), visits=("home_id", "size"), drain_downs=("drains", "sum")
    )
    there = capacity.groupby(key, as_index=False).agg(hours_there=("hours", "sum"))
    if len(used):
        first = used["week_starting"].min()
        end = first + pd.Timedelta(weeks=policy.number("quarter.weeks"))
        there = there.loc[there["week_starting"].ge(first) & there["week_starting"].lt(end)]
    both = pd.concat([there, used.astype({"team": "str", "week_starting": "datetime64[us]"})], ignore_index=True)
    both[[*LOAD]] = both[[*LOAD]].astype("float64")
    table = both.groupby(key, as_index=False, dropna=False)[[*LOAD]].sum()
    return _with_share(table[["team", "week_starting", *LOAD]])


def _with_share(table: pd.DataFrame) -> pd.DataFrame:
    there = table["hours_there"].where(table["hours_there"].gt(0))
    return table.assign(share=table["hours_used"] / there)


def _parts(planned: pd.DataFrame) -> pd.DataFrame:
    """One row a visit and part, read from the visit's parts, as in "head_zone × 2; inhibitor × 1"."""
    text = planned["parts"].fillna("")
    rows = []
    for part in w.RATE_ITEM:
        pieces = pd.to_numeric(text.str.extract(rf"(?:^|; ){part} × (\d+)", expand=False))
        rows.append(planned[["team", "week_starting"]].assign(part=part, pieces=pieces).dropna(subset="pieces"))
    return pd.concat(rows, ignore_index=True)


def _parts_total(parts: pd.DataFrame) -> pd.DataFrame:
    table = parts.groupby("part", as_index=False).agg(pieces=("pieces", "sum"), visits=("pieces", "size"))
    return table.assign(name=table["part"].map(dict(w.RATE_ITEM)).astype("str"))[["part", "name", "pieces", "visits"]]


def _left_out(left: pd.DataFrame) -> pd.DataFrame:
    """Add up by reason; the numbers of the single visit and what follows a semicolon are taken out of the reason."""
    plain = left["reason"].fillna("no reason given").str.split(";").str[0].str.replace(NUMBER, "…", regex=True)
    grouped = left.assign(reason=plain, danger=left["severity"].eq("danger")).groupby("reason", as_index=False)
    table = grouped.agg(
        visits=("home_id", "size"),
        danger=("danger", "sum"),
        hours=("hours", "sum"),
        cost_gbp=("cost_gbp", "sum"),
        benefit_gbp=("benefit_gbp", "sum"),
    )
    return table.sort_values(["visits", "reason"], ascending=[False, True], kind="stable", ignore_index=True)


CHAIN_VISIT = ("visit_id", "valve_id", "reported", "completed", "kind", "symptom", "outcome", "cause", "action")


def _chain_visits(facts: Facts, chains: pd.DataFrame, policy: Policy) -> pd.DataFrame:
    columns = ["chain", *CHAIN_VISIT, "engineer", "cost_gbp", "notes", "wait_days", "shows"]
    rows = followed(facts, policy)[1]
    rows = rows.loc[rows["chain"].isin(chains["chain"]), columns]
    return rows.sort_values(["chain", "reported", "visit_id"], kind="stable", ignore_index=True)


def _reasons(problems: pd.DataFrame) -> pd.DataFrame:
    key = ["table", "effect", "column", "reason"]
    table = problems.groupby(key, as_index=False, dropna=False).size().rename(columns={"size": "rows"})
    return table.sort_values(
        ["rows", *key], ascending=[False, True, True, True, True], kind="stable", ignore_index=True
    )


def _headline(
    facts: Facts,
    findings: pd.DataFrame,
    planned: pd.DataFrame,
    left: pd.DataFrame,
    chains: pd.DataFrame,
    week_load: pd.DataFrame,
    counts: pd.DataFrame,
) -> pd.DataFrame:
    severity = findings["severity"]
    rows = [
        ("homes", "Homes", len(facts.homes), "homes"),
        ("valves", "Valves", len(facts.valves), "valves"),
        ("visits_read", "Visits in the log", len(facts.visits), "visits"),
        *((name, f"Findings: {name}", int(severity.eq(name).sum()), "findings") for name in w.SEVERITY),
        ("valves_with_finding", "Valves with a finding", findings["valve_id"].nunique(), "valves"),
        ("planned_visits", "Visits planned", len(planned), "visits"),
        ("planned_hours", "Hours planned", planned["hours"].sum(), "h"),
        ("hours_there", "Hours there in the quarter", week_load["hours_there"].sum(), "h"),
        ("planned_cost", "Cost of the planned visits", planned["cost_gbp"].sum(), "GBP"),
        ("planned_benefit", "Benefit of the planned visits", planned["benefit_gbp"].sum(), "GBP"),
        ("planned_drain_downs", "Visits that drain down", int(planned["drain_down"].eq("yes").sum()), "visits"),
        ("left_out_visits", "Visits left out", len(left), "visits"),
        ("left_out_hours", "Hours left out", left["hours"].sum(), "h"),
        ("left_out_benefit", "Benefit forgone by leaving them out", left["benefit_gbp"].sum(), "GBP"),
        ("chains", "Chains of repeat call-outs", len(chains), "chains"),
        ("rows_in", "Rows read", int(counts["rows_in"].sum()), "rows"),
        ("rows_returned", "Rows returned", int(counts["returned"].sum()), "rows"),
    ]
    return pd.DataFrame(rows, columns=["key", "name", "value", "unit"]).astype({"value": "float64"})
