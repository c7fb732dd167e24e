"""Equivalent annual costs as worked in public guidance, and the misprints that a check must not copy.

Sources: Northern Ireland government's appraisal guide, paragraphs A4.9 to A4.12 and Table 3 (3.5 %); an
encyclopaedia's example of two machines at 5 %.
"""

from __future__ import annotations

import numpy as np
import pytest

from audit.choice.money import annuity, discount_factor, equivalent_annual_cost

PRINTED_EAC = {1: 1.0350, 3: 0.3569, 5: 0.2215, 7: 0.1635, 10: 0.1203, 12: 0.1036, 13: 0.0971, 15: 0.0869,
               20: 0.0704, 30: 0.0544}  # fmt: skip
PRINTED_ANNUITY = {10: 8.3206, 15: 11.5281, 20: 14.2339, 30: 18.4462}  # drifts above theory: 0.3 % by year 30


def test_a_hundred_pounds_over_ten_years() -> None:
    assert equivalent_annual_cost(100, 10, 0.035) == pytest.approx(12.0241, abs=5e-5)  # printed 12.03, A4.9


def test_boiler_of_seven_years_against_boiler_of_ten() -> None:
    cost = equivalent_annual_cost([2000, 2500], [7, 10], 0.035)
    assert cost.round().tolist() == [327, 301]  # A4.10: choose the dearer boiler that lasts
    assert cost.argmin() == 1


def test_two_machines() -> None:
    upkeep = np.array([13_000.0, 7_500.0])
    cost = equivalent_annual_cost([50_000, 150_000], [3, 8], 0.05) + upkeep
    assert cost == pytest.approx([31_360.43, 30_708.27], abs=0.005)  # printed 31,360 and 30,780: digits swapped


@pytest.mark.parametrize(("years", "printed"), PRINTED_EAC.items())
def test_printed_annual_costs_of_one_pound(years: int, printed: float) -> None:
    reckoned = round(float(equivalent_annual_cost(1, years, 0.035)), 4)
    assert reckoned == pytest.approx(printed, abs=1.001e-4)  # one in the last place: its printing drifts


@pytest.mark.parametrize(("years", "printed"), PRINTED_ANNUITY.items())
def test_the_printed_annuity_column_is_not_followed(years: int, printed: float) -> None:
    assert printed - float(annuity(years, 0.035)) > 0.003
    assert annuity(years, 0.035) == pytest.approx(discount_factor(np.arange(1, years + 1), 0.035).sum())


def test_ten_thousand_a_year_for_twenty_years() -> None:
    assert 10_000 * annuity(20, 0.035) == pytest.approx(142_124, abs=0.5)  # A4.11 prints 142,339


def test_fifteen_payments_from_year_seven() -> None:
    worth = 75 * annuity(15, 0.035) * discount_factor(6, 0.035)
    assert worth == pytest.approx(702.71, abs=0.005)  # A4.12 prints 704
