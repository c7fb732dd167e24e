"""What the commands print: short, in words, every number with its unit."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import pandas as pd

from schemas.backtest import Backtest
from schemas.results import CHANGE, SEVERITY_ORDER, Results
from schemas.sentences import SAFE_NOW, TO_DO, danger_of, how_good, parted, returned_danger, returned_dangers

CHANGES_SHOWN = 10  # visits that changed since the last plan, printed by `run`
DANGER_SHOWN = 10  # visits of danger left out, printed by `run`
SHOWN = 20  # problems printed by `check`; the rest is in returned-rows.xlsx


def run_lines(results: Results, out: Path) -> list[str]:
    """Tell the outcome of `run`: what was read, found and planned, and which file to open first."""
    found = results.tables["findings"]
    by_severity = found["severity"].value_counts()
    by_name = ", ".join(f"{by_severity.get(name, 0):,} {name}" for name in SEVERITY_ORDER)
    plan = results.plan
    lines = [
        f"As of {results.as_of:%d %B %Y}; quarter from {results.quarter_start:%d %B %Y}.",
        *returned_danger_lines(results),
        *count_lines(results.counts),
        f"Findings: {len(found):,} ({by_name}).",
        *danger_lines(results.tables["planned-visits"]),
        f"Planned: {counted(plan['visits_planned'], 'visit')}, {plan['hours_used']:,.1f} h, "
        f"£{plan['cost_gbp']:,.0f} excluding VAT; left out: {counted(plan['visits_left_out'], 'visit')}.",
        *filter(None, [how_good(plan)]),
        *scenario_lines(results.tables["scenarios"]),
        *change_lines(results.summaries.get("plan_changes", pd.DataFrame())),
        *said_lines(results.said),
        f"Open {out / 'work-list.xlsx'} or {out / 'summary.html'} first.",
    ]
    return lines


def backtest_lines(found: Backtest, out: Path) -> list[str]:
    """Tell the outcome of `backtest`: the answer, and which file to open first."""
    answer = found.said["about"].iloc[0]
    told = found.said.loc[found.said["about"].eq(answer), "sentence"]
    return [*told, f"Open {out / 'backtest.html'} or {out / 'backtest.xlsx'} first."]


def said_lines(said: Sequence[str]) -> list[str]:
    """Tell what to act on first, then how the books were read."""
    to_do, read = parted(said)
    return [*(f"{TO_DO}: {sentence}" for sentence in to_do), *(f"Note: {sentence}" for sentence in read)]


def returned_danger_lines(results: Results) -> list[str]:
    """Tell of the dangers that stand on returned rows, of which nothing else in the results speaks."""
    rows = returned_dangers(results)
    lines = [returned_danger(row) for row in rows.head(DANGER_SHOWN).to_dict("records")]
    if len(rows) > DANGER_SHOWN:
        lines.append(f"… and {len(rows) - DANGER_SHOWN:,} more such rows; returned-rows.xlsx lists them all.")
    return lines


def danger_lines(visits: pd.DataFrame) -> list[str]:
    """Tell first which danger is not in the plan, and why; then which is, since it must not wait for its visit."""
    danger = visits.loc[visits["severity"].eq("danger")]
    left, planned = (danger.loc[danger["status"].eq(status)] for status in ("left_out", "planned"))
    return [
        *_homes(f"DANGER NOT IN THE PLAN: {counted(len(left), 'visit')}; make these homes safe outside it:", left),
        *_homes(f"DANGER IN THE PLAN: {counted(len(planned), 'visit')}; {SAFE_NOW}:", planned),
    ]


def _homes(told: str, visits: pd.DataFrame) -> list[str]:
    """The sentence, and the first homes below it with what is said of their visits; nothing where there are none."""
    if visits.empty:
        return []
    lines = [told, *(f"  {home}: {what}." for home, what in danger_of(visits.head(DANGER_SHOWN)))]
    if len(visits) > DANGER_SHOWN:
        lines.append(f"  … and {len(visits) - DANGER_SHOWN:,} more; work-list.xlsx lists them all.")
    return lines


def scenario_lines(scenarios: pd.DataFrame) -> list[str]:
    """Tell what each extra hour or pound buys, a line a scenario."""
    lines = ["Scenarios (worth: the benefit, and what a fault put right counts besides):"] if len(scenarios) else []
    before: dict[Any, Any] = {"series": ""}
    for row in scenarios.to_dict("records"):
        each = _each(row, before["scenario"]) if row["series"] == before["series"] else ""
        before = row
        lines.append(
            f"  {row['scenario']}: {counted(row['visits_planned'], 'visit')}, {row['hours_used']:,.1f} h, "
            f"£{row['cost_gbp']:,.0f}, worth £{row['worth_gbp']:,.0f}; left out: {row['danger_left_out']:,} danger, "
            f"{counted(row['faults_left_out'], 'fault')}{each}"
        )
    return lines


def _each(row: Mapping[Any, Any], before: str) -> str:
    """Tell what each hour, or pound, more than the scenario before it brings; empty where there is no more of them."""
    name, what = ("per_extra_pound", "pound spent") if row["series"] == "budget" else ("per_extra_hour_gbp", "hour")
    worth = row[name]
    if pd.isna(worth):
        return ""
    if worth < 0:
        return f"; worth £{-row['extra_worth_gbp']:,.0f} less than '{before}', the hours lie in other weeks or patches"
    return f"; £{worth:,.2f} for each extra {what}, against '{before}'"


def change_lines(changes: pd.DataFrame) -> list[str]:
    """Tell what changed since the last plan: numbers, then first what matters: not used, danger, new, dropped."""
    if changes.empty:
        return []
    counts = changes["change"].value_counts()
    told = ", ".join(f"{counts[kind]:,} {kind}" for kind in CHANGE if kind in counts.index)
    lines = [f"Since the last plan: {told}."]
    danger = changes["severity"].eq("danger") & changes["change"].ne("done")
    order = changes["change"].map({"not used": 0, "new": 2, "dropped": 3}).fillna(4.0).mask(danger, 1.0)
    order = order.mask(changes["change"].eq("not used"), 0.0).sort_values(kind="stable")
    rows = changes.loc[order.index].loc[order.lt(4)]
    for row in rows.head(CHANGES_SHOWN).to_dict("records"):
        place = " → ".join(
            part for part in (_place(row, "was_team", "was_week"), _place(row, "team", "week_starting")) if part
        )
        lines.append(f"  {row['change']}: {row['home_id']}{f' ({place})' if place else ''}: {row['reason']}")
    if len(rows) > CHANGES_SHOWN:
        lines.append(f"  … and {len(rows) - CHANGES_SHOWN:,} more; work-list.xlsx lists them all.")
    return lines


def _place(row: Mapping[Any, Any], team: str, week: str) -> str:
    """A team and its week; empty where neither is known."""
    parts = [
        row[team] if isinstance(row[team], str) else "",
        "" if pd.isna(row[week]) else f"w/c {row[week]:%-d %b %Y}",
    ]
    return ", ".join(part for part in parts if part)


def counted(number: int, noun: str) -> str:
    """A number with its noun: 1 visit, 2 visits."""
    return f"{number:,} {noun}{'' if number == 1 else 's'}"


def check_lines(results: Results) -> list[str]:
    """Tell the outcome of `check`: counts, what was understood, and the first rows returned or repaired."""
    problems = results.problems
    lines = [*returned_danger_lines(results), *count_lines(results.counts), *map_lines(results.columns_toml)]
    lines += said_lines(results.said)
    for effect in ("returned", "repaired", "merged"):
        rows = problems.loc[problems["effect"].eq(effect)]
        if rows.empty:
            continue
        lines.append(f"{len(rows):,} {'cell or row' if len(rows) == 1 else 'cells or rows'} {effect}:")
        lines.extend(problem_lines(rows.head(SHOWN)))
        if len(rows) > SHOWN:
            lines.append(
                f"  … and {len(rows) - SHOWN:,} more; `check --out DIR` writes them all to returned-rows.xlsx."
            )
    return lines


def count_lines(counts: pd.DataFrame) -> list[str]:
    """Rows in, used, merged and returned, a line a table; tables that were not given are left out."""
    return [
        f"{row['table']}: {row['rows_in']:,} rows in = {row['used']:,} used + {row['merged']:,} merged "
        f"+ {row['returned']:,} returned"
        for row in counts.to_dict("records")
        if row["rows_in"]
    ]


def map_lines(columns_toml: str) -> list[str]:
    """How every header was understood, a line a column, from the text of columns.toml."""
    lines = []
    for table in tomllib.loads(columns_toml).get("tables", []):
        sheet = f"[{table['sheet']}]" if table["sheet"] else ""
        lines.append(f"{table['file']}{sheet}, header in row {table['row']}, read as {table['table']}:")
        shown = {
            name: " + ".join([value["header"], *value.get("more", ())]) if isinstance(value, dict) else value
            for name, value in table["columns"].items()
        }
        lines.append("  " + "; ".join(f"{header!r} is {name}" for name, header in shown.items()))
    return lines


def problem_lines(problems: pd.DataFrame) -> list[str]:
    """One sentence a problem: where, what stood there, why, and the mend."""
    lines = []
    for row in problems.astype("object").where(problems.notna(), "").to_dict("records"):
        sheet = f"[{row['sheet']}]" if row["sheet"] else ""
        place = f"  {row['file']}{sheet} row {row['row']:.0f}" if row["row"] != "" else f"  {row['file']}{sheet}"
        column = f", column {row['column']}" if row["column"] else ""
        value = f": {str(row['value'])[:60]!r}" if row["value"] != "" else ""
        lines.append(f"{place}{column}{value}: {row['reason']}; {row['mend']}")
    return lines
