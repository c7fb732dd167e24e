"""What a valve costs later under each option, acting best from then on: one programme a class, answers looked up.

A class shares lives, prices and what is possible, so the time it takes does not grow with the portfolio. A *frail*
valve (stiff, leaking, head not detachable) has no use for a head or motor alone: whatever fails, or is done, renews the
whole valve, and then it is like any other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.choice.assumed_life import QUARTER
from audit.choice.programme import ACTIONS, FULL, HEAD, LEAVE, MOTOR, Costs, Grid, Lives, solve
from audit.policy import Policy

Numbers = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
COSTS: Final = ("motor", "head", "full", "head_failure", "body_failure")
SAME_LIFE: Final = 0.15  # scales this much apart, as a share, and shapes this much apart count as one class
NEVER: Final = -1  # no age at which the best option changes


@dataclass
class Ahead:
    """Answers for each valve: `later` (n, 4) GBP in the order of ACTIONS; `until` (n, 4), see `costs_ahead`."""

    later: Numbers
    until: Whole


def costs_ahead(valves: pd.DataFrame, policy: Policy) -> Ahead:
    """Look up the expected later cost of each option for each valve.

    Args:
        valves: COSTS (GBP; a planned action not possible on a sound valve is infinite), shape and scale (years) of head
            and body, `frail` (yes/no), `head_quarters`, `body_quarters`, `horizon_quarters`; numbered from 0.
        policy: For the discount rate, and the share of a head's age that a new motor leaves.

    Returns:
        `later`: expected cost after each option, discounted, to the end of the horizon. `until`: the age of the body,
        in quarters, from which another option would be best than the one that is best now (in the column of that
        option, of those possible at all; NEVER elsewhere, and where none is).
    """
    found = Ahead(np.full((len(valves), len(ACTIONS)), np.nan), np.full((len(valves), len(ACTIONS)), NEVER))
    classed = _classes(valves)
    number = classed.groupby(list(classed.columns), sort=True).ngroup().to_numpy()
    typical = valves[list(classed.columns)].groupby(number).mean()  # a life shared by all stays what it is
    for at, key in enumerate(typical.to_dict("records")):
        of_class = np.flatnonzero(number == at)
        _one_class(found, valves, {str(name): value for name, value in key.items()}, of_class, policy)
    return found


def _classes(valves: pd.DataFrame) -> pd.DataFrame:
    """Costs, and lives rounded: scales to steps of SAME_LIFE in their logarithm, shapes likewise in themselves."""
    keys = valves[list(COSTS)].round(4)
    for part in ("head", "body"):
        shape, scale = valves[f"{part}_shape"], valves[f"{part}_scale"]
        keys[f"{part}_shape"] = (shape / SAME_LIFE).round() * SAME_LIFE
        keys[f"{part}_scale"] = np.exp((np.log(scale) / SAME_LIFE).round() * SAME_LIFE)
    return keys


def _one_class(found: Ahead, valves: pd.DataFrame, key: Mapping[str, float], rows: Whole, policy: Policy) -> None:
    """Solve the programme of a class, sound and then frail, and look its valves up."""
    kept = 1.0 - policy.number("life.motor_share")
    lives = Lives(key["head_shape"], key["head_scale"], key["body_shape"], key["body_scale"], kept)
    grid = Grid(step=QUARTER, rate=policy.number("money.discount_rate"))
    costs = Costs(key["motor"], key["head"], key["full"], key["head_failure"], key["body_failure"])
    steps = int(valves["horizon_quarters"].to_numpy()[rows].max())
    frail = valves["frail"].to_numpy()[rows]
    waits = np.zeros(steps + 1)

    def see(to_go: int, q: Numbers) -> None:
        waits[to_go] = q[LEAVE, 0, 0]
        sound.see(to_go, q)

    sound = _Look(found, valves, rows[~frail], costs, grid, kept, waits)
    due = frozenset(valves["horizon_quarters"].to_numpy()[rows].tolist())
    renewed = solve(lives, costs, grid, steps, see, due=due)
    if frail.any():
        bare = Costs(np.inf, np.inf, costs.full, costs.head_failure, costs.body_failure, head_failure_renews_body=True)
        weak = _Look(found, valves, rows[frail], bare, grid, kept, waits)
        solve(lives, bare, grid, steps, weak.see, renewed, due)


class _Look:
    """Looks the valves of one class up as the sweep passes the number of steps that each has to go."""

    def __init__(
        self, found: Ahead, valves: pd.DataFrame, rows: Whole, costs: Costs, grid: Grid, kept: float, waits: Numbers
    ) -> None:
        self.found, self.rows, self.costs, self.waits = found, rows, costs, waits
        self.head = np.minimum(valves["head_quarters"].to_numpy()[rows], grid.head_steps - 1)
        self.body = np.minimum(valves["body_quarters"].to_numpy()[rows], grid.body_steps - 1)
        self.low = np.floor(kept * self.head).astype(np.int64)
        self.share = kept * self.head - self.low
        to_go = valves["horizon_quarters"].to_numpy()[rows]
        self.due = pd.Series(np.arange(len(rows))).groupby(to_go).indices

    def see(self, to_go: int, q: Numbers) -> None:
        at = self.due.get(to_go)
        if at is None:
            return
        head, body, low, share = self.head[at], self.body[at], self.low[at], self.share[at]
        wait = q[LEAVE]
        later = np.empty((len(at), len(ACTIONS)))
        later[:, LEAVE] = wait[head, body]
        later[:, MOTOR] = wait[low, body] * (1 - share) + wait[low + (share > 0), body] * share
        later[:, HEAD] = wait[0, body]
        later[:, FULL] = self.waits[to_go]
        self.found.later[self.rows[at]] = later
        best, change = _changes(q, np.unique(head))
        place = np.searchsorted(np.unique(head), head)
        self.found.until[self.rows[at], best[place, body]] = change[place, body]


def _changes(q: Numbers, heads: Whole) -> tuple[Whole, Whole]:
    """The best action for each of these head ages and every body age, and the next body age with another; (h, b)."""
    best = np.argmin(q[:, heads, :], axis=0)
    last = best.shape[1]
    differs = np.where(best[:, 1:] != best[:, :-1], np.arange(1, last), last)
    ahead = np.minimum.accumulate(differs[:, ::-1], axis=1)[:, ::-1]
    change = np.concatenate([ahead, np.full((len(heads), 1), last)], axis=1)
    return best, np.where(change < last, change, NEVER)
