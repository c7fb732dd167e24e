"""The fit: small quarters, or asked for, by the solver; all others by prices and swaps."""

from __future__ import annotations

import numpy as np

from audit.plan.exact import exact
from audit.plan.place import place
from audit.plan.problem import CRUMB, Placed, Problem, hours_used, spent


def fit(it: Problem, small: float, largest: float, *, asked: bool = False) -> tuple[Placed, tuple[str, ...]]:
    """Place the visits; returns the placement and what has to be said.

    Args:
        it: The problem.
        small: Up to so many pairs of visit and slot the solver is always used.
        largest: Up to so many it is used where `asked`.
        asked: The user wants the proven best.
    """
    pairs = it.pairs
    said: tuple[str, ...] = ()
    if pairs <= small or (asked and pairs <= largest):
        found = exact(it)
        if found is not None and _keeps(it, found):
            return found, ()
        said = ("The solver found no proven best plan in its time; the plan was made by prices and swaps.",)
    elif asked:
        said = (
            f"--exact solves up to {largest:,.0f} pairs of visit and team's week, and this quarter has {pairs:,}; "
            "the plan was made by prices and swaps, and its gap is stated.",
        )
    return place(it), said


def _keeps(it: Problem, found: Placed) -> bool:
    """Whether hours and budget are kept: the solver's own tolerance is wider than a crumb."""
    within = spent(it, found.slot) <= it.budget + CRUMB
    return bool(within and (hours_used(it, found.slot) <= it.room + CRUMB).all())


def gap(it: Problem, found: Placed) -> float:
    """GBP by which a better plan could at most be worth more."""
    return float(np.maximum(found.bound - found.worth, 0.0))
