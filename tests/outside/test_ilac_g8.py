"""ILAC-G8:09/2019, section 4: statements with a guard band equal to the expanded uncertainty (w = U, k = 2).

Pass up to TL - w, conditional pass up to TL, conditional fail up to TL + w, fail beyond; an upper limit of tolerance
TL. With u the standard uncertainty (U = 2u), the chance that a true value lies above TL is 1 - Phi((TL - y) / u)
(JCGM 106:2012): under 2.5 % up to the acceptance limit TL - U, 50 % at TL.
"""

from __future__ import annotations

from statistics import NormalDist

import pandas as pd
import pytest

from audit.guard_band import CLEARLY_OVER, CLEARLY_WITHIN, CLOSE_BELOW, OVER_WITHIN_UNCERTAINTY, upper_verdict
from audit.policy import load_policy
from tests.frames import found, portfolio


def verdict(reading: float, limit: float, uncertainty: float) -> str:
    return str(upper_verdict(pd.Series([reading]), limit, uncertainty)[0])


@pytest.mark.parametrize(
    ("reading", "expected", "within"),
    [  # limit 60, u = 1, U = 2; the last column is Phi(60 - reading)
        (57.5, CLEARLY_WITHIN, 0.99379),
        (58.0, CLEARLY_WITHIN, 0.97725),
        (59.0, CLOSE_BELOW, 0.84134),
        (60.0, CLOSE_BELOW, 0.5),
        (61.0, OVER_WITHIN_UNCERTAINTY, 0.15866),
        (62.0, OVER_WITHIN_UNCERTAINTY, 0.02275),
        (62.1, CLEARLY_OVER, 0.01786),
    ],
)
def test_the_four_statements_and_the_chance_behind_them(reading: float, expected: str, within: float) -> None:
    assert verdict(reading, 60, 2) == expected
    assert NormalDist().cdf(60 - reading) == pytest.approx(within, abs=5e-6)


def test_an_accepted_reading_is_wrong_in_less_than_one_case_in_forty() -> None:
    accepted = [y / 10 for y in range(500, 700) if verdict(y / 10, 60, 2) == CLEARLY_WITHIN]
    assert max(accepted) == 58.0
    assert 1 - NormalDist().cdf(60 - max(accepted)) < 0.025


def test_without_uncertainty_acceptance_is_simple() -> None:
    assert [verdict(y, 60, 0) for y in (59.9, 60.0, 60.1)] == [CLEARLY_WITHIN, CLEARLY_WITHIN, CLEARLY_OVER]


def test_a_missing_reading_has_no_statement() -> None:
    assert verdict(float("nan"), 60, 2) == ""


def test_only_readings_clearly_over_are_faults_and_each_statement_is_used() -> None:
    policy = load_policy()
    limit, spread = policy.number("place.location_limit"), policy.number("place.reading_uncertainty")
    said = {
        limit + spread + 0.1: ("fault", CLEARLY_OVER),
        limit + spread: ("record", OVER_WITHIN_UNCERTAINTY),
        limit + 0.1: ("record", OVER_WITHIN_UNCERTAINTY),
        limit: ("record", CLOSE_BELOW),
        limit - spread + 0.1: ("record", CLOSE_BELOW),
    }
    valves = [{"valve_id": f"V{y:g}", "home_id": "H1", "location_temp_c": f"{y:g}"} for y in [*said, limit - spread]]
    findings = found(portfolio(valves=valves))
    hot = findings.loc[findings["rule"].eq("location-too-hot")].set_index("valve_id")
    assert set(hot.index) == {f"V{y:g}" for y in said}
    for reading, (severity, words) in said.items():
        assert hot.loc[f"V{reading:g}", "severity"] == severity
        assert f", {words}: the limit is" in str(hot.loc[f"V{reading:g}", "statement"])
