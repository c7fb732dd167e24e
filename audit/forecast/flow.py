"""How many failures and renewals to expect, step by step: the ages of a class of valves carried forward exactly.

The model is that of `audit.choice.programme`, walked the other way: instead of costs backward, counts forward. At the
start of a step the policy renews; during it head and body may fail and are put right; ages go up by one step.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from audit.choice.programme import FULL, HEAD, MOTOR

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Move = tuple[int, Ints, npt.NDArray[np.bool_]]  # an action, head ages where it is taken, and at which (head, body)
Decide = Callable[[int, bool], tuple[Move, ...]]  # by the steps to go, and whether the valve is weak
EVENTS: Final = ("head_failures", "body_failures", "weak_failures", "motors", "heads", "fulls", "renewed_with_heating")
HEAD_FAILS, BODY_FAILS, WEAK_FAILS, MOTORS, HEADS, FULLS, WITH_HEATING = range(len(EVENTS))
EVENT: Final = {MOTOR: MOTORS, HEAD: HEADS, FULL: FULLS}


@dataclass(frozen=True)
class Band:
    """Valves of a class whose heating is renewed about the same time.

    `counts` (head ages, body ages): how many there are of each age; `leaving` (steps,): share of those left that is
    renewed with the heating at the end of each step; `to_go` (steps,): steps to that renewal, as each step begins.
    """

    counts: Floats
    leaving: Floats
    to_go: Ints


@dataclass(frozen=True)
class Chances:
    """Chance to fail within a step, by age: `head` (draws, head ages), `body` (draws, body ages).

    `motor_keeps`: share of its age that a head keeps when it gets a new motor.
    """

    head: Floats
    body: Floats
    motor_keeps: float


def flow(bands: tuple[Band, ...], weak: bool, chances: Chances, decide: Decide) -> Floats:
    """Return how many of each of EVENTS to expect in each step: (steps, draws, events).

    Args:
        bands: The valves of a class; in the last band nobody's heating is renewed, and valves of the others join it
            with both parts new when theirs is.
        weak: They are weak: whatever fails renews the whole valve, which then is like any other.
        chances: Of failing.
        decide: The policy.
    """
    steps, draws = len(bands[-1].leaving), len(chances.head)
    walk = _Walk(chances, decide, np.zeros((steps, draws, len(EVENTS))))
    fresh = np.zeros((steps + 1, draws))  # with both parts new, as each step begins
    for band in bands:
        start, joining = band.counts, np.zeros((steps + 1, draws))
        if weak:
            joining, left = walk(band, start, joining, weak=True)
            start, fresh = np.zeros_like(start), fresh + left
        if band is bands[-1]:
            joining = joining + fresh
        _, left = walk(band, start, joining, weak=False)
        fresh = fresh + left
    return walk.made


class _Walk:
    """Carries one band through the steps; what happens is added to `made` (steps, draws, events)."""

    def __init__(self, chances: Chances, decide: Decide, made: Floats) -> None:
        self.decide, self.made = decide, made
        self.head, self.body = chances.head[:, None, :], chances.body
        self.lasts = (1 - chances.head)[:, :, None] * (1 - chances.body)[:, None, :]
        self.motor = motor_table(chances.motor_keeps, chances.head.shape[1])

    def __call__(self, band: Band, start: Floats, joining: Floats, *, weak: bool) -> tuple[Floats, Floats]:
        """Return valves mended to be like any other, and valves renewed with their heating: (steps + 1, draws)."""
        steps, draws, _ = self.made.shape
        mended, left = np.zeros((2, steps + 1, draws))
        now = np.broadcast_to(start, (draws, *start.shape)).copy()
        spare = np.empty_like(now)
        last = _last_step(band)
        for t in range(last):
            now[:, 0, 0] += joining[t]
            for move in self.decide(int(band.to_go[t]), weak):
                mended[t] += self._act(now, move, t, weak=weak)
            failed = self._fail(now, spare, t, weak=weak)
            now, spare = spare, now
            stays = 1 - band.leaving[t]
            if stays < 1:
                left[t + 1] = (now.sum(axis=(1, 2)) + failed) * band.leaving[t]
                now *= stays
                self.made[t, :, WITH_HEATING] += left[t + 1]
            mended[t + 1] += failed * stays
        return mended, left

    def _act(self, now: Floats, move: Move, t: int, *, weak: bool) -> Floats:
        """Renew what the policy renews; returns the weak valves that are like any other now."""
        action, rows, chosen = move
        moved = now[:, rows] * chosen
        now[:, rows] -= moved
        by_body = moved.sum(axis=1)
        count = by_body.sum(axis=1)
        self.made[t, :, EVENT[action]] += count
        if action == MOTOR:
            now += self.motor[rows].T @ moved
        elif action == HEAD:
            now[:, 0] += by_body
        elif weak:
            return np.asarray(count)
        else:
            now[:, 0, 0] += count
        return np.zeros(len(now))

    def _fail(self, now: Floats, after: Floats, t: int, *, weak: bool) -> Floats:
        """Fill `after` with the ages a step later; returns the weak valves that failed."""
        bodies = np.einsum("db,db->d", now.sum(axis=1), self.body)
        heads = (self.head @ now)[:, 0] * (1 - self.body)
        now *= self.lasts
        after[:, 1:, 1:] = now[:, :-1, :-1]
        after[:, 0], after[:, :, 0] = 0.0, 0.0
        after[:, -1, 1:] += now[:, -1, :-1]  # the oldest stay the oldest
        after[:, 1:, -1] += now[:, :-1, -1]
        after[:, -1, -1] += now[:, -1, -1]
        self.made[t, :, BODY_FAILS] += bodies
        self.made[t, :, WEAK_FAILS if weak else HEAD_FAILS] += heads.sum(axis=1)
        if weak:
            return np.asarray(bodies + heads.sum(axis=1))
        after[:, 0, 1:] += heads[:, :-1]
        after[:, 0, -1] += heads[:, -1]
        after[:, 0, 0] += bodies
        return np.zeros(len(now))


def motor_table(keeps: float, ages: int) -> Floats:
    """Return which share of heads of each age (rows) has each age (columns) once the motor is new."""
    age = keeps * np.arange(ages)
    low = np.floor(age).astype(np.int64)
    share, table = age - low, np.zeros((ages, ages))
    table[np.arange(ages), low] = 1 - share
    table[np.arange(ages), np.minimum(low + 1, ages - 1)] += share
    return table


def _last_step(band: Band) -> int:
    """The number of steps until nobody of a band is left."""
    gone = np.flatnonzero(band.leaving >= 1)
    return int(gone[0]) + 1 if len(gone) else len(band.leaving)
