"""Weibull fit of ten failures and ten lives censored at 500 hours.

NIST/SEMATECH e-Handbook of Statistical Methods, section 8.4.1.3 (data of 8.2.2.1): shape 1.7208, scale 606.528,
log-likelihood -75.135, AIC 154.27; recomputed shape 1.7207973, scale 606.52756, log-likelihood -75.134618.
"""

from __future__ import annotations

import pytest

from audit.life.weibull import fit_weibull

FAILED = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386]


def test_shape_scale_and_log_likelihood() -> None:
    fit = fit_weibull(FAILED + [500] * 10, [True] * 10 + [False] * 10)
    assert fit.shape == pytest.approx(1.7207973, abs=1e-7)
    assert fit.scale == pytest.approx(606.52756, abs=1e-5)
    assert fit.log_likelihood == pytest.approx(-75.134618, abs=1e-6)
    assert 4 - 2 * fit.log_likelihood == pytest.approx(154.27, abs=5e-3)  # AIC of two parameters
    assert fit.exposure == 7771  # hours, the exponential fit's denominator
