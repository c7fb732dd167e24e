"""Control charts for counts: which months stand out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
THREE_SIGMA_TAIL = 0.00134989803  # one tail of the normal beyond three standard deviations


@dataclass(frozen=True, slots=True)
class Chart:
    """Centre line and limits for each point, in counts; `out` marks points beyond (not on) a limit."""

    centre: Array
    low: Array
    high: Array
    out: NDArray[np.bool_]


def c_chart(counts: ArrayLike) -> Chart:
    """Chart of counts over equal exposures: mean plus and minus three standard deviations.

    Reference:
        NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.1.
    """
    c = np.asarray(counts, dtype=np.float64)
    centre = np.full(c.shape, c.mean())
    low, high = np.maximum(centre - 3 * np.sqrt(centre), 0.0), centre + 3 * np.sqrt(centre)
    return Chart(centre, low, high, (c < low) | (c > high))


def exact_chart(counts: ArrayLike, expected: ArrayLike) -> Chart:
    """Chart of counts against what was expected for each, with exact Poisson limits in place of three deviations.

    Args:
        counts: Events in each month, shape (n,).
        expected: Events expected from exposure and season, shape (n,), all > 0.

    Returns:
        Limits as counts: a month is out when a tail as far out has a chance of at most that beyond three deviations.
    """
    from scipy.special import gammainccinv, gammaincinv

    c, mu = np.asarray(counts, dtype=np.float64), np.asarray(expected, dtype=np.float64)
    most = mu.max(initial=0.0)
    k = np.arange(int(most + 8 * np.sqrt(most)) + 20)
    # a limit is the least count k that a share of months does not exceed: true up to an expectation that grows with k
    low = np.searchsorted(gammainccinv(k + 1, THREE_SIGMA_TAIL), mu).astype(np.float64)
    high = np.searchsorted(gammaincinv(k + 1, THREE_SIGMA_TAIL), mu).astype(np.float64)
    return Chart(mu, low, high, (c < low) | (c > high))
