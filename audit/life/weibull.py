"""The Weibull life: its formulae, and its exact fit to lives that are right-censored or seen only from some age on.

With shape k and scale s (in years), S(t) = exp(-(t/s)^k). Lawless, Statistical Models and Methods for Lifetime Data,
2nd edition, section 5.2; left truncation adds (entry/s)^k to each life's log-likelihood.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

import numpy as np
import numpy.typing as npt

from audit.life.likelihood import Peak, limits, peak_at

Floats = npt.NDArray[np.float64]

SHAPES = (0.05, 60.0)  # shapes beyond these are no life that a valve can have


@dataclass(frozen=True)
class WeibullFit:
    """A maximum-likelihood fit. Scale and `exposure` are in the unit of the lives; errors are standard errors."""

    shape: float
    scale: float
    shape_error: float
    scale_error: float
    log_likelihood: float
    failures: float
    exposure: float
    shape_limits: tuple[float, float]  # likelihood-based
    scale_limits: tuple[float, float]
    peak: Peak  # the same on log scale, with its covariance


def hazard_sum(age: npt.ArrayLike, shape: npt.ArrayLike, scale: npt.ArrayLike) -> Floats:
    """Return the cumulative hazard (age/scale)^shape; ages and scale in one unit."""
    ratio = np.asarray(age, dtype=float) / np.asarray(scale, dtype=float)
    return cast(Floats, np.power(ratio, shape))


def chance_fail(age: npt.ArrayLike, years: npt.ArrayLike, shape: npt.ArrayLike, scale: npt.ArrayLike) -> Floats:
    """Return the chance (0 to 1) that a part of `age` fails within the next `years`, given that it works today.

    All four broadcast; age, years and scale are in effective years. An unknown age (NaN) gives NaN.
    """
    ahead = np.asarray(age, dtype=float) + np.asarray(years, dtype=float)
    return cast(Floats, -np.expm1(hazard_sum(age, shape, scale) - hazard_sum(ahead, shape, scale)))


def age_at(share: float, shape: npt.ArrayLike, scale: npt.ArrayLike) -> Floats:
    """Return the age by which this share (0 to 1) has failed: 0.5 the median life, 0.1 the B10 life."""
    return cast(Floats, np.asarray(scale, dtype=float) * (-np.log1p(-share)) ** (1 / np.asarray(shape, dtype=float)))


def log_likelihood(ended: Floats, failed: npt.NDArray[np.bool_], entered: Floats, shape: float, scale: float) -> float:
    """Return sum(failed log h(ended)) - sum((ended/scale)^shape - (entered/scale)^shape)."""
    hazard = np.log(shape / scale) + (shape - 1) * np.log(ended[failed] / scale)
    return float(hazard.sum() - (hazard_sum(ended, shape, scale) - hazard_sum(entered, shape, scale)).sum())


def fit_weibull(
    ended: npt.ArrayLike,
    failed: npt.ArrayLike,
    entered: npt.ArrayLike | None = None,
    *,
    level: float = 0.90,
) -> WeibullFit:
    """Fit shape and scale by maximum likelihood.

    Args:
        ended: Age at failure or at the last look, above 0, any unit.
        failed: True where the life ended with a failure, False where it is right-censored.
        entered: Age from which the life was watched (left truncation); 0 where None.
        level: Confidence of the likelihood-based limits.

    Raises:
        ValueError: no failure, an age that does not exceed its entry, or a likelihood without a peak.
    """
    end = np.asarray(ended, dtype=float)
    dead = np.asarray(failed, dtype=bool)
    start = np.zeros_like(end) if entered is None else np.asarray(entered, dtype=float)
    if not dead.any():
        raise ValueError("A life cannot be fitted without a failure.")
    if not (end > start).all() or (start < 0).any():
        raise ValueError("Every life must end after it was first watched, at an age of 0 or more.")
    shape = _best_shape(end, dead, start)
    scale = _scale_given(shape, end, start, int(dead.sum()))

    def value(log_shape: float, log_scale: float) -> float:
        return log_likelihood(end, dead, start, float(np.exp(log_shape)), float(np.exp(log_scale)))

    top = peak_at(value, float(np.log(shape)), float(np.log(scale)))
    low_shape, high_shape = np.exp(limits(value, top, axis=0, level=level))
    low_scale, high_scale = np.exp(limits(value, top, axis=1, level=level))
    return WeibullFit(
        shape=shape,
        scale=scale,
        shape_error=shape * top.errors[0],
        scale_error=scale * top.errors[1],
        log_likelihood=top.value,
        failures=float(dead.sum()),
        exposure=float((end - start).sum()),
        shape_limits=(float(low_shape), float(high_shape)),
        scale_limits=(float(low_scale), float(high_scale)),
        peak=top,
    )


def _scale_given(shape: float, end: Floats, start: Floats, failures: int) -> float:
    """Return the best scale for a shape, in closed form: (sum(t^k - e^k) / failures)^(1/k)."""
    unit = end.max()  # keeps large powers within range
    return float(unit * (((end / unit) ** shape - (start / unit) ** shape).sum() / failures) ** (1 / shape))


def _best_shape(end: Floats, dead: npt.NDArray[np.bool_], start: Floats) -> float:
    """Find the shape at which the profile score is zero, where it falls through zero."""
    from scipy.optimize import brentq

    unit = end.max()
    log_end = np.log(end / unit)
    log_start = np.log(np.where(start > 0, start, unit) / unit)  # the log of an entry at 0 meets a factor 0
    failures = float(dead.sum())

    def score(log_shape: float) -> float:
        k = np.exp(log_shape)
        at_end, at_start = np.exp(k * log_end), np.where(start > 0, np.exp(k * log_start), 0.0)
        pull = (at_end * log_end - at_start * log_start).sum() / (at_end - at_start).sum()
        return float(failures / k + log_end[dead].sum() - failures * pull)

    tried = np.log(np.geomspace(*SHAPES, 60))
    scores = np.array([score(x) for x in tried])
    falls = np.flatnonzero((scores[:-1] > 0) & (scores[1:] <= 0))
    if not len(falls):
        raise ValueError("The likelihood has no peak: the failures are too few or too alike to give a shape.")
    return float(np.exp(brentq(score, tried[falls[0]], tried[falls[0] + 1], xtol=1e-13)))
