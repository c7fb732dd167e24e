"""What a valve costs later under each option, acting best from then on: one programme a class, answers looked up.

A class shares prices, what is possible, and lives but for the scale of the head's, which the place of a valve varies.
The programme is solved for a few scales, and what lies between is read off a line, so the time it takes does not grow
with the portfolio. A *frail* valve (stiff, leaking, head not detachable) has no use for a head or motor alone: whatever
fails, or is done, renews the whole valve at its price, and then it is like any other.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.choice.assumed_life import QUARTER
from audit.choice.programme import ACTIONS, FULL, HEAD, LEAVE, MOTOR, Costs, Grid, Lives, solve, whole_only
from audit.policy import Policy
from audit.threads import one_thread

Numbers = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
COSTS: Final = ("motor", "head", "full", "head_failure", "body_failure")
SAME_SHAPE: Final = 0.6  # shapes this much apart count as one class
SAME_BODY: Final = 0.3  # scales of bodies this much apart, as a share, likewise
SPACING: Final = 0.5  # between the head scales solved for, as a share
NEVER: Final = -1  # no age at which the best option changes
NEAR: Final = (
    "Later costs are reckoned for classes of valves of like price and life, not for each valve: in an invented stock "
    "of 325,000 valves they lay £1.31 from a valve's own on average and £17.27 at most (400 valves reckoned alone)."
)


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
    found = Ahead(np.zeros((len(valves), len(ACTIONS))), np.full((len(valves), len(ACTIONS)), NEVER))
    classed = _classes(valves)
    number = classed.groupby(list(classed.columns), sort=True).ngroup().to_numpy()
    typical = valves[list(classed.columns)].groupby(number).mean()  # a life shared by all stays what it is
    scale = valves["head_scale"].to_numpy(np.float64)
    with one_thread():
        for at, key in enumerate(typical.to_dict("records")):
            of_class = np.flatnonzero(number == at)
            for head_scale, near, weight in knots(scale[of_class]):
                life = {str(name): float(value) for name, value in key.items()} | {"head_scale": head_scale}
                _one_class(found, valves, life, of_class[near], weight, policy)
    return found


def _classes(valves: pd.DataFrame) -> pd.DataFrame:
    """Costs, and lives rounded: shapes to steps of SAME_SHAPE, scales of bodies of SAME_BODY in their logarithm."""
    keys = valves[list(COSTS)].round(4)
    for part in ("head", "body"):
        keys[f"{part}_shape"] = (valves[f"{part}_shape"] / SAME_SHAPE).round()
    keys["body_scale"] = (np.log(valves["body_scale"]) / SAME_BODY).round()
    return keys


def knots(scale: Numbers) -> Iterator[tuple[float, Whole, Numbers]]:
    """Yield a few scales over those given, evenly spaced in their logarithm, each with the places it has a part in.

    With a knot come the places in `scale` between it and its neighbours, and its weight in each: a cost there is about
    the sum over knots of weight times the cost at the knot. The line is drawn over 1 / scale, for as many failures come
    in a year. Equal scales have one knot, themselves.
    """
    least, most = scale.min(), scale.max()
    gaps = int(np.ceil(np.log(most / least) / SPACING))
    at = least * (most / least) ** (np.arange(gaps + 1) / max(gaps, 1))
    place = np.interp(-1.0 / scale, -1.0 / at, np.arange(gaps + 1))
    for knot, here in enumerate(at.tolist()):
        weight = 1.0 - np.abs(place - knot)
        near = np.flatnonzero(weight > 0)
        if len(near):
            yield here, near, weight[near]


def _one_class(
    found: Ahead, valves: pd.DataFrame, key: Mapping[str, float], rows: Whole, weight: Numbers, policy: Policy
) -> None:
    """Solve the programme of a class, sound and then frail, and look its valves up."""
    kept = 1.0 - policy.number("life.motor_share")
    lives = Lives(key["head_shape"], key["head_scale"], key["body_shape"], key["body_scale"], kept)
    grid = Grid(step=QUARTER, rate=policy.number("money.discount_rate"))
    costs = Costs(key["motor"], key["head"], key["full"], key["head_failure"], key["body_failure"])
    to_go = valves["horizon_quarters"].to_numpy()[rows]
    frail = valves["frail"].to_numpy()[rows]
    waits = np.zeros(int(to_go.max()) + 1)
    sound = _Look(found, valves, rows[~frail], weight[~frail], grid, kept, waits)
    new = dict.fromkeys(to_go.tolist(), np.zeros(1, dtype=np.int64))

    def see(to_go: int, q: Numbers) -> None:
        waits[to_go] = q[LEAVE, 0, 0]
        sound.see(to_go, q)

    renewed = solve(lives, costs, grid, len(waits) - 1, see, due=new | sound.due)
    if frail.any():
        weak = _Look(found, valves, rows[frail], weight[frail], grid, kept, waits)
        solve(lives, whole_only(costs), grid, max(weak.due), weak.see, renewed, weak.due)


class _Look:
    """Looks the valves of one class up as the sweep passes the number of steps that each has to go.

    `due`: the ages of the head, 0 among them, that are read with so many steps to go.
    """

    def __init__(
        self, found: Ahead, valves: pd.DataFrame, rows: Whole, weight: Numbers, grid: Grid, kept: float, waits: Numbers
    ) -> None:
        to_go = valves["horizon_quarters"].to_numpy()[rows]
        order = np.argsort(to_go, kind="stable")
        self.found, self.rows, self.weight, self.waits = found, rows[order], weight[order], waits
        head = np.minimum(valves["head_quarters"].to_numpy()[self.rows], grid.head_steps - 1)
        self.body = np.minimum(valves["body_quarters"].to_numpy()[self.rows], grid.body_steps - 1)
        low = np.floor(kept * head).astype(np.int64)
        self.share = kept * head - low
        self.ages = np.stack([np.zeros_like(head), head, low, low + (self.share > 0)])
        steps, first = np.unique(to_go[order], return_index=True)
        edges = np.append(first, len(rows)).tolist()
        self.at = {step: slice(*ends) for step, *ends in zip(steps.tolist(), edges[:-1], edges[1:], strict=True)}
        self.due = {step: np.unique(self.ages[:, at]) for step, at in self.at.items()}

    def see(self, to_go: int, q: Numbers) -> None:
        if to_go not in self.at:
            return
        at = self.at[to_go]
        rows, body, share, weight = (x[at] for x in (self.rows, self.body, self.share, self.weight))
        new, head, low, high = np.searchsorted(self.due[to_go], self.ages[:, at])
        wait = q[LEAVE]
        later = np.empty((len(rows), len(ACTIONS)))
        later[:, LEAVE] = wait[head, body]
        later[:, MOTOR] = wait[low, body] * (1 - share) + wait[high, body] * share
        later[:, HEAD] = wait[new, body]
        later[:, FULL] = self.waits[to_go]
        self.found.later[rows] += weight[:, None] * later
        mine = weight >= 0.5  # the nearer knot tells; a tie goes to the last
        heads, place = np.unique(head[mine], return_inverse=True)
        best, change = _changes(q[:, heads])
        self.found.until[rows[mine]] = NEVER
        self.found.until[rows[mine], best[place, body[mine]]] = change[place, body[mine]]


def _changes(q: Numbers) -> tuple[Whole, Whole]:
    """The best action for each age of head and body, and the next age of the body with another; (heads, bodies)."""
    best = np.argmin(q, axis=0)
    last = best.shape[1]
    differs = np.where(best[:, 1:] != best[:, :-1], np.arange(1, last), last)
    ahead = np.minimum.accumulate(differs[:, ::-1], axis=1)[:, ::-1]
    change = np.concatenate([ahead, np.full((len(best), 1), last)], axis=1)
    return best, np.where(change < last, change, NEVER)
