"""Costs ahead, looked up class by class, against cases by hand and against the programme itself."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from audit.choice.ahead import NEVER, costs_ahead
from audit.choice.flip import flips
from audit.choice.programme import ACTIONS, HEAD, LEAVE, Costs, Grid, Lives, solve
from tests.choosing import policy

LEAVES, MOTOR, HEADS, FULL = range(4)
BASE = {
    "motor": 74.0, "head": 100.0, "full": 225.0, "head_failure": 152.0, "body_failure": 277.0, "head_shape": 2.4,
    "head_scale": 13.0, "body_shape": 3.0, "body_scale": 32.0, "frail": False, "head_quarters": 48, "body_quarters": 80,
    "horizon_quarters": 120,
}  # fmt: skip
IN_FORCE = policy(life__motor_share=0.6)


def ahead(*rows: dict[str, object]) -> tuple[np.ndarray, np.ndarray]:
    found = costs_ahead(pd.DataFrame([BASE | row for row in rows]), IN_FORCE)
    return found.later, found.until


def test_one_quarter_to_go_by_hand() -> None:
    """A new head of even chance: 1 − e^(−0.25/10) of failing, in the middle of the quarter."""
    later, _ = ahead({"horizon_quarters": 1, "head_shape": 1.0, "head_scale": 10.0, "body_scale": 1e9})
    assert later[0, :3] == pytest.approx([(1 - np.exp(-0.025)) * 152 * 1.035**-0.125] * 3, rel=1e-6)


def test_a_head_that_will_not_come_off_is_mended_by_a_whole_valve() -> None:
    """Whatever fails costs £277 as billed, and leaves a new valve behind; one quarter to go, then many."""
    soon = {"horizon_quarters": 1, "head_shape": 1.0, "head_scale": 10.0, "body_shape": 1.0, "body_scale": 30.0}
    plain, frail, last = ahead({}, {"frail": True}, soon | {"frail": True})[0]
    assert last[LEAVES] == pytest.approx((1 - np.exp(-0.25 / 10 - 0.25 / 30)) * 277 * 1.035**-0.125, rel=1e-6)
    assert frail[FULL] == pytest.approx(plain[FULL])  # once renewed it is like any other
    assert frail[LEAVES] > plain[LEAVES]


@pytest.mark.parametrize(("head", "body", "to_go"), [(0, 0, 1), (48, 80, 120), (17, 33, 40), (400, 700, 12)])
def test_looked_up_as_the_programme_says(head: int, body: int, to_go: int) -> None:
    later, _ = ahead({"head_quarters": head, "body_quarters": body, "horizon_quarters": to_go})
    seen = {}

    def see(step: int, q: np.ndarray) -> None:
        if step == to_go:
            seen["q"] = q.copy()

    solve(Lives(2.4, 13, 3, 32, 0.4), Costs(74, 100, 225, 152, 277), Grid(), to_go, see)
    at = seen["q"][:, min(head, 120), min(body, 200)]
    planned = [0, 74, 100, 225]
    assert later[0] == pytest.approx(at - planned, abs=1e-9)


def test_other_valves_of_a_portfolio_change_nothing() -> None:
    alone, _ = ahead({})
    among, _ = ahead({"horizon_quarters": 8}, {}, {"frail": True}, {"head_scale": 9.0, "motor": np.inf})
    assert among[1] == pytest.approx(alone[0], abs=1e-9)


def test_the_flip_is_the_first_body_age_with_another_best_option() -> None:
    """Walk up the ages of the body one by one, and look where the least total changes."""
    planned = np.array([0, 74, 100, 225])
    bodies = np.arange(60, 140)
    later, until = ahead(*({"body_quarters": int(body), "head_quarters": 80, "motor": np.inf} for body in bodies))
    total = later + planned
    total[:, MOTOR] = np.inf
    best = total.argmin(axis=1)
    assert best[0] == HEAD
    turn = int(np.argmax(best != HEAD))
    assert turn > 0
    assert until[0, HEAD] == bodies[turn]
    assert until[0, LEAVE] == NEVER
    assert len(ACTIONS) == until.shape[1]


@pytest.mark.parametrize(
    ("option", "dearer", "until", "said"),
    [
        ("head", 12.5, 27.25, "stays best unless it gets £12.50 dearer, or the next best gets £12.50 cheaper"
         " or the body is older than 27.25 years"),
        ("leave", 3.0, -0.25, "stays best unless the next best gets £3 cheaper"),
        ("full", np.inf, -0.25, "no other option is possible"),
        ("head", -4.0, 20.0, "best only because the home's visit is shared"),
        ("head", np.nan, 20.0, ""),
    ],
)  # fmt: skip
def test_the_flip_in_words(option: str, dearer: float, until: float, said: str) -> None:
    assert flips(option, np.array([dearer]), pd.Series([until])).tolist() == [said]
