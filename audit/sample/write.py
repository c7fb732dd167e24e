"""Writes the books of a landlord into a folder, and the truth into a folder beside them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

if TYPE_CHECKING:
    from audit.sample import Sample

TEXT = pa.large_string()
PIECE = 200_000  # rows written at a time


def write(sample: Sample, folder: Path, form: str = "csv", tidy: bool = False) -> list[Path]:
    """Write the books into `folder` and the truth into `folder/truth`; the same sample gives the same bytes."""
    paths = []
    for name, table in sample.tables.items():
        paths.append(write_csv(table, folder / f"{name}.csv"))
    for name, table in sample.truth.items():
        paths.append(write_csv(table, folder / "truth" / f"{name}.csv"))
    return paths


def write_csv(table: pd.DataFrame, path: Path) -> Path:
    """Write a table with one header line, UTF-8, ISO dates; cells are quoted only where they must be."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as out:
        out.write((",".join(table.columns) + "\n").encode())
        for first in range(0, len(table), PIECE):
            piece = table.iloc[first : first + PIECE]
            cells = [_cells(piece[name]) for name in piece]
            lines = pc.binary_join_element_wise(*cells, pa.scalar(",", TEXT))
            out.write("\n".join([*lines.to_pylist(), ""]).encode())
    return path


def _cells(column: pd.Series) -> pa.Array:
    """The column as CSV cells."""
    if column.dtype.kind == "M":
        text = _date_cells(column)
    elif column.dtype.kind == "f":
        text = _number_cells(pa.array(column, from_pandas=True))
    else:
        text = pa.array(column, from_pandas=True).cast(TEXT)
    special = pc.match_substring_regex(text, '[",\r\n]')
    if pc.any(special).as_py():
        quote, doubled = pa.scalar('"', TEXT), pc.replace_substring(text, '"', '""')
        quoted = pc.binary_join_element_wise(quote, doubled, quote, pa.scalar("", TEXT))
        text = pc.if_else(special, quoted, text)
    return pc.fill_null(text, "")


def _number_cells(numbers: pa.Array) -> pa.Array:
    """Whole numbers without a point."""
    return pc.replace_substring_regex(numbers.cast(TEXT), r"\.0$", "")


def _date_cells(column: pd.Series) -> pa.Array:
    """Days where every time is midnight, else times to the minute."""
    values = column.to_numpy()
    unit = "D" if (column.isna() | (column == column.dt.normalize())).all() else "m"
    text = pa.array(np.datetime_as_string(values, unit=unit)).cast(TEXT)
    text = pc.replace_substring(text, "T", " ")
    return pc.if_else(pa.array(column.isna()), pa.scalar(None, TEXT), text)
