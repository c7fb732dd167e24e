"""`backtest.xlsx`: how well an earlier day's ranking did. In words first, then the tables behind the words."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

from reports.front import Section, add_front, long_date
from reports.look import Field
from reports.native_charts import bars, place
from reports.workbook import Book
from schemas.backtest import ORDER, TOP, Backtest, first_order
from schemas.sentences import AFTER_COST

LOW: Final = 7.0  # cm, so that table and chart share a page
TITLE: Final = "Backtest: an earlier ranking against what failed next"
CAPTURE: Final = (
    Field("order", "Order", "word", 20),
    Field("share", "First … of the valves", "share", 11),
    Field("valves", "Valves in it", "whole", 10),
    Field("caught", "Failed valves in it", "number", 11),
    Field("caught_share", "Of all failed valves", "share", 11),
    Field("caught_share_low", "At least (90 %)", "share", 10),
    Field("caught_share_high", "At most (90 %)", "share", 10),
    Field("times_random", "Times a random order", "fine", 11),
    Field("cost_gbp", "Cost of the work (£)", "money", 16),
    Field("per_1000_gbp", "Failed valves for £1,000", "fine", 11),
    Field("per_1000_gbp_low", "At least (90 %)", "fine", 10),
    Field("per_1000_gbp_high", "At most (90 %)", "fine", 10),
    Field("hours", "Hours of the work (h)", "number", 12),
    Field("per_100_hours", "Failed valves for 100 h", "number", 11),
    Field("per_100_hours_low", "At least (90 %)", "number", 10),
    Field("per_100_hours_high", "At most (90 %)", "number", 10),
)
CHANCES: Final = (
    Field("tenth", "Tenth", "whole", 9),
    Field("valves", "Valves", "whole", 10),
    Field("chance_low", "Chance from", "share", 10),
    Field("chance_high", "Chance to", "share", 10),
    Field("expected", "Failures expected", "number", 12),
    Field("observed", "Failures seen", "whole", 12),
    Field("low", "Seen, lower 90 % limit", "number", 12),
    Field("high", "Seen, upper 90 % limit", "number", 12),
    Field("ratio", "Seen to expected", "fine", 11),
    Field("ratio_low", "At least (90 %)", "fine", 10),
    Field("ratio_high", "At most (90 %)", "fine", 10),
)
VALVES: Final = (
    Field("place", "Place", "whole", 8),
    Field("valve_id", "Valve"),
    Field("home_id", "Home"),
    Field("scheme", "Scheme", "text", 20),
    Field("option", "Work", "word", 8),
    Field("benefit_gbp", f"{AFTER_COST} (£)", "money", 11),
    Field("chance", "Chance of failing", "share", 10),
    Field("head_years", "Head's age reckoned with (years)", "number", 12),
    Field("head_age_basis", "Head's age known from", "word", 16),
    Field("visits", "Visits to the home, year before", "whole", 12),
    Field("cost_gbp", "Cost of the work (£)", "money", 11),
    Field("hours", "Hours (h)", "number", 8),
)
FAILED: Final = (
    *VALVES[:1],
    Field("caught", f"Held by the first {TOP:.0%}", "share", 11),
    *VALVES[1:4],
    Field("reported", "Fault reported", "date", 13),
    Field("part", "What failed", "word", 9),
    *VALVES[4:],
)


def write(found: Backtest, path: Path, max_rows: int) -> None:
    """Write the workbook; long tables are cut at `max_rows` rows, and say so."""
    book = Book("Backtest", found.on)
    add_front(book, "Summary", TITLE, _front(found))
    _capture(book, found)
    _chances(book, found)
    by = f"by {first_order(found.capture)}"
    failed = found.ranking.loc[found.ranking["failed"]]
    limits: dict[str, Any] = {"max_rows": max_rows, "csv": "backtest-ranking.csv"}
    note = (
        f"The first {TOP:.0%} {by} hold {failed['caught'].sum():,.1f} of {len(failed):,}, as in the sheet Caught. "
        "Where a head's date is lost it is drawn back many times, and the share of draws is told; the place shown "
        "is the one without."
    )
    book.table(
        "Failed valves", f"Failed valves, caught and missed, {by}", failed, _shown(FAILED, found), note=note, **limits
    )
    note = f"As known on {long_date(found.on)}, to be compared with what failed; no list of work for today."
    book.table(
        "Ranking",
        f"All valves then in service, {by}",
        found.ranking,
        _shown(VALVES, found),
        note=note,
        paper_rows=60,
        **limits,
    )
    book.save(path)


def _shown(fields: tuple[Field, ...], found: Backtest) -> tuple[Field, ...]:
    """The fields, without the benefit where no valve has one."""
    return tuple(field for field in fields if field.name != "benefit_gbp" or first_order(found.capture) == "benefit")


def _front(found: Backtest) -> list[Section]:
    about = [
        Section(
            "What this is",
            [
                ("The day", f"{long_date(found.on)}: every valve ranked as an audit of that day would have done."),
                (
                    "Scored by",
                    f"the 13 weeks up to {long_date(found.end)}; the log as of {long_date(found.as_of)}.",
                ),
            ],
        )
    ]
    told = [
        Section(str(name), [(f"Note {number}", text) for number, text in enumerate(rows["sentence"], 1)])
        for name, rows in found.said.groupby("about", sort=False)
    ]
    orders = Section(
        "The orders", [(order.capitalize(), f"{ORDER[order]}.") for order in found.capture["order"].unique()]
    )
    return [*about, told[0], orders, *told[1:]]


def _capture(book: Book, found: Backtest) -> None:
    note = (
        "Failed valves among the first of each order; parts of a valve where several share the place that the limit "
        "cuts, or a lost date is drawn back. The work on each valve as a visit of its own, excluding VAT."
    )
    book.table("Caught", "What each order catches", found.capture, CAPTURE, note=note, freeze=2)
    first = found.capture.loc[found.capture["share"].eq(TOP)]
    source = book.table(
        "Caught, first tenth", f"The first {TOP:.0%} of each order", first, CAPTURE[:8], note="As in the sheet Caught."
    )
    chart = bars(
        source,
        f"Share of the failed valves in the first {TOP:.0%}",
        "order",
        ("caught_share",),
        ("Order", "Share of the failed valves"),
        lying=True,
    )
    place(chart, source.sheet, f"A{source.last_row + 3}", 20)


def _chances(book: Book, found: Backtest) -> None:
    note = "Tenths of the valves, from the lowest chances up. Limits: exact for a Poisson count (Garwood 1936)."
    layout = book.table("Chances", "Failures expected and seen", found.calibration, CHANCES, note=note)
    chart = bars(
        layout,
        "Failures expected and seen, by tenth of the valves",
        "tenth",
        ("expected", "observed"),
        ("Tenth of the valves, lowest chances first", "Failures in the 13 weeks"),
    )
    chart.height = LOW
    place(chart, layout.sheet, f"A{layout.last_row + 2}", 22)
