"""Weibull fit and survival curve of 70 generator fans, 12 of which failed.

Data: Nelson (1982), see tests/data/generator_fans.csv. Values: scipy 1.17.1 (26296.8448, 1.0584), lifelines 0.30.3
(26296.8451, 1.0584; errors 12251.42783, 0.26825) and reliability 0.9.0 (26296.8450) agree; curve: statsmodels 0.15,
lifelines; limits on log scale from the standard errors: reliability [10552.0708, 65534.4409], [0.6441, 1.7394].
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.stats import CensoredData, weibull_min

from audit.life.survival import kaplan_meier
from audit.life.weibull import fit_weibull

FANS = pd.read_csv(Path(__file__).parents[1] / "data" / "generator_fans.csv", comment="#")


def test_fit() -> None:
    fit = fit_weibull(FANS["hours"], FANS["failed"])
    assert fit.scale == pytest.approx(26296.8450, abs=5e-4)
    assert fit.shape == pytest.approx(1.0584, abs=5.1e-5)
    assert fit.log_likelihood == pytest.approx(-135.1527, abs=5.1e-5)
    assert (fit.scale_error, fit.shape_error) == pytest.approx((12251.42783, 0.26825), rel=2e-5)


def test_limits_from_the_log_scale_errors() -> None:
    fit = fit_weibull(FANS["hours"], FANS["failed"])
    reach = 1.959964 * np.array(fit.peak.errors)
    np.testing.assert_allclose(fit.shape * np.exp([-reach[0], reach[0]]), [0.6441, 1.7394], atol=5.1e-5)
    np.testing.assert_allclose(fit.scale * np.exp([-reach[1], reach[1]]), [10552.0708, 65534.4409], rtol=2e-5)


def test_scipy_gives_the_same() -> None:
    hours, failed = FANS["hours"].to_numpy(float), FANS["failed"].to_numpy(bool)
    data = CensoredData(uncensored=hours[failed], right=hours[~failed])
    shape, _, scale = weibull_min.fit(data, floc=0)
    fit = fit_weibull(hours, failed)
    assert (fit.shape, fit.scale) == pytest.approx((shape, scale), rel=1e-4)


def test_last_steps_of_the_survival_curve() -> None:
    curve = kaplan_meier(FANS["hours"], FANS["failed"])
    np.testing.assert_allclose(curve.survival[-3:], [0.827234, 0.795418, 0.707038], atol=5.1e-7)
    np.testing.assert_allclose(curve.error[-3:], [0.051000, 0.058122, 0.098042], atol=5.1e-7)
