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
    pd.testing.assert_frame_equal(
        fitted(fit, known, POLICY), given.assign(head_scale=given["head_scale"] / fit.pace, head_pace=fit.pace)
    )
    head, body, *_ = lives_said(fit, known)
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
    assert lives_said(fit, known)[0].startswith(f"Head life: fitted from {head['failures']:,.0f} failures in ")


def test_a_head_without_a_date_is_taken_younger_than_its_body() -> None:
    """The log begins in 2019; where the body is older, a head of unknown date may have been renewed before it."""
    known = stock(10, seed=1)
    names = ["V000000", "V000001"]
    undated = known.valves["valve_id"].isin(names)
    valves = known.valves.assign(
        head_fitted=known.valves["head_fitted"].mask(undated),
        body_fitted=known.valves["body_fitted"].mask(undated, pd.Timestamp("1999-01-01")),
        body_since=known.valves["body_since"].mask(undated, pd.Timestamp("1999-01-01")),
        head_since=known.valves["head_since"].mask(undated, pd.Timestamp("1999-01-01")),
        head_age_basis=known.valves["head_age_basis"].mask(undated, "the body's date"),
        head_age_years=known.valves["head_age_years"].mask(undated, 27.0),
    )
    known = replace(known, valves=valves, visits=known.visits.loc[~known.visits["valve_id"].isin(names)])
    fit = life(known, POLICY)
    age = fitted(fit, known, POLICY)["head_age"].to_numpy()
    assert 7 < age[0] < 20  # no renewal since 2019, and hardly the first head of 27 years
    assert age[2:].tolist() == pytest.approx(known.valves["head_age_years"].tolist()[2:])
    assert "2 heads have no fitting date" in " ".join(lives_said(fit, known))
