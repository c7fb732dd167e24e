"""Effective age: the pace of a hot place, and what the data say of it."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

from audit.life.effective_age import estimate_heat, pace, place_temperature
from audit.policy import load_policy


@pytest.mark.parametrize(
    ("case", "temperature", "expected"),
    [
        ("at the reference", 40, 1),
        ("cooler does not slow it", 15, 1),
        ("10 °C hotter doubles", 50, 2),
        ("20 °C hotter: four times", 60, 4),
        ("22 °C hotter, worked in standards of thermal ageing: 2^2.2", 62, 4.594793),
        ("never faster than the fastest", 99, 8),
        ("no reading counts as the reference", math.nan, 1),
    ],
)
def test_pace(case: str, temperature: float, expected: float) -> None:
    assert float(pace(temperature, 40, 10, 8)) == pytest.approx(expected, abs=5e-7)


def test_an_infinite_step_means_no_effect() -> None:
    assert pace([20, 90], 40, math.inf, 8).tolist() == [1, 1]


def test_a_place_without_reading_takes_the_home_s_else_like_places() -> None:
    valves = pd.DataFrame(
        {
            "home_id": ["H1", "H1", "H2", "H3", "H4", "H5"],
            "location": pd.Series(["loft", "loft", "loft", "loft", "garage", None], dtype="str"),
            "location_temp_c": [30.0, np.nan, 50.0, np.nan, np.nan, np.nan],
        }
    )
    np.testing.assert_array_equal(place_temperature(valves), [30, 30, 50, 40, np.nan, np.nan])


def parabola(best: float, sharpness: float):
    return lambda rate: -0.5 * ((rate - best) / sharpness) ** 2


@pytest.mark.parametrize(
    ("case", "best", "sharpness", "step", "from_data"),
    [
        ("the data agree with 10 °C", 0.101, 0.005, 10.0, False),
        ("the data contradict it: 5 °C", 0.2, 0.01, 5.0, True),
        ("too few data to contradict", 0.2, 0.06, 10.0, False),
        ("no effect of heat at all", 0.0, 0.01, math.inf, True),
    ],
)
def test_the_policy_s_step_gives_way_only_to_clear_data(
    case: str, best: float, sharpness: float, step: float, from_data: bool
) -> None:
    heat = estimate_heat(parabola(best, sharpness), load_policy())
    assert heat.step == pytest.approx(step, rel=0.02)
    assert heat.from_data == from_data


def test_limits_and_tests_of_a_parabola_by_hand() -> None:
    """Peak at 0.1 doublings a °C, standard error 0.01: limits 0.1 -+ 1.645 x 0.01; against none z = 10."""
    heat = estimate_heat(parabola(0.1, 0.01), load_policy())
    assert heat.estimate == pytest.approx(10, rel=0.01)
    assert 1 / heat.high == pytest.approx(0.1 - 0.016449, rel=0.01)
    assert 1 / heat.low == pytest.approx(0.1 + 0.016449, rel=0.01)
    assert heat.p_none == pytest.approx(math.erfc(10 / math.sqrt(2)), rel=0.05)
    assert heat.p_policy > 0.9
