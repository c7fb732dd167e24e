"""Weibull lives that are seen only from some age on, against three independent codes.

Data: Hyde (1980), see tests/data/channing_house.csv. Values: lifelines 0.30.3, surpyval 0.25 and a hand-written
likelihood under scipy.optimize agree to the digits given; the delayed-entry curve also with statsmodels 0.15.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from audit.life.counting import later_blocks
from audit.life.grid import Grid
from audit.life.likelihood import find_peak
from audit.life.renewal import Counts, Unseen
from audit.life.survival import kaplan_meier, steady_from
from audit.life.weibull import age_at, fit_weibull

DATA = Path(__file__).parents[1] / "data" / "channing_house.csv"

# group, lives, deaths, scale, shape, log-likelihood, errors of scale and shape, median, log-likelihood without entry
PUBLISHED = (
    ("male", 96, 46, 968.8396, 6.2801, -274.7509, 59.38934, 2.07103, 913.9155, -302.1370),
    ("female", 361, 129, 1058.3950, 9.6158, -801.7470, 11.09789, 1.10814, 1018.8125, -854.5815),
    ("both", 457, 175, 1044.8143, 8.8996, -1079.5115, 11.32009, 0.97579, 1002.6595, -1158.0310),
)


def residents(group: str) -> pd.DataFrame:
    everyone = pd.read_csv(DATA, comment="#")
    return everyone if group == "both" else everyone.loc[everyone["sex"] == group]


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: row[0])
def test_fit_with_delayed_entry(row: tuple) -> None:
    group, lives, deaths, scale, shape, height, scale_error, shape_error, median, _ = row
    table = residents(group)
    fit = fit_weibull(table["exit"], table["died"], table["entry"])
    assert (len(table), fit.failures) == (lives, deaths)
    assert fit.scale == pytest.approx(scale, abs=5e-5 + 1e-7 * scale)
    assert fit.shape == pytest.approx(shape, abs=5.1e-5)
    assert fit.log_likelihood == pytest.approx(height, abs=5.1e-5)
    assert fit.scale_error == pytest.approx(scale_error, rel=1e-4)
    assert fit.shape_error == pytest.approx(shape_error, rel=1e-4)
    assert float(age_at(0.5, fit.shape, fit.scale)) == pytest.approx(median, abs=1e-3)


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: row[0])
def test_a_fit_that_ignores_entry_is_another_one(row: tuple) -> None:
    table = residents(row[0])
    blind = fit_weibull(table["exit"], table["died"])
    assert blind.log_likelihood == pytest.approx(row[-1], abs=5.1e-5)
    assert blind.shape > 1.4 * row[4]


def test_likelihood_based_limits_of_the_male_shape() -> None:
    table = residents("male")
    fit = fit_weibull(table["exit"], table["died"], table["entry"], level=0.95)
    assert fit.shape_limits == pytest.approx((2.2631, 10.3932), abs=1.1e-4)


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: row[0])
def test_counts_on_a_grid_give_the_same_fit(row: tuple) -> None:
    """Months shrunk to the grid's range; the grid of counts must find what the exact lives give, to 0.2 %."""
    table = residents(row[0])
    unit = 24.0
    lives = pd.DataFrame(
        {
            "valve": np.arange(len(table)),
            "entered": table["entry"].to_numpy() / unit,
            "ended": table["exit"].to_numpy() / unit,
            "failed": table["died"].to_numpy(bool),
        }
    )
    grid = Grid.over(lives["ended"].max(), 1.0, 960)
    one = np.zeros(len(table), dtype=np.int64)
    counts = Counts(grid, tuple(later_blocks(grid, lives, np.ones(len(table)), one, 1)), 1, Unseen(), np.ones(961))
    peak = find_peak(counts, np.log(5.0), np.log(40.0))
    assert peak.scale * unit == pytest.approx(row[3], rel=2e-3)
    assert peak.shape == pytest.approx(row[4], rel=2e-3)


def test_the_emptied_group_at_risk_is_seen_and_said() -> None:
    table = residents("male")
    curve = kaplan_meier(table["exit"], table["died"], table["entry"])
    known = {782: 1.500000, 900: 1.713523, 1000: 2.180257, 1100: 3.317315, 1150: 4.150648}
    place = np.searchsorted(curve.age, list(known), side="right") - 1
    np.testing.assert_allclose(curve.hazard_sum[place], list(known.values()), atol=5.1e-7)
    assert curve.emptied.tolist() == [781.0]
    assert curve.said("months") == (
        "At 781 months all that were watched failed; the curve says nothing beyond, begin it later.",
    )
    assert steady_from(curve, 10) >= 781


def test_survival_given_life_at_816_months() -> None:
    table = residents("male")
    curve = kaplan_meier(table["exit"], table["died"], table["entry"], from_age=816)
    known = {850: 1.0, 900: 0.804531, 950: 0.655983, 1000: 0.500820, 1050: 0.318000, 1100: 0.150327, 1150: 0.050109}
    np.testing.assert_allclose(curve.at(list(known)), list(known.values()), atol=5.1e-7)
    assert not curve.said("months")


def test_survival_of_women_unconditional() -> None:
    table = residents("female")
    curve = kaplan_meier(table["exit"], table["died"], table["entry"])
    known = {
        800: 1.0, 850: 0.876692, 900: 0.823275, 950: 0.718586,
        1000: 0.577334, 1050: 0.36734, 1100: 0.203285, 1150: 0.131354,
    }  # fmt: skip
    np.testing.assert_allclose(curve.at(list(known)), list(known.values()), atol=5.1e-7)
