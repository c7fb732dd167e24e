"""Mean cumulative function: call-outs a valve or home to a given time, with limits that assume no independence."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class MeanCumulative:
    """One entry an event time: time, units at risk, events, mean cumulative events, variance, 95 % limits."""

    time: Array
    at_risk: Array
    events: Array
    mean: Array
    variance: Array
    low: Array
    high: Array


def mean_cumulative(unit: ArrayLike, time: ArrayLike, end: ArrayLike, z: float = 1.959964) -> MeanCumulative:
    """Estimate the mean cumulative function of recurrent events.

    Args:
        unit: Index of each event's unit, shape (n,), 0 <= unit < len(end).
        time: Each event's time since its unit's start, shape (n,).
        end: End of observation of every unit, shape (units,). A unit is at risk at its own end.
        z: Normal quantile of the limits; the default gives 95 %.

    Returns:
        Values at each distinct event time. Limits are symmetric on the log scale.

    Reference:
        Nelson (1995), Technometrics 37, 147-157; Lawless & Nadeau (1995), Technometrics 37, 158-168 (variance).
    """
    u, t, stop = np.asarray(unit, dtype=np.int64), np.asarray(time, dtype=np.float64), np.asarray(end, dtype=np.float64)
    at, place = np.unique(t, return_inverse=True)
    events = np.bincount(place, minlength=at.size).astype(np.float64)
    at_risk = (stop.size - np.searchsorted(np.sort(stop), at, side="left")).astype(np.float64)
    step = events / at_risk
    mean = np.cumsum(step)
    variance = _robust_variance(u, place, stop, at, at_risk, step)
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = np.exp(z * np.sqrt(variance) / mean)
    return MeanCumulative(at, at_risk, events, mean, variance, mean / spread, mean * spread)


def mean_at_end(unit: ArrayLike, time: ArrayLike, end: ArrayLike, z: float = 1.959964) -> tuple[float, float, float]:
    """Return the last value of `mean_cumulative` and its limits; quicker, since no other is reckoned.

    Arguments as for `mean_cumulative`, with at least one event.
    """
    u, t, stop = np.asarray(unit, dtype=np.int64), np.asarray(time, dtype=np.float64), np.asarray(end, dtype=np.float64)
    at, place = np.unique(t, return_inverse=True)
    at_risk = stop.size - np.searchsorted(np.sort(stop), at, side="left")
    step = np.bincount(place, minlength=at.size) / at_risk
    own = np.bincount(u, weights=1 / at_risk[place], minlength=stop.size)
    pooled = np.concatenate([[0.0], np.cumsum(step / at_risk)])[np.searchsorted(at, stop, side="right")]
    mean = float(np.cumsum(step)[-1])
    spread = float(np.exp(z * np.sqrt(((own - pooled) ** 2).sum()) / mean))
    return mean, mean / spread, mean * spread


def _robust_variance(
    unit: NDArray[np.int64], place: NDArray[np.int64], stop: Array, at: Array, at_risk: Array, step: Array
) -> Array:
    """Sum over units of (Σ at-risk_i(t) / n(t) (d_i(t) - step(t)))², at every event time.

    Each unit's residual is its own events' weights less the pooled sum to its end; squares are added from increments
    so that the work grows with events, not with units times times.
    """
    weight = 1 / at_risk
    pooled = np.cumsum(step * weight)  # what a unit without events has lost by each time
    last = np.searchsorted(at, stop, side="right") - 1  # last event time that the unit sees
    # units move together between their own events, so running sums of own², own and units seen are enough
    order = np.lexsort((place, unit))
    u, p = unit[order], place[order]
    own = _running_within(u, weight[p])
    before = own - weight[p]
    squares = np.bincount(p, own**2 - before**2, minlength=at.size).cumsum()
    total_own = np.zeros(stop.size)
    np.add.at(total_own, u, weight[p])
    # Σ_i (own_i(t) - pooled_i(t))² = Σ own² - 2 Σ own·pooled + Σ pooled², with pooled_i frozen at the unit's last time
    alive_own = np.bincount(p, weight[p], minlength=at.size).cumsum()
    seen = last >= 0
    leaves = np.bincount(last[seen] + 1, minlength=at.size + 1)[: at.size]
    leave_own = np.bincount(last[seen] + 1, total_own[seen], minlength=at.size + 1)[: at.size]
    frozen = pooled[last[seen]]
    frozen_cross = np.bincount(last[seen] + 1, total_own[seen] * frozen, minlength=at.size + 1)[: at.size].cumsum()
    frozen_square = np.bincount(last[seen] + 1, frozen**2, minlength=at.size + 1)[: at.size].cumsum()
    cross = (alive_own - leave_own.cumsum()) * pooled + frozen_cross
    square = (seen.sum() - leaves.cumsum()) * pooled**2 + frozen_square
    return np.asarray(np.maximum(squares - 2 * cross + square, 0.0))


def _running_within(unit: NDArray[np.int64], value: Array) -> Array:
    """Running sum of `value` within each run of equal `unit`."""
    total = np.cumsum(value)
    first = np.r_[True, unit[1:] != unit[:-1]]
    base = (total - value)[first]
    return np.asarray(total - np.repeat(base, np.diff(np.r_[np.flatnonzero(first), unit.size])))
