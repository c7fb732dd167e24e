"""The whole fit on planted stocks: it finds what was planted where shortcuts miss it, and is honest where it cannot."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from audit.life import LifeFit, chance_fail, life
from audit.life.counting import count_lives
from audit.life.lifetimes import lives
from audit.life.likelihood import find_peak
from audit.life.weibull import fit_weibull
from audit.model import Facts
from audit.policy import load_policy
from schemas.results import RESULT_COLUMNS
from tests.studies.planted import Planted, facts

POLICY = load_policy()
MIXED = Planted(
    valves=3000, motor_share=0.15, other_rate=0.01, body_scale=34.0, hot_share=0.15, summer_share=0.25, bad_share=0.05
)


@pytest.fixture(scope="module")
def mixed() -> Facts:
    return facts(MIXED, seed=4)


@pytest.fixture(scope="module")
def fit(mixed: Facts) -> LifeFit:
    return life(mixed, POLICY)


def test_overwritten_dates_are_summed_over_where_shortcuts_miss() -> None:
    """2,500 valves, shape 2.4, scale 11 years, log from 2019; the full table stands in tests/studies/study_life.py."""
    known = lives(facts(Planted(valves=2500), seed=3), POLICY).head
    counts, made = count_lives(known, np.ones(2500), np.zeros(2500, dtype=np.int64))
    peak = find_peak(counts, 0.7, 2.0)
    assert peak.scale == pytest.approx(11, abs=3 * 11 * peak.errors[1])
    assert peak.shape == pytest.approx(2.4, abs=3 * 2.4 * peak.errors[0])
    assert peak.errors[1] < 0.02
    opening = known.openings.loc[known.openings["span"] > 0]

    def with_ages(age: pd.Series) -> tuple[float, float]:
        of = opening.assign(entered=age, ended=age + opening["span"]).dropna(subset=["entered"])
        rows = pd.concat([known.later, of[["valve", "entered", "ended", "failed"]]])
        fit = fit_weibull(rows["ended"], rows["failed"], rows["entered"])
        return fit.scale, fit.failures

    dropped, few = with_ages(opening["age"])
    body_date, _ = with_ages(opening["age"].fillna(opening["origin"]))
    inside = fit_weibull(known.later["ended"], known.later["failed"], known.later["entered"])
    assert dropped > 2.5 * 11  # leaving overwritten heads out keeps the survivors
    assert body_date > 1.1 * 11
    assert inside.failures == few < made["failures"].sum() / 5


def test_everything_at_once_is_found(fit: LifeFit) -> None:
    rows = fit.table.set_index(["part", "group"])
    for key, shape, scale in ((("head", "Make A"), 2.4, 11.0), (("body", "all"), 3.0, 34.0)):
        row = rows.loc[key]
        assert np.log(row["shape"]) == pytest.approx(np.log(shape), abs=3 * row["log_shape_error"])
        assert np.log(row["scale_years"]) == pytest.approx(np.log(scale), abs=3 * row["log_scale_error"])
        assert row["shape_low"] < row["shape"] < row["shape_high"]
        assert row["scale_low"] < row["scale_years"] < row["scale_high"]
    assert rows.loc[("head", "Make B"), "scale_years"] < 0.9 * rows.loc[("head", "Make A"), "scale_years"]
    assert 8.5 < fit.heat.estimate < 11.5
    assert fit.heat.p_none < 1e-6
    assert fit.season.share[[3, 4, 5, 6, 7, 8]].sum() == pytest.approx(0.25, abs=0.04)


def test_the_table_is_whole_and_its_life_ages_agree(fit: LifeFit) -> None:
    table = fit.table
    assert list(table.columns) == [column.name for column in RESULT_COLUMNS["life"]]
    chance = 1 - np.exp(-((table["median_years"] / table["scale_years"]) ** table["shape"]))
    np.testing.assert_allclose(chance, 0.5)
    chance = 1 - np.exp(-((table["b10_years"] / table["scale_years"]) ** table["shape"]))
    np.testing.assert_allclose(chance, 0.1)
    assert table["prior_weight"].between(0, 1).all()
    assert table["basis"].eq("fitted").all()
    for part in ("head", "body"):
        of = table.loc[table["part"].eq(part)]
        assert of.loc[of["group"].ne("all"), "failures"].sum() == of.loc[of["group"].eq("all"), "failures"].iloc[0]


def test_valves_carry_the_life_of_their_group(mixed: Facts, fit: LifeFit) -> None:
    n = len(mixed.valves)
    for part in (fit.head, fit.body):
        assert all(len(x) == n for x in (part.shape, part.scale, part.age, part.row))
        np.testing.assert_array_equal(fit.table["shape"].to_numpy()[part.row], part.shape)
        np.testing.assert_array_equal(fit.table["scale_years"].to_numpy()[part.row], part.scale)
    assert fit.table["part"].to_numpy()[fit.head.row[0]] == "head"
    assert fit.table["part"].to_numpy()[fit.body.row[0]] == "body"
    hot = mixed.valves["location_temp_c"].eq(MIXED.hot_temp).to_numpy()
    assert fit.pace[~hot].max() == 1
    assert fit.pace[hot].min() == pytest.approx(2**1.5)


def test_next_year_s_chances_are_those_of_the_truth(mixed: Facts, fit: LifeFit) -> None:
    """Mean chance of a head failing within the year, over heads of known age, against the planted life."""
    found = chance_fail(fit.head.age, fit.pace, fit.head.shape, fit.head.scale)
    scale = np.where(mixed.valves["make"].eq("Make B"), 11 * 2 ** (-1 / 2.4), 11.0)
    planted = chance_fail(fit.head.age, fit.pace, 2.4, scale)
    assert np.mean(found) == pytest.approx(np.mean(planted), rel=0.08)


def test_the_fit_lies_on_the_curve_without_a_formula(fit: LifeFit) -> None:
    whole = fit.table.loc[fit.table["group"].eq("all")]
    assert (whole["curve_gap"] < whole["curve_gap_limit"]).all()
    for _, curve in fit.curves.groupby("part"):
        assert (np.diff(curve["survival"]) <= 0).all()
        assert (np.abs(curve["survival"] - curve["fitted"]) < 0.1).all()


def test_rows_in_any_order_give_the_same(mixed: Facts, fit: LifeFit) -> None:
    """Valves in another order; the visits keep their order, which facts fix."""
    order = np.random.default_rng(0).permutation(len(mixed.valves))
    other = life(replace(mixed, valves=mixed.valves.iloc[order].reset_index(drop=True)), POLICY)
    assert fit.table["group"].tolist() == other.table["group"].tolist()
    np.testing.assert_allclose(fit.table["scale_years"], other.table["scale_years"], rtol=1e-4)
    np.testing.assert_allclose(fit.head.scale[order], other.head.scale, rtol=1e-4)
    np.testing.assert_allclose(fit.body.scale[order], other.body.scale, rtol=1e-4)


def blanked(table: pd.DataFrame, *names: str) -> pd.DataFrame:
    """Return the table with these columns empty, their types kept."""
    return table.assign(**{name: pd.Series(None, index=table.index, dtype=table[name].dtype) for name in names})


@pytest.mark.parametrize(
    ("case", "valves", "visits", "head", "body"),
    [
        ("no visits at all", (), None, "assumed", "assumed"),
        (
            "no dates in the register",
            ("body_fitted", "head_fitted", "body_since", "head_since"),
            (),
            "fitted",
            "assumed",
        ),
        ("no temperatures", ("location_temp_c", "location"), (), "fitted", "fitted"),
        (
            "no scheme, no make, no size, no kind",
            ("scheme", "make", "body_size_mm", "head_kind", "wires", "ports"),
            ("scheme",),
            "fitted",
            "fitted",
        ),
        ("no valve named in the log", (), ("valve_id",), "fitted", "fitted"),
        ("no causes in the log", (), ("cause", "symptom", "outcome"), "fitted", "fitted"),
    ],
)
def test_with_columns_missing(
    case: str, valves: tuple[str, ...], visits: tuple[str, ...] | None, head: str, body: str
) -> None:
    known = facts(replace(MIXED, valves=400), seed=2)
    log = known.visits.iloc[:0] if visits is None else blanked(known.visits, *visits)
    fit = life(replace(known, valves=blanked(known.valves, *valves), visits=log), POLICY)
    whole = fit.table.loc[fit.table["group"].eq("all")].set_index("part")["basis"]
    assert (whole["head"], whole["body"]) == (head, body)
    assert np.isfinite(fit.head.scale).all()
    assert np.isfinite(fit.body.scale).all()


def test_too_few_failures_keep_the_assumed_life_and_say_so() -> None:
    known = facts(Planted(valves=10), seed=1)
    fit = life(known, POLICY)
    row = fit.table.iloc[0]
    assert (row["basis"], row["prior_weight"], row["shape"], row["scale_years"]) == ("assumed", 1.0, 2.4, 13.0)
    assert row["failures"] < 10
    assert fit.said[0] == (
        f"Head: {row['failures']:.0f} failures are too few to fit a life; the policy's assumed life is used."
    )
    assert fit.head.scale.tolist() == [13.0] * 10
