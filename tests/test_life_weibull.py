"""Formulae of the Weibull life, and laws of its fit."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.life.weibull import age_at, chance_fail, fit_weibull, hazard_sum


@pytest.mark.parametrize(
    ("case", "age", "years", "shape", "scale", "chance"),
    [
        ("a new part, as long as its scale", 0, 10, 2, 10, 0.632121),  # 1 - 1/e
        ("without wear age does not matter", 7, 10, 1, 10, 0.632121),
        ("shape 2: (20/10)^2 - (10/10)^2 = 3", 10, 10, 2, 10, 0.950213),  # 1 - exp(-3)
        ("no time, no failure", 12, 0, 2.4, 11, 0.0),
    ],
)
def test_chance_by_hand(case: str, age: float, years: float, shape: float, scale: float, chance: float) -> None:
    assert float(chance_fail(age, years, shape, scale)) == pytest.approx(chance, abs=5e-7)


def test_chances_broadcast_and_unknown_ages_stay_unknown() -> None:
    found = chance_fail(np.array([0.0, np.nan]), 1.0, 2.0, np.array([10.0, 10.0]))
    assert found[0] == pytest.approx(1 - np.exp(-0.01))
    assert np.isnan(found[1])


def test_median_and_b10_by_hand() -> None:
    assert float(age_at(0.5, 1, 10)) == pytest.approx(10 * np.log(2))
    assert float(age_at(0.1, 2, 10)) == pytest.approx(10 * np.sqrt(-np.log(0.9)))


@given(st.floats(0, 60), st.floats(0, 30), st.floats(0, 30), st.floats(0.5, 6), st.floats(1, 60))
def test_chances_of_two_spans_make_the_chance_of_both(
    age: float, first: float, then: float, shape: float, scale: float
) -> None:
    both = 1 - (1 - chance_fail(age, first, shape, scale)) * (1 - chance_fail(age + first, then, shape, scale))
    assert float(both) == pytest.approx(float(chance_fail(age, first + then, shape, scale)), abs=1e-9)


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.1, 100))
def test_a_change_of_unit_changes_the_scale_alone(seed: int, unit: float) -> None:
    draw = np.random.default_rng(seed)
    ended = 10 * draw.weibull(2.0, 40)
    entered = np.where(draw.random(40) < 0.3, 0.4 * ended, 0.0)
    failed = draw.random(40) < 0.7
    fit, other = (fit_weibull(ended * u, failed, entered * u) for u in (1.0, unit))
    assert other.shape == pytest.approx(fit.shape, rel=1e-6)
    assert other.scale == pytest.approx(unit * fit.scale, rel=1e-6)
    np.testing.assert_allclose(np.array(other.scale_limits) / unit, fit.scale_limits, rtol=1e-4)


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10_000))
def test_at_the_fit_the_expected_failures_are_those_seen(seed: int) -> None:
    draw = np.random.default_rng(seed)
    ended, failed = 10 * draw.weibull(2.0, 30), draw.random(30) < 0.6
    entered = np.where(draw.random(30) < 0.5, 0.3 * ended, 0.0)
    fit = fit_weibull(ended, failed, entered)
    expected = hazard_sum(ended, fit.shape, fit.scale) - hazard_sum(entered, fit.shape, fit.scale)
    assert expected.sum() == pytest.approx(failed.sum(), rel=1e-6)


def test_limits_hold_the_fit_and_grow_with_the_level() -> None:
    ended = np.arange(1.0, 21.0)
    narrow, wide = (fit_weibull(ended, ended % 3 > 0, level=level) for level in (0.5, 0.95))
    assert wide.shape_limits[0] < narrow.shape_limits[0] < narrow.shape < narrow.shape_limits[1] < wide.shape_limits[1]
    assert wide.scale_limits[0] < narrow.scale_limits[0] < narrow.scale < narrow.scale_limits[1] < wide.scale_limits[1]


@pytest.mark.parametrize(
    ("case", "ended", "failed", "entered", "words"),
    [
        ("nothing failed", [1.0, 2.0], [False, False], None, "without a failure"),
        ("watched from after its end", [1.0, 2.0], [True, True], [0.0, 3.0], "must end after it was first watched"),
        ("watched from before its start", [1.0, 2.0], [True, True], [0.0, -1.0], "must end after it was first watched"),
        ("failures all alike", [2.0, 2.0], [True, True], None, "no peak"),
    ],
)
def test_lives_that_cannot_be_fitted(
    case: str, ended: list[float], failed: list[bool], entered: list[float] | None, words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        fit_weibull(ended, failed, entered)
