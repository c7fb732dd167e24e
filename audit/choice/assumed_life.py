"""How long heads and bodies last, valve by valve: the columns of `LIVED`, here from the policy's assumed lives.

The choice works with any frame of these columns; lives fitted from the records stand in for the assumed ones.
"""

from __future__ import annotations

import math
from typing import Final

import pandas as pd

from audit.model import Facts
from audit.policy import Policy

QUARTER: Final = 0.25  # years: the step in which the choice reckons
PACE: Final = "head_pace"  # how many times as fast a head ages in its place; where it is told, besides LIVED
LIVED: Final = ("head_shape", "head_scale", "head_age", "body_shape", "body_scale", "body_age")


def assumed(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Return one row a valve, indexed by valve_id: LIVED, with scales and ages in years, an unknown age missing.

    A Weibull life: the chance of outliving t years in service is exp(−(t / scale)^shape).
    """
    valves = facts.valves.set_index("valve_id")
    lived = pd.DataFrame(index=valves.index)
    for part in ("head", "body"):
        lived[f"{part}_shape"] = policy.number(f"life.{part}_shape")
        lived[f"{part}_scale"] = policy.number(f"life.{part}_scale")
        lived[f"{part}_age"] = valves[f"{part}_age_years"]
    return lived


def typical_age(shape: pd.Series, scale: pd.Series) -> pd.Series:
    """Return the mean age, in years, of such parts in a stock that has long been renewed as they fail."""
    moments = {value: [math.gamma(1.0 + k / value) for k in (1, 2)] for value in shape.dropna().unique()}
    return scale * shape.map({value: square / (2.0 * mean) for value, (mean, square) in moments.items()})
