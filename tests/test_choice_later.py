"""Expected failures ahead, against cases by hand and against counting out every course of events."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.choice.assumed_life import QUARTER, Life, Lives
from audit.choice.later import chance_of_failing, failures_ahead
from audit.policy import Policy
from tests.choosing import policy

FOR_EVER = Life(1.0, 1e12)
EVEN = Life(1.0, 2.0)  # the same chance each quarter, whatever the age
Q = float(EVEN.chance(0, QUARTER))
UNDISCOUNTED = policy(money__discount_rate=0)


def ahead(known: Lives, in_force: Policy, *rows: tuple[int, int, int, bool]) -> tuple[list[float], list[float]]:
    head, body, horizon, frail = (np.array(column) for column in zip(*rows, strict=True))
    heads, fulls = failures_ahead(head, body, horizon, frail, known, in_force)
    return heads.tolist(), fulls.tolist()


def test_heads_of_even_chance_over_four_quarters() -> None:
    heads, fulls = ahead(Lives(EVEN, FOR_EVER, 0.0), UNDISCOUNTED, (0, 0, 4, False), (40, 20, 4, False))
    assert heads == pytest.approx([4 * Q, 4 * Q])
    assert fulls == pytest.approx([0, 0], abs=1e-9)


def test_the_same_discounted_at_the_end_of_each_quarter() -> None:
    heads, _ = ahead(Lives(EVEN, FOR_EVER, 0.0), policy(money__discount_rate=0.1), (0, 0, 3, False))
    assert heads == pytest.approx([Q * (1.1**-0.25 + 1.1**-0.5 + 1.1**-0.75)])


def test_a_body_that_fails_takes_the_head_with_it() -> None:
    heads, fulls = ahead(Lives(FOR_EVER, EVEN, 0.0), UNDISCOUNTED, (0, 0, 4, False))
    assert heads == pytest.approx([0], abs=1e-9)
    assert fulls == pytest.approx([4 * Q])


def test_on_a_body_past_its_service_life_a_failed_head_means_the_whole_valve() -> None:
    limit = round(policy()["age.body_service_life"].number / QUARTER)
    heads, fulls = ahead(Lives(EVEN, FOR_EVER, 0.0), UNDISCOUNTED, (0, limit, 1, False), (0, limit - 1, 1, False))
    assert fulls == pytest.approx([Q, 0])
    assert heads == pytest.approx([0, Q])


def test_a_frail_valve_is_renewed_whole_at_its_first_failure_only() -> None:
    heads, fulls = ahead(Lives(EVEN, FOR_EVER, 0.0), UNDISCOUNTED, (0, 0, 2, True))
    assert fulls == pytest.approx([Q + (1 - Q) * Q])
    assert heads == pytest.approx([Q * Q])  # failed at once, and again as an ordinary valve


def test_chance_that_either_part_fails() -> None:
    both = chance_of_failing(np.array([0]), np.array([8]), 1.0, Lives(EVEN, Life(1.0, 4.0), 0.0))
    assert both == pytest.approx([1 - np.exp(-1 / 2 - 1 / 4)])


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 60), st.integers(80, 110), st.integers(1, 5), st.booleans())
def test_every_course_of_events_counted_out(head: int, body: int, quarters: int, frail: bool) -> None:
    known, in_force = Lives(Life(2.4, 13.0), Life(3.0, 32.0), 0.0), policy()
    worn = in_force.number("age.body_service_life") / QUARTER
    discount = 1.035**-0.25

    @cache
    def counted(h: int, b: int, left: int, frail: bool) -> tuple[float, float]:
        if not left:
            return 0.0, 0.0
        fails_h, fails_b = float(known.head.chance(h / 4, 0.25)), float(known.body.chance(b / 4, 0.25))
        courses = [
            ((1 - fails_h) * (1 - fails_b), (0, 0), (h + 1, b + 1, left - 1, frail)),
            (fails_h * (1 - fails_b), (0, 1), (0, 0, left - 1, False)),
            (fails_b, (0, 1), (0, 0, left - 1, False)),
        ]
        if not frail and b < worn:
            courses[1] = (courses[1][0], (1, 0), (0, b + 1, left - 1, False))
        later = [(chance, here, counted(*then)) for chance, here, then in courses]
        return tuple(discount * sum(p * (here[k] + then[k]) for p, here, then in later) for k in (0, 1))

    heads, fulls = ahead(known, in_force, (head, body, quarters, frail))
    assert (heads[0], fulls[0]) == pytest.approx(counted(head, body, quarters, frail), rel=1e-9)


def test_a_longer_view_never_sees_fewer_failures() -> None:
    rows = [(20, 60, quarters, False) for quarters in (1, 2, 10, 50, 120)]
    heads, fulls = ahead(Lives(Life(2.4, 13.0), Life(3.0, 32.0), 0.0), policy(), *rows)
    assert heads == sorted(heads)
    assert fulls == sorted(fulls)
