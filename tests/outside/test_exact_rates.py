"""Garwood's limits, Benjamini and Hochberg's example, and Poisson rates against published values.

Garwood (1936), Biometrika 28, 437-442. Benjamini & Hochberg (1995), J. R. Stat. Soc. B 57, 289-300. The Welsh nickel
workers (137 observed, 24.19893 expected), and Fay (2010), R Journal 2(1), 53-58; limits recomputed independently.
"""

from __future__ import annotations

import numpy as np
import pytest

from audit.statistics.rates import benjamini_hochberg, central_p, garwood, rate_ratio, wilson

GARWOOD = [(0, 0, 3.6889), (1, 0.0253, 5.5716), (3, 0.6187, 8.7673), (10, 4.7954, 18.3904), (100, 81.3640, 121.6268)]
P = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.324, 0.4262, 0.5719, 0.6528, 0.759, 1.0]


@pytest.mark.parametrize(("count", "low", "high"), GARWOOD)
def test_garwood(count: int, low: float, high: float) -> None:
    assert [float(x) for x in garwood(count)] == pytest.approx([low, high], abs=5e-5)


def test_benjamini_hochberg_rejects_four_of_fifteen() -> None:
    adjusted = benjamini_hochberg(P)
    assert (adjusted <= 0.05).sum() == 4
    assert adjusted[:9] == pytest.approx(
        [0.0015, 0.003, 0.0095, 0.035625, 0.0603, 0.063857, 0.063857, 0.0645, 0.0765], abs=5e-7
    )


def test_welsh_nickel() -> None:
    low, high = garwood(137)
    assert (float(low) / 24.19893, float(high) / 24.19893) == pytest.approx((4.753125, 6.692709), abs=5e-7)
    assert float(central_p(137, 24.19893)) < 1e-50


@pytest.mark.parametrize(
    ("counts", "expected"),
    [
        ((11, 800, 21, 3011), (1.971488, 0.8584264, 4.2772659, 0.112017)),
        ((2, 17877, 9, 16660), (0.207094, 0.021774, 1.000549, 0.050106)),
    ],
)
def test_two_rates_have_a_p_value_that_agrees_with_their_interval(
    counts: tuple[int, float, int, float], expected: tuple[float, ...]
) -> None:
    assert rate_ratio(*counts) == pytest.approx(expected, abs=1e-6)


def test_p_and_interval_agree_for_every_small_count() -> None:
    count, expected = np.meshgrid(np.arange(0, 40), np.arange(0.5, 40, 0.5))
    low, high = garwood(count)
    assert ((central_p(count, expected) < 0.05) == ((expected < low) | (expected > high))).all()


def test_wilson_by_hand() -> None:  # 0 of 10 with z = 2: centre 0.2 / 1.4, half the same
    low, high = wilson(0, 10, z=2.0)
    assert (float(low), float(high)) == pytest.approx((0.0, 0.4 / 1.4))
