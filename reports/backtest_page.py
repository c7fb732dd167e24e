"""`backtest.html`: the backtest as one self-contained page, in the look of the summary page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from reports.page import environment
from reports.svg import Bar, Between, bars, columns_with_limits
from schemas.backtest import ORDER, TOP, Backtest

if TYPE_CHECKING:
    import pandas as pd
    from markupsafe import Markup

FILES: Final = (
    ("backtest.xlsx", "the same as a workbook, with every failed valve and the ranking"),
    ("backtest-ranking.csv", "tidy table: every valve then in service, and what became of it"),
)


def write(found: Backtest, path: Path) -> None:
    """Write the page."""
    path.write_bytes(render(found).encode("utf-8", "replace"))


def render(found: Backtest) -> str:
    """The page as HTML; every text from outside is escaped."""
    content: dict[str, Any] = {
        "found": found,
        "figures": found.figures.to_dict("records"),
        "said": {str(name): rows["sentence"].tolist() for name, rows in found.said.groupby("about", sort=False)},
        "caught": _caught(found.capture),
        "chances": _chances(found.calibration),
        "capture": _table(found.capture),
        "shares": [f"{share:.0%}" for share in found.capture["share"].unique()],
        "calibration": found.calibration.to_dict("records"),
        "top": f"{TOP:.0%}",
        "files": FILES,
        "inputs": found.inputs.to_dict("records"),
    }
    return environment().get_template("backtest.html.j2").render(**content)


def _caught(capture: pd.DataFrame) -> Markup:
    rows = [
        Bar(
            str(order),
            float(row["caught_share"]),
            f"{row['caught_share']:.1%} (90 %: {row['caught_share_low']:.1%} to {row['caught_share_high']:.1%})",
            of=1.0,
        )
        for order, row in capture.loc[capture["share"].eq(TOP)].set_index("order").iterrows()
    ]
    return bars("caught", f"Share of the failed valves in the first {TOP:.0%}", rows)


def _chances(calibration: pd.DataFrame) -> Markup:
    rows = [
        Between(
            f"{row['tenth']:.0f}",
            float(row["expected"]),
            float(row["low"]),
            float(row["high"]),
            f"{row['expected']:,.1f} expected, {row['observed']:,.0f} seen (90 %: {row['low']:,.1f} to "
            f"{row['high']:,.1f})",
            "▲" if row["expected"] < row["low"] else "▼" if row["expected"] > row["high"] else "",
        )
        for row in calibration.to_dict("records")
    ]
    return columns_with_limits("chances", "Failures expected, and limits of those seen, by tenth", rows, every=1)


def _table(capture: pd.DataFrame) -> list[dict[str, Any]]:
    """One row an order: its meaning, what each share catches, and what the first tenth costs."""
    return [
        {
            "order": order,
            "meaning": ORDER[order],
            "told": [
                f"{row['caught_share']:.1%} ({row['caught_share_low']:.1%} to {row['caught_share_high']:.1%})"
                for row in rows
            ],
            "top": next(row for row in rows if row["share"] == TOP),
        }
        for order in capture["order"].unique()
        for rows in [capture.loc[capture["order"].eq(order)].to_dict("records")]
    ]
