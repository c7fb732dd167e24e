"""The likelihood of overwritten dates: what must add up, what is known in closed form, what exact lives give."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.life.counting import count_lives
from audit.life.grid import Grid
from audit.life.lifetimes import PartLives
from audit.life.likelihood import find_peak
from audit.life.renewal import Counts, Unseen, head_stay, log_tables, renewals_of
from audit.life.weibull import fit_weibull

ALL = {"renewed", "lasted", "opening_fails", "opening_holds", "aged_fails", "aged_holds", "mixed_fails", "mixed_holds"}


def tables(shape: float, scale: float, unseen: Unseen, grid: Grid) -> dict[str, np.ndarray]:
    even = np.full(grid.cells + 1, 1 / (grid.cells + 1))
    logs = log_tables(Counts(grid, (), 1, unseen, even), shape, scale, ALL)
    return {name: np.exp(values) for name, values in logs.items()}


@settings(max_examples=8, deadline=None)
@given(
    st.floats(0.8, 5),
    st.floats(4, 25),
    st.sampled_from([0.0, 0.3]),
    st.sampled_from([0.0, 0.03]),
    st.sampled_from([0.0, 0.1]),
)
def test_something_is_always_there_when_the_log_begins(
    shape: float, scale: float, motors: float, others: float, whole: float
) -> None:
    """Whatever the past, the ages that a head may have at the log's start have chance 1 together."""
    grid = Grid.over(40, 8)
    found = tables(shape, scale, Unseen(motors, 0.4, others, whole), grid)["opening_holds"][1:, 0]
    np.testing.assert_allclose(found, 1.0, atol=2e-3)


@pytest.mark.parametrize("motors", [0.0, 0.3])
def test_it_fails_in_the_span_or_holds(motors: float) -> None:
    grid = Grid.over(40, 8)
    found = tables(2.4, 11, Unseen(motors, 0.4), grid)
    fails, holds = found["opening_fails"], found["opening_holds"]
    middle = (fails[:, 1:-1].sum(axis=1) + fails[:, 0] / 2 + fails[:, -1] / 2) + holds[:, -1]
    np.testing.assert_allclose(middle[1:], 1.0, atol=3e-3)


def test_without_wear_the_past_does_not_matter() -> None:
    """Shape 1: whatever the body's age, the first failure in the log is exponential."""
    grid = Grid.over(40, 8)
    found = tables(1.0, 10.0, Unseen(), grid)
    ahead = np.exp(-grid.step * np.arange(grid.ahead + 1) / 10)
    np.testing.assert_allclose(found["opening_holds"][1:], np.tile(ahead, (grid.cells, 1)), rtol=1e-3)
    np.testing.assert_allclose(found["renewed"][1:], grid.step / 10, rtol=1e-3)


@pytest.mark.parametrize("shape", [0.9, 2.4, 4.0])
def test_renewals_settle_at_one_a_mean_life(shape: float) -> None:
    """The renewal theorem (Blackwell 1948): the rate tends to 1 / mean life, mean life scale * Gamma(1 + 1/shape)."""
    grid = Grid.over(60, 1)
    rate = renewals_of(head_stay(grid, shape, 6.0, Unseen()).leaving)[-1] / grid.step
    assert rate == pytest.approx(1 / (6.0 * math.gamma(1 + 1 / shape)), rel=2e-3)


def test_in_a_young_body_hardly_anything_was_renewed() -> None:
    """A body of 2 years, heads of scale 11: the first failure is nearly that of the first head."""
    grid = Grid.over(40, 8)
    found = tables(2.4, 11, Unseen(), grid)["opening_holds"]
    place = int(np.rint(2 / grid.step))
    age = place * grid.step
    after = age + grid.step * np.arange(grid.ahead + 1)
    first = np.exp(-((after / 11) ** 2.4))
    renewed = found[place] - first
    assert (renewed >= 0).all()
    assert renewed.max() < 1 - np.exp(-((age / 11) ** 2.4)) + 1e-3


def test_motors_that_renew_everything_are_heads() -> None:
    """A motor that leaves nothing of the age behind gives the same first failures as a head."""
    grid = Grid.over(40, 8)
    heads, motors = (tables(2.4, 11, Unseen(share, 0.0), grid)["opening_fails"] for share in (0.0, 0.5))
    np.testing.assert_allclose(heads[2:], motors[2:], rtol=2e-3)


def lives_of(openings: pd.DataFrame, later: pd.DataFrame) -> PartLives:
    return PartLives(openings.assign(valve=np.arange(len(openings))), later, Unseen())


def nothing() -> pd.DataFrame:
    return pd.DataFrame(
        {"valve": np.zeros(0, dtype=int), "entered": [], "ended": [], "failed": np.zeros(0, dtype=bool)}
    )


def test_where_every_start_is_known_it_is_the_exact_fit() -> None:
    draw = np.random.default_rng(5)
    ended, entered = 11 * draw.weibull(2.4, 4000), 5 * draw.random(4000)
    seen = ended > entered
    ended, entered = ended[seen], entered[seen]
    failed = ended < entered + 6
    later = pd.DataFrame({"valve": 0, "entered": entered, "ended": np.minimum(ended, entered + 6), "failed": failed})
    opening = pd.DataFrame({"origin": [0.0], "age": [0.0], "span": [0.0], "failed": [False]})
    counts, made = count_lives(lives_of(opening, later), np.ones(1), np.zeros(1, dtype=np.int64))
    peak, exact = find_peak(counts, 0.0, 2.0), fit_weibull(later["ended"], failed, entered)
    assert made["failures"].sum() == exact.failures
    assert peak.shape == pytest.approx(exact.shape, rel=2e-3)
    assert peak.scale == pytest.approx(exact.scale, rel=5e-4)
    np.testing.assert_allclose(peak.errors, exact.peak.errors, rtol=0.02)


def test_hot_places_count_faster() -> None:
    """Lives half as long at pace 2 are the same lives."""
    draw = np.random.default_rng(6)
    ended = 11 * draw.weibull(2.4, 3000)
    fast = np.where(np.arange(3000) % 2 == 0, 2.0, 1.0)
    later = pd.DataFrame({"valve": np.arange(3000), "entered": 0.0, "ended": ended / fast, "failed": True})
    opening = pd.DataFrame({"origin": np.zeros(3000), "age": 0.0, "span": 0.0, "failed": False})
    counts, _ = count_lives(lives_of(opening, later), fast, np.zeros(3000, dtype=np.int64))
    assert find_peak(counts, 0.0, 2.0).scale == pytest.approx(fit_weibull(ended, np.ones(3000)).scale, rel=1e-3)


def test_an_opening_of_unknown_origin_is_left_out_where_few_origins_are_known() -> None:
    opening = pd.DataFrame({"origin": [np.nan] * 9 + [10.0], "age": np.nan, "span": 7.0, "failed": True})
    _, made = count_lives(lives_of(opening, nothing()), np.ones(10), np.zeros(10, dtype=np.int64))
    assert made["failures"].sum() == 1
    opening = pd.DataFrame({"origin": [np.nan] * 5 + [10.0] * 5, "age": np.nan, "span": 7.0, "failed": True})
    _, made = count_lives(lives_of(opening, nothing()), np.ones(10), np.zeros(10, dtype=np.int64))
    assert made["failures"].sum() == 10
