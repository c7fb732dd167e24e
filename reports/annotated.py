"""Annotated copies: the user's own workbooks with a mark on every cell that was returned or repaired.

The keeper of the records mends the marked cells in place and runs the audit on the copy; it is read like the original.
What a copy cannot carry over from the original, see `reports.user_workbook`; its first sheet says what was lost.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from openpyxl.utils.cell import coordinate_to_tuple

from reports.marks import LINKS, LOOKS, list_marks, mark, take_away
from reports.user_workbook import UserWorkbook, load, rows_of, to_bytes
from schemas.results import Results

if TYPE_CHECKING:
    import pandas as pd

KIND: Final = ".xlsx"
TEXTS: Final = ["sheet", "column", "value", "reason", "mend", "cell", "effect"]
Told = list[tuple[object, str]]


def write(results: Results, folder: Path, most_rows: int) -> Told:
    """Write a copy of every workbook that has something to mend.

    Args:
        results: Everything the audit found; `originals` names the files.
        folder: Where the copies go; made where there is one.
        most_rows: Workbooks with more rows than this are not copied.

    Returns:
        For each file with something to mend: its name, and where its copy is or why there is none.

    Raises:
        OSError: a copy cannot be written.
    """
    marked = results.problems.loc[results.problems["effect"].isin(list(LOOKS))]
    told: Told = []
    for name, original in results.originals.items():
        problems = marked.loc[marked["file"].eq(name)]
        if len(problems):
            target = folder / name.replace("/", "_")
            told.append((name, _write(original, problems, target, results.as_of, most_rows)))
    return told


def _write(original: Path, problems: pd.DataFrame, target: Path, as_of: dt.date, most_rows: int) -> str:
    """Write one copy; returns what is to be said of it."""
    lines = f"{len(problems):,} {'place' if len(problems) == 1 else 'places'} to mend"
    if original.suffix.lower() != KIND:
        return f"{lines}, all on the sheet 'All problems'. No copy with marks: only {KIND} workbooks are copied."
    try:
        rows = rows_of(original)
        if rows > most_rows:
            limit = f"{rows:,} rows are more than {most_rows:,} (workbook.annotate_rows)"
            return f"{lines}, all on the sheet 'All problems'. No copy with marks: {limit}."
        copied = annotate(original, problems, as_of)
    except Exception as error:  # whatever a program wrote into its file: the audit itself does not fail over a copy
        why = f"it could not be written anew ({type(error).__name__})"
        return f"{lines}, all on the sheet 'All problems'. No copy with marks: {why}."
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_bytes(copied)
    return f"{lines}, marked in {target.parent.name}/{target.name}."


def annotate(original: Path, problems: pd.DataFrame, as_of: dt.date) -> bytes:
    """Make one annotated copy.

    Args:
        original: The user's workbook.
        problems: Its problems (`schemas.results.PROBLEM_COLUMNS`) that are returned or repaired.
        as_of: The as-of date, which the copy is dated.

    Raises:
        Exception: of any kind, where the workbook cannot be loaded or written anew.
    """
    loaded = load(original)
    take_away(loaded.book)
    problems = _in_order(problems, loaded.book.sheetnames)
    mark(loaded.book, problems)
    list_marks(loaded.book, problems, _said(loaded, len(problems)), as_of)
    return to_bytes(loaded, as_of)


def _in_order(problems: pd.DataFrame, sheets: Sequence[str]) -> pd.DataFrame:
    """Problems as the keeper meets them: sheet by sheet, row by row, from left to right."""
    table = problems.assign(**{name: problems[name].astype("str").fillna("") for name in TEXTS})
    column = {cell: coordinate_to_tuple(cell)[1] for cell in table["cell"].unique() if cell}
    order = table.assign(
        at_sheet=table["sheet"].map({name: n for n, name in enumerate(sheets)}), at_column=table["cell"].map(column)
    ).sort_values(["at_sheet", "row", "at_column"], kind="stable")
    return table.loc[order.index]


def _said(loaded: UserWorkbook, marks: int) -> list[str]:
    said = []
    if loaded.lost:
        said.append(f"Not in this copy, but in the original: {', '.join(loaded.lost)}.")
    if loaded.redrawn:
        said.append(f"Drawn anew and perhaps different: {', '.join(loaded.redrawn)}.")
    if marks > LINKS:
        said.append(f"Only the first {LINKS:,} lines have links.")
    return said
