"""`returned-rows.xlsx`: for whoever keeps the records. Every row not used, or repaired, and the mend."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from reports.findings_sheet import add_records
from reports.front import Section, add_front, how_read, long_date, to_do
from reports.look import Field
from reports.workbook import Book
from schemas.results import EFFECT, Results
from schemas.sentences import returned_danger, returned_dangers

if TYPE_CHECKING:
    import pandas as pd

TITLE: Final = "Returned rows"
PROBLEMS: Final = (
    Field("effect", "Effect", width=11),
    Field("table", "Table", width=11),
    Field("file", "File", width=26),
    Field("sheet", "Sheet", width=18),
    Field("row", "Row", "whole"),
    Field("cell", "Cell", width=8),
    Field("column", "Column", width=20),
    Field("value", "What stood there", "prose", 24),
    Field("reason", "Why it could not be used as it stood", "prose", 42),
    Field("mend", "How to mend it", "prose", 42),
)
COUNTS: Final = (
    Field("table", "Table", width=14),
    Field("rows_in", "Rows in", "whole", 12),
    Field("used", "Used", "whole", 12),
    Field("merged", "Merged", "whole", 12),
    Field("returned", "Returned", "whole", 12),
)
SHEET_ROWS: Final = 1_000_000  # what a sheet can hold, less the rows above the table
COMMONEST: Final = 10  # reasons on the first sheet
PHRASES: Final = 20_000  # lines of a sheet about notes; nobody goes through more
REASONS: Final = (
    Field("table", "Table", width=14),
    Field("effect", "Effect", width=12),
    Field("column", "Column", width=22),
    Field("reason", "Reason", "prose", 80),
    Field("rows", "Lines", "whole", 10),
)
INPUTS: Final = (
    Field("name", "File", width=46),
    Field("rows", "Rows", "whole", 12),
    Field("sha256", "SHA-256 digest", width=68),
)
NOTES: Final = (
    (
        "notes_against",
        "Notes against columns",
        "Notes that say something else than the column beside them",
        "The column stands. Where the note is right, correct the column. The first ones, where they are many.",
        (
            Field("file", "File", width=26),
            Field("sheet", "Sheet", width=18),
            Field("row", "Row", "whole"),
            Field("visit_id", "Visit", width=16),
            Field("column", "Column", "word", 12),
            Field("column_value", "The column says", "word", 24),
            Field("note_value", "The note says", "word", 24),
            Field("phrase", "In the words", "prose", 60),
        ),
    ),
    (
        "notes_read",
        "Read from notes",
        "What was read from notes where the column was empty",
        "Each phrase with the value that it was read as, and in how many cells; of many, the most frequent.",
        (
            Field("column", "Column", "word", 12),
            Field("value", "Read as", "word", 28),
            Field("phrase", "From the words", "prose", 70),
            Field("cells", "Cells", "whole", 10),
        ),
    ),
    (
        "notes_not_understood",
        "Notes not understood",
        "Parts of notes from which nothing was read",
        "Most frequent first; # stands for a number. Where they are many, the rarest are left out.",
        (Field("text", "Words", "prose", 90), Field("visits", "Visits", "whole", 10)),
    ),
)


def write(results: Results, path: Path, copies: Sequence[tuple[object, str]] = ()) -> None:
    """Write the workbook; all problems, however many, since this book is where they are mended from.

    Args:
        results: Everything the audit found.
        path: The file.
        copies: For each file with something to mend: where its copy with marks is, or why there is none.
    """
    book = Book(TITLE, results.as_of)
    add_front(
        book,
        "Read first",
        TITLE,
        (
            Section("Danger first", _dangers(results)),
            Section(
                "What this is",
                (
                    (
                        "What for",
                        "Every row that was read is counted once. Rows that could not be used, and values that "
                        "were put right, are listed with file, sheet, row and column, so that they can be mended "
                        "in place.",
                    ),
                    ("As of", f"{long_date(results.as_of)}; rows dated later are returned."),
                ),
            ),
            Section("Rows", _counted(results)),
            Section("Where to mend", copies),
            Section("Commonest reasons", _reasons(results)),
            Section("Effects", list(EFFECT.items())),
            to_do(results, last="Gas safety checks"),  # for the planner; the records come first here
            how_read(results),
        ),
    )
    book.table("Counts", "Rows in = used + merged + returned", results.counts, COUNTS)
    if "reasons" in results.summaries:
        book.table("Reasons", "Commonest reasons", results.summaries["reasons"], REASONS)
    note = "Row is the row as the spreadsheet numbers it."
    problems = _danger_first(results)
    book.table("All problems", "Rows and values to mend", problems, PROBLEMS, note=note, max_rows=SHEET_ROWS)
    _add_notes(book, results)
    add_records(book, results.tables["findings"], int(results.policy.set_index("name")["value"]["workbook.max_rows"]))
    book.table("Files read", "Files read", results.inputs, INPUTS)
    book.save(path)


def _add_notes(book: Book, results: Results) -> None:
    """What was read from free text, so that it can be gone through: only where there was any."""
    for key, name, heading, note, fields in NOTES:
        if key in results.summaries:
            book.table(name, heading, results.summaries[key].head(PHRASES), fields, note=note, max_rows=SHEET_ROWS)


def _dangers(results: Results) -> list[tuple[object, str]]:
    return [("Danger", returned_danger(row)) for row in returned_dangers(results).to_dict("records")]


def _danger_first(results: Results) -> pd.DataFrame:
    """The problems, those of rows that tell of a danger before all others."""
    rows, problems = returned_dangers(results), results.problems
    if rows.empty:
        return problems
    place = ["table", "file", "sheet", "row"]
    dangerous = set(rows[place].astype("str").itertuples(index=False, name=None))
    key = problems.assign(row=problems["row"].fillna(0).astype("int64"))[place].astype("str")
    first = [one in dangerous for one in key.itertuples(index=False, name=None)]
    return problems.iloc[sorted(range(len(first)), key=lambda at: not first[at])]


def _counted(results: Results) -> list[tuple[object, str]]:
    return [
        (
            str(row["table"]),
            f"{row['rows_in']:,} rows in = {row['used']:,} used + {row['merged']:,} merged "
            f"+ {row['returned']:,} returned",
        )
        for row in results.counts.to_dict("records")
    ]


def _reasons(results: Results) -> list[tuple[object, str]]:
    if "reasons" not in results.summaries:
        return []
    return [
        (
            f"{row['rows']:,} × {row['effect']}",
            ": ".join(str(row[x]) for x in ("table", "column", "reason") if row[x] == row[x]),
        )
        for row in results.summaries["reasons"].head(COMMONEST).to_dict("records")
    ]
