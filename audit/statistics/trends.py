"""Is a stream of call-outs getting denser? Laplace, MIL-HDBK-189 and reversal tests, and Crow's power law.

The tests can disagree on the same data, so each result carries the name of its test.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Trend:
    """One test's answer. `statistic` above its no-trend value means events come closer together (see each test)."""

    test: str
    statistic: float
    p: float  # two-sided


@dataclass(frozen=True, slots=True)
class PowerLaw:
    """Expected events to time t: lam * t ** beta. beta above 1: getting worse; below 1: getting better."""

    beta: float
    beta_unbiased: float
    lam: float
    end_intensity: float  # events a unit of time at the end
    end_mtbf: float  # time between events at the end
    cramer_von_mises: float  # with the unbiased beta; large values speak against the power law


def laplace(times: ArrayLike, end: ArrayLike) -> Trend:
    """Laplace's test: about standard normal without a trend; positive when events crowd towards the end.

    Args:
        times: Event times since each system's start, pooled over systems, shape (n,), all > 0.
        end: End of observation for each event's system, shape (n,) or one number.

    Reference:
        NIST/SEMATECH e-Handbook of Statistical Methods, 8.2.3.4.
    """
    from scipy.special import ndtr

    t = np.asarray(times, dtype=np.float64)
    stop = np.broadcast_to(np.asarray(end, dtype=np.float64), t.shape)
    z = float((t - stop / 2).sum() / np.sqrt((stop**2).sum() / 12)) if t.size else 0.0
    return Trend("Laplace", z, float(2 * ndtr(-abs(z))))


def mil_hdbk_189(times: ArrayLike, end: ArrayLike) -> Trend:
    """MIL-HDBK-189's test of the power law: 2 Σ ln(T/t), chi-square with 2n degrees of freedom without a trend.

    A small statistic means events crowd towards the end. Observation is cut at a time, not at an event.
    Arguments as for `laplace`.
    """
    from scipy.special import gammainc, gammaincc

    t = np.asarray(times, dtype=np.float64)
    stop = np.broadcast_to(np.asarray(end, dtype=np.float64), t.shape)
    statistic = float(2 * np.log(stop / t).sum())
    below, above = float(gammainc(t.size, statistic / 2)), float(gammaincc(t.size, statistic / 2))
    return Trend("MIL-HDBK-189", statistic, min(1.0, 2 * min(below, above)) if t.size else 1.0)


def reversals(gaps: ArrayLike) -> int:
    """Pairs of gaps in which the later one is longer (ties do not count); many mean events come further apart.

    Args:
        gaps: Times between events in order, shape (n,).

    Reference:
        NIST/SEMATECH e-Handbook of Statistical Methods, 8.2.3.4 (reverse arrangement test).
    """
    g = np.asarray(gaps, dtype=np.float64)
    return int(np.triu(g[:, None] < g[None, :], k=1).sum())


def crow(times: ArrayLike, end: float) -> PowerLaw:
    """Fit the power law to one system's events, observation cut at a time.

    Args:
        times: Event times, shape (n,), 0 < t <= end, n at least 2.
        end: End of observation, same unit.

    Reference:
        Crow (1974); MIL-HDBK-189 (1981), appendix C.
    """
    t = np.sort(np.asarray(times, dtype=np.float64))
    n = t.size
    logs = float(np.log(end / t).sum())
    beta = n / logs
    unbiased = (n - 1) / logs
    lam = n / end**beta
    intensity = lam * beta * end ** (beta - 1)
    steps = (2 * np.arange(1, n + 1) - 1) / (2 * n)
    misfit = 1 / (12 * n) + float((((t / end) ** unbiased - steps) ** 2).sum())
    return PowerLaw(beta, unbiased, lam, intensity, 1 / intensity, misfit)


def crow_pooled(times: ArrayLike, ends: ArrayLike) -> tuple[float, float]:
    """Fit one power law to several systems of unequal ends, by maximum likelihood.

    Args:
        times: Event times pooled over systems, shape (n,), all > 0.
        ends: End of observation of every system, with or without events, shape (systems,).

    Returns:
        beta and lam.
    """
    from scipy.optimize import brentq

    t, stop = np.asarray(times, dtype=np.float64), np.asarray(ends, dtype=np.float64)
    logs = np.log(t).sum()

    def score(beta: float) -> float:
        power = stop**beta
        return float(t.size / beta + logs - t.size * (power * np.log(stop)).sum() / power.sum())

    beta = float(brentq(score, 1e-3, 50))
    return beta, float(t.size / (stop**beta).sum())
