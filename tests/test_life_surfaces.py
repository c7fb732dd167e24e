"""Many log-likelihoods at once: peaks and limits as those found one by one, and one by hand."""

from __future__ import annotations

import numpy as np
import pytest

from audit.life.groups import Prior, generations
from audit.life.likelihood import find_peak, limits
from audit.life.surfaces import Surfaces
from audit.life.weibull import log_likelihood

AXES = np.linspace(-0.2, 1.8, 9), np.linspace(1.0, 3.6, 13)
SPREAD = np.array([0.25, 0.3])


def heights(seed: int, many: int) -> np.ndarray:
    """Log-likelihood over the lattice of lives of shape 2.4 and scale 11, watched for 12 years."""
    years = 11 * np.random.default_rng(seed).weibull(2.4, many)
    ended, failed = np.minimum(years, 12.0), years < 12
    rows = [[log_likelihood(ended, failed, 0 * ended, np.exp(x), np.exp(y)) for y in AXES[1]] for x in AXES[0]]
    return np.array(rows)


def test_a_bowl_by_hand() -> None:
    """−4.5 (x − 1)² − 8 (y − 2)², no prior to speak of: the limits are 1.6449 / √9 and 1.6449 / √16 away."""
    down = -4.5 * np.square(AXES[0] - 1)[:, None] - 8 * np.square(AXES[1] - 2)[None, :]
    bowl = Surfaces.through(AXES, down[None], np.array([[0.5, 2.5]]), np.array([1e6, 1e6]))
    peak = bowl.peaks()[0]
    assert (peak.log_shape, peak.log_scale) == pytest.approx((1, 2), abs=1e-5)
    assert peak.errors == pytest.approx((1 / 3, 0.25), rel=1e-6)
    found = bowl.limits([peak], 0.90)[0]
    assert found == pytest.approx(np.array([[1 - 0.54828, 1 + 0.54828], [2 - 0.41121, 2 + 0.41121]]), abs=1e-4)


def test_as_one_by_one() -> None:
    """Stocks of very different size, each drawn to the same prior."""
    stocks = np.array([heights(seed, many) for seed, many in ((1, 20), (2, 300), (3, 4000))])
    surfaces = Surfaces.through(AXES, stocks, np.full((3, 2), [0.8, 2.3]), SPREAD)
    peaks = surfaces.peaks()
    many = surfaces.limits(peaks, 0.90)
    for place, peak in enumerate(peaks):
        single = surfaces.single(place)
        found = find_peak(single, 0.8, 2.3)
        assert (peak.log_shape, peak.log_scale) == pytest.approx((found.log_shape, found.log_scale), abs=1e-4)
        np.testing.assert_allclose(peak.covariance, found.covariance, rtol=1e-3)
        for axis in (0, 1):
            assert many[place, axis] == pytest.approx(limits(single, found, axis=axis, level=0.90), abs=1e-3)


def test_without_a_word_from_the_data_the_prior_stands() -> None:
    prior = Prior(0.8, 2.3, *SPREAD)
    flat = Surfaces.through(AXES, np.zeros((1, 9, 13)), np.array([[0.8, 2.3]]), SPREAD)
    peak = flat.peaks()[0]
    assert (peak.log_shape, peak.log_scale, peak.value) == pytest.approx((0.8, 2.3, 0.0))
    assert prior.weight(peak) == pytest.approx(1)
    assert flat.limits([peak], 0.90)[0, 1] == pytest.approx(2.3 + 1.64485 * 0.3 * np.array([-1, 1]), abs=1e-4)


def test_parents_come_before_their_parts() -> None:
    assert [groups.tolist() for groups in generations(np.array([-1, 0, 1, 0, 2, 3]))] == [[1, 3], [2, 5], [4]]
