"""The best filling of one slot: which visits, at their hours, are worth most together (the 0-1 knapsack problem)."""

from __future__ import annotations

from typing import Final

import numpy as np

from audit.plan.problem import CRUMB, Numbers, Whole

UNIT: Final = 0.01  # hours: what a visit takes is rounded up to it


def best_of(worth: Numbers, hours: Numbers, room: float) -> Whole:
    """Return the places of the visits to take, in order; by dynamic programming over hundredths of an hour.

    Source: R. Bellman (1957), Dynamic Programming, Princeton University Press.
    """
    size = np.ceil((hours - CRUMB) / UNIT).astype(np.int64)
    most = int((room + CRUMB) / UNIT)
    best = np.zeros(most + 1)
    taken = np.zeros((len(worth), most + 1), dtype=bool)
    for place, (need, gains) in enumerate(zip(size.tolist(), worth.tolist(), strict=True)):
        if need <= most and gains > 0:
            with_it = best[: most + 1 - need] + gains
            taken[place, need:] = with_it > best[need:] + CRUMB
            best[need:] = np.maximum(best[need:], with_it)
    chosen, left = [], most
    for place in range(len(worth) - 1, -1, -1):
        if taken[place, left]:
            chosen.append(place)
            left -= int(size[place])
    return np.array(chosen[::-1], dtype=np.int64)
