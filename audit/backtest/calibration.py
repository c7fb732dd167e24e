"""Whether the chances hold: failures seen against failures expected, by tenth of the valves, and a slope.

The slope is that of a logistic recalibration, logit(chance to fail) = a + b · logit(predicted chance), by maximum
likelihood (Cox 1958, Biometrika 45, 562-565): 1 where high and low chances lie as far apart as they should, below 1
where they lie too far apart. Its error allows for the valves of a home being alike (Liang and Zeger 1986, Biometrika
73, 13-22).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.statistics.rates import garwood

Floats = npt.NDArray[np.float64]

TENTHS: Final = 10
LEVEL: Final = 0.90
Z: Final = 1.644854  # normal quantile of a 90 % interval
LEAST: Final = 1e-6  # chances are kept as far from 0 and 1
TURNS: Final = 30  # of Newton's method
FEW: Final = 10  # failures, below which no slope is told


@dataclass(frozen=True)
class Slope:
    """The slope with its 90 % limits; NaN where too few failed to tell."""

    value: float
    low: float
    high: float


def by_tenth(rankings: Sequence[pd.DataFrame], named: float = 1.0) -> pd.DataFrame:
    """Compare by tenth of the valves, lowest chances first, on the mean of some rankings of the same valves.

    Args:
        rankings: Each valve_id, chance, failed (bool), one row a valve.
        named: Share of all failures whose call-out names its valve: only those can be seen.

    Returns:
        tenth (1 to 10), valves, chance_low, chance_high, expected, observed, low, high (exact 90 % limits of the
        observed mean), ratio (observed to expected), ratio_low, ratio_high. Fewer rows where there are fewer valves.
    """
    tables = [_tenths(rows, named) for rows in rankings]
    return with_limits(pd.concat(tables).groupby("tenth", as_index=False).mean())


def _tenths(ranking: pd.DataFrame, named: float) -> pd.DataFrame:
    by_name = ranking if ranking["valve_id"].is_monotonic_increasing else ranking.sort_values("valve_id")
    chance = by_name["chance"].to_numpy(float)
    order = np.argsort(chance, kind="stable")
    tenth = np.arange(len(order)) * TENTHS // max(len(order), 1)
    rows = pd.DataFrame({"tenth": tenth + 1, "chance": chance[order] * named})
    return (
        rows.assign(failed=by_name["failed"].to_numpy(float)[order])
        .groupby("tenth", as_index=False)
        .agg(
            valves=("chance", "size"),
            chance_low=("chance", "min"),
            chance_high=("chance", "max"),
            expected=("chance", "sum"),
            observed=("failed", "sum"),
        )
    )


def with_limits(table: pd.DataFrame) -> pd.DataFrame:
    """Add exact limits of the observed, and the ratio to the expected with its limits."""
    low, high = garwood(table["observed"], LEVEL)
    expected = table["expected"].where(table["expected"].gt(0))
    return table.assign(
        low=low,
        high=high,
        ratio=table["observed"] / expected,
        ratio_low=low / expected,
        ratio_high=high / expected,
    )


def slope(rankings: Sequence[pd.DataFrame]) -> Slope:
    """Fit the slope to some rankings of the same valves, each home_id, chance, failed, one row a valve.

    The mean of their slopes, with the doubt inside and between them (Rubin 1987, Multiple Imputation for Nonresponse in
    Surveys, chapter 3).
    """
    fits = np.array([_fitted(rows) for rows in rankings])
    between = fits[:, 0].var(ddof=1) if len(fits) > 1 else 0.0
    error = float(np.sqrt((fits[:, 1] ** 2).mean() + (1 + 1 / len(fits)) * between))
    at = float(fits[:, 0].mean())
    return Slope(at, at - Z * error, at + Z * error)


def _fitted(ranking: pd.DataFrame) -> tuple[float, float]:
    """Return slope and error of one ranking; NaN where too few failed, or all chances are one."""
    failed = ranking["failed"].to_numpy(float)
    chance = np.clip(ranking["chance"].to_numpy(float), LEAST, 1 - LEAST)
    logit = np.log(chance / (1 - chance))
    if min(failed.sum(), (1 - failed).sum()) < FEW or np.ptp(logit) == 0:
        return np.nan, np.nan
    home = np.unique(ranking["home_id"].to_numpy(str), return_inverse=True)[1]
    return _recalibrated(np.stack([np.ones(len(logit)), logit], axis=1), failed, home)


def _recalibrated(x: Floats, failed: Floats, home: npt.NDArray[np.int64]) -> tuple[float, float]:
    """Return slope and its error, from x (n, 2)."""
    at = np.array([0.0, 1.0])
    for _ in range(TURNS):
        fitted = 1 / (1 + np.exp(-(x @ at)))
        bend = (x * (fitted * (1 - fitted))[:, None]).T @ x
        step = np.linalg.solve(bend, x.T @ (failed - fitted))
        at = at + step
        if np.abs(step).max() < 1e-10:
            break
    pull = x * (failed - 1 / (1 + np.exp(-(x @ at))))[:, None]
    homes = np.stack([np.bincount(home, weights=column) for column in pull.T], axis=1)
    spread = np.linalg.inv(bend)
    return float(at[1]), float(np.sqrt((spread @ (homes.T @ homes) @ spread)[1, 1]))
