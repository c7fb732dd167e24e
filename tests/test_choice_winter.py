"""Which share of failures counts as cold: the log's own, the assumed one, or a landlord's."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from audit.choice import with_own_winter
from audit.life.season import EVEN, Season
from audit.policy import Policy
from tests.choosing import policy

SHARE = "money.winter_share"
COLD = np.array([2, 1, 1, 1, 0, 0, 0, 0, 1, 1, 1, 2]) / 10  # 8 of 10 from November to April


@pytest.mark.parametrize(
    ("failures", "share", "told"),
    [
        (200, 0.8, "80 % by the log, 200 failures in whole years"),
        (199, 0.7, "70 %, assumed (money.winter_share); the 199 failures in whole years of the log are fewer than"),
    ],
)
def test_the_logs_own_share_from_enough_failures_on(failures: int, share: float, told: str) -> None:
    own, said = with_own_winter(policy(life__own_season_failures=200), Season(COLD, failures))
    assert own.number(SHARE) == pytest.approx(share)
    assert told in said
    assert own[SHARE].source.startswith("the log, 200 failures in whole years" if share != 0.7 else "assumed")
    assert {name for name in own if own[name] != policy()[name]} <= {SHARE}


def test_what_a_landlord_set_stands() -> None:
    default = policy()
    own = Policy({**default, SHARE: replace(default[SHARE], value=0.6, source="own.toml (default 0.7, assumed)")})
    assert with_own_winter(own, Season(COLD, 5000)) == (
        own,
        "Failures in the cold half-year: 60 %, as set (money.winter_share).",
    )


def test_the_cold_half_year_of_an_even_year() -> None:
    """November to April: 30 + 31 + 31 + 28.25 + 31 + 30 days of 365.25."""
    assert Season(EVEN).cold == pytest.approx(181.25 / 365.25)
