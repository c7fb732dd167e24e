"""Counts for the stock summary, the work list and the page. The reports show them and compute nothing.

`summaries` gives these tables, and `chain_visits` its own; "not recorded" stands for a missing group, shares are
between 0 and 1:

| table | one row a | columns |
|---|---|---|
| `headline` | number to show first | key, name, value, unit |
| `by_scheme`, `by_kind`, `by_place` | scheme, head kind, location | group, homes, valves, head_age_median_years, \
head_age_unknown, heads_past_life, bodies_past_life, too_hot, call_outs_12m, call_outs_per_100, danger, fault, money, \
record (valves with such a finding), motor, head, full (jobs), jobs, hours, cost_gbp, benefit_gbp; what names no \
valve is counted in its scheme, and under "no one valve" by kind and place |
| `age_bands` | band of years | band, heads, bodies (valves), head_share, body_share |
| `temperature_bands` | reading and band | reading, band, readings, past_limit (yes/no), limit (in words) |
| `options_cost` | grouping, group and option | grouped_by (all, scheme, kind, place), group, option, valves, \
feasible, chosen, cost_now_median_gbp, cost_now_gbp, expected_later_gbp, total_gbp, benefit_gbp (sums over the chosen) |
| `findings_by_rule` | rule that fired | rule, severity, findings, homes, valves |
| `worst_homes` | home with a danger, fault or money finding, worst first | home_id, scheme, severity, danger, fault, \
money (findings), statement, action, limit_source (of its worst finding), when (its first visit, or why none) |
| `findings_by_severity` | severity | severity, findings, homes, valves |
| `week_load` | team and week | team, week_starting, hours_there, hours_used, share, visits, drain_downs |
| `weeks` | week | week_starting, hours_there, hours_used, share, visits, drain_downs |
| `parts_total` | part | part, name, pieces, visits |
| `left_out` | reason | reason, visits, danger (visits), hours, cost_gbp, benefit_gbp |
| `chain_visits` | chain and visit | chain, then visit_id, valve_id, reported, completed, kind, symptom, outcome, \
cause, action, engineer, cost_gbp, notes, wait_days, shows |
| `months` | calendar month, the last 36 | see `audit.repeats.monthly` |
| `trends`, `mean_cumulative`, `month_chart` | scheme, quarter, month | see `audit.trends.table` |
| `fixes_held` | action | see `audit.repeats.held` |
| `clues` | clue | clue, then points for each hypothesis, by its label |
| `records` | table read | table, rows_in, used, merged, returned, used_share |
| `reasons` | reason a row was not used as it stood | table, effect, column, reason, rows |
"""

from __future__ import annotations

import pandas as pd

from audit.model import Facts
from audit.policy import Policy
from audit.repeats import fixes_held, hypothesis_table, repeat_rate
from audit.repeats.text import short_day
from audit.stock_counts import GROUPINGS, age_bands, by_group, options_cost, stock_rows, temperature_bands
from schemas import words as w
from schemas.results import SEVERITY_ORDER

MONTHS_SHOWN = 36
NUMBERS = {r" \([^)]*\)": "", r"[0-9.]+ h\b": "its hours", r"£[0-9,.]*[0-9]": "its cost"}  # of one visit: of any
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
    stock = stock_rows(facts, findings, jobs)
    planned = visits.loc[visits["status"].eq("planned")]
    left = visits.loc[visits["status"].eq("left_out")]
    week_load = _week_load(planned, capacity, policy)
    parts = _parts(planned)
    return {
        "headline": _headline(facts, findings, planned, left, chains, week_load, counts),
        **{f"by_{name}": by_group(stock, column) for name, column in GROUPINGS.items()},
        "age_bands": age_bands(facts.valves),
        "temperature_bands": temperature_bands(facts, policy),
        "options_cost": options_cost(options, stock),
        "findings_by_rule": _findings_by(findings, ["rule", "severity"]),
        "worst_homes": _worst_homes(findings, visits),
        "findings_by_severity": _findings_by(findings, ["severity"]),
        "week_load": week_load,
        "weeks": _with_share(week_load.groupby("week_starting", as_index=False)[list(LOAD)].sum()),
        "parts_total": _parts_total(parts),
        "left_out": _left_out(left),
        "months": repeat_rate(facts, policy, MONTHS_SHOWN),
        "fixes_held": fixes_held(facts, policy),
        "clues": hypothesis_table(),
        "records": counts.assign(used_share=counts["used"] / counts["rows_in"].where(counts["rows_in"].gt(0))),
        "reasons": _reasons(problems),
    }


