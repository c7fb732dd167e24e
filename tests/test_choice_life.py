"""Assumed lives: Weibull chances that can be redone by hand, and the table that says nothing was fitted."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.choice import life
from audit.choice.assumed_life import Life, lives
from audit.policy import load_policy
from schemas.results import RESULT_COLUMNS
from tests.choosing import policy, valve
from tests.frames import known_facts, portfolio

SCALES = st.floats(1, 60)


def test_chance_of_a_year_at_ten() -> None:
    assert Life(2.0, 10.0).chance(10, 1) == pytest.approx(1 - math.exp(1.0 - 1.21))  # (10/10)² and (11/10)²


@given(st.floats(0, 90))
def test_shape_one_forgets_its_age(age: float) -> None:
    memoryless = Life(1.0, 8.0)
    assert memoryless.chance(age, 2) == pytest.approx(1 - math.exp(-0.25))
    assert memoryless.mean_residual(age) == pytest.approx(8.0, rel=1e-3)
    assert memoryless.typical_age == pytest.approx(8.0)


@given(st.floats(1, 10), SCALES)
def test_mean_life_of_a_new_part(shape: float, scale: float) -> None:
    assert Life(shape, scale).mean_residual(0.0) == pytest.approx(scale * math.gamma(1 + 1 / shape), abs=0.05 * scale)


@given(st.floats(1.0, 10), SCALES, st.floats(0, 100))
def test_chances_lie_between_nought_and_one_and_grow_with_age(shape: float, scale: float, age: float) -> None:
    chance = Life(shape, scale).chance([age, age + 1], 0.25)
    assert 0 <= chance[0] <= chance[1] + 1e-12 <= 1 + 1e-12


def test_a_life_that_never_varies_is_half_over_on_average() -> None:
    assert Life(10.0, 20.0).typical_age == pytest.approx(Life(10.0, 20.0).mean_residual(0) / 2, rel=0.02)


def test_a_new_motor_counts_as_an_age_with_its_share_of_life_left() -> None:
    head = Life(2.4, 13.0)
    age = head.age_with_share_left(0.6)
    assert head.mean_residual(age) <= 0.6 * head.mean_residual(0) < head.mean_residual(age - 0.25)
    assert Life(1.0, 13.0).age_with_share_left(0.6) == 0.0  # what does not wear is as good as new


def test_life_table_names_the_assumed_life() -> None:
    table = life(
        known_facts(portfolio(valves=[valve("V1"), valve("V2")])), policy(life__head_shape=1, life__head_scale=10)
    )
    assert list(table.columns) == [column.name for column in RESULT_COLUMNS["life"]]
    head = table.set_index("part").loc["head"]
    assert (head["valves"], head["prior_weight"]) == (2, 1)
    assert head["median_years"] == pytest.approx(10 * math.log(2))
    assert head["b10_years"] == pytest.approx(10 * math.log(10 / 9))
    assert np.isnan(head["failures"])  # nothing was counted, so no number stands there


def test_lives_come_from_the_policy() -> None:
    known = lives(load_policy())
    assert (known.head, known.body) == (Life(2.4, 13.0), Life(3.0, 32.0))
