"""The best filling of one slot: which visits, at their hours, are worth most together (the 0-1 knapsack problem)."""

from __future__ import annotations

from collections.abc import Mapping
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


def best_with_journeys(
    worth: Numbers, hours: Numbers, area: Whole, journey: Mapping[int, float], room: float
) -> tuple[float, Whole]:
    """Return the most that visits can be worth in a slot that travels once to each of their areas; and which they are.

    What they take is rounded down to hundredths of an hour, so that the worth is a bound whatever the hours.

    Args:
        worth: Of each visit, all above nought.
        hours: Of each visit.
        area: Of each visit; those of one area stand together.
        journey: Hours that each area costs, once.
        room: Hours of the slot.
    """
    size = np.floor((hours + CRUMB) / UNIT).astype(np.int64)
    most = max(int(np.ceil((room - CRUMB) / UNIT)), 0)
    best = np.zeros(most + 1)
    taken = np.zeros((len(worth), most + 1), dtype=bool)
    goes: dict[int, tuple[int, np.ndarray]] = {}
    for at in dict.fromkeys(area.tolist()):
        trip = int(np.floor((journey[at] + CRUMB) / UNIT))
        there = np.full(most + 1, -np.inf)
        there[trip:] = best[: max(most + 1 - trip, 0)]
        for place in np.flatnonzero(area == at).tolist():
            need = int(size[place])
            if need <= most:
                with_it = there[: most + 1 - need] + worth[place]
                taken[place, need:] = with_it > there[need:]
                there[need:] = np.maximum(there[need:], with_it)
        goes[at] = (trip, there > best)
        best = np.maximum(best, there)
    return float(best[most]), _taken(area, size, taken, goes, most)


def _taken(area: Whole, size: Whole, taken: np.ndarray, goes: Mapping[int, tuple[int, np.ndarray]], most: int) -> Whole:
    """Follow the choices back from the full slot."""
    chosen, left = [], most
    for at, (trip, there) in reversed(list(goes.items())):
        if not there[left]:
            continue
        for place in np.flatnonzero(area == at)[::-1].tolist():
            if taken[place, left]:
                chosen.append(place)
                left -= int(size[place])
        left -= trip
    return np.array(chosen[::-1], dtype=np.int64)
