"""Sentences for whole tables at once, written once for each distinct row."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pandas as pd


def written(frame: pd.DataFrame, write: Callable[[dict[str, Any]], str]) -> pd.Series:
    """Return `write(row)` for every row, called once for each distinct row; missing values arrive as None."""
    if frame.empty:
        return pd.Series(index=frame.index, dtype="str")
    number = frame.groupby(list(frame.columns), dropna=False, sort=False).ngroup()
    first = frame.loc[~number.duplicated()]
    distinct = first.astype("object").where(first.notna(), None).to_dict("records")
    texts = [write({str(name): value for name, value in row.items()}) for row in distinct]
    return pd.Series(texts, dtype="str").take(number.to_numpy()).set_axis(frame.index)
