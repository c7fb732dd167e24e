"""Trends of faults: the stock and its schemes, by tables that a reader can redo."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from audit import sample
from audit.facts import facts
from audit.life.season import EVEN, Season
from audit.model import Facts
from audit.statistics.cumulative import mean_at_end, mean_cumulative
from audit.trends import trend_tables
from audit.trends.events import ALL, Watch
from audit.trends.months import monthly
from audit.trends.table import _concluded, _rows
from tests.frames import default_policy

POLICY = default_policy()
EVEN_YEAR = Season(EVEN)


def watched(days: list[float], homes: int = 1, last: float = 1461.0) -> Watch:
    """Homes watched from 1 January 1970 for four years; every fault is at the first home."""
    table = pd.DataFrame({"home_id": [f"H{n}" for n in range(homes)], "scheme": "S", "first": 0.0, "last": last})
    return Watch(table, np.zeros(len(days), dtype=np.int64), np.array(days), EVEN_YEAR)


def test_faults_that_crowd_towards_the_end_come_more_often() -> None:
    late = _rows(watched([1461 * (1 - 0.5**n) for n in range(1, 12)]), np.zeros(1, dtype=np.int64), ["late"])[0]
    even = _rows(watched([1461 * (n - 0.5) / 11 for n in range(1, 12)]), np.zeros(1, dtype=np.int64), ["even"])[0]
    early = _rows(watched([1461 * 0.5**n for n in range(1, 12)]), np.zeros(1, dtype=np.int64), ["early"])[0]
    table = _concluded(pd.DataFrame([late, even, early]), 0.10).set_index("group")
    assert table["trend"].to_dict() == {"late": "more often", "even": "none shown", "early": "less often"}
    assert table.loc["even", "laplace"] == pytest.approx(0.0, abs=0.01)
    assert table["mean"].eq(11).all()  # eleven faults of one home


def test_the_end_of_the_mean_cumulative_function_is_its_last_value() -> None:
    rng = np.random.default_rng(4)
    end = rng.uniform(300, 900, 40)
    unit = rng.integers(0, 30, 200)
    time = end[unit] * rng.random(200)
    curve = mean_cumulative(unit, time, end)
    assert mean_at_end(unit, time, end) == pytest.approx((curve.mean[-1], curve.low[-1], curve.high[-1]), rel=1e-12)


def test_a_month_beyond_its_limits_stands_out() -> None:
    """Four faults a month for four years, but twenty in month 30: 208 in all, 4.3 a month, upper limit 12."""
    starts = pd.date_range("1970-01-01", periods=48, freq="MS")
    days = [float((start - pd.Timestamp(0)).days) + 3.5 for start in starts for _ in range(4)]
    days += [float((starts[30] - pd.Timestamp(0)).days) + 9.5] * 16
    chart = monthly(watched(sorted(days), homes=100), np.zeros(100, dtype=np.int64), [ALL])
    out = chart.loc[chart["out"].ne("")]
    assert out["month"].tolist() == [starts[30]]
    assert (out["out"].iloc[0], out["call_outs"].iloc[0], out["rate"].iloc[0]) == ("above", 20, 20)
    assert chart["expected"].sum() == pytest.approx(208)
    assert len(chart) == 48


def test_the_season_is_taken_out() -> None:
    """Twenty faults each October, one in every other month: nothing stands out once the season is known."""
    starts = pd.date_range("1970-01-01", periods=48, freq="MS")
    count = [20 if start.month == 10 else 1 for start in starts]
    days = [float((s - pd.Timestamp(0)).days) + 3.5 for s, n in zip(starts, count, strict=True) for _ in range(n)]
    share = np.array([20.0 if month == 9 else 1.0 for month in range(12)]) / 31
    seen = watched(days, homes=50)
    plain = monthly(seen, np.zeros(50, dtype=np.int64), [ALL])
    known = monthly(Watch(seen.homes, seen.home, seen.day, Season(share)), np.zeros(50, dtype=np.int64), [ALL])
    assert plain["out"].eq("above").sum() == 4
    assert known["out"].eq("").all()
    assert known["expected"].iloc[9] == pytest.approx(20, rel=0.02)


@pytest.fixture(scope="module")
def stock() -> Facts:
    made = sample.make(300, 5)
    return facts(sample.portfolio(made), made.as_of, POLICY)


def test_the_order_of_rows_never_matters(stock: Facts) -> None:
    made = sample.portfolio(sample.make(300, 5))
    mixed = {name: getattr(made, name).sample(frac=1, random_state=8) for name in ("homes", "valves", "visits")}
    shuffled = sample.portfolio(sample.make(300, 5)).__class__(
        **mixed, rates=made.rates, capacity=made.capacity, parts=made.parts
    )
    again = trend_tables(facts(shuffled, stock.as_of, POLICY), POLICY)
    for name, table in trend_tables(stock, POLICY).items():
        pd.testing.assert_frame_equal(table, again[name])


def test_all_homes_come_first_and_count_every_fault_once(stock: Facts) -> None:
    tables = trend_tables(stock, POLICY)
    first = tables["trends"].iloc[0]
    assert (first["group"], first["homes"]) == (ALL, 300)
    whole = tables["month_chart"].loc[lambda rows: rows["group"].eq(ALL)]
    assert whole["call_outs"].sum() == first["call_outs"] < stock.visits["event"].nunique()
    assert whole["expected"].sum() == pytest.approx(first["call_outs"])


def test_without_visits_there_is_no_trend(stock: Facts) -> None:
    silent = Facts(stock.as_of, stock.homes, stock.valves, stock.visits.iloc[:0])
    assert all(table.empty for table in trend_tables(silent, POLICY).values())
