"""Small vectorised helpers: seeded streams, picking words by share, text columns, dates."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

Floats = npt.NDArray[np.floating[Any]]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

EPOCH = dt.date(1970, 1, 1)
DAYS_A_YEAR = 365.25


def stream(seed: int, part: int) -> np.random.Generator:
    """A generator of its own for one part of the world, so that a draw added in one part moves no other."""
    return np.random.default_rng([seed, part])


def day_number(day: dt.date) -> float:
    """Days since 1 January 1970."""
    return float((day - EPOCH).days)


def pick(rng: np.random.Generator, n: int, shares: Sequence[float]) -> Ints:
    """Draw n places 0..len(shares)-1 with the given shares (scaled to sum to one)."""
    edges = np.cumsum(np.asarray(shares, dtype=float))
    return np.searchsorted(edges / edges[-1], rng.random(n), side="right").astype(np.int64)


def pick_by(rng: np.random.Generator, row: Ints, table: Sequence[Sequence[float]]) -> Ints:
    """Draw one place for each entry of `row`, with the shares of that row of the table."""
    edges = np.cumsum(np.asarray(table, dtype=float), axis=1)
    edges /= edges[:, -1:]
    drawn: Ints = (rng.random(row.size)[:, None] >= edges[row]).sum(axis=1)
    return drawn


def words(codes: Ints, names: Sequence[str]) -> pd.Series[str]:
    """Text from places in a list of names; -1 is missing."""
    listed = pd.array(list(names), dtype="str")
    return pd.Series(listed.take(codes, allow_fill=True))


def numbered(prefix: str, numbers: Ints, width: int) -> pd.Series[str]:
    """Ids such as V00042: a prefix and a number with leading zeros."""
    digits = pc.utf8_lpad(pa.array(numbers).cast(pa.string()), width, "0")
    return pd.Series(pc.binary_join_element_wise(prefix, digits, ""), dtype="str")


def joined(*parts: Any) -> pd.Series[str]:
    """Join text columns (or constant strings) without a gap; missing stays missing."""
    text = pa.large_string()
    arrays = [pa.scalar(p, text) if isinstance(p, str) else pa.array(p, from_pandas=True).cast(text) for p in parts]
    return pd.Series(pc.binary_join_element_wise(*arrays, pa.scalar("", text)), dtype="str")


def dates(days: Floats) -> pd.Series[pd.Timestamp]:
    """Calendar dates from days since 1970; the part of a day is dropped, NaN becomes missing."""
    return _moments(np.floor(days) * 86_400)


def times(days: Floats) -> pd.Series[pd.Timestamp]:
    """Dates with time of day, to five minutes, from days since 1970."""
    return _moments(np.floor(days * 288) * 300)


def _moments(seconds: Floats) -> pd.Series[pd.Timestamp]:
    known = ~np.isnan(seconds)
    whole = np.where(known, seconds, 0).astype("int64")
    moments = whole.astype("datetime64[s]").astype("datetime64[us]")
    moments[~known] = np.datetime64("NaT")
    return pd.Series(moments)


def yes_no(answer: Bools, known: Bools | None = None) -> pd.Series[str]:
    """The words yes and no; missing where not known."""
    codes = np.where(answer, 0, 1) if known is None else np.where(known, np.where(answer, 0, 1), -1)
    return words(codes.astype(np.int64), ("yes", "no"))


def only(values: Floats, known: Bools) -> Floats:
    """The values where known, else NaN."""
    return np.where(known, values, np.nan)


def share_out(names: Mapping[str, float]) -> tuple[tuple[str, ...], tuple[float, ...]]:
    """Split a table of name and share into its two columns."""
    return tuple(names), tuple(names.values())
