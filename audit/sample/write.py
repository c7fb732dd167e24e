"""Writes the books of a landlord into a folder, and the truth into a folder within it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from audit.errors import CannotUse
from audit.sample.books import FIRST_ROW, SHEETS, write_book
from audit.sample.mistakes import AGAIN, TOTAL, make_mistakes

if TYPE_CHECKING:
    from audit.sample import Sample

TEXT = pa.large_string()
PIECE = 200_000  # rows written at a time


def write(sample: Sample, folder: Path, form: str = "csv", tidy: bool = False, truth: bool = True) -> list[Path]:
    """Write the books into `folder` and the truth into `folder/truth`; the same sample gives the same bytes.

    Args:
        sample: The invented landlord.
        folder: Made where it is not there.
        form: `csv`: one file a table, canonical headers, ISO dates. `xlsx`: workbooks with a contractor's headers.
        tidy: Leave out the mistakes.
        truth: Write the truth, too.

    Returns:
        Every file written.

    Raises:
        CannotUse: the folder holds books in the other form; an audit would read both.
    """
    _refuse_other_form(folder, form)
    slips = make_mistakes(sample.tables, sample.seed, form)
    slips = slips.iloc[:0] if tidy else slips
    paths = []
    for name, table in sample.tables.items():
        own = slips[slips["table"] == name]
        if form == "xlsx" and name in SHEETS:
            paths.append(write_book(name, _with_copies(table.astype(object), own), folder, sample.as_of, not tidy))
        else:
            paths.append(write_csv(_with_copies(table, own), folder / f"{name}.csv"))
    if truth:
        told = _told(sample.tables, slips, form, tidy)
        for name, table in {**sample.truth, "mistakes": told}.items():
            paths.append(write_csv(table, folder / "truth" / f"{name}.csv"))
    return paths


def _refuse_other_form(folder: Path, form: str) -> None:
    other = "csv" if form == "xlsx" else "xlsx"
    there = [f"{name}.{other}" for name in SHEETS if (folder / f"{name}.{other}").exists()]
    if there:
        raise CannotUse(f"{folder}: {there[0]} is there already and would be read as well; choose an empty folder.")


def _with_copies(table: pd.DataFrame, slips: pd.DataFrame) -> pd.DataFrame:
    """The table as it is written: mistakes in their cells, copied rows below their first."""
    spoilt = dict(table.items())
    for column, own in slips[slips["column"] != ""].groupby("column", sort=False):
        rows, written = own["row"].to_numpy(dtype=np.int64), own["written"]
        spoilt[str(column)] = _overwritten(table[str(column)], rows, written)
    copies = slips.loc[slips["mistake"] == AGAIN, "row"].to_numpy(dtype=np.int64)
    if not copies.size:
        return pd.DataFrame(spoilt)
    order = np.sort(np.concatenate([np.arange(len(table)), copies]))
    return pd.DataFrame(spoilt).iloc[order].reset_index(drop=True)


def _overwritten(column: pd.Series[Any], rows: np.ndarray, written: pd.Series[Any]) -> pd.Series[Any]:
    """A column with other cells in some rows; kept as objects for a workbook, as text for a text file."""
    if column.dtype == object:
        cells = column.to_numpy(dtype=object, copy=True)
        cells[rows] = written.to_numpy(dtype=object)
        return pd.Series(cells, dtype=object)
    text = pd.Series(_text(column), dtype="str")
    text.iloc[rows] = [_iso(value) for value in written]
    return text


def _iso(value: object) -> str | float:
    if isinstance(value, pd.Timestamp):
        return value.isoformat(sep=" ", timespec="minutes").removesuffix(" 00:00")
    return np.nan if value is None else str(value)


def _told(tables: Mapping[str, pd.DataFrame], slips: pd.DataFrame, form: str, tidy: bool) -> pd.DataFrame:
    """The mistakes as truth: where they stand in the files, what was written, what is true."""
    parts = []
    for name, own in slips.groupby("table", sort=False):
        table = tables[str(name)]
        rows = own["row"].to_numpy(dtype=np.int64)
        again = (own["mistake"] == AGAIN).to_numpy()
        above = np.searchsorted(np.sort(rows[again]), rows) + again  # a copy stands below its first
        first = FIRST_ROW[str(name)] if form == "xlsx" else 2
        part = pd.DataFrame(
            {
                "table": name,
                "row": rows + above + first,
                "id": table.iloc[rows, 0].to_numpy(),
                "column": own["column"].to_numpy(),
                "mistake": own["mistake"].to_numpy(),
                "written": [_iso(value) for value in own["written"]],
                "true": [_iso(value) for value in own["true"]],
            }
        )
        parts.append(part.sort_values("row"))
    if form == "xlsx" and not tidy:
        copies = int(((slips["table"] == "visits") & (slips["mistake"] == AGAIN)).sum())
        last = len(tables["visits"]) + copies + FIRST_ROW["visits"]
        parts.append(pd.DataFrame({"table": ["visits"], "row": [last], "column": [""], "mistake": [TOTAL]}))
    columns = ["table", "row", "id", "column", "mistake", "written", "true"]
    told = pd.concat(parts, ignore_index=True) if parts else pd.DataFrame()
    return told.reindex(columns=columns).astype(dict.fromkeys(["id", "column", "mistake", "written", "true"], "str"))


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


def _text(column: pd.Series[Any]) -> pa.Array:
    """The column as text, whole numbers without a point; missing stays missing."""
    if column.dtype.kind == "M":
        return _date_text(column)
    return pa.array(column, from_pandas=True).cast(TEXT)


def _date_text(column: pd.Series[Any]) -> pa.Array:
    """Days where every time is midnight, else times to the minute."""
    moments = pa.array(column, from_pandas=True)
    if (column.isna() | (column == column.dt.normalize())).all():
        return moments.cast(pa.date32()).cast(TEXT)
    return pc.utf8_slice_codeunits(moments.cast(pa.timestamp("s")).cast(TEXT), 0, len("2026-09-30 12:00"))


def _cells(column: pd.Series[Any]) -> pa.Array:
    """Cells of a CSV line: quoted where a comma, quote or line end stands in them; empty where missing."""
    text = _text(column)
    special = pc.match_substring_regex(text, '[",\r\n]') if column.dtype == "str" else pa.scalar(False)
    if pc.any(special).as_py():
        quote, doubled = pa.scalar('"', TEXT), pc.replace_substring(text, '"', '""')
        quoted = pc.binary_join_element_wise(quote, doubled, quote, pa.scalar("", TEXT))
        text = pc.if_else(special, quoted, text)
    return pc.fill_null(text, "")
