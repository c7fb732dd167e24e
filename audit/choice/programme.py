"""The least expected cost of a valve to its renewal date, by backward induction over the ages of head and body.

Time runs in steps (a quarter of a year). At the start of a step one of four actions is taken: leave, motor, head,
full. During the step head and body may fail; a failure is put right reactively in the middle of the step, a head
failure by a new head, a body failure by a new valve. Costs later than now are discounted. Ages move on the grid of
steps; an age past the end of the grid stays at its end. One programme serves every valve of a class: the answers
for all ages and all numbers of steps to go come out of one sweep.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from audit.life import chance_fail

Array = NDArray[np.float64]
ACTIONS = ("leave", "motor", "head", "full")
LEAVE, MOTOR, HEAD, FULL = range(4)


@dataclass(frozen=True, slots=True)
class Lives:
    """Weibull lives in years, as lived in this valve's place (scales already divided by its acceleration).

    `motor_factor` is the share of the head's age that a new motor leaves (Kijima: 0 as good as new, 1 no better);
    `repair_factor` the share that mending a failed head leaves: 0 is a new head, 1 one no younger than before.
    """

    head_shape: float
    head_scale: float
    body_shape: float
    body_scale: float
    motor_factor: float
    repair_factor: float = 0.0


@dataclass(frozen=True, slots=True)
class Costs:
    """GBP: the three planned actions (infinite where never possible), and the two reactive repairs.

    `head_failure_renews_body` where a failed head can only be mended by a new valve (head not detachable).
    """

    motor: float
    head: float
    full: float
    head_failure: float
    body_failure: float
    head_failure_renews_body: bool = False


def whole_only(costs: Costs) -> Costs:
    """Return the costs of a valve whose head or motor alone is no use: any failure is mended by a whole valve."""
    return Costs(np.inf, np.inf, costs.full, costs.body_failure, costs.body_failure, head_failure_renews_body=True)


@dataclass(frozen=True, slots=True)
class Grid:
    """Step in years, yearly discount rate, and how many steps of age are told apart for head and body."""

    step: float = 0.25
    rate: float = 0.035
    head_steps: int = 121
    body_steps: int = 201

    @property
    def discount(self) -> float:
        """Value now of one pound a step later."""
        return float((1 + self.rate) ** -self.step)


Sweep = Callable[[int, Array], None]


def solve(
    lives: Lives,
    costs: Costs,
    grid: Grid,
    steps: int,
    see: Sweep,
    renewed: Array | None = None,
    due: Collection[int] | None = None,
) -> Array:
    """Sweep backward from the renewal date.

    Args:
        lives: Lives of head and body.
        costs: What each action and failure costs, GBP.
        grid: The grid of ages and the discounting.
        steps: Steps to go at the far end of the sweep.
        see: Called as see(to_go, q), q of shape (4, head_steps, body_steps): expected cost in GBP from taking each of
            `ACTIONS` now at each pair of ages and acting best afterwards; q is reused.
        renewed: Least cost of a newly fitted valve with 0 … steps steps to go, shape (steps + 1,), where a new valve is
            of another class than this one (its head comes off, say); None where it is of this class.
        due: The steps to go for which `see` is called; None for all, 1 … steps.

    Returns:
        Least cost of a valve of this class with both parts new, with 0 … steps steps to go, shape (steps + 1,).
    """
    step = _Step(lives, costs, grid)
    value = np.zeros((grid.head_steps, grid.body_steps))
    new = np.zeros(steps + 1)
    q = np.full((4, grid.head_steps, grid.body_steps), np.inf)
    for to_go in range(1, steps + 1):
        fresh = new if renewed is None else renewed
        wait = step.wait(value, fresh[to_go - 1], q[LEAVE])
        full = costs.full + (wait[0, 0] if renewed is None else renewed[to_go])
        np.minimum(wait, np.minimum(costs.head + wait[:1], full), out=value)
        if np.isfinite(costs.motor):
            np.minimum(value, step.motor(wait, q[MOTOR]), out=value)
        new[to_go] = value[0, 0]
        if due is None or to_go in due:
            q[HEAD], q[FULL] = costs.head + wait[:1], full
            see(to_go, q)
    return new


class _Step:
    """One step back in time; what does not change from step to step is worked out once."""

    def __init__(self, lives: Lives, costs: Costs, grid: Grid) -> None:
        fail_head, fail_body = _step_chances(lives, grid)
        middle = np.sqrt(grid.discount)
        only_head = (1 - fail_body) * fail_head
        self.neither = grid.discount * (1 - fail_body) * (1 - fail_head)
        self.paid = middle * (fail_body * costs.body_failure + only_head * costs.head_failure)
        self.after_head = grid.discount * only_head
        self.after_body = grid.discount * fail_body
        self.renews = costs.head_failure_renews_body
        self.price = costs.motor
        self.low, self.share = _motor_age(lives.motor_factor, grid.head_steps)
        self.high = np.minimum(self.low + 1, grid.head_steps - 1)
        self.aged = np.empty((grid.head_steps, grid.body_steps))
        older = np.minimum(np.arange(1, grid.head_steps + 1), grid.head_steps - 1)
        self.mended = np.rint(lives.repair_factor * older).astype(np.int64) if lives.repair_factor else None

    def wait(self, value: Array, fresh: float, out: Array) -> Array:
        """Expected cost over one step without acting, and best afterwards, for every pair of ages."""
        aged = self.aged  # both parts a step older; the oldest stay the oldest
        aged[:-1, :-1], aged[-1:, :-1] = value[1:, 1:], value[-1:, 1:]
        aged[:-1, -1], aged[-1, -1] = value[1:, -1], value[-1, -1]
        np.multiply(self.neither, aged, out=out)
        out += self.paid
        out += self.after_body * fresh
        if self.mended is None or self.renews:
            out += self.after_head * (fresh if self.renews else np.append(value[0, 1:], value[0, -1]))
        else:
            mended = value[self.mended]
            out += self.after_head * np.concatenate([mended[:, 1:], mended[:, -1:]], axis=1)
        return out

    def motor(self, wait: Array, out: Array) -> Array:
        """Cost of a new motor now: the head is then as old as its share of age that the motor leaves."""
        np.multiply(wait[self.low], 1 - self.share, out=out)
        out += wait[self.high] * self.share
        out += self.price
        return out


def _ages(steps: int, grid: Grid) -> Array:
    """The ages of the grid, in years."""
    return np.arange(steps, dtype=np.float64) * grid.step


def _step_chances(lives: Lives, grid: Grid) -> tuple[Array, Array]:
    head = chance_fail(_ages(grid.head_steps, grid), grid.step, lives.head_shape, lives.head_scale)
    body = chance_fail(_ages(grid.body_steps, grid), grid.step, lives.body_shape, lives.body_scale)
    return head[:, None], body[None, :]


def _motor_age(factor: float, head_steps: int) -> tuple[NDArray[np.int64], Array]:
    """Grid age after a new motor: the whole step below it, and the share of the step above (shape (h, 1))."""
    age = factor * np.arange(head_steps)
    low = np.floor(age).astype(np.int64)
    return low, (age - low)[:, None]
