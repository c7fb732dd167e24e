"""The clock of wear: fast in the first cold weeks, slow in summer, one year a year.

A worn head shows when it is needed, so failures crowd into October and November. Lives are Weibull on this clock;
as every calendar year is one year of wear, calendar lives keep the planted scale.
"""

from __future__ import annotations

import datetime as dt

import numpy as np

from audit.sample.draw import DAYS_A_YEAR, Floats

# Day of the year and how fast a worn head shows: slow in summer, a peak in the weeks when heating is first needed.
ANCHORS = (1, 32, 60, 91, 121, 152, 213, 244, 262, 276, 291, 310, 330, 350, 366)
SPEED = (1.3, 1.0, 0.7, 0.45, 0.3, 0.22, 0.2, 0.25, 0.6, 3.0, 6.5, 4.0, 2.3, 1.5, 1.3)
FIRST_YEAR, LAST_YEAR = 1960, 2080


def _clock() -> tuple[Floats, Floats]:
    """Days since 1970 (midnights) and the wear by then, in years."""
    first = (dt.date(FIRST_YEAR, 1, 1) - dt.date(1970, 1, 1)).days
    last = (dt.date(LAST_YEAR, 1, 1) - dt.date(1970, 1, 1)).days
    days = np.arange(first, last)
    new_year = days.astype("datetime64[D]").astype("datetime64[Y]")
    years = new_year.astype(np.int64) + 1970 - FIRST_YEAR
    weight = np.interp(days - new_year.astype("datetime64[D]").astype(np.int64) + 1, ANCHORS, SPEED)
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
