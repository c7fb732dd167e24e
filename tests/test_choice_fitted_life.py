"""Fitted lives stand in for the assumed ones, and the reader is told which of the two the money rests on."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from audit.calendar import years_between
from audit.choice import assumed, fitted, lives_said
from audit.life import life
from audit.model import Facts
from audit.policy import load_policy
from tests.studies.planted import Planted, facts

POLICY = load_policy()


def stock(valves: int, seed: int) -> Facts:
    """A planted stock, with ages counted as the facts count them."""
    known = facts(Planted(valves=valves), seed=seed)
    ages = {f"{part}_age_years": years_between(known.valves[f"{part}_since"], known.as_of) for part in ("head", "body")}
    return replace(known, valves=known.valves.assign(**ages))


def test_too_few_failures_leave_the_assumed_life() -> None:
    known = stock(10, seed=1)
    fit = life(known, POLICY)
    given = assumed(known, POLICY)
    pd.testing.assert_frame_equal(fitted(fit, known, POLICY), given.assign(head_scale=given["head_scale"] / fit.pace))
    head, body, *_ = lives_said(fit)
    # medians: 13 and 32 years times ln 2 to the power of 1 over shapes 2.4 and 3
    assert head.startswith(f"Head life: assumed by the policy, median {13 * math.log(2) ** (1 / 2.4):.1f} years;")
    assert body.startswith(f"Body life: assumed by the policy, median {32 * math.log(2) ** (1 / 3):.1f} years;")


def test_enough_failures_give_the_planted_life() -> None:
    known = stock(1500, seed=2)
    fit = life(known, POLICY)
    lived = fitted(fit, known, POLICY)
    assert lived["head_shape"].median() == pytest.approx(2.4, rel=0.08)
    assert (lived["head_scale"] * fit.pace).median() == pytest.approx(11, rel=0.08)
    assert np.unique(lived["body_scale"]).tolist() == [32.0]  # no body failed: the policy's life
    head = fit.table.iloc[0]
    assert lives_said(fit)[0].startswith(f"Head life: fitted from {head['failures']:,.0f} failures in ")
