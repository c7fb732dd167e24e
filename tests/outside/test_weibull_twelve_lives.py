"""Weibull fit and survival curve of twelve lives, some watched only from an age on.

Values: lifelines 0.30.3 and surpyval 0.25 agree (8.1405, 1.5263, -20.1552 with entry); without entry also scipy 1.17.1
(10.2593, 2.0075, -22.8019).
"""

from __future__ import annotations

import numpy as np
import pytest

from audit.life.survival import kaplan_meier
from audit.life.weibull import fit_weibull

ENDED = [2.1, 3.4, 4.0, 5.2, 5.9, 6.3, 7.7, 8.8, 9.1, 10.4, 11.5, 12.0]
FAILED = [1, 1, 0, 1, 1, 0, 1, 1, 0, 1, 0, 0]
ENTERED = [0, 1.0, 0, 2.5, 3.0, 0, 4.0, 5.5, 6.0, 0, 7.0, 8.0]


def test_fit_with_entry() -> None:
    fit = fit_weibull(ENDED, FAILED, ENTERED)
    assert (fit.scale, fit.shape, fit.log_likelihood) == pytest.approx((8.1405, 1.5263, -20.1552), abs=5.1e-5)


def test_fit_without_entry_is_another_one() -> None:
    fit = fit_weibull(ENDED, FAILED)
    assert (fit.scale, fit.shape, fit.log_likelihood) == pytest.approx((10.2593, 2.0075, -22.8019), abs=5.1e-5)


def test_survival_curve_with_entry() -> None:
    curve = kaplan_meier(ENDED, FAILED, ENTERED)
    assert curve.age.tolist() == [2.1, 3.4, 5.2, 5.9, 7.7, 8.8, 10.4]
    known = [0.8, 0.666667, 0.533333, 0.426667, 0.341333, 0.273067, 0.182044]
    np.testing.assert_allclose(curve.survival, known, atol=5.1e-7)
