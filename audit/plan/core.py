"""The last step of a small quarter: the visits that are nearly worth their hours, placed anew by the solver.

At the hours' prices most visits are clearly worth placing, or clearly not; those stay as they are. Which of the others
fit the hours that are left best is a small problem, and the solver settles it.

Source: E. Balas and E. Zemel (1980), An algorithm for large zero-one knapsack problems, Operations Research 28(5),
1130-1154, for the core of a knapsack problem.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from audit.plan.exact import Search, exact
from audit.plan.problem import CRUMB, NEVER, NOWHERE, Numbers, Problem, Whole, hours_used, spent, worth_of

SEARCH: Final = Search(nodes=300, small=0, close=5e-4)
MOST: Final = 300  # pairs of visit and slot that the solver is given: seconds at most


def settled_core(it: Problem, slot: Whole, gain: Numbers) -> Whole:
    """Return the placement with its core placed anew, where that is worth more.

    Args:
        it: The problem.
        slot: The placement so far, shape (n,).
        gain: Worth of each visit in each week less the price of its hours, shape (n, w); −inf where it may not be.
    """
    best = gain.max(axis=1, initial=-np.inf)
    pairs = np.array([len(slots) for slots in it.open_to], dtype=np.int64)[it.line]
    order = np.argsort(np.abs(best), kind="stable")
    order = order[np.isfinite(best[order]) & ~it.settled[order]]
    core = np.zeros(len(slot), dtype=bool)
    core[order[np.cumsum(pairs[order]) <= MOST]] = True
    if not core.any():
        return slot
    held = np.where(core, NOWHERE, slot)
    out = ~core & (slot == NOWHERE)
    small = replace(
        it,
        fixed=held,
        urgent=np.zeros(len(slot), dtype=bool),
        danger=None,
        worth=np.where(out[:, None], NEVER, it.worth),
    )
    found = exact(small, SEARCH)
    if found is None or worth_of(it, found.slot) <= worth_of(it, slot):
        return slot
    keeps = (hours_used(it, found.slot) <= it.room + CRUMB).all() and spent(it, found.slot) <= it.budget + CRUMB
    return found.slot if keeps else slot
