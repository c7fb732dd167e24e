"""The rankings that are compared: each an order of all valves, with those that it cannot tell apart in one place."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

Ints = npt.NDArray[np.int64]

ORDERS: Final[dict[str, tuple[str, ...]]] = {  # greatest first; what decides where the first is equal
    "benefit": ("benefit_gbp", "chance"),
    "chance of failing": ("chance",),
    "oldest first": ("head_years",),
    "most visited first": ("visits",),
    "random": (),
}
DECIMALS: Final = 9  # of a chance or an age; what lies below is noise of the arithmetic


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
