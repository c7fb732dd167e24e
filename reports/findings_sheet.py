"""The columns of a sheet of findings, and the two sheets: what to act on, and records to mend."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from reports.look import Field

if TYPE_CHECKING:
    import pandas as pd

    from reports.workbook import Book

RECORDS_ON_PAPER: Final = 60  # who needs more reads them on a screen
FINDINGS: Final = (
    Field("rank", "Rank", "whole", 7),
    Field("severity", "Severity", "severity"),
    Field("rule", "Rule", width=24),
    Field("home_id", "Home"),
    Field("valve_id", "Valve"),
    Field("statement", "What was found", "prose", 40),
    Field("action", "What to do", "prose", 40),
    Field("limit_source", "Where the limit comes from", "prose", 36),
    Field("observed", "Seen", paper=False),
    Field("limit", "Limit", paper=False),
    Field("unit", "Unit", width=9, paper=False),
    Field("visit_id", "Visit", paper=False),
    Field("scheme", "Scheme", paper=False),
)


def add_to_act_on(book: Book, findings: pd.DataFrame, max_rows: int) -> None:
    """Add the sheet Findings: danger, fault and money."""
    rows = findings.loc[findings["severity"].ne("record")]
    note = "Every statement says what was seen, the limit, and where the limit comes from. Records to mend or watch "
    note += "stand in returned-rows.xlsx; findings.csv holds both."
    shown = kept(FINDINGS, rows)
    book.table("Findings", "Findings, most urgent first", rows, shown, note=note, max_rows=max_rows, csv="findings.csv")


def add_records(book: Book, findings: pd.DataFrame, max_rows: int) -> None:
    """Add the sheet Records to look at, where there are any: rows that were used, and say something doubtful."""
    rows = findings.loc[findings["severity"].eq("record")]
    if rows.empty:
        return
    note = "These rows were used. What they say does not fit together, is old, or is to be watched."
    shown = kept(FINDINGS, rows)
    name, heading = "Records to look at", "Records to mend or to watch"
    book.table(
        name, heading, rows, shown, note=note, max_rows=max_rows, csv="findings.csv", paper_rows=RECORDS_ON_PAPER
    )


def kept(fields: tuple[Field, ...], frame: pd.DataFrame) -> list[Field]:
    """Leave out columns that have nothing in any row, such as an address that no file gave."""
    return [field for field in fields if frame.empty or (field.name in frame and frame[field.name].notna().any())]
