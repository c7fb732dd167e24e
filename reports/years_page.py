"""The page's section on the years ahead: charts of failures and spend by policy, sums, and what they rest on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.front import pounds
from reports.svg import Bar, columns
from reports.svg_lines import Line, lines
from schemas.results import Results

if TYPE_CHECKING:
    import pandas as pd


def years(results: Results) -> dict[str, Any]:
    """What the section shows: charts, rows of the table, sentences, and the number of years; nothing where empty."""
    forecast, tables = results.tables["forecast"], results.summaries
    if forecast.empty:
        return {}
    totals = tables["forecast_totals"]
    names = dict(zip(totals["policy"], totals["name"], strict=True))
    said = tables["forecast_said"]
    best = totals.loc[totals["cheapest"].eq("yes")].iloc[0]
    months = _months(tables["forecast_months"], best["policy"])
    return {
        "cheapest": best["name"],
        "count": int(forecast["year"].max()),
        "failures": _chart("ahead-failures", "Failures a year by policy", forecast, names, "failures"),
        "spend": _chart("ahead-spend", "Spend a year by policy", forecast, names, "spend"),
        "months": columns("ahead-months", "Failures to expect by month", months, every=12),
        "totals": totals.to_dict("records"),
        "said": [
            (str(about), rows["sentence"].astype(str).tolist()) for about, rows in said.groupby("about", sort=False)
        ],
    }


def _months(months: pd.DataFrame, policy: str) -> list[Bar]:
    """Failures month by month under one policy."""
    return [
        Bar(f"{row['month']:%b %Y}", each, f"{each:,.1f} failures", of=each)
        for row in months.to_dict("records")
        for each in [row[f"failures {policy}"]]
    ]


def _chart(identity: str, title: str, forecast: pd.DataFrame, names: dict[str, str], what: str) -> Any:
    unit = "£" if what == "spend" else ""
    column = "spend_gbp" if what == "spend" else what
    rows = [
        Line(
            label=name,
            values=own[column].tolist(),
            low=own[f"{what}_low"].tolist(),
            high=own[f"{what}_high"].tolist(),
            text=" to ".join(_said(own[column].iloc[at], unit) for at in (0, -1)) + " from the first year to the last",
        )
        for policy, name in names.items()
        for own in [forecast.loc[forecast["policy"].eq(policy)]]
    ]
    return lines(identity, title, rows, unit)


def _said(value: float, unit: str) -> str:
    return pounds(value) if unit else f"{value:,.0f}"
