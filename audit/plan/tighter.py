"""A closer bound for a small quarter: a price for each visit, and every slot filled as well as can be at these prices.

A visit's price says what it is worth elsewhere. For any prices from 0 up, what all visits cost at them, plus what the
best filling of every slot gains over them, is no less than the worth of any plan (weak duality). Journeys and visits
that cannot be cut stay inside each slot's knapsack, so this bound is closer than that of the hours' prices alone. The
prices follow the subgradient: up where several slots want a visit, down where none does.

Source: M. L. Fisher (1981), The Lagrangian relaxation method for solving integer programming problems, Management
Science 27(1), 1-18, for relaxing the assignment and for the length of the step.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from audit.plan.book import Book
from audit.plan.knapsack import best_with_journeys
from audit.plan.problem import CRUMB, Numbers, Problem, Whole

ROUNDS: Final = 60
PATIENCE: Final = 5  # rounds without a closer bound before the step is halved
CLOSE: Final = 1e-3  # of the worth: a bound this near is near enough


def bound(it: Problem, settled: Book, visits: Whole, price: Numbers, worth: float, known: float) -> float:
    """Return the closest bound found on what `visits` can be worth beside those settled; at most `known`.

    Args:
        it: The problem; no budget binds.
        settled: The placement of what does not compete.
        visits: Visits that compete.
        price: First price of each visit, from 0 up, shape (n,).
        worth: What they are worth in the best placement known.
        known: A bound already known.
    """
    slots = [_Slot(it, settled, at, visits) for at in range(len(it.room))]
    best, step, waited, start = known, 1.0, 0, price
    for _ in range(ROUNDS):
        if best - worth <= CLOSE * worth:
            break
        wanted = -np.isin(np.arange(len(price)), visits).astype(np.float64)  # each is there once
        limit = float(price[visits].sum())
        for slot in slots:
            gain, taken = slot.filled(price)
            limit += gain
            wanted[taken] += 1.0
        waited = 0 if limit < best - CRUMB else waited + 1
        if limit < best:
            best, start = limit, price
        if waited == PATIENCE:
            step, waited, price = step / 2.0, 0, start
            continue
        wanted[(price <= 0.0) & (wanted < 0.0)] = 0.0
        length = float(wanted @ wanted)
        if not length:
            break
        price = np.maximum(price + step * (limit - worth) / length * wanted, 0.0)
    return best


class _Slot:
    """One slot: the visits that may fill it, those of one area together, and what each journey takes."""

    def __init__(self, it: Problem, settled: Book, at: int, visits: Whole) -> None:
        week = int(it.week[at])
        lines = [line for line, slots in enumerate(it.open_to) if at in slots]
        mine = visits[np.isin(it.line[visits], lines) & (it.worth[visits, week] > 0)]
        self.visits = mine[np.lexsort((mine, it.area[mine]))]
        self.worth, self.hours = it.worth[self.visits, week], it.hours[self.visits, week]
        self.area, self.room = it.area[self.visits], float(settled.room[at])
        self.journey = {area: 0.0 if area in settled.areas[at] else it.travel for area in set(self.area.tolist())}

    def filled(self, price: Numbers) -> tuple[float, Whole]:
        """The most that a filling gains over the prices, and its visits."""
        net = self.worth - price[self.visits]
        more = np.flatnonzero(net > CRUMB)
        gain, at = best_with_journeys(net[more], self.hours[more], self.area[more], self.journey, self.room)
        return gain, self.visits[more[at]]
