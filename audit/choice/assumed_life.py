"""How long heads and bodies last, before it is fitted from the records: the policy's Weibull lives.

`lives` is the one place where the choice takes its lives from; whatever gives a `Lives` can stand in for it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.model import Facts
from audit.policy import Policy
from schemas.results import RESULT_COLUMNS

Numbers = npt.NDArray[np.float64]

QUARTER = 0.25  # years: the step in which the choice reckons
_GRID = np.arange(0.0, 1000.0, QUARTER)  # years, far past any life that wears out, for mean residual lives


@dataclass(frozen=True, slots=True)
class Life:
    """A Weibull life: the chance of outliving t years in service is exp(−(t / scale)^shape)."""

    shape: float
    scale: float  # years

    def chance(self, age: npt.ArrayLike, years: float) -> Numbers:
        """Return the chance that a part `age` years old, working now, fails within the next `years` years."""
        since = np.asarray(age, dtype=np.float64)
        return np.asarray(-np.expm1(self._hazard(since) - self._hazard(since + years)))

    def mean_residual(self, age: npt.ArrayLike) -> Numbers:
        """Return the mean number of years that a part `age` years old has left, looked up on a grid of quarters."""
        survive = 1.0 - self.chance(_GRID, QUARTER)
        left = np.zeros_like(_GRID)
        for at in range(len(_GRID) - 2, -1, -1):  # the quarter just ahead, and then whatever is left after it
            left[at] = QUARTER * (1.0 + survive[at]) / 2.0 + survive[at] * left[at + 1]
        return np.asarray(np.interp(np.asarray(age, dtype=np.float64), _GRID, left))

    def age_with_share_left(self, share: float) -> float:
        """Return the age, in quarters of a year, from which a part has `share` of a new part's mean life left.

        It is 0 where parts do not wear out (shape up to 1).
        """
        left = self.mean_residual(_GRID)
        worn = left <= share * left[0]
        return float(_GRID[int(worn.argmax())]) if self.shape > 1.0 and worn.any() else 0.0

    @property
    def typical_age(self) -> float:
        """Mean age, in years, of such parts in a stock that has long been renewed as they fail."""
        mean, square = (self.scale**k * math.gamma(1.0 + k / self.shape) for k in (1, 2))
        return square / (2.0 * mean)

    def _hazard(self, years: Numbers) -> Numbers:
        return np.asarray((years / self.scale) ** self.shape)


@dataclass(frozen=True, slots=True)
class Lives:
    """The lives that the choice works with, and the age at which a head with a new motor starts again, in years."""

    head: Life
    body: Life
    after_motor: float


def lives(policy: Policy) -> Lives:
    """Return the policy's assumed lives. A head with a new motor counts as old as one with that share of life left."""
    head = Life(policy.number("life.head_shape"), policy.number("life.head_scale"))
    body = Life(policy.number("life.body_shape"), policy.number("life.body_scale"))
    return Lives(head=head, body=body, after_motor=head.age_with_share_left(policy.number("life.motor_share")))


def life(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Return the `life` table of the assumed lives: one row a part, prior_weight 1, nothing fitted."""
    known = lives(policy)
    shape = pd.Series([known.head.shape, known.body.shape])
    scale = pd.Series([known.head.scale, known.body.scale])
    table = pd.DataFrame(
        {
            "part": pd.Series(["head", "body"], dtype="str"),
            "group": pd.Series(["all"] * 2, dtype="str"),
            "valves": float(len(facts.valves)),
            "shape": shape,
            "scale_years": scale,
            "median_years": scale * math.log(2.0) ** (1.0 / shape),
            "b10_years": scale * (-math.log(0.9)) ** (1.0 / shape),
            "prior_weight": 1.0,
        }
    )
    return table.reindex(columns=[column.name for column in RESULT_COLUMNS["life"]])
