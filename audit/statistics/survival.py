"""The share that still holds after a time, where some are not yet known to have failed."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def kaplan_meier(times: ArrayLike, failed: ArrayLike, at: ArrayLike, z: float = 1.959964) -> tuple[Array, Array, Array]:
    """Estimate the share that holds longer than each time asked for, with its limits.

    Args:
        times: Time to the failure, or as long as each was watched, shape (n,), at least 0. A failure counts before a
            watch that ends at the same time.
        failed: True where it failed, shape (n,).
        at: Times asked for, shape (m,).
        z: Normal quantile of the limits; 95 % by default.

    Returns:
        Share, lower and upper limit, each shape (m,), in [0, 1]. NaN where nobody was watched that long and not all had
        failed: the share is not known yet. The limits are NaN where the share is 0 or 1.

    Reference:
        Kaplan & Meier (1958), J. Am. Stat. Assoc. 53, 457-481; variance of Greenwood (1926); limits on the
        log-log scale        after Kalbfleisch & Prentice.
    """
    t, d, asked = np.asarray(times, np.float64), np.asarray(failed, bool), np.asarray(at, np.float64)
    moments, place = np.unique(t[d], return_inverse=True)
    deaths = np.bincount(place, minlength=moments.size).astype(np.float64)
    at_risk = t.size - np.searchsorted(np.sort(t), moments, side="left")
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.concatenate([[1.0], np.cumprod(1 - deaths / at_risk)])
        spread = np.concatenate([[0.0], np.cumsum(deaths / (at_risk * (at_risk - deaths)))])
        step = np.searchsorted(moments, asked, side="right")
        s = share[step]
        half = z * np.sqrt(spread[step]) / np.abs(np.log(s))
        low, high = s ** np.exp(half), s ** np.exp(-half)
    unknown = (asked > t.max(initial=-1.0)) & (s > 0)
    inside = (s > 0) & (s < 1)
    low, high = (np.where(unknown | ~inside, np.nan, limit) for limit in (low, high))
    return np.where(unknown, np.nan, s), low, high
