"""Fitted lives stand in for the assumed ones, and the reader is told which of the two the money rests on."""

from __future__ import annotations

import math

import pytest

from audit.choice import fitted, lives_said
from audit.choice.assumed_life import lives
from audit.life import life
from audit.policy import load_policy
from tests.studies.planted import Planted, facts

POLICY = load_policy()


def test_too_few_failures_leave_the_assumed_life() -> None:
    fit = life(facts(Planted(valves=10), seed=1), POLICY)
    assert fitted(fit, POLICY) == lives(POLICY)
    head, body, *_ = lives_said(fit)
    # medians: 13 and 32 years times ln 2 to the power of 1 over shapes 2.4 and 3
    assert head.startswith(f"Head life: assumed by the policy, median {13 * math.log(2) ** (1 / 2.4):.1f} years;")
    assert body.startswith(f"Body life: assumed by the policy, median {32 * math.log(2) ** (1 / 3):.1f} years;")


def test_enough_failures_give_the_planted_life() -> None:
    fit = life(facts(Planted(valves=1500), seed=2), POLICY)
    known = fitted(fit, POLICY)
    assert (known.head.shape, known.head.scale) == pytest.approx((2.4, 11), rel=0.08)
    assert known.body == lives(POLICY).body  # none of them failed
    head = fit.table.iloc[0]
    assert lives_said(fit)[0].startswith(f"Head life: fitted from {head['failures']:,.0f} failures in ")
