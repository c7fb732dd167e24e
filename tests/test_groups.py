"""Groups that fail too often: counts, expectations and names that a reader can redo by hand."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from audit import sample
from audit.choice import prices
from audit.facts import facts
from audit.groups import groups, named_batches
from audit.groups.tested import counted, judged, matched
from audit.groups.unseen import wear_unseen
from audit.life import LifeFit, life
from audit.model import Facts, Portfolio
from schemas.results import RESULT_COLUMNS
from tests.frames import default_policy, frame, known_facts, portfolio

POLICY = default_policy()


def test_expected_failures_add_up_to_those_seen_in_each_stratum() -> None:
    frame = pd.DataFrame({"observed": [2.0, 0.0, 1.0, 0.0], "raw": [0.5, 1.5, 1.0, 0.0]})
    kind = pd.Series(["zone", "zone", "diverter", "none"])
    assert matched(frame, [kind]).tolist() == [0.5, 1.5, 1.0, 0.0]  # 2 seen of 2 expected; 1 of 1
    assert matched(frame, [pd.Series(["all"] * 4)]).tolist() == [0.5, 1.5, 1.0, 0.0]
    twice = frame.assign(raw=frame["raw"] / 2)
    assert matched(twice, [kind]).tolist() == [0.5, 1.5, 1.0, 0.0]


def test_groups_in_which_little_is_expected_are_not_tried() -> None:
    frame = pd.DataFrame({"observed": [9.0, 1.0, 0.0], "expected": [2.9, 3.0, 3.0], "years": [1.0, 1.0, 1.0]})
    table = counted(frame, pd.Series(["few", "enough", "also"]), 3.0)
    assert table["group"].tolist() == ["also", "enough"]
    assert counted(frame, pd.Series(["one"] * 3), 3.0).empty  # one group alone is the stock itself


def test_interval_and_p_value_agree() -> None:
    """137 seen where 24.19893 were expected, and 12 where 4 were: limits after Garwood (1936)."""
    table = judged(pd.DataFrame({"observed": [137.0, 12.0, 4.0], "expected": [24.19893, 4.0, 4.0]}), 0.10, 1.2)
    assert table["named"].tolist() == ["yes", "yes", "no"]
    assert table["low"].iloc[1] == pytest.approx(6.2006 / 4, abs=1e-4)  # chi-square 2.5 % at 24, halved
    assert table["high"].iloc[1] == pytest.approx(20.9616 / 4, abs=1e-4)
    assert table["p_adjusted"].iloc[2] == 1.0
    assert (table["p"].lt(0.05) == table["low"].gt(1)).all()


def test_a_small_excess_is_not_named_however_sure() -> None:
    table = judged(pd.DataFrame({"observed": [11_900.0, 12_100.0], "expected": [10_000.0, 10_000.0]}), 0.10, 1.2)
    assert table["p_adjusted"].lt(1e-9).all()
    assert table["named"].tolist() == ["no", "yes"]


def test_nothing_tried_names_nothing() -> None:
    empty = pd.DataFrame({"observed": [], "expected": []}, dtype="float64")
    assert judged(empty, 0.10, 1.2).empty


@pytest.mark.parametrize(("origin", "failed"), [(0.0, True), (0.0, False)])
def test_a_head_as_old_as_its_place_has_one_age(origin: float, failed: bool) -> None:
    got = wear_unseen(np.array([origin]), np.array([5.0]), np.array([failed]), 2.4, 10.0)
    assert got[0] == pytest.approx(0.5**2.4, abs=2e-3)


def test_without_wear_the_age_does_not_matter() -> None:
    """Shape 1: the hazard is even, so that 4 of 8 years are half a failure from any origin, however it ended."""
    origin = np.array([0.0, 3.0, 20.0, 90.0])
    for failed in (True, False):
        got = wear_unseen(origin, np.full(4, 4.0), np.full(4, failed), 1.0, 8.0)
        assert got == pytest.approx(0.5, abs=1e-9)


def test_unseen_ages_neither_add_nor_lose_failures() -> None:
    """Renewal processes drawn by lot, watched from year 12 to 16: as many fail as were expected, ages unseen."""
    rng = np.random.default_rng(5)
    places, start, years = 40_000, 12.0, 4.0
    ends = np.cumsum(10.0 * rng.weibull(2.4, (places, 12)), axis=1)
    first = np.min(np.where(ends > start, ends, np.inf), axis=1) - start
    failed = first <= years
    span = np.minimum(first, years)
    got = wear_unseen(np.full(places, start), span, failed, 2.4, 10.0)
    assert got.sum() == pytest.approx(failed.sum(), rel=0.02)


def test_a_named_batch_is_one_make_of_that_code() -> None:
    known = known_facts(
        portfolio(
            valves=[
                {"valve_id": "V1", "home_id": "H1", "batch": "B1", "make": "Make A"},
                {"valve_id": "V2", "home_id": "H1", "batch": "B1", "make": "Make B"},
                {"valve_id": "V3", "home_id": "H2", "batch": "B2", "make": "Make A"},
                {"valve_id": "V4", "home_id": "H2", "batch": "B1", "make": "Make A"},
            ]
        )
    )
    told = [("batch", "B2, Make A", "no"), ("batch", "B1, Make A", "yes"), ("scheme", "B1, Make B", "yes")]
    table = pd.DataFrame(told, columns=["grouped_by", "group", "named"]).assign(observed=9.0, expected=4.0)
    assert named_batches(known, table)[["valve_id", "batch"]].to_numpy().tolist() == [["V1", "B1"], ["V4", "B1"]]


def stock(seed: int = 0) -> Facts:
    """A stock of 100 homes, its rows shuffled by lot."""
    made = sample.make(100, 3)
    book = sample.portfolio(made)
    rows = {name: getattr(book, name) for name in ("homes", "valves", "visits")}
    if seed:
        rows = {name: table.sample(frac=1, random_state=seed) for name, table in rows.items()}
    mixed = Portfolio(**rows, rates=book.rates, capacity=book.capacity, parts=book.parts)
    return facts(mixed, made.as_of, POLICY)


def table_of(known: Facts, fit: LifeFit) -> pd.DataFrame:
    return groups(known, fit, prices(frame("rates", []), POLICY), POLICY)


def test_groups_of_a_stock_add_up_whatever_the_order_of_rows() -> None:
    fit = life(stock(), POLICY)
    table = table_of(stock(), fit)
    pd.testing.assert_frame_equal(table, table_of(stock(seed=8), fit))
    assert list(table.columns) == [column.name for column in RESULT_COLUMNS["groups"]]
    kinds = table.loc[table["grouped_by"].eq("kind of head")]
    assert kinds["observed"].sum() == pytest.approx(kinds["expected"].sum(), rel=0.1)
    assert (table["excess_call_outs"] == table["observed"] - table["expected"]).all()
    assert table["low"].le(table["ratio"]).all()
    assert table["high"].ge(table["ratio"]).all()


def test_a_stock_without_visits_has_no_group() -> None:
    made = sample.make(60, 3)
    book = sample.portfolio(made)
    known = facts(book, made.as_of, POLICY)
    silent = Facts(known.as_of, known.homes, known.valves, known.visits.iloc[:0])
    assert table_of(silent, life(silent, POLICY))["named"].eq("yes").sum() == 0
