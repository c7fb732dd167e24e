"""How one job is met: reported, perhaps nobody in, perhaps a part to fetch, done; and again, where it comes back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from audit.sample import draw
from audit.sample.draw import Bools, Floats, Ints
from audit.sample.world import World

MOST = 4  # attempts at one fault
ACTIONS = ("none", "motor", "head", "full", "wiring")
NONE, MOTOR, HEAD, FULL, WIRING = range(5)
WAIT_DAYS = (0.34, 0.38, 0.12, 0.06, 0.04, 0.03, 0.02, 0.01)  # share of jobs attended after 0, 1, 2 ... days
CHAIN_ROOTS = ("seized_body", "hot_cupboard", "bad_batch", "bad_end_switch", "loose_wire")
WRONG_ACTIONS = (  # share of none, motor, head at the attempts before the last, by root
    (0.30, 0.10, 0.60),
    (0.20, 0.10, 0.70),
    (0.10, 0.00, 0.90),
    (0.65, 0.25, 0.10),
    (0.60, 0.05, 0.35),
)


@dataclass(frozen=True)
class Attempts:
    """One entry an attempt; days since 1970 with the time of day; NaN where it did not happen."""

    event: Ints
    number: Ints  # 0 first
    last: Bools
    reported: Floats
    missed: Floats  # attended, nobody in
    fetched: Floats  # attended, a part was needed
    attended: Floats  # attended, finished
    completed: Floats
    action: Ints


def meet(
    first: int,
    day: Floats,
    notice: Floats,
    count: Ints,
    root: Ints,
    final: Ints,
    world: World,
    rng: np.random.Generator,
) -> Attempts:
    """Play the attempts of a list of jobs.

    Args:
        first: Number of the first event; the others follow.
        day: Day on which the fault shows, or on which planned work is done.
        notice: Days between raising and doing planned work; 0 for faults.
        count: Attempts until it is cured, 1 to MOST.
        root: Place in CHAIN_ROOTS, -1 where the first attempt cures it.
        final: Place in ACTIONS of the last attempt.
        world: The planted shares.
        rng: The stream to draw from.
    """
    rounds = []
    today = np.floor(day)
    for number in range(int(count.max(initial=0))):
        rows = np.flatnonzero(count > number)
        last = count[rows] == number + 1
        wrong = draw.pick_by(rng, np.maximum(root[rows], 0), WRONG_ACTIONS)
        action = np.where(last, final[rows], wrong)
        done = _one(today[rows], notice[rows], action, world, rng)
        rounds.append(Attempts(rows + first, np.full(rows.size, number), last, *done, action))
        gap = np.clip(np.exp(np.log(14) + 0.7 * rng.standard_normal(rows.size)), 2, 60)
        today[rows] = np.floor(done[-1]) + np.floor(gap)
    return Attempts(*(np.concatenate(columns) for columns in zip(*(vars(r).values() for r in rounds), strict=True)))


def _one(
    today: Floats, notice: Floats, action: Ints, world: World, rng: np.random.Generator
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Reported, missed, fetched, attended, completed of one attempt at each job."""
    n = today.size
    planned = notice > 0
    reported = today - notice + np.where(planned, 0.375, (7.5 + 12 * rng.random(n)) / 24)
    wait = np.where(planned, notice, draw.pick(rng, n, WAIT_DAYS)).astype(float)
    missed = (rng.random(n) < world.no_access) & ~planned
    fetched = (rng.random(n) < world.parts_needed) & ~planned & (action >= MOTOR)
    there = visit_at(reported, wait, rng)
    after_miss = visit_at(there, np.where(missed, rng.integers(1, 7, n), 0), rng)
    first_there = np.where(missed, after_miss, there)
    after_fetch = visit_at(first_there, np.where(fetched, rng.integers(1, 13, n), 0), rng)
    attended = np.where(fetched, after_fetch, first_there)
    completed = attended + (0.5 + 2.0 * rng.random(n)) / 24
    return reported, draw.only(there, missed), draw.only(first_there, fetched), attended, completed


def visit_at(after: Floats, days: Floats, rng: np.random.Generator) -> Floats:
    """A time in working hours so many days later; on the same day, within two hours and a half."""
    draws = rng.random(after.size)
    later = np.floor(after) + days + (8 + 8.5 * draws) / 24
    return np.where(days > 0, later, after + (0.4 + 2.1 * draws) / 24)
