"""Workbooks (.xlsx, .ods) and parquet files to sheets of raw cells."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet
from python_calamine import CalamineError, CalamineSheet, CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum

from audit.errors import CannotUse
from audit.intake.guard import DAMAGED, SAVE_AGAIN, Look, look
from audit.intake.sheet import Merge, ObjectGrid, Sheet, TextGrid
from audit.policy import Policy
from schemas.results import DICTIONARY_HEADERS, MARKS_TITLE


def read_workbook(path: Path, name: str, policy: Policy) -> list[Sheet]:
    """Read every sheet of a workbook, hidden ones too.

    Raises:
        CannotUse: it cannot be read; see `guard.look` for what is refused beforehand.
    """
    seen = look(path, name, policy)
    try:
        with CalamineWorkbook.from_path(path) as book:
            return [
                _sheet(book.get_sheet_by_index(place), name, meta.visible != SheetVisibleEnum.Visible, seen)
                for place, meta in enumerate(book.sheets_metadata)
                if meta.typ == SheetTypeEnum.WorkSheet
            ]
    except (CalamineError, OSError, ValueError, MemoryError):
        raise CannotUse(f"{name}: {DAMAGED}.") from None
    except BaseException as error:  # the fast reader's own panic is not an Exception
        if type(error).__name__ != "PanicException":
            raise
        raise CannotUse(f"{name}: {DAMAGED}.") from None


def _sheet(sheet: CalamineSheet, file: str, hidden: bool, seen: Look) -> Sheet:
    top, left = sheet.start or (0, 0)
    rows = sheet.to_python(skip_empty_area=True)
    cells = np.empty((len(rows), len(rows[0]) if rows else 0), dtype=object)
    if cells.size:
        cells[:] = rows
    if cells.size and (top, left) == (0, 0) and (ours := _of_the_audit(cells[0])):
        said = f"{file}, sheet '{sheet.name}': passed over, {ours}."
        return Sheet(file, sheet.name, ObjectGrid(cells[:0]), said=(said,))
    marks = seen.marks.get(sheet.name, {})
    cells, top, left = _with_marks(cells, top, left, dict(marks))
    merged = tuple(_within(area, top, left) for area in sheet.merged_cell_ranges or ())
    return Sheet(file, sheet.name, ObjectGrid(cells), top + 1, left, hidden, seen.epoch_1904, merged)


def _of_the_audit(first_row: np.ndarray) -> str:
    """What a sheet that this program wrote is; empty where somebody else did."""
    if first_row[0] == MARKS_TITLE:
        return "it lists the marks of an earlier audit"
    return "it explains the columns" if tuple(first_row) == DICTIONARY_HEADERS else ""


def _with_marks(
    cells: np.ndarray, top: int, left: int, marks: dict[tuple[int, int], str]
) -> tuple[np.ndarray, int, int]:
    """Put the error cells where the fast reader saw blanks, widening the block where they lie outside it."""
    if not marks:
        return cells, top, left
    rows, columns = np.array(list(marks), dtype=np.int64).T
    first, before = (min(top, rows.min()), min(left, columns.min())) if cells.size else (rows.min(), columns.min())
    last = max(top + cells.shape[0] - 1, rows.max())
    after = max(left + cells.shape[1] - 1, columns.max())
    grown = np.full((last - first + 1, after - before + 1), "", dtype=object)
    if cells.size:
        grown[top - first : top - first + cells.shape[0], left - before : left - before + cells.shape[1]] = cells
    at = (rows - first, columns - before)
    blank = grown[at] == ""
    texts = np.array(list(marks.values()), dtype=object)
    grown[at] = np.where(blank, texts, grown[at])
    return grown, int(first), int(before)


def _within(area: tuple[tuple[int, int], tuple[int, int]], top: int, left: int) -> Merge:
    (first_row, first_column), (last_row, last_column) = area
    return first_row - top, first_column - left, last_row - top, last_column - left


def read_parquet(path: Path, name: str) -> list[Sheet]:
    """Read a parquet file as one sheet whose first row is its column names."""
    try:
        table = pyarrow.parquet.read_table(path)
    except (pa.ArrowException, OSError, ValueError):
        raise CannotUse(f"{name}: this is no parquet file, or it is damaged; export it again.") from None
    header = [str(column) for column in table.column_names]
    columns = [_with_header(title, column) for title, column in zip(header, table.columns, strict=True)]
    return [Sheet(name, "", TextGrid(columns, table.num_rows + 1))]


def _with_header(title: str, column: pa.ChunkedArray) -> pa.ChunkedArray:
    """Put the column's name above its values; values that are no text are written as text, dates as ISO dates."""
    kind = column.type
    if pa.types.is_dictionary(kind):
        column, kind = column.cast(kind.value_type), kind.value_type
    if pa.types.is_timestamp(kind) or pa.types.is_date(kind):
        column = column.cast(pa.timestamp("us")).cast(pa.string())
        column = pa.compute.replace_substring_regex(column, r"[T ]00:00:00(\.0+)?$", "")
    elif not (pa.types.is_string(kind) or pa.types.is_large_string(kind)):
        column = _as_text(column)
    body = column.cast(pa.string())
    return pa.chunked_array([pa.array([title], pa.string()), *body.chunks], type=pa.string())


def _as_text(column: pa.ChunkedArray) -> pa.ChunkedArray:
    try:
        return column.cast(pa.string())
    except pa.ArrowException:
        return pa.chunked_array([pa.array([_shown(v) for v in column.to_pylist()], pa.string())])


def _shown(value: object) -> str | None:
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    return None if value is None else str(value)


__all__ = ["SAVE_AGAIN", "read_parquet", "read_workbook"]