def _findings_by(findings: pd.DataFrame, columns: list[str]) -> pd.DataFrame:
    table = findings.groupby(columns, as_index=False).agg(
        findings=("rule", "size"), homes=("home_id", "nunique"), valves=("valve_id", "nunique")
    )
    place = {name: order for order, name in enumerate(w.SEVERITY)}
    ranked = table.assign(place=table["severity"].map(place)).sort_values(
        ["place", "findings", columns[0]], ascending=[True, False, True], kind="stable"
    )
    return ranked.drop(columns="place").reset_index(drop=True)


def _worst_homes(findings: pd.DataFrame, visits: pd.DataFrame) -> pd.DataFrame:
    """One row a home, by its worst finding and then by how many there are."""
    acts = findings.loc[findings["severity"].ne("record") & findings["home_id"].notna()].sort_values("rank")
    counts = {name: acts["severity"].eq(name) for name in ACTED_ON}
    worst = acts.drop_duplicates("home_id").set_index("home_id")
    table = worst[["scheme", "severity", "statement", "action", "limit_source", "valve_id", "rank"]].join(
        acts[["home_id"]].assign(**counts).groupby("home_id").sum()
    )
    first = visits.sort_values(["week_starting", "rank"], kind="stable").drop_duplicates("home_id").set_index("home_id")
    first = first[["status", "team", "week_starting"]].reindex(table.index)
    when = "week of " + short_day(first["week_starting"]) + ", " + first["team"]
    when = when.fillna("planned").mask(first["status"].eq("left_out"), "left out").mask(first["status"].isna(), "")
    table = table.assign(when=when.astype("str"), place=table["severity"].map(SEVERITY_ORDER))
    keys = ["place", *ACTED_ON, "rank"]
    order = table.sort_values(keys, ascending=[True, False, False, False, True], kind="stable")
    return order.drop(columns=["place", "rank"]).reset_index()


ACTED_ON = ("danger", "fault", "money")  # severities that ask for work
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
    plain = left["reason"].fillna("no reason given").str.split(";").str[0]
    for own, any_visits in NUMBERS.items():
        plain = plain.str.replace(own, any_visits, regex=True)
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


def chain_visits(rows: pd.DataFrame, chains: pd.DataFrame) -> pd.DataFrame:
    """Choose what the reports show of the visits of `audit.repeats.followed`, chain by chain in date order."""
    columns = ["chain", *CHAIN_VISIT, "engineer", "cost_gbp", "notes", "wait_days", "shows"]
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
        ("valves_with_finding", "Valves with a finding of any kind", findings["valve_id"].nunique(), "valves"),
        ("planned_visits", "Visits planned", len(planned), "visits"),
        ("planned_hours", "Hours planned", planned["hours"].sum(), "h"),
        ("hours_there", "Hours there in the quarter", week_load["hours_there"].sum(), "h"),
        ("planned_cost", "Cost of the planned visits", planned["cost_gbp"].sum(), "GBP"),
        ("planned_benefit", "Benefit of the planned visits", planned["benefit_gbp"].sum(), "GBP"),
        ("planned_drain_downs", "Visits that drain down", int(planned["drain_down"].eq("yes").sum()), "visits"),
        ("left_out_visits", "Visits left out", len(left), "visits"),
        ("left_out_hours", "Hours left out", left["hours"].sum(), "h"),
        ("left_out_benefit", "Benefit forgone by leaving them out", left["benefit_gbp"].clip(lower=0.0).sum(), "GBP"),
        ("chains", "Chains of repeat call-outs", len(chains), "chains"),
        ("rows_in", "Rows read", int(counts["rows_in"].sum()), "rows"),
        ("rows_returned", "Rows returned", int(counts["returned"].sum()), "rows"),
    ]
    return pd.DataFrame(rows, columns=["key", "name", "value", "unit"]).astype({"value": "float64"})
