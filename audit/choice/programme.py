"""The least expected cost of a valve to its renewal date, by backward induction over the ages of head and body.

Time runs in steps (a quarter of a year). At the start of a step one of four actions is taken: leave, motor, head,
full. During the step head and body may fail; a failure is put right reactively in the middle of the step, a head
failure by a new head, a body failure by a new valve. Costs later than now are discounted. Ages move on the grid of
steps; an age past the end of the grid stays at its end. One programme serves every valve of a class: the answers
for all ages and all numbers of steps to go come out of one sweep.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.blas import dger

from audit.life import chance_fail

if TYPE_CHECKING:
    from scipy.sparse import csr_array

Array = NDArray[np.float64]
Rows = NDArray[np.int64] | slice
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
EVERY = slice(None)


def solve(
    lives: Lives,
    costs: Costs,
    grid: Grid,
    steps: int,
    see: Sweep,
    renewed: Array | None = None,
    due: Mapping[int, Rows] | None = None,
) -> Array:
    """Sweep backward from the renewal date.

    Args:
        lives: Lives of head and body.
        costs: What each action and failure costs, GBP.
        grid: The grid of ages and the discounting.
        steps: Steps to go at the far end of the sweep.
        see: Called as see(to_go, q), q of shape (4, heads, body_steps): expected cost in GBP from taking each of
            `ACTIONS` now at each pair of ages and acting best afterwards.
        renewed: Least cost of a newly fitted valve with 0 … steps steps to go, shape (steps + 1,), where a new valve is
            of another class than this one (its head comes off, say); None where it is of this class.
        due: The steps to go for which `see` is called, and the ages of the head that it is shown (EVERY: all of them);
            None for all, 1 … steps.

    Returns:
        Least cost of a valve of this class with both parts new, with 0 … steps steps to go, shape (steps + 1,).
    """
    step = _Step(lives, costs, grid)
    new = np.zeros(steps + 1)
    for to_go in range(1, steps + 1):
        fresh = new if renewed is None else renewed
        step.wait(fresh[to_go - 1])
        full = costs.full + (step.waits_new if renewed is None else renewed[to_go])
        new[to_go] = step.act(full)
        if due is None or to_go in due:
            see(to_go, step.told(full, EVERY if due is None else due[to_go]))
    return new


class _Step:
    """One step back in time; what does not change from step to step is worked out once.

    Costs are kept as what they exceed `base`, a row by the age of the body, so that what a step adds for bodies alone
    touches one row. Rows hold the oldest age twice, and the oldest head stands twice: both parts a step older are then
    the same numbers read a little further on.
    """

    def __init__(self, lives: Lives, costs: Costs, grid: Grid) -> None:
        self.fail_head, self.fail_body = _step_chances(lives, grid)
        heads, bodies = grid.head_steps, grid.body_steps + 1
        self.costs, self.discount, self.middle = costs, grid.discount, float(np.sqrt(grid.discount))
        self.dearer = self.middle * (costs.head_failure - costs.body_failure)
        self.neither = grid.discount * np.outer(1 - self.fail_head, 1 - self.fail_body)
        self.base = np.zeros(bodies)
        self.value = np.zeros((heads + 2, bodies))  # the least cost; the last row only rounds off the reading
        self.left = np.empty((heads, bodies))  # the cost of not acting
        self.kept = _motor_age(lives.motor_factor, heads) if np.isfinite(costs.motor) else None
        self.moved: Array | None = None  # the cost of a new motor
        older = np.minimum(np.arange(1, heads + 1), heads - 1)
        self.mended = np.rint(lives.repair_factor * older).astype(np.int64) if lives.repair_factor else None

    @property
    def waits_new(self) -> float:
        """Expected cost of not acting on a new valve."""
        return float(self.left[0, 0] + self.base[0])

    def wait(self, fresh: float) -> None:
        """Go a step back: the cost of not acting, and the best afterwards, for every pair of ages."""
        both_older = self.value.ravel()[len(self.base) + 1 :][: self.left.size].reshape(self.left.shape)
        body_fails = self.middle * self.costs.body_failure + self.discount * fresh
        if self.costs.head_failure_renews_body:  # whatever fails leaves a new valve: a cost without ages
            np.add(both_older, self.base[0] - body_fails / self.discount, out=self.left)
            self.left *= self.neither
            self._add_head_failures(np.full_like(self.base, self.dearer))
            self.base = np.full_like(self.base, body_fails)
            return
        np.multiply(self.neither, both_older, out=self.left)
        mended = self.value[0] if self.mended is None else self.value[self.mended]
        self._add_head_failures(self.middle * self.costs.head_failure + self.discount * _older(mended))
        self.base = self.discount * (1 - self.fail_body) * _older(self.base) + self.fail_body * body_fails

    def _add_head_failures(self, cost: Array) -> None:
        """Add to `left` what a failure of the head alone costs, by the age of the body or by both ages."""
        only_head = (1 - self.fail_body) * cost
        if cost.ndim == 1:  # a product of two vectors, added in place: half the work of making it first
            dger(1.0, only_head, self.fail_head, a=self.left.T, overwrite_a=1)
        else:
            self.left += self.fail_head[:, None] * only_head

    def act(self, full: float) -> float:
        """Take the best action for every pair of ages; returns the least cost of a new valve."""
        best = self.value[:-2]
        np.minimum(self.left, np.minimum(self.costs.head + self.left[0], full - self.base), out=best)
        if self.kept is not None:  # the head is then as old as the share of its age that the motor leaves
            self.moved = np.asarray(self.kept @ (self.left[: self.kept.shape[1]] + self.costs.motor))
            np.minimum(best, self.moved, out=best)
        best[:, -1] = best[:, -2]
        self.value[-2] = best[-1]
        return float(best[0, 0] + self.base[0])

    def told(self, full: float, heads: Rows) -> Array:
        """Cost in GBP of each of ACTIONS at these ages of the head and every one of the body, (4, heads, bodies)."""
        base = self.base[:-1]
        leave = self.left[heads, :-1] + base
        q = np.full((4, *leave.shape), np.inf)
        q[LEAVE], q[HEAD], q[FULL] = leave, self.costs.head + self.left[0, :-1] + base, full
        if self.moved is not None:
            q[MOTOR] = self.moved[heads, :-1] + base
        return q


def _older(by_body: Array) -> Array:
    """Values by the age of the body (last axis), as they are a step later; the oldest stays the oldest."""
    return np.concatenate([by_body[..., 1:], by_body[..., -1:]], axis=-1)


def _ages(steps: int, grid: Grid) -> Array:
    """The ages of the grid, in years."""
    return np.arange(steps, dtype=np.float64) * grid.step


def _step_chances(lives: Lives, grid: Grid) -> tuple[Array, Array]:
    """Chances to fail within a step, by the ages of head (heads,) and body (bodies + 1,; the oldest age twice)."""
    head = chance_fail(_ages(grid.head_steps, grid), grid.step, lives.head_shape, lives.head_scale)
    body = chance_fail(_ages(grid.body_steps, grid), grid.step, lives.body_shape, lives.body_scale)
    return head, np.append(body, body[-1])


def _motor_age(factor: float, head_steps: int) -> csr_array:
    """Weights (head_steps, ages reached) of the grid ages about the one that a new motor leaves a head of each age."""
    from scipy.sparse import csr_array

    age = factor * np.arange(head_steps)
    low = np.floor(age).astype(np.int64)
    high = np.minimum(low + 1, head_steps - 1)
    rows = np.tile(np.arange(head_steps), 2)
    weights = np.concatenate([1 - (age - low), age - low])
    return csr_array((weights, (rows, np.concatenate([low, high]))), shape=(head_steps, int(high.max()) + 1))
