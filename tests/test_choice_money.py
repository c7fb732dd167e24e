"""Discounting and annuities, with numbers that can be redone by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from audit.choice.money import annuity, discount_factor, equivalent_annual_cost, green_book_factor

RATES = st.floats(0.0, 0.2)


def test_a_pound_in_two_years_at_ten_percent() -> None:
    assert discount_factor(2, 0.10) == pytest.approx(1 / 1.21)


def test_nothing_is_discounted_at_rate_nought() -> None:
    assert discount_factor([0, 7.25], 0.0).tolist() == [1.0, 1.0]
    assert annuity([3, 0.5], 0.0).tolist() == [3.0, 0.5]


def test_two_payments_at_ten_percent() -> None:
    assert annuity(2, 0.10) == pytest.approx(1 / 1.10 + 1 / 1.21)


def test_a_cost_over_one_year_is_that_cost_with_a_year_of_interest() -> None:
    assert equivalent_annual_cost(200, 1, 0.05) == pytest.approx(210)


def test_arrays_keep_their_shape() -> None:
    assert equivalent_annual_cost(np.full((2, 3), 100.0), 10, 0.035).shape == (2, 3)


@given(st.integers(1, 60), RATES)
def test_an_annuity_is_the_sum_of_its_factors(years: int, rate: float) -> None:
    assert annuity(years, rate) == pytest.approx(discount_factor(np.arange(1, years + 1), rate).sum(), rel=1e-6)


@example(0.5, 5e-324, 1.0)
@given(st.floats(0.25, 60), RATES, st.floats(1, 10_000))
def test_the_annual_cost_is_worth_the_present_value(years: float, rate: float, cost: float) -> None:
    assert equivalent_annual_cost(cost, years, rate) * annuity(years, rate) == pytest.approx(cost)


@given(st.integers(0, 30))
def test_the_first_band_is_the_constant_rate(years: int) -> None:
    assert green_book_factor(years) == pytest.approx(discount_factor(years, 0.035))
