"""The clock of wear: fast in the first cold weeks, slow in summer, one year a year.

A worn head shows when it is needed, so failures crowd into October and November. Lives are Weibull on this clock;
as every calendar year is one year of wear, calendar lives keep the planted scale.
"""

from __future__ import annotations

import datetime as dt

import numpy as np

from audit.sample.draw import DAYS_A_YEAR, Floats

MONTH_WEIGHT = (1.15, 0.95, 0.70, 0.45, 0.30, 0.22, 0.20, 0.22, 0.50, 3.30, 3.40, 1.50)  # January to December
FIRST_YEAR, LAST_YEAR = 1960, 2080


def _clock() -> tuple[Floats, Floats]:
    """Days since 1970 (midnights) and the wear by then, in years."""
    first = (dt.date(FIRST_YEAR, 1, 1) - dt.date(1970, 1, 1)).days
    last = (dt.date(LAST_YEAR, 1, 1) - dt.date(1970, 1, 1)).days
    days = np.arange(first, last)
    months = days.astype("datetime64[D]").astype("datetime64[M]").astype(np.int64) % 12
    years = days.astype("datetime64[D]").astype("datetime64[Y]").astype(np.int64) + 1970 - FIRST_YEAR
    weight = np.asarray(MONTH_WEIGHT)[months]
    share = weight / np.bincount(years, weights=weight)[years]
    length = np.bincount(years)[years] / DAYS_A_YEAR  # a leap year wears one day more
    return np.append(days, last).astype(float), np.append(0.0, np.cumsum(share * length))


_DAYS, _WEAR = _clock()


def wear(days: Floats) -> Floats:
    """Years of wear on the clock at each day (days since 1970)."""
    return np.interp(days, _DAYS, _WEAR)


def day(wear_years: Floats) -> Floats:
    """The day (days since 1970, with its part) at which the clock shows so many years of wear."""
    return np.interp(wear_years, _WEAR, _DAYS)
