"""Money over time: discount factors, annuities, equivalent annual cost. All functions take numbers or arrays."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

Numbers = npt.NDArray[np.float64]

# Last year of each band, and the rate in it. HM Treasury Green Book, standard rates; the last band has no end.
GREEN_BOOK_BANDS: Final = ((30, 0.035), (75, 0.03), (125, 0.025), (200, 0.02), (300, 0.015), (10_000, 0.01))


def discount_factor(years: npt.ArrayLike, rate: float) -> Numbers:
    """Return what one pound, `years` from now, is worth today at a constant yearly `rate` (0.035 is 3.5 %).

    Source: HM Treasury Green Book; year 0 counts whole, years may be broken (0.25 is a quarter).
    """
    return np.asarray((1.0 + rate) ** -np.asarray(years, dtype=np.float64))


def green_book_factor(years: npt.ArrayLike) -> Numbers:
    """Return the discount factor of whole `years` at the Green Book's banded rates: each year at its own band's rate.

    Source: HM Treasury Green Book, standard rates 3.5 % to year 30, 3.0 % to 75, 2.5 % to 125, 2.0 % to 200,
    1.5 % to 300, 1.0 % beyond.
    """
    wanted = np.asarray(years, dtype=np.float64)
    factor = np.ones_like(wanted)
    first = 0
    for last, rate in GREEN_BOOK_BANDS:
        factor = factor * discount_factor(np.clip(wanted, first, last) - first, rate)
        first = last
    return factor


def annuity(years: npt.ArrayLike, rate: float) -> Numbers:
    """Return today's worth of one pound at the end of each of `years` years: (1 − (1 + rate)^−years) / rate.

    At rate 0 it is the number of years. Source: HM Treasury Green Book, supplementary guidance on discounting.
    """
    count = np.asarray(years, dtype=np.float64)
    if abs(rate) < np.finfo(np.float64).tiny:  # below that a float has no digits left to reckon with
        return count.copy()
    return np.asarray(-np.expm1(-count * np.log1p(rate)) / rate)  # this form stays exact at tiny rates


def equivalent_annual_cost(present_value: npt.ArrayLike, years: npt.ArrayLike, rate: float) -> Numbers:
    """Return the level yearly cost over `years` years that is worth `present_value` today, in the same money.

    Source: present value divided by the annuity factor, as in government guidance on options of unequal life.
    """
    return np.asarray(np.asarray(present_value, dtype=np.float64) / annuity(years, rate))
