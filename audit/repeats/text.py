"""Sentences made of many rows at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from numpy.typing import NDArray

MOST = 4  # places named in one sentence; the rest are counted


def short_day(days: pd.Series) -> pd.Series:
    """Days as 3 Mar 2026; missing stays missing."""
    day = days.dt.normalize()
    words: pd.Series = day.map({value: f"{value.day} {value:%b %Y}" for value in day.dropna().unique()}).astype("str")
    return words


def joined(groups: pd.Series, text: pd.Series, count: int, separator: str = ", ", most: int = 0) -> pd.Series:
    """Join the texts of each group, in the order of the rows.

    Args:
        groups: Group of each row, 0 to `count` - 1, not falling from row to row.
        text: One text a row, none missing.
        count: Number of groups.
        separator: Between two texts.
        most: Texts named for one group, the rest counted as "and 3 more"; 0 names all.

    Returns:
        One text a group; empty where the group has no row.
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    size = np.bincount(groups.to_numpy("int64"), minlength=count)
    if most:
        kept = groups.groupby(groups.to_numpy()).cumcount().lt(most)
        groups, text = groups[kept], text[kept]
    ends = np.concatenate([[0], np.cumsum(np.bincount(groups.to_numpy("int64"), minlength=count))])
    lists = pa.ListArray.from_arrays(
        pa.array(ends, pa.int64()).cast(pa.int32()), pa.array(text.to_numpy(object), pa.string())
    )
    done = pd.Series(pc.binary_join(lists, separator).to_numpy(zero_copy_only=False), dtype="str")
    return _with_rest(done, size - most) if most else done


def _with_rest(done: pd.Series, rest: NDArray[np.int64]) -> pd.Series:
    more = pd.Series(rest)
    return done.mask(more.gt(0), done + " and " + more.astype(str) + " more")


def chosen(texts: pd.DataFrame, picked: pd.DataFrame, separator: str = "; ") -> pd.Series:
    """Join, row by row, the texts of the picked columns that are not empty.

    Args:
        texts: One text a row and column, empty where there is nothing to say.
        picked: Same shape, boolean.
        separator: Between two texts.
    """
    rows = [np.flatnonzero(picked[name].to_numpy(bool)) for name in texts]
    words = pd.concat([texts[name].iloc[row] for name, row in zip(texts, rows, strict=True)], ignore_index=True)
    row = np.concatenate(rows)
    kept = words.ne("").to_numpy(bool)
    order = np.argsort(row[kept], kind="stable")  # the columns' order within a row
    picked_words = words[kept].iloc[order].reset_index(drop=True)
    return joined(pd.Series(row[kept][order]), picked_words, len(texts), separator).set_axis(texts.index)
