"""Sheets on the years ahead: policies of renewal side by side, year by year and month by month, and in words."""

from __future__ import annotations

from typing import Any, Final

from reports.front import Section, add_front
from reports.look import Field, cell
from reports.native_charts import lines, place
from reports.workbook import Book, Layout
from schemas.results import Results

SIDE_BY_SIDE: Final = (
    ("spend_gbp", "Spend (£)", 14),
    ("failures", "Failures", 12),
    ("winter_failures", "Winter failures", 12),
    ("drain_downs", "Drain-downs", 12),
)
CHARTS: Final = (
    ("spend_gbp", "Spend by policy, not discounted", "£ a year, today's prices"),
    ("failures", "Failures by policy", "Failures a year"),
    ("winter_failures", "Winter failures (November to April)", "Failures"),
    ("drain_downs", "Drain-downs by policy", "Drain-downs a year"),
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
WIDTHS: Final = (14.0,) * 13  # characters, of the sheet of charts
CHART_ROWS: Final = 18  # of the sheet, that a chart covers
SECOND: Final = "H"  # column where the second chart of a row begins


def add_years(book: Book, results: Results) -> None:
    """Add 'Years ahead' (charts), 'Years side by side', 'Years by policy', 'Months ahead' and 'Years in words'."""
    tables = results.summaries
    names = dict(zip(tables["forecast_totals"]["policy"], tables["forecast_totals"]["name"], strict=True))
    said = tables["forecast_said"]
    sheet = book.sheet("Years ahead", WIDTHS)
    sheet.append([cell(sheet, "Years ahead: three policies of renewal", "title")])
    cheapest = said.loc[said["about"].eq(said["about"].iloc[0]), "sentence"]
    for sentence in cheapest:
        sheet.append([cell(sheet, sentence, "note")])
    _draw(sheet, len(cheapest) + 3, _side_by_side(book, results, names), list(names))
    note = "Expected, and the limits of the 80 % interval. Money is not discounted, at today's prices, without VAT."
    book.table("Years by policy", "Years ahead, policy by policy", results.tables["forecast"], BY_POLICY, note=note)
    _months(book, results, names)
    sections = [
        Section(str(about), [(f"Note {number}", text) for number, text in enumerate(rows["sentence"], 1)])
        for about, rows in said.groupby("about", sort=False)
    ]
    add_front(book, "Years in words", "Years ahead: what they rest on", sections)


def _side_by_side(book: Book, results: Results, names: dict[str, str]) -> Layout:
    fields = [Field("year", "Year", "whole", 6), Field("year_ends", "Year ends", "date", 14)]
    fields += [
        Field(f"{column} {policy}", f"{header}: {name}", "whole", width)
        for column, header, width in SIDE_BY_SIDE
        for policy, name in names.items()
    ]
    note = "What is expected of each policy in each year. Money is not discounted, at today's prices, without VAT."
    frame = results.summaries["forecast_by_year"]
    return book.table("Years side by side", "Years ahead, policies side by side", frame, fields, note=note, freeze=2)


def _draw(sheet: Any, first_row: int, source: Layout, policies: list[str]) -> None:
    """Put the charts in two columns on a sheet."""
    for number, (column, title, unit) in enumerate(CHARTS):
        columns = [f"{column} {policy}" for policy in policies]
        chart = lines(source, title, "year", columns, ("Year ahead", unit))
        chart.y_axis.number_format = "#,##0"
        place(chart, sheet, f"{SECOND if number % 2 else 'A'}{first_row + CHART_ROWS * (number // 2)}")


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
