"""What kind of fault each problem of the reading is, and which clean row it belongs to.

| kind | a problem that says |
|---|---|
| `later` | the row or value is dated after the as-of date: nothing is wrong with it |
| `empty` | a cell that every row needs is empty |
| `repeated` | the row says the same as another, or less than a later one, or its number stands for different facts |
| `contradicts` | the value contradicts another of its row, or of another table |
| `invalid` | anything else: what stands in the cell is not what the column holds |
"""

from __future__ import annotations

import re
from typing import Final

import numpy as np
import pandas as pd

from schemas.checks import ORDERS

ROWS: Final = 1 << 21  # more than a sheet has
KINDS: Final = (  # in this order; how the reasons begin or end, as audit.known and audit.intake word them
    ("later", r"after the as-of date"),
    ("empty", r"^the cell is empty|^there is no \w+, and every row"),
    (
        "repeated",
        r"^the row is a copy|^the row says the same|^the later row counts"
        r"|^the same \w+ stands for|stands in more than one row$",
    ),
    (
        "contradicts",
        r"^another row of the same|^no valve of that number|^the register has that valve|^no home of that number"
        r"|^its home was itself|" + "|".join(f"^{re.escape(order[4])}" for order in ORDERS),
    ),
)


def kinds(reasons: pd.Series[str]) -> pd.Series[str]:
    """Name the kind of each reason, see the module's docstring."""
    kind = pd.Series("invalid", index=reasons.index, dtype="str")
    for name, pattern in reversed(KINDS):
        kind = kind.mask(reasons.str.contains(pattern, regex=True).fillna(False), name)
    return kind


def placed_lines(problems: pd.DataFrame, clean: pd.DataFrame) -> pd.DataFrame:
    """Add `kind`, `row_key` (a number for each row of a file) and `pos` (its place in a clean table; -1 if not in it).

    Args:
        problems: `schemas.results.PROBLEM_COLUMNS`, of one table.
        clean: That table as used, with source columns.
    """
    both = [
        pd.concat([clean[f"source_{name}"], problems[name]], ignore_index=True).astype("str").fillna("")
        for name in ("file", "sheet")
    ]
    row = np.concatenate([clean["source_row"], problems["row"].fillna(0)]).astype("int64")
    file, sheet = (pd.factorize(names)[0] for names in both)
    key = (file * (sheet.max(initial=0) + 1) + sheet) * ROWS + row
    own, asked = key[: len(clean)], key[len(clean) :]
    order = np.argsort(own, kind="stable")
    at = np.minimum(np.searchsorted(own, asked, sorter=order), max(len(own) - 1, 0))
    pos = order[at] if len(own) else np.zeros(len(asked), dtype=np.int64)
    found = own[pos] == asked if len(own) else np.zeros(len(asked), dtype=bool)
    return problems.assign(kind=kinds(problems["reason"]), row_key=asked, pos=np.where(found, pos, -1))
