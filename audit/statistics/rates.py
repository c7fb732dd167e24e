"""Exact intervals and p-values for counts, and the control of false discoveries over many groups."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def garwood(count: ArrayLike, confidence: float = 0.95) -> tuple[Array, Array]:
    """Exact limits for the mean of a Poisson count.

    Args:
        count: Events seen, shape (n,), whole numbers at least 0.
        confidence: Two-sided confidence in (0, 1).

    Returns:
        Lower and upper limit, each shape (n,); the lower limit of no events is 0.

    Reference:
        Garwood (1936), Biometrika 28, 437-442: half the chi-square quantiles at 2k and 2k + 2 degrees of freedom.
    """
    from scipy.special import gammaincinv

    k = np.asarray(count, dtype=np.float64)
    tail = (1 - confidence) / 2
    low = np.where(k > 0, gammaincinv(np.maximum(k, 1e-9), tail), 0.0)
    return low, np.asarray(gammaincinv(k + 1, 1 - tail), dtype=np.float64)


def central_p(count: ArrayLike, expected: ArrayLike) -> Array:
    """Two-sided p-value of a Poisson count against what was expected: twice the smaller tail, at most 1.

    It is below 1 - confidence exactly when `garwood` leaves `expected` out, so that p and interval never disagree.

    Args:
        count: Events seen, shape (n,).
        expected: Events expected, shape (n,), above 0.
    """
    from scipy.special import gammainc, gammaincc

    k = np.asarray(count, dtype=np.float64)
    mu = np.asarray(expected, dtype=np.float64)
    at_least = np.where(k > 0, gammainc(np.maximum(k, 1e-9), mu), 1.0)
    at_most = gammaincc(k + 1, mu)
    return np.asarray(np.minimum(1.0, 2 * np.minimum(at_least, at_most)), dtype=np.float64)


def rate_ratio(count: int, exposure: float, other: int, other_exposure: float) -> tuple[float, float, float, float]:
    """Ratio of two Poisson rates with its exact 95 % limits and central p-value.

    Conditional on the total, the first count is binomial; the limits are Clopper-Pearson's, carried over.

    Returns:
        Ratio, lower limit, upper limit, p-value.

    Reference:
        Fay (2010), R Journal 2(1), 53-58, on central p-values that agree with the interval.
    """
    from scipy.special import bdtr, bdtrc, betaincinv

    total = count + other
    share = exposure / (exposure + other_exposure)
    low = betaincinv(count, other + 1, 0.025) if count else 0.0
    high = betaincinv(count + 1, other, 0.975) if other else 1.0
    scale = other_exposure / exposure
    at_least = float(bdtrc(count - 1, total, share)) if count else 1.0
    p = min(1.0, 2 * min(at_least, float(bdtr(count, total, share))))
    limits = [float(x / (1 - x) * scale) if x < 1 else float("inf") for x in (low, high)]
    ratio = (count / exposure) / (other / other_exposure) if other else float("inf")
    return ratio, limits[0], limits[1], p


def benjamini_hochberg(p: ArrayLike) -> Array:
    """P-values adjusted for the number of groups tried; naming those at most q keeps false names to q of the named.

    Args:
        p: P-values, shape (n,), each in [0, 1].

    Returns:
        Adjusted p-values in the order given, shape (n,).

    Reference:
        Benjamini & Hochberg (1995), J. R. Stat. Soc. B 57, 289-300.
    """
    values = np.asarray(p, dtype=np.float64)
    order = np.argsort(values, kind="stable")
    scaled = values[order] * len(values) / np.arange(1, len(values) + 1)
    adjusted = np.minimum.accumulate(scaled[::-1])[::-1]
    result = np.empty_like(adjusted)
    result[order] = np.minimum(adjusted, 1.0)
    return result


def wilson(successes: ArrayLike, trials: ArrayLike, z: float = 1.959964) -> tuple[Array, Array]:
    """Limits of a share, good for small counts; (nan, nan) where there were no trials.

    Reference:
        Wilson (1927), J. Am. Stat. Assoc. 22, 209-212.
    """
    x, n = np.asarray(successes, dtype=np.float64), np.asarray(trials, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = x / n
        centre = (share + z * z / (2 * n)) / (1 + z * z / n)
        half = z / (1 + z * z / n) * np.sqrt(share * (1 - share) / n + z * z / (4 * n * n))
    return np.maximum(centre - half, 0.0), np.minimum(centre + half, 1.0)
