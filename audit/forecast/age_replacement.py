"""The age at which a planned renewal pays: a new part at failure, or in time at a fixed age, which is cheaper.

Cost a year at age T of one part with a Weibull life: (planned R(T) + failing F(T)) / integral of R from 0 to T.
Source: Barlow and Hunter, Operations Research 8 (1960), 90-100.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from audit.forecast.flow import Floats

SAME: Final = 1e-9  # share by which cost rates that are equal may differ by rounding


def cost_rate(
    age: npt.ArrayLike, shape: npt.ArrayLike, scale: npt.ArrayLike, planned: npt.ArrayLike, failing: npt.ArrayLike
) -> Floats:
    """Return the long-run cost per unit of time of renewing at `age`, infinite for only at failure.

    All broadcast; age above 0, in the scale's unit, as is the time; costs in one money.
    """
    from scipy.special import gamma, gammainc

    power = np.asarray(shape, dtype=float)
    wear = (np.asarray(age, dtype=float) / np.asarray(scale, dtype=float)) ** power
    lived = scale * gamma(1 + 1 / power) * gammainc(1 / power, wear)  # mean time in service
    lives = np.exp(-wear)
    return np.asarray((planned * lives + failing * (1 - lives)) / lived)


def best_age(ages: Floats, valves: Floats, shape: Floats, scale: Floats, planned: Floats, failing: Floats) -> float:
    """Return which of `ages` costs least if every part of a mixed stock is renewed at it; infinite where none pays.

    Args:
        ages: To choose from, years.
        valves: How many there are of each kind (kinds,); the rest likewise.
        shape: Weibull shape.
        scale: Weibull scale, years.
        planned: GBP in time.
        failing: GBP at failure.
    """
    rate = cost_rate(np.append(ages, math.inf)[:, None], shape, scale, planned, failing) @ valves
    best = int(np.argmin(rate))
    return float(ages[best]) if rate[best] < rate[-1] * (1 - SAME) else math.inf
