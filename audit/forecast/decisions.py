"""What each policy does with a valve of given ages: nothing, heads at an age, or what the programme finds cheapest."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import numpy.typing as npt

from audit.choice.programme import ACTIONS, EVERY, HEAD, LEAVE, Array, Costs, Grid, Lives, solve, whole_only
from audit.forecast.flow import Decide, Move


def fix_on_failure(to_go: int, weak: bool) -> tuple[Move, ...]:
    """Renew nothing ahead of its failure."""
    return ()


def heads_at(age: float, grid: Grid) -> Decide:
    """Renew every head that is `age` years old or older; weak valves, which a head does not mend, are left to fail."""
    oldest = round(age / grid.step) if np.isfinite(age) else grid.head_steps
    if oldest >= grid.head_steps:
        return fix_on_failure
    moves = as_moves(HEAD, np.arange(grid.head_steps)[:, None] >= np.full((1, grid.body_steps), oldest))

    def decide(to_go: int, weak: bool) -> tuple[Move, ...]:
        return () if weak else moves

    return decide


def least_cost(lives: Lives, costs: Costs, grid: Grid, steps: int, due: Collection[int], *, weak: bool) -> Decide:
    """Do what the programme finds cheapest, for each of the steps to go in `due`."""
    best: dict[tuple[int, bool], tuple[Move, ...]] = {}
    seen = dict.fromkeys(due, EVERY)
    renewed = solve(lives, costs, grid, steps, lambda to_go, q: best.update({(to_go, False): cheapest(q)}), due=seen)
    if weak:
        weakly = whole_only(costs)
        solve(lives, weakly, grid, steps, lambda to_go, q: best.update({(to_go, True): cheapest(q)}), renewed, seen)
    return lambda to_go, weak: best[to_go, weak]


def cheapest(q: Array) -> tuple[Move, ...]:
    """Return what costs least where that is not leaving; of equal costs the lighter work."""
    least = q[LEAVE + 1 :].min(axis=0)
    open_still = least < q[LEAVE]
    moves: list[Move] = []
    for action in range(LEAVE + 1, len(ACTIONS)):
        chosen = open_still & (q[action] == least)
        open_still &= ~chosen
        moves += as_moves(action, chosen)
    return tuple(moves)


def as_moves(action: int, where: npt.NDArray[np.bool_]) -> tuple[Move, ...]:
    """Return the moves of one action taken at the ages (head, body) `where`."""
    rows = np.flatnonzero(where.any(axis=1))
    return ((action, rows, where[rows]),) if len(rows) else ()
