"""The season's clock."""

from __future__ import annotations

import numpy as np
import pytest

from audit.life.lifetimes import lives
from audit.life.season import EVEN, Season, season_of
from audit.policy import load_policy
from tests.studies.planted import Planted, facts

JAN_2020, JAN_2021 = 18262.0, 18628.0  # days since 1970


def test_an_even_clock_is_the_calendar() -> None:
    clock = Season(EVEN)
    days = np.array([0.0, JAN_2020, JAN_2021])
    np.testing.assert_allclose(clock.years(days), [0.0, 50.0, 51.0], atol=1e-12)


def test_every_year_is_one_year_whatever_the_season() -> None:
    clock = Season(np.array([0, 0, 0, 0, 0, 0, 0, 0, 0, 0.5, 0.5, 0]))
    worn = clock.years(np.array([JAN_2020, JAN_2020 + 274, JAN_2020 + 305, JAN_2021, np.nan]))
    np.testing.assert_allclose(worn - worn[0], [0.0, 0.0, 0.5, 1.0, np.nan], atol=1e-12)


def test_months_are_counted_over_whole_years_only() -> None:
    """Two and a half years watched: the failure in the odd half year is left out."""
    last = JAN_2021 + 365
    failed = np.array([last - 800.0, last - 300, last - 300])  # the last two on 7 March 2021
    season = season_of(failed, last - 913, last, evenness=0.0)
    assert season.share.tolist() == [0, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0]


@pytest.mark.parametrize(("failures", "share"), [(0, 31 / 365.25), (24, (24 + 24 * 31 / 365.25) / 48)])
def test_few_failures_make_no_season(failures: int, share: float) -> None:
    season = season_of(np.full(failures, JAN_2020 + 3), JAN_2020 - 400, JAN_2020 + 360, evenness=24)
    assert season.share[0] == pytest.approx(share)
    assert season.share.sum() == pytest.approx(1.0)


def test_a_log_that_saw_one_spring_more_than_autumns_makes_no_spring() -> None:
    """Watched from January 2019 to September 2025, without a season: the last quarter still has its 92 days' share."""
    known = facts(Planted(valves=6_000, as_of="2025-10-01"), seed=1)
    share = lives(known, load_policy()).season.share
    assert share[9:].sum() == pytest.approx(92 / 365.25, abs=0.015)
