"""Weibull fit of twelve failures and eight censored lives, with limits symmetric on the plain scale.

Journal of Quality Technology, 1997, doi 10.1080/00224065.1997.11979730 (as quoted in public code): shape 2.7540 (1.4977
to 4.0102), scale 67.9188 (53.8755 to 81.9622), 95 %. Abernethy's handbook, example C.5: 2.257, 4900.1.
"""

from __future__ import annotations

import pytest

from audit.life.weibull import fit_weibull

FAILED = [45, 46, 34, 45, 32, 24, 58, 79, 56, 63, 34, 50]
CENSORED = [23, 24, 57, 78, 76, 85, 51, 59]
Z = 1.959964


def test_fit_and_limits() -> None:
    fit = fit_weibull(FAILED + CENSORED, [True] * 12 + [False] * 8)
    assert (fit.shape, fit.scale) == pytest.approx((2.7540, 67.9188), abs=5.1e-5)
    assert fit.log_likelihood == pytest.approx(-59.1820, abs=5.1e-5)
    assert (fit.shape - Z * fit.shape_error, fit.shape + Z * fit.shape_error) == pytest.approx(
        (1.4977, 4.0102), abs=2e-4
    )
    assert (fit.scale - Z * fit.scale_error, fit.scale + Z * fit.scale_error) == pytest.approx(
        (53.8755, 81.9622), abs=2e-3
    )


def test_five_failures_and_two_censored() -> None:
    fit = fit_weibull([1500, 2250, 4000, 4300, 7000, 1750, 5000], [True] * 5 + [False] * 2)
    assert (fit.shape, fit.scale) == pytest.approx((2.257043, 4900.106), rel=1e-6)
    assert fit.log_likelihood == pytest.approx(-45.8523, abs=5.1e-5)
