"""Discount factors of HM Treasury's Green Book, standard rates, to four decimals.

Source: Green Book supplementary guidance on discounting, Annex A, tables A.1 and A.2 (years 0 to 30); the same table
to year 500 in the Northern Ireland government's appraisal guide, Table 1. The band edges, years 31 and 76, are
reckoned by hand from the bands: 0.3563 / 1.03 and 0.0942 / 1.025 before rounding.
"""

from __future__ import annotations

import pytest

from audit.choice.money import discount_factor, green_book_factor

STANDARD = {
    1: 0.9662, 2: 0.9335, 3: 0.9019, 4: 0.8714, 5: 0.8420, 6: 0.8135, 7: 0.7860, 8: 0.7594, 9: 0.7337, 10: 0.7089,
    11: 0.6849, 12: 0.6618, 13: 0.6394, 14: 0.6178, 15: 0.5969, 16: 0.5767, 17: 0.5572, 18: 0.5384, 19: 0.5202,
    20: 0.5026, 21: 0.4856, 22: 0.4692, 23: 0.4533, 24: 0.4380, 25: 0.4231, 26: 0.4088, 27: 0.3950, 28: 0.3817,
    29: 0.3687, 30: 0.3563, 40: 0.2651, 50: 0.1973, 60: 0.1468, 75: 0.0942, 80: 0.0833, 100: 0.0508, 125: 0.0274,
    200: 0.0062, 300: 0.0014, 500: 0.0002,
}  # fmt: skip
BAND_EDGES = {0: 1.0, 31: 0.3459, 76: 0.0919}
HEALTH = {1: 0.9852, 2: 0.9707, 3: 0.9563, 10: 0.8617, 20: 0.7425}  # 1.5 %


@pytest.mark.parametrize(("year", "factor"), (STANDARD | BAND_EDGES).items())
def test_standard_rates(year: int, factor: float) -> None:
    assert round(float(green_book_factor(year)), 4) == factor


@pytest.mark.parametrize(("year", "factor"), HEALTH.items())
def test_constant_rate_of_health(year: int, factor: float) -> None:
    assert round(float(discount_factor(year, 0.015)), 4) == factor


def test_the_whole_table_at_once() -> None:
    assert green_book_factor(list(STANDARD)).round(4).tolist() == list(STANDARD.values())
