"""The age at which to renew in time: values of Barlow and Hunter's formulae (1960), recomputed from their conditions.

Each row: cost in time, cost at failure, Weibull scale and shape; best age and its cost a unit of time, in the scale's
unit. Source of the formulae: Operations Research 8 (1960), 90-100; no page with printed numbers was found.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from audit.choice.programme import ACTIONS, EVERY, Array, Costs, Grid, Lives, solve
from audit.forecast.age_replacement import best_age, cost_rate

CASES = (
    (1.0, 5.0, 1000.0, 2.5, 493.047, 0.00346204),
    (1.0, 10.0, 1000.0, 2.5, 354.574, 0.00475055),
    (1.0, 5.0, 1000.0, 3.5, 519.591, 0.00272447),
    (95.0, 340.0, 12.0, 2.2, 7.3493, 24.9395),
)
ONE = np.ones(1)


@pytest.mark.parametrize(("planned", "failing", "scale", "shape", "age", "rate"), CASES)
def test_best_age_and_its_cost(
    planned: float, failing: float, scale: float, shape: float, age: float, rate: float
) -> None:
    ages = scale * np.arange(1, 20_001) / 10_000
    best = best_age(ages, ONE, shape * ONE, scale * ONE, planned * ONE, failing * ONE)
    assert best == pytest.approx(age, abs=scale / 10_000)
    assert cost_rate(age, shape, scale, planned, failing) == pytest.approx(rate, rel=5e-6)


def test_only_at_failure_costs_one_failure_a_life() -> None:
    """5 / (1000 Γ(1.4)) = 0.00563530."""
    assert cost_rate(math.inf, 2.5, 1000.0, 1.0, 5.0) == pytest.approx(0.00563530, abs=5e-9)
    assert cost_rate(math.inf, 2.5, 1000.0, 1.0, 5.0) == pytest.approx(5 / (1000 * math.gamma(1.4)), rel=1e-12)


@pytest.mark.parametrize(
    ("shape", "failing"), [(1.0, 5.0), (0.8, 50.0), (2.5, 1.0), (2.5, 0.5)], ids=["even", "wears in", "same", "dearer"]
)
def test_it_never_pays(shape: float, failing: float) -> None:
    ages = np.arange(0.25, 60, 0.25)
    assert best_age(ages, ONE, shape * ONE, 10 * ONE, ONE, failing * ONE) == math.inf


def test_one_age_for_a_mixed_stock_lies_between_the_ages_of_its_halves() -> None:
    ages, two = np.arange(0.25, 60, 0.25), np.ones(2)
    alone = [best_age(ages, ONE, 2.4 * ONE, scale * ONE, 107 * ONE, 290 * ONE) for scale in (6.0, 12.0)]
    both = best_age(ages, two, 2.4 * two, np.array([6.0, 12.0]), 107 * two, 290 * two)
    assert alone[0] < both < alone[1]


@pytest.mark.parametrize(("planned", "failing", "scale", "shape", "age", "rate"), CASES)
def test_the_programme_comes_to_the_same(
    planned: float, failing: float, scale: float, shape: float, age: float, rate: float
) -> None:
    found, cost = long_run(Lives(shape, scale, 1, 1e12, 1), planned, failing, scale / 200)
    assert found == pytest.approx(age, abs=scale / 200)
    assert cost == pytest.approx(rate, rel=0.002)


def test_minimal_repair() -> None:
    """Failures mended without making the part younger: T = 1000 (1 / (5 × 1.5))^(1/2.5) = 446.658, rate 0.00373141."""
    formula = 1000 * (1 / (5 * 1.5)) ** (1 / 2.5)
    assert formula == pytest.approx(446.658, abs=5e-4)
    found, cost = long_run(Lives(2.5, 1000, 1, 1e12, 1, repair_factor=1.0), 1.0, 5.0, 5.0)
    assert found == pytest.approx(446.658, abs=5.0)
    assert cost == pytest.approx(0.00373141, rel=0.005)


def long_run(lives: Lives, planned: float, failing: float, step: float) -> tuple[float, float]:
    """The age from which the programme renews one part, far from its end and undiscounted, and the cost of a unit."""
    steps, per = 2_400, 800
    last: list[Array] = []
    grid = Grid(step=step, rate=0, head_steps=300, body_steps=1)
    costs = Costs(motor=math.inf, head=planned, full=1e18, head_failure=failing, body_failure=0)
    new = solve(lives, costs, grid, steps, lambda to_go, q: last.append(q[:, :, 0].copy()), due={steps: EVERY})
    age = np.flatnonzero(last[0].argmin(axis=0) == ACTIONS.index("head"))[0] * step
    return float(age), float(new[-1] - new[-1 - per]) / (per * step)
