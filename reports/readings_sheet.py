"""The sheet 'Readings' of `repeat-faults.xlsx`: which part the engineer's meter points at, visit by visit."""

from __future__ import annotations

from typing import Final

import pandas as pd

from reports.look import Field
from reports.workbook import Book

FIELDS: Final = (
    Field("home_id", "Home"),
    Field("valve_id", "Valve"),
    Field("visit_id", "Visit"),
    Field("read_on", "Read on", "date"),
    Field("verdict", "Verdict", "word"),
    Field("part", "Part", "word"),
    Field("option", "Mended by", "prose", 12),
    Field("next_reading", "Read next", "word", 18),
    Field("reasons", "What was read, and what it shows", "prose", 60),
)
NOTE: Final = (
    "A part is named only where no sound valve could read the same and one part alone explains every reading (common "
    "practice, no source). Prove dead before touching a wire. 'none found' blames nothing."
)


def add_readings(book: Book, readings: pd.DataFrame, max_rows: int, paper_rows: int) -> None:
    """Add the sheet.

    Args:
        book: The workbook.
        readings: `RESULT_COLUMNS["readings"]`, named parts first.
        max_rows: Longest sheet; a longer table is cut and names its CSV.
        paper_rows: Rows that go on paper.
    """
    heading = "Wire readings: what works and what does not"
    book.table(
        "Readings", heading, readings, FIELDS,
        note=NOTE, max_rows=max_rows, csv="readings.csv", freeze=3, paper_rows=paper_rows,
    )  # fmt: skip
