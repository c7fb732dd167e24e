"""Sheets on the years ahead: policies of renewal side by side, year by year and month by month, and in words."""

from __future__ import annotations

from typing import Final

from openpyxl.utils import get_column_letter

from reports.front import Section, add_front
from reports.look import Field
from reports.native_charts import lines, place
from reports.workbook import Book, Layout
from schemas.results import Results

SIDE_BY_SIDE: Final = (
    ("spend_gbp", "Spend (£)", 14),
    ("failures", "Failures", 12),
    ("winter_failures", "Winter failures", 12),
    ("drain_downs", "Drain-downs", 12),
)
BY_POLICY: Final = (
    Field("policy", "Policy", "word", 15),
    Field("year", "Year", "whole", 6),
    Field("year_ends", "Year ends", "date", 14),
    Field("failures", "Failures", "number", 10),
    Field("failures_low", "Failures, lower 80 % limit", "number", 10),
    Field("failures_high", "Failures, upper 80 % limit", "number", 10),
    Field("winter_failures", "Winter failures", "number", 10),
    Field("head_failures", "Heads failed", "number", 10),
    Field("body_failures", "Bodies failed", "number", 10),
    Field("drain_downs", "Drain-downs", "number", 10),
    Field("planned_motors", "Motors renewed in time", "number", 10),
    Field("planned_heads", "Heads renewed in time", "number", 10),
    Field("planned_valves", "Valves renewed in time", "number", 10),
    Field("spend_gbp", "Spend (£)", "money", 14),
    Field("spend_low", "Spend, lower 80 % limit (£)", "money", 14),
    Field("spend_high", "Spend, upper 80 % limit (£)", "money", 14),
)
CHART_ROWS: Final = 19  # of the sheet, that a chart covers


def add_years(book: Book, results: Results) -> None:
    """Add the sheets 'Years ahead', 'Years by policy', 'Months ahead' and 'Years in words'."""
    tables = results.summaries
    names = dict(zip(tables["forecast_totals"]["policy"], tables["forecast_totals"]["name"], strict=True))
    said = tables["forecast_said"]
    _years(book, results, names, str(said["sentence"].iloc[0]))
    note = "Expected, and the limits of the 80 % interval. Money is not discounted, at today's prices, without VAT."
    book.table("Years by policy", "Years ahead, policy by policy", results.tables["forecast"], BY_POLICY, note=note)
    _months(book, results, names)
    sections = [
        Section(str(about), [(f"Note {number}", text) for number, text in enumerate(rows["sentence"], 1)])
        for about, rows in said.groupby("about", sort=False)
    ]
    add_front(book, "Years in words", "Years ahead: what they rest on", sections)


def _years(book: Book, results: Results, names: dict[str, str], cheapest: str) -> None:
    fields = [Field("year", "Year", "whole", 6), Field("year_ends", "Year ends", "date", 14)]
    fields += [
        Field(f"{column} {policy}", f"{header}: {name}", "whole", width)
        for column, header, width in SIDE_BY_SIDE
        for policy, name in names.items()
    ]
    frame = results.summaries["forecast_by_year"]
    layout = book.table("Years ahead", "Years ahead: three policies of renewal", frame, fields, note=cheapest)
    right = get_column_letter(9)
    for number, (column, title, unit) in enumerate(
        (
            ("spend_gbp", "Spend by policy, not discounted", "£ a year, today's prices"),
            ("failures", "Failures by policy", "Failures a year"),
            ("winter_failures", "Winter failures (November to April)", "Failures"),
            ("drain_downs", "Drain-downs by policy", "Drain-downs a year"),
        )
    ):
        chart = lines(layout, title, "year", [f"{column} {policy}" for policy in names], ("Year ahead", unit))
        chart.y_axis.number_format = "#,##0"
        below = layout.last_row + 3 + CHART_ROWS * (number // 2)
        place(chart, layout.sheet, f"{'A' if number % 2 == 0 else right}{below}")


def _months(book: Book, results: Results, names: dict[str, str]) -> Layout:
    columns = [f"failures {policy}" for policy in names]
    fields = [Field("month", "Month", "month", 12)]
    fields += [
        Field(column, f"Failures: {name}", "number", 16) for column, name in zip(columns, names.values(), strict=True)
    ]
    note = "Each year's failures, spread over its months as the log's season tells."
    frame = results.summaries["forecast_months"]
    layout = book.table("Months ahead", "Failures to expect, month by month", frame, fields, note=note)
    chart = lines(layout, "Failures by month and policy", "month", columns, ("Month", "Failures a month"))
    place(chart, layout.sheet, "F5")
    return layout
