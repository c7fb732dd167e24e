"""The best plan there is, by a solver: first as much danger as can be, in time; then what is worth most.

A mixed-integer program for HiGHS (through SciPy): one yes/no for each visit and slot, one for each area that a slot
travels to.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from audit.plan.problem import NOWHERE, Numbers, Placed, Problem, Whole, worth_of

LEAST: Final = 1e-5  # GBP: decides between plans of equal worth only


@dataclass(frozen=True)
class Search:
    """How far the solver looks: by counts, not by time, so that the plan is the same every time.

    Attributes:
        nodes: Nodes of its tree, at most.
        small: Columns up to which it proves the best.
        close: Share of the worth by which it may miss the best in a larger one.
    """

    nodes: int = 2_000
    small: int = 1_000
    close: float = 1e-3


WHOLE: Final = Search()


def exact(it: Problem, search: Search = WHOLE) -> Placed | None:
    """Return the best plan, proven where the solver's search ends within its bounds, or None where it found none."""
    visit, slot = _pairs(it)
    if not len(visit):
        return Placed(np.full(len(it.worth), NOWHERE, dtype=np.int64), 0.0, 0.0, "solver")
    rows, limits, columns = _rules(it, visit, slot)
    least = _padded(it.kept[visit].astype(np.float64), columns)  # what the planner keeps is placed
    week, kept = it.week[slot], list[tuple[Numbers, float]]()
    ranks = [rank[visit].astype(np.float64) for rank in it.ranks]
    for aim in [aim for rank in ranks for aim in (rank, rank * (week <= it.latest[visit]))]:
        if aim.any():
            found = _solve(_padded(aim, columns), rows, limits, kept, least, search)
            if found is None:
                return None
            kept.append((_padded(aim, columns), float(np.round(aim @ found.x[: len(aim)]))))
    worth = it.worth[visit, week] - LEAST * _preference(it, visit, slot)
    found = _solve(_padded(worth, columns), rows, limits, kept, least, search)
    if found is None:
        return None
    place = np.full(len(it.worth), NOWHERE, dtype=np.int64)
    taken = found.x[: len(visit)] > 0.5
    place[visit[taken]] = slot[taken]
    value = worth_of(it, place)
    slack = LEAST * float(_preference(it, visit, slot).max()) * len(it.worth)
    return Placed(place, value, max(value, -float(found.mip_dual_bound) + slack), "solver")


def _preference(it: Problem, visit: Whole, slot: Whole) -> Numbers:
    """Place of each pair's slot among those open to its visit: of equal plans, the preferred teams."""
    rank = np.zeros((len(it.open_to), len(it.room)))
    for line, slots in enumerate(it.open_to):
        rank[line, slots] = np.arange(len(slots))
    return np.asarray(rank[it.line[visit], slot])


def _pairs(it: Problem) -> tuple[Whole, Whole]:
    """Every visit and slot that go together, danger whatever its worth, anything else where it is worth something."""
    visits, slots = [], []
    for line, of_line in enumerate(it.open_to):
        rows = np.flatnonzero((it.line == line) & ~it.kept)
        worth = it.worth[np.ix_(rows, it.week[of_line])]
        allowed = np.isfinite(worth) & ((worth > 0) | it.urgent[rows][:, None])
        at, to = np.nonzero(allowed)
        visits.append(rows[at])
        slots.append(of_line[to])
    if it.fixed is not None:
        visits.append(np.flatnonzero(it.kept))
        slots.append(it.fixed[it.kept])
    visit, slot = np.concatenate(visits), np.concatenate(slots)
    order = np.lexsort((slot, visit))
    return visit[order].astype(np.int64), slot[order].astype(np.int64)


def _rules(it: Problem, visit: Whole, slot: Whole) -> tuple[Any, Numbers, int]:
    """Rows of the program: each visit once, hours of each slot, no visit where its slot does not travel to."""
    from scipy.sparse import coo_array

    pairs = len(visit)
    journeys, journey = np.unique(np.column_stack([slot, it.area[visit]]), axis=0, return_inverse=True)
    trips = len(journeys) if it.travel else 0
    at, once = np.arange(pairs), len(it.worth)
    row = [visit, once + slot]
    column, value = [at, at], [np.ones(pairs), it.hours[visit, it.week[slot]]]
    limits = [np.ones(once), it.room]
    if trips:
        row += [once + journeys[:, 0], once + len(it.room) + at, once + len(it.room) + at]
        column += [pairs + np.arange(trips), at, pairs + journey.ravel()]
        value += [np.full(trips, it.travel), np.ones(pairs), -np.ones(pairs)]
        limits.append(np.zeros(pairs))
    if it.spends is not None:
        row.append(np.full(pairs, sum(map(len, limits))))
        column.append(at)
        value.append(it.spends[visit, it.week[slot]])
        limits.append(np.array([it.budget]))
    upper = np.concatenate(limits)
    entries = (np.concatenate(value), (np.concatenate(row), np.concatenate(column)))
    return coo_array(entries, shape=(len(upper), pairs + trips)).tocsr(), upper, pairs + trips


def _padded(aim: Numbers, columns: int) -> Numbers:
    return np.concatenate([aim, np.zeros(columns - len(aim))])


@contextmanager
def _silence() -> Iterator[None]:
    """Keep what the solver's own code now and then writes to the standard output away from the results there."""
    sys.stdout.flush()
    kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


def _solve(
    aim: Numbers, rows: Any, limits: Numbers, kept: list[tuple[Numbers, float]], lowest: Numbers, search: Search
) -> Any:
    from scipy.optimize import Bounds, LinearConstraint, milp

    rules = [LinearConstraint(rows, -np.inf, limits)]
    rules += [LinearConstraint(row[None, :], least, np.inf) for row, least in kept]
    with _silence():
        found = milp(
            -aim,
            constraints=rules,
            integrality=np.ones(len(aim)),
            bounds=Bounds(lowest, 1),
            options={"node_limit": search.nodes, "mip_rel_gap": search.close if len(aim) > search.small else 0.0},
        )
    return found if found.x is not None else None
