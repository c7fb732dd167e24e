"""Effective age: hours in a place hotter than the reference count more.

Insulation ages about twice as fast for every 10 °C (Montsinger's rule; IEC 60216 states it as a halving interval, and
8 to 12 °C are reported). A place at the reference or below ages a head at pace 1.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.life.grid import Floats
from audit.life.likelihood import reach
from audit.policy import Policy

STEEPEST = 3.0  # the search for the doubling step goes from no effect to this many times the policy's
CHI_SQUARE = 2.705543  # 90 % quantile, 1 degree of freedom


@dataclass(frozen=True)
class Heat:
    """How much a hot place hastens ageing: °C to twice the pace.

    `step` is the one in use. `estimate` (NaN: not estimated; infinite: no effect), `low` and `high` (90 %) come from
    the data; `p_policy` and `p_none` are likelihood-ratio tests (1 degree of freedom) against the policy's step and
    against no effect at all.
    """

    step: float
    estimate: float = math.nan
    low: float = math.nan
    high: float = math.nan
    p_policy: float = math.nan
    p_none: float = math.nan

    @property
    def from_data(self) -> bool:
        """True where the data's own step is in use."""
        return self.step == self.estimate


def pace(temperature: npt.ArrayLike, reference: float, step: float, fastest: float) -> Floats:
    """Return how many times faster than at the reference a head ages.

    Args:
        temperature: Air at the head, °C; NaN counts as the reference.
        reference: °C up to which the pace is 1.
        step: °C above it that double the pace; infinite for no effect.
        fastest: Greatest pace returned.
    """
    above = np.nan_to_num(np.maximum(np.asarray(temperature, dtype=float) - reference, 0.0))
    return np.minimum(np.exp2(above / step), fastest)


def place_temperature(valves: pd.DataFrame) -> Floats:
    """Return the air temperature at each head, °C.

    That is its reading, else the median of the readings in the same place of the home, else in like places, else NaN.
    """
    reading = valves["location_temp_c"]
    home = reading.groupby([valves["home_id"], valves["location"]]).transform("median")
    like = reading.groupby(valves["location"]).transform("median")
    return reading.fillna(home).fillna(like).to_numpy(float)


def estimate_heat(profile: Callable[[float], float], policy: Policy) -> Heat:
    """Let the data speak on the doubling step, and use theirs only where they contradict the policy's.

    Args:
        profile: The greatest log-likelihood for a given rate, in doublings a °C.
        policy: Gives the step to be tested and the level of the test.
    """
    from scipy.optimize import minimize_scalar

    given = policy.number("life.doubling_step")
    found = minimize_scalar(
        lambda rate: -profile(rate), bounds=(0.0, STEEPEST / given), method="bounded", options={"xatol": 0.003 / given}
    )
    none, stated = profile(0.0), profile(1 / given)
    best, height = max(
        [(float(found.x), -float(found.fun)), (0.0, none), (1 / given, stated)], key=lambda pair: pair[1]
    )
    low = (
        best - reach(lambda by: height - profile(best - by), 0.1 / given, CHI_SQUARE / 2, best, 0.01)
        if best > 0
        else 0.0
    )
    high = best + reach(lambda by: height - profile(best + by), 0.1 / given, CHI_SQUARE / 2, 2 * STEEPEST / given, 0.01)
    low = max(low, 0.0)
    p_policy = _p_value(2 * (height - stated))
    told = p_policy < policy.number("life.heat_p")
    return Heat(
        step=_step(best) if told else given,
        estimate=_step(best),
        low=_step(high),
        high=_step(low),
        p_policy=p_policy,
        p_none=_p_value(2 * (height - none)),
    )


def _step(rate: float) -> float:
    return 1 / rate if rate > 0 else math.inf


def _p_value(deviance: float) -> float:
    """Return the chance of a greater deviance under chi-square with 1 degree of freedom."""
    return math.erfc(math.sqrt(max(deviance, 0.0) / 2))
