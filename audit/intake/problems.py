"""The list of everything that was returned, repaired or merged, gathered while tables are put together."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from schemas.results import PROBLEM_COLUMNS

NAMES = [c.name for c in PROBLEM_COLUMNS]
TEXTS = [c.name for c in PROBLEM_COLUMNS if c.name != "row"]
Texts = str | Sequence[str] | np.ndarray | pd.Series


def no_problems() -> pd.DataFrame:
    """Return an empty table of problems."""
    return pd.DataFrame({c.name: pd.Series(dtype="float64" if c.name == "row" else "str") for c in PROBLEM_COLUMNS})


def problems_at(
    table: str,
    rows: pd.DataFrame,
    *,
    column: Texts,
    value: Texts,
    reason: Texts,
    mend: Texts,
    effect: Texts,
) -> pd.DataFrame:
    """Make one problem a row of `rows`, which has source_file, source_sheet and source_row."""
    count = len(rows)
    given = {
        "table": table,
        "file": rows["source_file"],
        "sheet": rows["source_sheet"],
        "row": rows["source_row"].to_numpy(dtype="float64"),
        "column": column,
        "value": value,
        "reason": reason,
        "mend": mend,
        "effect": effect,
    }
    return pd.DataFrame({name: _column(words, count) for name, words in given.items()}, columns=NAMES)


def _column(words: object, count: int) -> object:
    if isinstance(words, str):
        return pd.array([words], dtype="str").take(np.zeros(count, dtype=np.int64))
    if isinstance(words, np.ndarray) and words.dtype == np.float64:
        return words
    return pd.array(np.asarray(words, dtype=object), dtype="str")


def joined(found: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Put tables of problems one below the other."""
    kept = [frame for frame in found if len(frame)]
    return pd.concat(kept, ignore_index=True)[NAMES] if kept else no_problems()
