"""The season's clock: a worn part shows when it is needed, so failures crowd into the first cold weeks.

Lives are counted on a clock that runs fast in the months with many failures and slow in the others, one year a year.
A log that begins in January and ends in September has watched fewer winters than its years suggest; a clock without
seasons would stretch the fitted lives by that much.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from audit.calendar import WINTER_MONTHS
from audit.life.grid import Floats

FIRST_YEAR, YEARS = 1900, 250
EVEN = np.array([31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]) / 365.25


@dataclass(frozen=True)
class Season:
    """`share` (12,): the share of a year's failures, and so of its wear, that falls in each month.

    `failures`: how many it was estimated from.
    """

    share: Floats
    failures: int = 0

    @property
    def cold(self) -> float:
        """The share of failures that falls in the cold half-year."""
        return float(self.share[[month - 1 for month in sorted(WINTER_MONTHS)]].sum())

    def years(self, day: Floats) -> Floats:
        """Return the years on this clock at the beginning of a day (days since 1970, NaN stays NaN)."""
        edges = np.arange(12 * YEARS + 1) + 12 * (FIRST_YEAR - 1970)
        days = edges.astype("datetime64[M]").astype("datetime64[D]").astype(float)
        worn = np.concatenate([[0.0], np.cumsum(np.tile(self.share, YEARS))]) + (FIRST_YEAR - 1970)
        return np.asarray(np.interp(day, days, worn))


def season_of(failed: Floats, first: float, last: float, evenness: float) -> Season:
    """Estimate the season from the days of failures, over the last whole years watched.

    Args:
        failed: Days of failures, since 1970.
        first: First day watched.
        last: Last day watched.
        evenness: So many failures of an even year are added, so that a few failures make no season.
    """
    years = int((last - first) // 365.25)
    inside = failed[(failed > last - 365.25 * years) & (failed <= last)]
    month = inside.astype("datetime64[D]").astype("datetime64[M]").astype(int) % 12
    counted = np.bincount(month, minlength=12) + evenness * EVEN
    return Season(counted / counted.sum(), len(inside))
