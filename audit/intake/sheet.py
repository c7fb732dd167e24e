"""A sheet as it was read: cells by row and column, nothing understood yet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

Merge = tuple[int, int, int, int]  # first row, first column, last row, last column; from 0, ends included
Rows = npt.NDArray[np.int64]
Cells = Sequence[object]
LONG = 20_000  # rows from which a column that repeats itself is worth coding
SAMPLED, FEW = 2_000, 0.3  # cells looked at, and the share of distinct ones below which it does


class Grid(Protocol):
    """Cells by row and column, both from 0. A blank cell is None or empty text."""

    height: int
    width: int

    def rows(self, wanted: Rows) -> list[list[object]]:
        """Return the cells of some rows as Python values."""

    def filled(self, places: Sequence[int] | None = None) -> Rows:
        """Return how many cells of each row are not empty, in all or some columns, shape (height,)."""

    def column(self, place: int, wanted: Rows, coded: bool = False) -> pd.Series[Any]:
        """Return some rows of one column: text (str), or cells of any kind (object).

        With `coded`, a long column that repeats itself may come as categories of text.
        """


class ObjectGrid:
    """Cells of a workbook: Python values of any kind in a two-dimensional array."""

    def __init__(self, cells: npt.NDArray[np.object_]) -> None:
        self.cells = cells
        self.height, self.width = cells.shape

    def rows(self, wanted: Rows) -> list[list[object]]:
        """Return the cells of some rows as Python values."""
        found: list[list[object]] = self.cells[wanted].tolist()
        return found

    def filled(self, places: Sequence[int] | None = None) -> Rows:
        """Return how many cells of each row are not empty."""
        cells = self.cells if places is None else self.cells[:, list(places)]
        return np.asarray((cells != "").sum(axis=1), dtype=np.int64)

    def column(self, place: int, wanted: Rows, coded: bool = False) -> pd.Series[Any]:
        """Return some rows of one column, blanks as missing; a column of nothing but text as text."""
        cells = self.cells[wanted, place]
        cells[cells == ""] = None
        texts = pd.api.types.infer_dtype(cells, skipna=True) in ("string", "empty")
        return pd.Series(cells, dtype="str" if texts else object)


class TextGrid:
    """Cells of a text or parquet file: one Arrow text array a column."""

    def __init__(self, columns: Sequence[Any], height: int) -> None:
        self.columns = list(columns)
        self.height, self.width = height, len(columns)

    def rows(self, wanted: Rows) -> list[list[object]]:
        """Return the cells of some rows as Python values."""
        parts = [_section(c, wanted).to_pylist() for c in self.columns]
        return [list(row) for row in zip(*parts, strict=True)]

    def filled(self, places: Sequence[int] | None = None) -> Rows:
        """Return how many cells of each row are not empty."""
        total = np.zeros(self.height, dtype=np.int64)
        for column in self.columns if places is None else [self.columns[place] for place in places]:
            lengths = pc.binary_length(column)
            total += (pc.fill_null(lengths, 0) if lengths.null_count else lengths).to_numpy() > 0
        return total

    def column(self, place: int, wanted: Rows, coded: bool = False) -> pd.Series[Any]:
        """Return some rows of one column; with `coded`, a long one that repeats itself as categories of text."""
        cells = _section(self.columns[place], wanted)
        if not coded or len(wanted) < LONG or not _repeats(cells):
            return pd.Series(pd.array(cells.cast(pa.large_string()), dtype="str"))
        packed = cells.dictionary_encode().combine_chunks()
        codes = pc.fill_null(packed.indices, -1).to_numpy(zero_copy_only=False)
        texts = pd.Index(pd.array(packed.dictionary.cast(pa.large_string()), dtype="str"))
        return pd.Series(pd.Categorical.from_codes(codes, categories=texts, validate=False))


def _repeats(cells: Any) -> bool:
    """Tell from a sample whether a column holds few distinct texts."""
    sample = cells.take(pa.array(np.arange(0, len(cells), max(1, len(cells) // SAMPLED))))
    return bool(pc.count_distinct(sample, mode="all").as_py() < FEW * len(sample))


def _section(cells: Any, wanted: Rows) -> Any:
    """Take some rows; a run of rows without a gap costs nothing."""
    if len(wanted) and wanted[-1] - wanted[0] + 1 == len(wanted):
        return cells.slice(int(wanted[0]), len(wanted))
    return cells.take(pa.array(wanted))


@dataclass(frozen=True)
class Sheet:
    """One sheet of a workbook, or one text or parquet file."""

    file: str
    name: str  # empty for a text or parquet file
    grid: Grid
    first_row: int = 1  # the number that the spreadsheet gives to row 0 of the grid
    first_column: int = 0  # the column of the spreadsheet, from 0, that column 0 of the grid is
    hidden: bool = False
    epoch_1904: bool = False
    merged: tuple[Merge, ...] = ()  # in rows and columns of the grid
    said: tuple[str, ...] = ()

    @property
    def place(self) -> str:
        """How a sentence names it."""
        return f"{self.file}, sheet '{self.name}'" if self.name else self.file

    def row_number(self, row: int) -> int:
        """The spreadsheet's number of a grid row."""
        return row + self.first_row

    def letter(self, column: int) -> str:
        """The spreadsheet's letters of a grid column."""
        return letters(column + self.first_column)

    def row(self, row: int) -> list[object]:
        """The cells of one grid row; none where there is no such row."""
        return self.grid.rows(np.array([row]))[0] if 0 <= row < self.grid.height else []


def filled_down(sheet: Sheet, first: int, stop: int) -> list[str]:
    """Give every row that a merged cell covers its value, in the grid rows from `first` to before `stop`; say so."""
    if not isinstance(sheet.grid, ObjectGrid):
        return []
    cells, count = sheet.grid.cells, 0
    for top, left, bottom, right in sheet.merged:
        if left == right and first <= top < bottom < stop and not is_blank(cells[top, left]):
            below = cells[top + 1 : bottom + 1, left]
            count += int((below == "").sum())
            below[below == ""] = cells[top, left]
    told = f"{sheet.place}: {count} cells below the first of a merged cell were given its value."
    return [told] if count else []


def letters(column: int) -> str:
    """Name a column, from 0, as spreadsheets do: A, B, … Z, AA."""
    name = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        name = chr(65 + rest) + name
    return name


def is_blank(cell: object) -> bool:
    """Tell whether a cell holds nothing but white space."""
    return cell is None or (isinstance(cell, str) and not cell.strip()) or (isinstance(cell, float) and cell != cell)


def shown(cell: object) -> str:
    """Write a cell as a person sees it: 12 rather than 12.0, 2024-05-01 rather than with a midnight."""
    if cell is None or (isinstance(cell, float) and cell != cell):
        return ""
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    if isinstance(cell, dt.datetime):
        return cell.isoformat(sep=" ").removesuffix(" 00:00:00")
    return str(cell)
