"""Sheets of `repeat-faults.xlsx` on groups and trends: what fails too often or gets worse, which months stand out."""

from __future__ import annotations

from typing import Any, Final

import pandas as pd

from reports.look import Field
from reports.native_charts import lines
from reports.native_charts import place as place_chart
from reports.workbook import Book
from schemas.results import Results

SHOWN_MONTHS: Final = 36
GROUPS: Final = (
    Field("grouped_by", "Grouped by", width=16),
    Field("group", "Group", "prose", 22),
    Field("named", "Fails too often", "word", 9),
    Field("valves", "Valves", "whole"),
    Field("exposure_years", "Valve-years watched (years)", "whole", 10),
    Field("observed", "Failures seen", "whole", 9),
    Field("expected", "Failures expected", "number", 10),
    Field("ratio", "Seen over expected", "fine", 10),
    Field("low", "At least (95 %)", "fine", 9),
    Field("high", "At most (95 %)", "fine", 9),
    Field("p_adjusted", "Chance, adjusted", "share", 10),
    Field("excess_call_outs", "Excess call-outs", "number", 10),
    Field("excess_cost_gbp", "Excess cost (£)", "money"),
    Field("p", "Chance, by itself", "share", 10, paper=False),
)
TRENDS: Final = (
    Field("group", "Scheme", "prose", 20),
    Field("trend", "Trend", "word", 17),
    Field("homes", "Homes", "whole"),
    Field("call_outs", "Faults", "whole"),
    Field("mean", "Faults a home to date", "fine", 9),
    Field("mean_low", "At least (95 %)", "fine", 9),
    Field("mean_high", "At most (95 %)", "fine", 9),
    Field("laplace", "Laplace", "fine", 9),
    Field("laplace_adjusted", "Chance, adjusted", "share", 10),
    Field("mil_hdbk", "MIL-HDBK-189", "number", 13),
    Field("mil_hdbk_adjusted", "Chance, adjusted", "share", 10),
    Field("growth", "Growth", "fine", 10),
    Field("power_law", "Power law", "word", 14),
    Field("months_above", "Months above", "whole"),
    Field("months_below", "Months below", "whole"),
    Field("home_years", "Home-years watched (years)", "whole", paper=False),
    Field("per_home_year", "Faults a home and year", "fine", paper=False),
    Field("laplace_p", "Laplace: chance by itself", "share", paper=False),
    Field("mil_hdbk_p", "MIL-HDBK-189: chance by itself", "share", paper=False),
    Field("misfit", "Misfit of the power law (Cramér-von Mises)", "fine", paper=False),
    Field("misfit_limit", "Its limit (10 %)", "fine", paper=False),
)
CURVE: Final = (
    Field("years", "Years since the watch began (years)", "fine", 14),
    Field("mean", "Faults a home", "fine", 12),
    Field("low", "At least (95 %)", "fine", 13),
    Field("high", "At most (95 %)", "fine", 13),
    Field("at_risk", "Homes watched", "whole", 12),
)
MONTHS: Final = (
    Field("month", "Month", "month", 14),
    Field("rate", "Faults a 100 homes", "number", 11),
    Field("expected_rate", "Expected", "number", 11),
    Field("low_rate", "Lower limit", "number", 11),
    Field("high_rate", "Upper limit", "number", 11),
    Field("out", "Stands out", "word", 11),
    Field("call_outs", "Faults", "whole", 9),
    Field("homes", "Homes watched", "whole", 10),
)
GROUPS_NOTE: Final = (
    "{tried} tried, {named} named. Each fault once. Expected: the whole stock's life over this group's own valves and "
    "watched time. Groups overlap. Ratios are drawn towards 1: a group's own failures are part of what "
    "is expected, and ages that the register lost are filled in by the stock's life."
)
TRENDS_NOTE: Final = (
    "Repeats of one fault are left out, the season is taken out. Laplace above 0, or growth above 1: more often. The "
    "two tests can disagree. Chances are adjusted for all rows."
)
CURVE_NOTE: Final = "Mean cumulative function of all homes; limits after Lawless and Nadeau assume nothing of repeats."
MONTHS_NOTE: Final = (
    "Faults of all homes against those expected of homes, days and season; beyond the exact limits chance takes a "
    "month in about 27 of 10,000, as long as faults come one by one at one steady rate (Poisson). In a large stock a "
    "slow rise, or what strikes many homes at once, puts runs of months outside: read them beside Trends. Charted: the "
    "last 36 months."
)


def add_groups(book: Book, results: Results, max_rows: int, paper_rows: int) -> None:
    """Add the sheets Groups, Trends, Faults a home and Months and limits.

    Args:
        book: The workbook.
        results: `tables["groups"]`; `summaries` trends, mean_cumulative, month_chart.
        max_rows: Longest sheet; a longer table is cut and names its CSV.
        paper_rows: Rows that go on paper.
    """
    groups = results.tables["groups"]
    note = GROUPS_NOTE.format(tried=f"{len(groups):,} groups", named=f"{groups['named'].eq('yes').sum():,}")
    marked = groups.assign(strong=groups["named"].eq("yes"))
    book.table(
        "Groups", "Groups that fail more often than the stock's life says", marked, GROUPS,
        note=note, max_rows=max_rows, csv="groups.csv", freeze=2, strong="strong", paper_rows=paper_rows,
    )  # fmt: skip
    trends = results.summaries["trends"]
    book.table(
        "Trends",
        "Do faults come more often? All homes, then schemes",
        trends,
        TRENDS,
        note=TRENDS_NOTE,
        paper_rows=paper_rows,
    )
    _curve(book, results.summaries["mean_cumulative"])
    _months(book, whole_stock(results.summaries["month_chart"]))


def whole_stock(chart: pd.DataFrame) -> pd.DataFrame:
    """The chart's last months of the group that comes first: all homes."""
    return chart.loc[chart["group"].eq(chart["group"].iloc[0])].tail(SHOWN_MONTHS) if len(chart) else chart


def _curve(book: Book, curve: pd.DataFrame) -> None:
    layout = book.table("Faults a home", "Faults a home since the watch began", curve, CURVE, note=CURVE_NOTE)
    if len(curve):
        chart = lines(
            layout, "Faults a home, with 95 % limits", "years", ("mean", "low", "high"), ("Years", "Faults a home")
        )
        chart.x_axis.number_format = "0"
        chart.x_axis.tickLblSkip = 4
        _laid(chart, layout)


def _months(book: Book, months: pd.DataFrame) -> None:
    marked = months.assign(strong=months["out"].ne(""))
    layout = book.table("Months and limits", "Months that stand out", marked, MONTHS, note=MONTHS_NOTE, strong="strong")
    if len(months):
        values = ("rate", "expected_rate", "low_rate", "high_rate")
        chart = lines(layout, "Faults a month and 100 homes", "month", values, ("Month", "Faults a 100 homes"))
        chart.x_axis.number_format = "mmm yy"
        _laid(chart, layout)


def _laid(chart: Any, layout: Any) -> None:
    """Beside the table, so that both print on one sheet of paper."""
    chart.height = 11
    place_chart(chart, layout.sheet, f"{chr(ord('B') + len(layout.columns))}5", 20)
