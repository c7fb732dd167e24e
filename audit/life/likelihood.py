"""The peak of a log-likelihood of two parameters, log shape and log scale, and the limits that it sets.

Nothing here knows where the likelihood comes from: exact lives, counts on a grid, or a surface over a lattice.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
LogLikelihood = Callable[[float, float], float]  # of log shape and log scale

STEP = 3e-4  # of the finite differences, on log scale
LONGEST = 0.5  # a Newton step goes no further, on log scale
NEAR = 1e-7  # a step that promises to gain less than this log-likelihood ends the search

FARTHEST = 10.0  # log scale; a limit beyond is no limit
RIDGE_NEAR = 1e-4  # likewise on a profile, whose drop at the limits is above 1


@dataclass(frozen=True)
class Peak:
    """Where the log-likelihood is greatest. `covariance` (2, 2) is the inverse of the curvature there."""

    log_shape: float
    log_scale: float
    value: float
    covariance: Floats

    @property
    def shape(self) -> float:
        """The Weibull shape."""
        return float(np.exp(self.log_shape))

    @property
    def scale(self) -> float:
        """The Weibull scale, in the unit of the lives."""
        return float(np.exp(self.log_scale))

    @property
    def errors(self) -> tuple[float, float]:
        """Standard errors of log shape and log scale."""
        shape, scale = np.sqrt(np.diag(self.covariance))
        return float(shape), float(scale)

    @property
    def correlation(self) -> float:
        """Correlation of log shape and log scale."""
        return float(self.covariance[0, 1] / np.prod(self.errors))


def find_peak(value: LogLikelihood, log_shape: float, log_scale: float) -> Peak:
    """Climb from a start to the peak, and describe it."""
    at, _, _ = climb(value, log_shape, log_scale)
    return peak_at(value, float(at[0]), float(at[1]))


def climb(
    value: LogLikelihood,
    log_shape: float,
    log_scale: float,
    *,
    bend: Floats | None = None,
    near: float = NEAR,
    tries: int = 100,
) -> tuple[Floats, float, Floats]:
    """Climb with damped Newton steps whose curvature is kept up to date (Broyden, Fletcher, Goldfarb, Shanno).

    The search ends at a step that promises to gain less than `near`. It may begin with the `bend` of a like peak.

    Returns:
        The place (2,) and the height of the peak, and its curvature (2, 2), taken downward.
    """
    at = np.array([log_shape, log_scale])
    height = value(*at)
    if bend is None:
        gradient, curvature = _slopes(value, at, height)
        bend = -bent_down(curvature)
    else:
        gradient = _gradient(value, at)
    for _ in range(tries):
        step = np.asarray(np.linalg.solve(bend, gradient), dtype=float)
        if 0.5 * step @ gradient < near:
            break
        step *= min(1.0, LONGEST / np.abs(step).max())
        gained, at, height, step = _shorten(value, at, height, step)
        if gained <= near:
            break
        before, gradient = gradient, _gradient(value, at)
        turned, bent = before - gradient, bend @ step
        if turned @ step > 0:
            bend = bend + np.outer(turned, turned) / (turned @ step) - np.outer(bent, bent) / (step @ bent)
    return at, height, bend


def peak_at(value: LogLikelihood, log_shape: float, log_scale: float) -> Peak:
    """Describe a peak that is already known."""
    at = np.array([log_shape, log_scale])
    height = value(*at)
    _, curvature = _slopes(value, at, height)
    return Peak(float(at[0]), float(at[1]), height, np.asarray(np.linalg.inv(-bent_down(curvature)), dtype=float))


def limits(value: LogLikelihood, peak: Peak, *, axis: int, level: float, near: float = 1e-5) -> Floats:
    """Return the likelihood-based limits (low, high) of one parameter, on log scale.

    The limits are where twice the drop of the profile log-likelihood reaches the chi-square quantile (1 degree of
    freedom). A side on which it never does is infinite.

    Args:
        value: The log-likelihood.
        peak: Its peak.
        axis: 0 for log shape, 1 for log scale.
        level: Confidence, such as 0.90.
        near: Error allowed in a limit's distance from the peak, as a share of it.
    """
    z = NormalDist().inv_cdf((1 + level) / 2)
    best = (peak.log_shape, peak.log_scale)[axis]
    found = []
    for side in (-1.0, 1.0):

        def drop(distance: float, side: float = side) -> float:
            return peak.value - _ridge(value, peak, axis, best + side * distance)

        found.append(best + side * reach(drop, z * peak.errors[axis], z * z / 2, FARTHEST, near))
    return np.array(found)


def reach(drop: Callable[[float], float], guess: float, target: float, farthest: float, near: float = 1e-5) -> float:
    """Return the distance from a peak at which the height has dropped by `target`; infinite if beyond `farthest`.

    The root of the drop grows nearly in a straight line, so that a few steps along it suffice; `near` is the error
    allowed, as a share of the distance.
    """
    low, high, distance = 0.0, np.inf, min(guess, farthest)
    for _ in range(40):
        ratio = np.sqrt(max(drop(distance), 0.0) / target)
        if abs(ratio - 1) < near:
            break
        if ratio < 1:
            if distance >= farthest:
                return float(np.inf)
            low = distance
        else:
            high = distance
        distance *= float(np.clip(1 / max(ratio, 1e-9), 0.3, 3.0))
        if not low < distance < high:
            distance = (low + high) / 2
        distance = min(distance, farthest)
    return distance


def _ridge(value: LogLikelihood, peak: Peak, axis: int, held: float) -> float:
    """Return the greatest log-likelihood with one parameter held, starting where the curvature points."""
    best = np.array([peak.log_shape, peak.log_scale])
    slope = peak.covariance[0, 1] / peak.covariance[axis, axis]
    free = best[1 - axis] + slope * (held - best[axis])

    def at(x: float) -> float:
        return value(held, x) if axis == 0 else value(x, held)

    height = at(free)
    for _ in range(20):
        up, down = at(free + STEP), at(free - STEP)
        bend, lean = (up - 2 * height + down) / STEP**2, (up - down) / (2 * STEP)
        step = float(np.clip(lean / (-bend if bend < 0 else abs(bend) + 1.0), -LONGEST, LONGEST))
        if 0.5 * abs(step * lean) < RIDGE_NEAR:
            return height + 0.5 * abs(step * lean)
        there = at(free + step)
        while there < height and abs(step) > 1e-9:
            step /= 2
            there = at(free + step)
        free, height = free + step, max(there, height)
    return height


def _slopes(value: LogLikelihood, at: Floats, height: float) -> tuple[Floats, Floats]:
    """Return gradient (2,) and curvature (2, 2) by central differences."""
    x, y = at
    right, left, up, down = value(x + STEP, y), value(x - STEP, y), value(x, y + STEP), value(x, y - STEP)
    mixed = value(x + STEP, y + STEP) + value(x - STEP, y - STEP) - right - left - up - down + 2 * height
    gradient = np.array([right - left, up - down]) / (2 * STEP)
    across = mixed / (2 * STEP**2)
    return gradient, np.array(
        [[(right - 2 * height + left) / STEP**2, across], [across, (up - 2 * height + down) / STEP**2]]
    )


def bent_down(curvature: Floats) -> Floats:
    """Turn upward bends of one curvature (2, 2) or many downward: the inverse is a covariance, a Newton step climbs."""
    bends, ways = np.linalg.eigh(curvature)
    down = -np.maximum(np.abs(bends), 1e-9)
    return np.asarray((ways * down[..., None, :]) @ np.swapaxes(ways, -1, -2))


def _gradient(value: LogLikelihood, at: Floats) -> Floats:
    x, y = at
    right, left, up, down = value(x + STEP, y), value(x - STEP, y), value(x, y + STEP), value(x, y - STEP)
    return np.array([right - left, up - down]) / (2 * STEP)


def _shorten(value: LogLikelihood, at: Floats, height: float, step: Floats) -> tuple[float, Floats, float, Floats]:
    """Halve a step until it gains; returns the gain, the new place, its height and the step taken."""
    for _ in range(30):
        there = value(*(at + step))
        if there >= height:
            return there - height, at + step, there, step
        step = step / 2
    return 0.0, at, height, step
