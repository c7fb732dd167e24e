"""Assumed lives: the policy's for every valve, and the age of a typical part where none is known."""

from __future__ import annotations

import math

import pandas as pd
import pytest

from audit.choice import assumed
from audit.choice.assumed_life import LIVED, typical_age
from tests.choosing import policy, valve
from tests.frames import known_facts, portfolio


@pytest.mark.parametrize(
    ("shape", "scale", "age"),
    [
        (1.0, 8.0, 8.0),  # what does not wear is on average as old as it lasts
        (2.0, 10.0, 10.0 / math.sqrt(math.pi)),  # Γ(2) / (2 Γ(1.5)) = 1 / √π
    ],
)
def test_typical_age_in_a_stock_long_renewed(shape: float, scale: float, age: float) -> None:
    assert typical_age(pd.Series([shape]), pd.Series([scale])).item() == pytest.approx(age)


def test_every_valve_gets_the_policys_lives_and_its_own_ages() -> None:
    rows = [
        valve("V1", head_fitted="2016-11-25", body_fitted="2006-11-25"),
        valve("V2", head_fitted="", body_fitted=""),
    ]
    lived = assumed(known_facts(portfolio(valves=rows)), policy())
    assert list(lived.columns) == list(LIVED)
    assert lived.loc["V1"].tolist() == pytest.approx([2.4, 13.0, 10.0, 3.0, 32.0, 20.0])
    assert lived.loc["V2", ["head_age", "body_age"]].isna().all()
