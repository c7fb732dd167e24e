"""A sheet as it was read: cells by row and column, nothing understood yet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

Merge = tuple[int, int, int, int]  # first row, first column, last row, last column; from 0, ends included
SAMPLE = 4096  # rows looked at to see whether a column repeats itself


@dataclass(frozen=True)
class Coded:
    """A column as its distinct values and, for each row, which of them: `values.iloc[codes]` is the column."""

    values: pd.Series
    codes: np.ndarray  # shape (rows,), integers

    @property
    def whole(self) -> pd.Series:
        """The column written out, one value a row."""
        return self.values.take(self.codes).reset_index(drop=True)


class Grid(Protocol):
    """Cells by row and column, both from 0. A blank cell is None or empty text."""

    height: int
    width: int

    def rows(self, start: int, stop: int) -> list[list[object]]:
        """Return the cells of some rows as Python values."""

    def filled(self) -> np.ndarray:
        """Return how many cells of each row are not empty, shape (height,)."""

    def column(self, place: int, rows: np.ndarray | None = None) -> Coded:
        """Return one column, all of it or the given rows."""


class ObjectGrid:
    """Cells of a workbook: Python values of any kind in a two-dimensional array."""

    def __init__(self, cells: np.ndarray) -> None:
        self.cells = cells
        self.height, self.width = cells.shape

    def rows(self, start: int, stop: int) -> list[list[object]]:
        """Return the cells of some rows as Python values."""
        found: list[list[object]] = self.cells[start:stop].tolist()
        return found

    def filled(self) -> np.ndarray:
        """Return how many cells of each row are not empty."""
        return np.asarray((self.cells != "").sum(axis=1), dtype=np.int64)

    def column(self, place: int, rows: np.ndarray | None = None) -> Coded:
        """Return one column; true/false cells become the words TRUE and FALSE, for 1 and True are equal in Python."""
        cells = self.cells[:, place] if rows is None else self.cells[rows, place]
        if pd.api.types.infer_dtype(cells, skipna=False).startswith(("mixed", "boolean")):
            cells = np.array([_word(c) if isinstance(c, bool) else c for c in cells], dtype=object)
        codes, values = pd.factorize(cells, use_na_sentinel=False)
        return Coded(pd.Series(values, dtype=object), codes)


class TextGrid:
    """Cells of a text or parquet file: one Arrow array a column."""

    def __init__(self, columns: Sequence[pa.ChunkedArray], height: int) -> None:
        self.columns = list(columns)
        self.height, self.width = height, len(columns)

    def rows(self, start: int, stop: int) -> list[list[object]]:
        """Return the cells of some rows as Python values."""
        parts = [_plain(c.slice(start, stop - start)).to_pylist() for c in self.columns]
        return [list(row) for row in zip(*parts, strict=True)]

    def filled(self) -> np.ndarray:
        """Return how many cells of each row are not empty."""
        total = np.zeros(self.height, dtype=np.int64)
        for column in self.columns:
            there = pc.greater(pc.binary_length(column), 0) if _is_text(column.type) else column.is_valid()
            total += pc.fill_null(there, False).to_numpy()
        return total

    def column(self, place: int, rows: np.ndarray | None = None) -> Coded:
        """Return one column; one that hardly repeats itself is left as it is."""
        cells = self.columns[place]
        if rows is not None and len(rows) != self.height:
            cells = _section(cells, rows)
        if not pa.types.is_dictionary(cells.type) and not _repeats(cells):
            return Coded(_series(cells), np.arange(len(cells)))
        packed = cells.combine_chunks() if pa.types.is_dictionary(cells.type) else _packed(cells)
        if isinstance(packed, pa.ChunkedArray):
            packed = packed.unify_dictionaries().combine_chunks()
        return _coded(packed)


def _word(value: bool) -> str:
    return "TRUE" if value else "FALSE"


def _is_text(kind: pa.DataType) -> bool:
    return bool(pa.types.is_string(kind) or pa.types.is_large_string(kind))


def _plain(cells: pa.ChunkedArray) -> pa.ChunkedArray:
    return cells.cast(cells.type.value_type) if pa.types.is_dictionary(cells.type) else cells


def _section(cells: pa.ChunkedArray, rows: np.ndarray) -> pa.ChunkedArray:
    """Take some rows; a run of rows without a gap costs nothing."""
    if len(rows) and rows[-1] - rows[0] + 1 == len(rows):
        return cells.slice(int(rows[0]), len(rows))
    return cells.take(pa.array(rows))


def _repeats(cells: pa.ChunkedArray) -> bool:
    step = max(1, len(cells) // SAMPLE)
    sample = cells if step == 1 else cells.take(pa.array(np.arange(0, len(cells), step)))
    return bool(pc.count_distinct(sample, mode="all").as_py() <= 0.6 * len(sample))


def _packed(cells: pa.ChunkedArray) -> pa.Array:
    return cells.dictionary_encode(null_encoding="encode").combine_chunks()


def _coded(packed: pa.DictionaryArray) -> Coded:
    """Split an encoded array; missing entries, if any, point at one added missing value."""
    codes = packed.indices
    values = _series(packed.dictionary)
    if codes.null_count:
        codes = pc.fill_null(codes, len(values))
        values = pd.concat([values, pd.Series([None], dtype=values.dtype)], ignore_index=True)
    return Coded(values, codes.to_numpy(zero_copy_only=False))


def _series(cells: pa.Array | pa.ChunkedArray) -> pd.Series:
    """Text stays text; anything else (typed parquet columns) becomes Python values."""
    if _is_text(cells.type):
        return pd.Series(pd.array(cells.cast(pa.large_string()), dtype="str"))
    return pd.Series(cells.to_pylist(), dtype=object)


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
    said: tuple[str, ...] = field(default=())

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


def mapped_back(values: pd.Series, codes: np.ndarray) -> pd.Series:
    """Write out values of distinct entries, one a row."""
    if len(values) == len(codes) and (len(codes) == 0 or (codes[0] == 0 and (np.diff(codes) == 1).all())):
        return values.reset_index(drop=True)
    return pd.Series(values.array.take(codes))


NO_ERRORS: Mapping[tuple[int, int], str] = {}
