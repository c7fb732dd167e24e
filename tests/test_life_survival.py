"""Survival curves: by hand, and laws."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from audit.life.survival import kaplan_meier, steady_from

LIVES = st.lists(st.tuples(st.integers(1, 30), st.booleans(), st.integers(0, 20)), min_size=1, max_size=40)


def test_four_lives_by_hand() -> None:
    """At 1: 1 of 4 fails; at 3, after one censored at 2: 1 of 2."""
    curve = kaplan_meier([1, 2, 3, 4], [True, False, True, False])
    assert curve.age.tolist() == [1, 3]
    assert curve.at_risk.tolist() == [4, 2]
    np.testing.assert_allclose(curve.survival, [3 / 4, 3 / 8])
    np.testing.assert_allclose(curve.hazard_sum, [1 / 4, 3 / 4])
    np.testing.assert_allclose(curve.error[0], 3 / 4 * np.sqrt(1 / (4 * 3)))
    assert curve.at([0.5, 1, 2.9, 10]).tolist() == [1, 3 / 4, 3 / 4, 3 / 8]


def test_a_life_is_at_risk_only_after_it_was_first_watched() -> None:
    curve = kaplan_meier([2, 5, 5], [True, True, True], [0, 1, 2])
    assert curve.at_risk.tolist() == [2, 2]  # the third, watched from 2 on, is not at risk at 2


def test_censored_at_the_age_of_a_failure_counts_as_at_risk() -> None:
    assert kaplan_meier([2, 2], [True, False]).at_risk.tolist() == [2]


def test_the_curve_begins_where_enough_are_at_risk() -> None:
    ended, entered = [1.0, *np.linspace(6, 9, 20)], [0.0, *[5.0] * 20]
    curve = kaplan_meier(ended, [True] * 21, entered)
    assert curve.said("years") == (
        "At 1 years all that were watched failed; the curve says nothing beyond, begin it later.",
    )
    begin = steady_from(curve, 10)
    assert begin == 1.0
    later = kaplan_meier(ended, [True] * 21, entered, from_age=begin)
    assert not later.said("years")
    assert later.at_risk[0] == 20
    assert later.until_thin(10).at_risk.min() == 10


def test_without_failures_there_is_no_curve() -> None:
    curve = kaplan_meier([1, 2], [False, False])
    assert len(curve.age) == 0
    assert curve.at([1.5]).tolist() == [1.0]
    assert steady_from(curve, 10) == 0.0
    assert not curve.said("years")


@given(LIVES, st.randoms())
def test_the_curve_never_rises_and_ignores_order(lives: list[tuple[int, bool, int]], order) -> None:
    shuffled = list(lives)
    order.shuffle(shuffled)
    one, other = (
        kaplan_meier(
            [entry + life for life, _, entry in rows], [failed for _, failed, _ in rows], [e for *_, e in rows]
        )
        for rows in (lives, shuffled)
    )
    assert (np.diff(one.survival, prepend=1.0) <= 0).all()
    assert (np.diff(one.hazard_sum, prepend=0.0) > 0).all()
    assert (one.at_risk >= one.failures).all()
    np.testing.assert_array_equal(one.survival, other.survival)


@given(LIVES)
def test_without_censoring_and_entry_it_is_the_share_still_alive(lives: list[tuple[int, bool, int]]) -> None:
    ended = np.array([life for life, *_ in lives], dtype=float)
    curve = kaplan_meier(ended, np.ones(len(ended), dtype=bool))
    np.testing.assert_allclose(curve.survival, [(ended > age).mean() for age in curve.age], atol=1e-12)
