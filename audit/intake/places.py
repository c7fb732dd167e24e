"""Which cell each problem is about, as the spreadsheet names it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.intake.columns import ColumnMap

SHEET: Final = ["table", "file", "sheet"]
KEY: Final = [*SHEET, "column"]
FIRST: Final = ""  # stands for no column at all: the row's first cell is meant
ROWS: Final = 1 << 21  # more than a sheet has


def with_cells(problems: pd.DataFrame, maps: Sequence[ColumnMap]) -> pd.DataFrame:
    """Add `cell`, such as F12, and `field`, the audit's own name of the column; `column` becomes the file's header.

    Where the file has no such column, `cell` is the first cell of the row's table. Where a sheet holds several tables
    one below the other, that counts whose header is the nearest above the row.

    Args:
        problems: One row a problem; `column` is the file's header, or the audit's name where none is known.
        maps: How every header was understood.
    """
    known = _known(maps)
    asked = problems[KEY].astype("str").fillna("").reset_index(drop=True)
    row = pd.to_numeric(problems["row"]).fillna(0).to_numpy(dtype="int64")
    found = _nearest(asked, row, known)
    first = _nearest(asked.assign(column=FIRST), row, known)
    letter = found["letter"].fillna(first["letter"]).fillna("A")
    cell = (letter + pd.Series(row).astype("str")).where(row > 0)
    return problems.assign(
        column=found["label"].fillna(asked["column"]).array,
        field=found["field"].fillna(asked["column"]).array,
        cell=cell.array,
    )


def _known(maps: Sequence[ColumnMap]) -> pd.DataFrame:
    """One row a name that a column of a table goes by: its header, or the audit's own name of it."""
    names = ["row", *KEY, "field", "label", "letter"]
    rows: list[tuple[Any, ...]] = []
    for found in maps:
        at = (found.row, found.table, found.file, found.sheet)
        told = sorted(found.chosen, key=lambda choice: choice.header.column)
        rows += [(*at, FIRST, "", "", choice.header.letter) for choice in told[:1]]
        rows += [(*at, c.header.label, c.column, c.header.label, c.header.letter) for c in told]
        rows += [(*at, c.column, c.column, c.header.label, c.header.letter) for c in told]
    known = pd.DataFrame(rows, columns=names).astype(dict.fromkeys(names[1:], "str")).astype({"row": "int64"})
    return known.drop_duplicates(["row", *KEY], ignore_index=True)


def _nearest(asked: pd.DataFrame, row: npt.NDArray[np.int64], known: pd.DataFrame) -> pd.DataFrame:
    """For each row asked for, what is known under its table and name from the nearest header above; else missing."""
    code = np.zeros(len(asked) + len(known), dtype=np.int64)
    for name in KEY:
        own, words = pd.factorize(pd.concat([asked[name], known[name]], ignore_index=True))
        code = code * (len(words) + 1) + own
    order = np.argsort(code[len(asked) :] * ROWS + known["row"].to_numpy(), kind="stable")
    code, listed = code[: len(asked)], code[len(asked) :][order]
    above = np.searchsorted(listed * ROWS + known["row"].to_numpy()[order], code * ROWS + row, side="right") - 1
    fits = above >= 0
    fits[fits] = listed[above[fits]] == code[fits]
    place = np.where(fits, order[above] if len(order) else -1, -1)
    return pd.DataFrame({name: known[name].array.take(place, allow_fill=True) for name in ("field", "label", "letter")})
