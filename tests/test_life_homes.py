"""Bodies: what their homes tell of overwritten dates."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.life.bodies import BANDS, Past, ahead, count_bodies
from audit.life.grid import Grid
from audit.life.groups import Prior
from audit.life.homes import count_homes, fit_homes
from audit.life.lifetimes import PartLives
from audit.life.renewal import Unseen

NAN = float("nan")


def bodies(rows: list[tuple[float, float, float, bool]]) -> PartLives:
    opening = pd.DataFrame(rows, columns=["origin", "age", "span", "failed"])
    later = pd.DataFrame(
        {"valve": np.zeros(0, dtype=int), "entered": [], "ended": [], "failed": np.zeros(0, dtype=bool)}
    )
    return PartLives(opening.assign(valve=np.arange(len(rows))), later, Unseen())


@settings(max_examples=15, deadline=None)
@given(st.lists(st.floats(0.0005, 0.2), min_size=len(BANDS) + 1, max_size=len(BANDS) + 1))
def test_the_ages_that_a_body_may_have_add_up(rates: list[float]) -> None:
    ages = Past(np.array(rates)).ages(Grid.over(40, 7))
    np.testing.assert_allclose(ages.sum(axis=1), 1.0, atol=1e-9)
    assert (ages >= 0).all()
    assert (np.triu(ages, 1) == 0).all()  # never older than its home


def test_at_a_constant_rate_the_first_bodies_go_exponentially() -> None:
    grid = Grid.over(40, 7)
    ages = Past(np.full(len(BANDS) + 1, 0.05)).ages(grid)
    years = grid.step * np.arange(grid.cells + 1)
    np.testing.assert_allclose(np.diag(ages)[5:], np.exp(-0.05 * years[5:]), rtol=5e-3)


def test_of_a_known_age_it_fails_in_the_span_or_holds() -> None:
    fails, holds = ahead(Grid.over(40, 7), 3.0, 34.0)
    np.testing.assert_allclose(
        fails[:, 1:-1].sum(axis=1) + fails[:, 0] + fails[:, -1] / 2 + holds[:, -1], 1.0, atol=2e-3
    )


def test_homes_of_which_the_same_is_known_are_counted_once() -> None:
    twice = [(NAN, 10, 7, False), (NAN, NAN, 3, True)] * 2
    counts, kind = count_homes(bodies([*twice, (NAN, 12, 7, False), (0, 0, 4, False)]), np.array([0, 0, 1, 1, 2, 3]))
    assert sorted(counts.homes) == [1, 2]
    assert kind[0] == kind[1] != kind[2]
    assert len(kind) == 3  # the home fitted while watched needs no origin


PRIOR = Prior(np.log(3), np.log(32), 0.7, 0.7)


def drawn(rows: list[tuple[float, float, float, bool]], home: list[int]) -> np.ndarray:
    """Return origins drawn in a stock of 400 like homes and of 400 others that show what is usual."""
    usual = [(NAN, age, 7, False) for age in np.linspace(0.5, 27.5, 400) for _ in range(2)]
    many = rows * 400
    homes = [h + i * (max(home) + 1) for i in range(400) for h in home]
    homes += [400 * (max(home) + 1) + i for i in range(400) for _ in range(2)]
    _, found = fit_homes(bodies(many + usual), np.array(homes), PRIOR)
    return found.openings["origin"].to_numpy()[: len(many)]


def test_two_bodies_of_one_day_are_the_first() -> None:
    origin = drawn([(NAN, 14, 7, False), (NAN, 14, 7, False)], [0, 0])
    assert (origin == 14).all()


def test_an_overwritten_body_takes_its_neighbour_s_day_as_a_rule() -> None:
    origin = drawn([(NAN, 22, 7, False), (NAN, NAN, 3, True)], [0, 0])
    assert (origin[1::2] == origin[::2]).all()  # one origin a home
    assert (np.abs(origin - 22) < 0.5).mean() > 0.8
    assert (origin >= 21.5).all()


def test_with_few_dates_known_nothing_is_guessed() -> None:
    rows = [(NAN, NAN, 7, False)] * 9 + [(NAN, 10, 7, False)]
    counts, lives = fit_homes(bodies(rows), np.arange(10), PRIOR)
    assert len(lives.openings) == 0
    assert counts.homes.sum() == 0


def test_every_known_body_counts_once_in_the_groups() -> None:
    rows = [(20, 20, 7, False), (20, NAN, 3, True), (0, 0, 5, True)]
    counts, made = count_bodies(bodies(rows), Past.usual(), np.array([0, 1, 1]))
    assert made["failures"].tolist() == [0, 2]
    assert made["exposure_years"].tolist() == [7, 8]
    one, both = counts.log_likelihoods(3, 34)
    assert one == pytest.approx((20 / 34) ** 3 - (27 / 34) ** 3, rel=1e-3)  # S(27) / S(20)
    assert both < one
