"""What the commands print: short, in words, every number with its unit."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pandas as pd

from schemas.results import SEVERITY_ORDER, Results

SHOWN = 20  # problems printed by `check`; the rest is in returned-rows.xlsx


def run_lines(results: Results, out: Path) -> list[str]:
    """Tell the outcome of `run`: what was read, found and planned, and which file to open first."""
    found = results.tables["findings"]
    by_severity = found["severity"].value_counts()
    counted = ", ".join(f"{by_severity.get(name, 0):,} {name}" for name in SEVERITY_ORDER)
    plan = results.plan
    lines = [
        f"As of {results.as_of:%d %B %Y}; quarter from {results.quarter_start:%d %B %Y}.",
        *count_lines(results.counts),
        f"Findings: {len(found):,} ({counted}).",
        f"Planned: {plan['visits_planned']:,} visits, {plan['hours_used']:,.1f} h, "
        f"£{plan['cost_gbp']:,.0f} excluding VAT; left out: {plan['visits_left_out']:,} visits.",
        *(f"Note: {sentence}" for sentence in results.said),
        f"Open {out / 'work-list.xlsx'} or {out / 'summary.html'} first.",
    ]
    return lines


def check_lines(results: Results) -> list[str]:
    """Tell the outcome of `check`: counts, what was understood, and the first rows returned or repaired."""
    problems = results.problems
    lines = [*count_lines(results.counts), *map_lines(results.columns_toml)]
    lines += [f"Note: {sentence}" for sentence in results.said]
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
            name: value["header"] if isinstance(value, dict) else value for name, value in table["columns"].items()
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
