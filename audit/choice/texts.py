"""Sentences for whole tables at once: written once for each distinct row, joined without a loop over rows."""

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


def joined(keys: pd.Series, texts: pd.Series, separator: str, most: int | None = None) -> pd.Series:
    """Join the texts of each key in the order given, each once; returns one text a key, indexed by key.

    Of more than `most` texts the first ones stand, and how many more there are.
    """
    lines = pd.DataFrame({"key": keys.to_numpy(), "text": texts.to_numpy()}).dropna().drop_duplicates()
    place = lines.groupby("key", sort=False).cumcount()
    whole = lines.loc[place.eq(0)].set_index("key")["text"].astype("str")
    last = int(place.max()) + 1 if len(place) else 0
    for at in range(1, last if most is None else min(last, most)):
        piece = lines.loc[place.eq(at)].set_index("key")["text"]
        whole.loc[piece.index] = whole.loc[piece.index] + separator + piece
    if most is not None and last > most:
        extra = lines.loc[place.ge(most), "key"].value_counts()
        whole.loc[extra.index] = whole.loc[extra.index] + separator + "and " + extra.astype("str") + " more"
    return whole
