"""The rankings that are compared: each an order of all valves, with those that it cannot tell apart in one place."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

ORDERS: Final[dict[str, tuple[str, ...]]] = {  # greatest first; what decides where the first is equal
    "benefit": ("benefit_gbp", "chance"),
    "chance of failing": ("chance",),
    "oldest first": ("head_years",),
    "most visited first": ("visits",),
    "random": (),
}
DECIMALS: Final = 9  # of a chance or an age; what lies below is noise of the arithmetic


def whole(shares: Sequence[float], valves: int) -> Ints:
    """Return how many whole valves the first `shares` of so many are: at least one, halves up."""
    return np.clip(np.floor(np.array(shares) * valves + 0.5), min(1, valves), valves).astype(np.int64)


def within(ranking: pd.DataFrame, order: str, share: float) -> Floats:
    """Return for each valve how much of it the first `share` of an order hold, 0 to 1.

    Valves of the place that the limit cuts share alike what of it lies above.
    """
    place = places(ranking, order)
    size = np.bincount(place)
    above = np.clip((whole([share], len(place))[0] - (np.cumsum(size) - size)) / size, 0.0, 1.0)
    return np.asarray(above[place], dtype=np.float64)


def places(ranking: pd.DataFrame, order: str) -> Ints:
    """Return each valve's place, 0 the first; valves that the order cannot tell apart share one."""
    keys = [np.round(-ranking[name].to_numpy(float), DECIMALS) for name in ORDERS[order]]
    if not keys:
        return np.zeros(len(ranking), dtype=np.int64)
    by = np.lexsort(keys[::-1])
    new = np.zeros(len(by), dtype=bool)
    for key in keys:
        new[1:] |= key[by][1:] != key[by][:-1]
    found = np.empty(len(by), dtype=np.int64)
    found[by] = np.cumsum(new)
    return found
