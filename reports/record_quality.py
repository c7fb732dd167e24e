"""Sheets on the quality of the records: what is good of what there is, what the gaps cost, what is counted."""

from __future__ import annotations

from typing import Final

from reports.look import Field
from reports.workbook import Book
from schemas.results import Results

QUALITY: Final = (
    Field("grouped_by", "Grouped by", width=11),
    Field("group", "Group", width=34),
    Field("dimension", "Dimension", width=15),
    Field("good", "Good", "whole", 12),
    Field("of", "Of", "whole", 12),
    Field("counted_in", "Counted in", width=15),
    Field("share", "Share good", "share", 10),
)
QUALITY_TERMS: Final = (
    Field("dimension", "Dimension", width=15),
    Field("counted_in", "Counted in", width=15),
    Field("good", "Good are those", "prose", 70),
    Field("of", "Of", "prose", 50),
)
GAPS: Final = (
    Field("table", "Table", width=10),
    Field("column", "Column", "word", 20),
    Field("missing", "Missing", "whole", 11),
    Field("of", "Of", "whole", 11),
    Field("share", "Share missing", "share", 11),
    Field("cost", "What the gap costs", "prose", 84),
)
PAPER: Final = 60  # rows of quality that go on paper: two pages; the sheet holds them all
FRAMEWORK: Final = "After the Government Data Quality Framework (UK, 3 December 2020)"


def add_quality(book: Book, results: Results) -> None:
    """Add the sheets 'Data quality', 'Data gaps' and 'Quality terms'."""
    tables = results.summaries
    note = f"{FRAMEWORK}; the sheet 'Quality terms' says what is counted. Schemes: least complete first."
    table = tables["quality"]
    book.table("Data quality", "Quality of the records", table, QUALITY, note=note, freeze=3, paper_rows=PAPER)
    note = (
        "Judged after everything else was tried: notes have been read, dates taken from visits, readings by their age."
    )
    book.table("Data gaps", "What is missing, and what that costs", tables["quality_gaps"], GAPS, note=note)
    note = f"{FRAMEWORK}. Accuracy, its sixth dimension, cannot be told from records; only a look at the valve tells."
    book.table("Quality terms", "What each dimension counts", tables["quality_terms"], QUALITY_TERMS, note=note)
