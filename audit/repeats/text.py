"""Sentences made of many rows at once."""

from __future__ import annotations

import datetime as dt
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from numpy.typing import NDArray

MOST = 4  # places named in one sentence; the rest are counted


def short_day(days: pd.Series) -> pd.Series:
    """Days as 3 Mar 2026; missing stays missing."""
    number = days.to_numpy("datetime64[D]").astype("int64")
    return written(number, lambda day: _day_text(int(day)), days.isna().to_numpy()).set_axis(days.index)


@cache
def _day_text(number: int) -> str:
    day = dt.date(1970, 1, 1) + dt.timedelta(days=number)
    return f"{day.day} {day:%b %Y}"


def written(codes: NDArray[np.int64], write: Any, missing: NDArray[np.bool_] | None = None) -> pd.Series:
    """Write each different code once.

    Args:
        codes: One a row.
        write: The text of one code.
        missing: Rows that have no text.
    """
    place, values = pd.factorize(codes)
    if missing is not None:
        place = np.where(missing, -1, place)
        values = np.where(np.isin(np.arange(len(values)), place), values, 0)
    texts = pd.array([write(value) for value in values], dtype="str")
    return pd.Series(texts.take(place, allow_fill=True))


def joined(groups: pd.Series, text: pd.Series, count: int, separator: str = ", ", most: int = 0) -> pd.Series:
    """Join the texts of each group, in the order of the rows.

    Args:
        groups: Group of each row, 0 to `count` - 1, not falling from row to row.
        text: One text a row, none missing.
        count: Number of groups.
        separator: Between two texts.
        most: Texts named for one group, the rest counted as ", and 3 more"; 0 names all.

    Returns:
        One text a group; empty where the group has no row.
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    group = groups.to_numpy("int64")
    size = np.bincount(group, minlength=count)
    ends = np.concatenate([[0], np.cumsum(size)])
    if most and (size > most).any():
        text = text.iloc[np.flatnonzero(np.arange(len(group)) - ends[group] < most)]
        ends = np.concatenate([[0], np.cumsum(np.minimum(size, most))])
    words = pa.array(text, pa.large_string())
    words = words.combine_chunks() if isinstance(words, pa.ChunkedArray) else words
    lists = pa.ListArray.from_arrays(pa.array(ends, pa.int32()), words)
    done = pd.Series(pd.array(pc.binary_join(lists, pa.scalar(separator, pa.large_string())), dtype="str"))
    return _with_rest(done, size - most, separator) if most else done


def joined_by(keys: pd.Series, text: pd.Series, separator: str, most: int = 0) -> pd.Series:
    """Join the texts of each key, each text once, in the order of the rows, as `joined` does; indexed by key."""
    lines = pd.DataFrame({"key": keys.to_numpy(), "text": text.to_numpy()}).dropna().drop_duplicates()
    number, names = pd.factorize(lines["key"])
    order = np.argsort(number, kind="stable")
    done = joined(pd.Series(number[order]), lines["text"].iloc[order], len(names), separator, most)
    return done.set_axis(names)


def _with_rest(done: pd.Series, rest: NDArray[np.int64], separator: str) -> pd.Series:
    more = rest > 0
    words = pd.Series(rest[more], index=done.index[more]).astype("str")
    return done.mask(more, done.loc[more] + separator + "and " + words + " more")
