"""`stock-summary.xlsx`: the asset manager's book. The stock by age, kind and place; options, money, years ahead."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from openpyxl.utils import get_column_letter

from reports.front import Section, add_front, how_read, numbers, to_do, when
from reports.look import Field
from reports.native_charts import bars, place
from reports.record_quality import add_quality
from reports.what_if import add_what_if
from reports.workbook import Book, Layout
from reports.years_ahead import add_years
from schemas import words as w
from schemas.results import CAUTIONS, Results
from schemas.sentences import AFTER_COST, AFTER_COST_SAID

TITLE: Final = "Stock summary: motorised heating valves"
GROUP: Final = (
    Field("homes", "Homes", "whole", 8),
    Field("valves", "Valves", "whole", 8),
    Field("head_age_median_years", "Median head age (years)", "number", 10),
    Field("head_age_unknown", "Head age not known", "whole", 10),
    Field("heads_past_life", "Heads past service life", "whole", 10),
    Field("bodies_past_life", "Bodies past service life", "whole", 10),
    Field("too_hot", "In too hot a place", "whole", 9),
    Field("call_outs_12m", "Call-outs, 12 months", "whole", 10),
    Field("call_outs_per_100", "Call-outs per 100 valves", "number", 10),
    Field("danger", "◆ Danger (valves or homes)", "whole", 10),
    Field("fault", "▲ Fault (valves or homes)", "whole", 10),
    Field("money", "● Money (valves or homes)", "whole", 10),
    Field("record", "○ Record (valves or homes)", "whole", 10),
    Field("motor", "New motor", "whole", 8),
    Field("head", "New head", "whole", 8),
    Field("full", "Whole valve", "whole", 8),
    Field("hours", "Hours of work (h)", "number", 10),
    Field("cost_gbp", "Cost of work (£)", "money", 13),
    Field("benefit_gbp", f"{AFTER_COST} (£)", "money", 13),
)
GROUPS: Final = (
    ("by_scheme", "By scheme", "Scheme", "text"),
    ("by_kind", "By kind", "Head kind", "word"),
    ("by_place", "By place", "Location", "word"),
)
AGES: Final = (
    Field("band", "Age (years)", width=14),
    Field("heads", "Heads (valves)", "whole", 12),
    Field("head_share", "Share of heads", "share", 10),
    Field("bodies", "Bodies (valves)", "whole", 12),
    Field("body_share", "Share of bodies", "share", 10),
)
TEMPERATURES: Final = (
    Field("reading", "Reading", width=20),
    Field("band", "Band (°C)", width=16),
    Field("readings", "Latest readings", "whole", 12),
    Field("past_limit", "Past the limit", width=10),
    Field("limit", "Limit", width=16),
)
OPTIONS: Final = (
    Field("grouped_by", "Grouped by", "word", 11),
    Field("group", "Group", "word", 26),
    Field("option", "Option", "word", 9),
    Field("valves", "Valves that work is asked for", "whole", 12),
    Field("feasible", "Possible for", "whole", 10),
    Field("chosen", "Chosen for", "whole", 10),
    Field("cost_now_median_gbp", "Median cost now (£)", "money", 12),
    Field("cost_now_gbp", "Cost now, chosen (£)", "money", 14),
    Field("expected_later_gbp", "Cost later, chosen (£)", "money", 14),
    Field("total_gbp", "Total, chosen (£)", "money", 14),
    Field("benefit_gbp", f"{AFTER_COST}, chosen (£)", "money", 14),
)
BY_RULE: Final = (
    Field("rule", "Rule", width=30),
    Field("severity", "Severity", "severity", 12),
    Field("findings", "Findings", "whole", 10),
    Field("homes", "Homes", "whole", 10),
    Field("valves", "Valves", "whole", 10),
)
RECORDS: Final = (
    Field("table", "Table", width=14),
    Field("rows_in", "Rows in", "whole", 12),
    Field("used", "Used", "whole", 12),
    Field("merged", "Merged", "whole", 12),
    Field("returned", "Returned", "whole", 12),
    Field("used_share", "Used", "share", 10),
)
RULES: Final = (
    Field("rule", "Rule", width=28),
    Field("family", "Family", width=11),
    Field("severity", "Severity", "severity"),
    Field("fires", "Fires when", "prose", 44),
    Field("limit", "Limit", "prose", 40),
    Field("source", "Where the limit comes from", "prose", 40),
    Field("needs", "Needs", "prose", 34),
    Field("action", "What to do", "prose", 44),
)
POLICY: Final = (
    Field("name", "Limit", width=34),
    Field("value", "Value", "any", 12),
    Field("unit", "Unit", width=18),
    Field("meaning", "Meaning", "prose", 60),
    Field("source", "Where it comes from", "prose", 60),
)
NUMBERS: Final = (
    "homes",
    "valves",
    "visits_read",
    "danger",
    "fault",
    "money",
    "record",
    "valves_with_finding",
    "planned_visits",
    "planned_cost",
    "planned_benefit",
    "left_out_benefit",
    "chains",
    "rows_returned",
)
SEVERE: Final = ("8C1D1D", "C9822B")  # danger, fault
TALLEST: Final = 15  # groups drawn in a chart


def write(results: Results, path: Path, max_rows: int) -> None:
    """Write the asset manager's workbook.

    Args:
        results: Everything the audit found.
        path: The file.
        max_rows: Longest sheet; longer tables are cut.
    """
    book = Book(TITLE, results.as_of)
    _summary(book, results)
    for key, name, header, form in GROUPS:
        _group(book, results, key, name, Field("group", header, "word" if form == "word" else "text", 24), max_rows)
    _ages(book, results)
    _temperatures(book, results)
    _options(book, results, max_rows)
    add_what_if(book, results)
    add_years(book, results)
    _by_rule(book, results)
    book.table("Records", "Rows in = used + merged + returned", results.summaries["records"], RECORDS)
    add_quality(book, results)
    note = "The catalogue in force. Where it says common practice, no published source stands behind the limit."
    book.table("Rules", "Rules", results.rules, RULES, note=note)
    note = "Every limit, weight, window and assumed price. A policy file of your own overrides single values."
    book.table("Policy", "Policy in force", results.policy, POLICY, note=note)
    book.save(path)


def _summary(book: Book, results: Results) -> None:
    add_front(
        book,
        "Summary",
        TITLE,
        (
            Section(
                "What this is",
                (
                    (
                        "The stock",
                        "Every motorised heating valve of the portfolio by scheme, kind, place and age, with what the "
                        "audit found and what it would cost. Age alone never makes a home unfit.",
                    ),
                    *when(results),
                ),
            ),
            Section("In numbers", numbers(results.summaries["headline"], NUMBERS)),
            to_do(results),
            Section("Cautions for whoever does work", [(f"Caution {n}", text) for n, text in enumerate(CAUTIONS, 1)]),
            how_read(results),
        ),
    )


def _group(book: Book, results: Results, key: str, name: str, group: Field, max_rows: int) -> None:
    layout = book.table(
        name,
        f"The stock {name.lower()}",
        results.summaries[key],
        (group, *GROUP),
        note="Most with a danger or fault first: of each severity a valve counts once, and a home once where a finding "
        "names no valve; several findings on one are one here. A call-out of the last 12 months counts once, in its "
        "home's scheme and at the first valve named; reports of one day, or while one is open, are one. Work and cost "
        "as in the job list: the visit's own call-out and VAT left out. "
        f"{AFTER_COST_SAID}",
        max_rows=max_rows,
    )
    if layout.last_row == layout.header_row:
        return
    rows = layout.last_row - layout.header_row
    shown = f", first {TALLEST} of {rows}" if rows > TALLEST else ""
    below = layout.last_row + 3
    axes = (group.header, "Valves or homes")
    worst = bars(
        layout,
        f"Valves or homes with a danger or fault{shown}",
        "group",
        ("danger", "fault"),
        axes,
        rows=TALLEST,
        lying=True,
        stacked=True,
        colours=SEVERE,
    )
    place(worst, layout.sheet, f"A{below}")
    calls = bars(
        layout,
        f"Call-outs per 100 valves, 12 months{shown}",
        "group",
        ("call_outs_per_100",),
        (group.header, "Call-outs per 100 valves"),
        rows=TALLEST,
        lying=True,
    )
    place(calls, layout.sheet, f"I{below}")


def _ages(book: Book, results: Results) -> None:
    note = "Counted on the as-of date in whole years. An age past its limit is a reason to look, never a verdict."
    layout = book.table("Ages", "Ages of heads and bodies", results.summaries["age_bands"], AGES, note=note)
    below = layout.last_row + 2
    for name, title, column in (("heads", "Heads by age", "A"), ("bodies", "Bodies by age", "H")):
        chart = bars(layout, title, "band", (name,), ("Age (years)", "Valves"))
        place(chart, layout.sheet, f"{column}{below}", 13.2)  # both beside each other on one sheet of paper


def _temperatures(book: Book, results: Results) -> None:
    note = "Latest reading of each valve or home. The limit is an edge of the bands; 'past the limit' says which side."
    table = results.summaries["temperature_bands"]
    layout = book.table("Temperatures", "Temperatures", table, TEMPERATURES, note=note)
    for order, (reading, rows) in enumerate(table.groupby("reading", sort=False)):
        first = layout.header_row + 1 + int(rows.index[0])
        title = f"{str(reading).capitalize()}: limit {rows['limit'].iloc[0]}"
        chart = bars(
            layout,
            title,
            "band",
            ("readings",),
            ("Temperature (°C)", "Readings"),
            rows=len(rows),
            first_row=first,
            lying=True,
        )
        chart.height = 6.4  # three of them as tall as the table, so that all print on one sheet of paper
        place(chart, layout.sheet, f"{'G' if order % 2 == 0 else 'O'}{5 + 12 * (order // 2)}", 12.0)


def _options(book: Book, results: Results, max_rows: int) -> None:
    note = "; ".join(f"{option}: {meaning}" for option, meaning in w.OPTION.items()) + "."
    layout = book.table(
        "Options and cost",
        "Options and what they cost",
        results.summaries["options_cost"],
        OPTIONS,
        note=f"{note} GBP excluding VAT; later cost is discounted. {AFTER_COST_SAID} "
        "Below £0 stands what pays only where the home's call-out is shared (options.csv tells of each).",
        max_rows=max_rows,
        csv="options.csv",
        freeze=3,
    )
    if layout.last_row > layout.header_row:
        column = get_column_letter(len(OPTIONS) + 2)
        rows = len(w.OPTION)
        chart = bars(
            layout,
            "Option chosen, all valves that work is asked for",
            "option",
            ("chosen",),
            ("Option", "Valves"),
            rows=rows,
        )
        place(chart, layout.sheet, f"{column}5")
        cost = ("cost_now_gbp", "expected_later_gbp")
        chart = bars(
            layout, "Cost of the chosen options", "option", cost, ("Option", "GBP excl. VAT"), rows=rows, stacked=True
        )
        place(chart, layout.sheet, f"{column}24")


def _by_rule(book: Book, results: Results) -> Layout:
    table = results.summaries["findings_by_rule"]
    layout = book.table("Findings by rule", "Findings by rule, most severe first", table, BY_RULE)
    if layout.last_row > layout.header_row:
        chart = bars(layout, "Findings by rule", "rule", ("findings",), ("Rule", "Findings"), lying=True)
        place(chart, layout.sheet, "G5", 20)
    return layout
