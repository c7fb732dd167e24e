"""The years ahead: by hand, against the programme, against renewal theory, and what is said of them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from threadpoolctl import threadpool_limits

from audit.choice import assumed, prices
from audit.choice.programme import FULL, HEAD, MOTOR, Array, Costs, Grid, Lives, solve, whole_only
from audit.forecast import forecast
from audit.forecast.ahead import FAILED, SUMS
from audit.forecast.classes import StockClass, classed
from audit.forecast.decisions import as_moves, fix_on_failure, heads_at, least_cost
from audit.forecast.doubt import DRAWS, by_chance, drawn_doubt
from audit.forecast.flow import BODY_FAILS, HEAD_FAILS, HEADS, WEAK_FAILS, WITH_HEATING, Band, Decide, Floats, flow
from audit.forecast.told import as_said
from audit.forecast.years import sums
from audit.life import LifeFit, chance_fail, life
from audit.model import Facts
from schemas import words
from schemas.results import RESULT_COLUMNS
from tests.choosing import HEAD_OLD, RATES_TABLE, Case, found, policy, valve
from tests.frames import known_facts, portfolio
from tests.studies.replay import COSTS, GRID, LIVES, STARTS, STEPS, replay, solved

SMALL = Grid(step=0.25, rate=0.035, head_steps=121, body_steps=201)
NO_DOUBT = np.zeros((1, 4))


def stock(
    lives: Lives, costs: Costs, ages: tuple[tuple[int, int], ...], steps: int, *, weak: bool = False, due: int = 0
) -> StockClass:
    """A class with valves of these ages; with `due`, their heating is renewed at the end of so many steps."""
    counts = np.zeros((SMALL.head_steps, SMALL.body_steps))
    for head, body in ages:
        counts[head, body] += 1
    to_go, nobody = steps - np.arange(steps), np.zeros(steps)
    last = Band(counts if not due else np.zeros_like(counts), nobody, to_go)
    if not due:
        return StockClass(lives, costs, 1.0, weak, (last,))
    leaving = np.where(np.arange(steps) == due - 1, 1.0, 0.0)
    soon = Band(counts, leaving, np.maximum(due - np.arange(steps), 1))
    return StockClass(lives, costs, 1.0, weak, (soon, last))


@pytest.fixture(scope="module", autouse=True)
def one_thread() -> Iterator[None]:
    """Small products: a second thread only waits for the first."""
    with threadpool_limits(1, user_api="blas"):
        yield


def worth(of: StockClass, decide: Decide) -> float:
    """Present value of all its costs, GBP."""
    events = flow(of.bands, of.weak, of.chances(SMALL, NO_DOUBT), decide)
    return float(sums(events, of, SMALL, 0.0)[..., SUMS.index("present_value_gbp")].sum())


def best_of(of: StockClass, steps: int) -> Decide:
    due = frozenset(range(1, steps + 1))
    return least_cost(of.lives, of.costs, SMALL, steps, due, weak=of.weak)


# ---------------------------------------------------------------- by hand


def test_a_quarter_by_hand() -> None:
    """Three heads of 10, 10 and 5 years, bodies that last: 1 − e^(−((a + 0.25) / 12)² + (a / 12)²) each."""
    of = stock(Lives(2.0, 12.0, 1.0, 1e12, 0.4), COSTS, ((40, 40), (40, 40), (20, 20)), 4)
    events = flow(of.bands, False, of.chances(SMALL, NO_DOUBT), fix_on_failure)[:, 0]
    by_hand = 2 * (1 - math.exp((10 / 12) ** 2 - (10.25 / 12) ** 2)) + 1 - math.exp((5 / 12) ** 2 - (5.25 / 12) ** 2)
    assert events[0, HEAD_FAILS] == pytest.approx(by_hand, rel=1e-12)
    assert by_hand == pytest.approx(2 * 0.034545 + 0.017638, abs=1e-6)


def test_parts_that_do_not_age_fail_alike_every_year() -> None:
    """Heads of mean 10 years, bodies of mean 40: body 1 − e^(−0.00625), else head 1 − e^(−0.025), each quarter."""
    of = stock(Lives(1.0, 10.0, 1.0, 40.0, 0.4), COSTS, ((0, 0), (60, 100)), 40)
    events = flow(of.bands, False, of.chances(SMALL, NO_DOUBT), fix_on_failure)[:, 0]
    body = 1 - math.exp(-0.00625)
    assert events[:, BODY_FAILS] == pytest.approx(2 * body, rel=1e-9)
    assert events[:, HEAD_FAILS] == pytest.approx(2 * (1 - body) * (1 - math.exp(-0.025)), rel=1e-9)


def test_in_the_long_run_a_head_fails_once_a_mean_life() -> None:
    """Renewal theory (Smith 1958): renewals a year come to 1 over the mean life, 12 Γ(1 + 1/2.4) = 10.64 years."""
    of = stock(Lives(2.4, 12.0, 1.0, 1e12, 0.4), COSTS, ((0, 0),), 4 * 120)
    events = flow(of.bands, False, of.chances(SMALL, NO_DOUBT), fix_on_failure)[:, 0, HEAD_FAILS]
    assert events[-4:].sum() == pytest.approx(1 / (12 * math.gamma(1 + 1 / 2.4)), rel=0.015)  # the step's width
    assert np.ptp(events[-40:]) < 1e-4


def test_heads_renewed_at_an_age_are_renewed_as_the_theory_says() -> None:
    """Renewed at 8 years or at failure: one renewal a mean time in service, integral of R from 0 to 8."""
    of = stock(Lives(2.4, 12.0, 1.0, 1e12, 0.4), COSTS, ((0, 0),), 4 * 120)
    events = flow(of.bands, False, of.chances(SMALL, NO_DOUBT), heads_at(8.0, SMALL))[:, 0]
    lives = np.exp(-((np.linspace(0, 8, 8001) / 12) ** 2.4))
    served = float((lives[1:] + lives[:-1]).sum() / 2 * 0.001)
    renewed, failed = events[-40:, [HEAD_FAILS, HEADS]].sum(), events[-40:, HEAD_FAILS].sum()
    assert renewed / 10 == pytest.approx(1 / served, rel=0.02)
    assert failed / renewed == pytest.approx(1 - lives[-1], rel=0.02)


def test_valves_are_new_once_their_heating_is() -> None:
    of = stock(Lives(2.4, 12.0, 3.0, 32.0, 0.4), COSTS, ((60, 60),) * 5, 80, due=20)
    new = stock(of.lives, COSTS, ((0, 0),) * 5, 60)
    events = flow(of.bands, False, of.chances(SMALL, NO_DOUBT), fix_on_failure)
    assert events[:, 0, WITH_HEATING] == pytest.approx(np.where(np.arange(80) == 19, 5.0, 0.0))
    assert events[20:] == pytest.approx(flow(new.bands, False, of.chances(SMALL, NO_DOUBT), fix_on_failure))


# ---------------------------------------------------------------- against the programme


@pytest.mark.parametrize("weak", [False, True])
@pytest.mark.parametrize("due", [0, 30])
def test_discounted_it_is_what_the_programme_says(weak: bool, due: int) -> None:
    """Least cost to the horizon, or to the renewal of the heating and from there on with both parts new."""
    of = stock(LIVES, COSTS, ((10, 30), (60, 60), (120, 200)), 80, weak=weak, due=due)
    seen: dict[tuple[bool, int], Array] = {}
    new = solve(LIVES, COSTS, SMALL, 80, lambda to_go, q: seen.__setitem__((False, to_go), q.min(axis=0)))
    if weak:
        solve(LIVES, whole_only(COSTS), SMALL, 80, lambda to_go, q: seen.__setitem__((True, to_go), q.min(axis=0)), new)
    expected = sum(float(seen[weak, due or 80][age]) for age in ((10, 30), (60, 60), (120, 200)))
    if due:
        expected += 3 * new[80 - due] * SMALL.discount**due
    assert worth(of, best_of(of, 80)) == pytest.approx(expected, rel=1e-9)


def tried() -> dict[str, Decide]:
    """Fixed policies: nothing, and each renewal at each of many ages of head or body."""
    head, body = np.indices((SMALL.head_steps, SMALL.body_steps)) * SMALL.step
    tables: dict[str, Decide] = {"nothing": fix_on_failure}
    for age in (2, 4, 6, 8, 10, 12, 15, 20, 25):
        for name, action, of in (("motor", MOTOR, head), ("head", HEAD, head), ("full", FULL, head)):
            tables[f"{name} at head {age}"] = fixed(action, of >= age)
        tables[f"full at body {2 * age}"] = fixed(FULL, body >= 2 * age)
    return tables


def fixed(action: int, where: np.ndarray) -> Decide:
    moves = as_moves(action, where)
    return lambda to_go, weak: moves


@pytest.mark.parametrize("costs", [COSTS, Costs(78.0, 107.0, 221.0, 160.0, 274.0)], ids=["failures dear", "as assumed"])
def test_no_fixed_policy_is_cheaper_than_the_programme(costs: Costs) -> None:
    of = stock(LIVES, costs, ((0, 0), (20, 110), (40, 40), (60, 90)), 120)
    best = worth(of, best_of(of, 120))
    others = {name: worth(of, decide) for name, decide in tried().items()}
    assert min(others.values()) > best
    assert min(others.values()) < 1.1 * best  # and some come near


def test_replayed_by_lot_it_costs_what_the_programme_says() -> None:
    best, least = solved(LIVES, COSTS, GRID, STEPS)
    cost = replay(best, STARTS[1], 40_000, seed=5)
    assert abs(cost.mean() - least[STARTS[1]]) < 3 * cost.std() / math.sqrt(40_000)


# ---------------------------------------------------------------- a small stock, from facts to tables

VALVES = [
    valve("V1"),
    valve("V2", "H2", head_fitted="2022-11-25"),
    valve("V3", "H3", lever="stiff"),
    valve("V4", "H4", isolation="yes", motor_replaceable="no"),
    valve("V5", "H5", body_fitted="", head_fitted=""),
]
HOMES = [{"home_id": "H2", "heating_renewal_due": "2030-11-25"}]


@pytest.fixture(scope="module")
def known() -> tuple[Facts, LifeFit]:
    facts = known_facts(portfolio(HOMES, VALVES))
    return facts, life(facts, policy())


def years(known: tuple[Facts, LifeFit], **changes: float) -> tuple[pd.DataFrame, dict[str, pd.DataFrame]]:
    facts, fit = known
    force = policy(**changes)
    return forecast(facts, assumed(facts, force), fit, prices(RATES_TABLE, force), force)


@pytest.fixture(scope="module")
def ahead(known: tuple[Facts, LifeFit]) -> tuple[pd.DataFrame, dict[str, pd.DataFrame]]:
    return years(known, money__horizon=6)


def test_the_table_has_a_row_a_policy_and_year(ahead: tuple[pd.DataFrame, dict[str, pd.DataFrame]]) -> None:
    table = ahead[0]
    assert table.columns.tolist() == [column.name for column in RESULT_COLUMNS["forecast"]]
    assert table["policy"].unique().tolist() == list(words.RENEWAL_POLICY)
    assert table.groupby("policy")["year"].apply(list).tolist() == [[1, 2, 3, 4, 5, 6]] * 3
    assert table["year_ends"].iloc[0] == pd.Timestamp("2027-11-25")
    assert table["failures_low"].le(table["failures"]).all()
    assert table["failures_high"].ge(table["failures"]).all()
    assert table["spend_low"].le(table["spend_gbp"]).all()
    assert table["spend_high"].ge(table["spend_gbp"]).all()
    by_part = table[["head_failures", "body_failures"]].sum(axis=1)
    assert by_part.to_numpy() == pytest.approx(table["failures"].to_numpy())


def test_the_first_years_failures_are_the_chances_of_failing(known: tuple[Facts, LifeFit]) -> None:
    """Four valves of known age by hand; what fails twice in the year adds less than a hundredth."""
    facts, fit = known
    of = facts.valves["valve_id"].ne("V5")
    facts = replace(facts, valves=facts.valves.loc[of].reset_index(drop=True))
    fit = replace(fit, pace=fit.pace[of])
    table, _ = years((facts, fit), money__horizon=2)
    head, body = (facts.valves[f"{part}_age_years"].to_numpy() for part in ("head", "body"))
    head, body = np.round(head * 4) / 4, np.round(body * 4) / 4
    lasts = (1 - chance_fail(head, 1.0, 2.4, 13.0)) * (1 - chance_fail(body, 1.0, 3.0, 32.0))
    assert head.tolist() == [15.0, 4.0, 15.0, 15.0]
    assert table["failures"].iloc[0] == pytest.approx((1 - lasts).sum(), rel=0.01)
    assert table["failures"].iloc[0] > (1 - lasts).sum()


def test_money_by_hand(ahead: tuple[pd.DataFrame, dict[str, pd.DataFrame]]) -> None:
    """Spend is failures at their price: a head 20 + 50 + attendance, a whole valve more; nothing is planned."""
    first = ahead[0].iloc[0]
    assert first["planned_gbp"] == 0
    attendance = 0.75 * 30 + 0.25 * 90 + 0.3 * 30
    assert attendance == 54
    low = first["failures"] * (0.5 * 40 + 50 + attendance)  # every failure a head
    high = first["failures"] * (2.5 * 40 + 80 + 15 + attendance)  # every failure a body, drained
    assert low < first["spend_gbp"] < high
    assert first["no_heat_gbp"] == pytest.approx(first["failures"] * 40 * 0.7)
    assert first["winter_failures"] == pytest.approx(first["failures"] * (30 + 31 + 31 + 28.25 + 31 + 30) / 365.25)


def test_the_options_table_and_the_years_ahead_agree() -> None:
    """One valve: its cheapest option, now and later, is what least cost is worth today over the same 30 years."""
    case = Case([valve("V1")], found((HEAD_OLD, "money", "H1", "V1")), policy=policy())
    fit = life(case.facts, case.policy)
    _, more = forecast(case.facts, case.lived, fit, case.prices, case.policy)
    totals = more["forecast_totals"].set_index("policy")["present_value"]
    assert totals["least_cost"] == pytest.approx(case.options["total_gbp"].min(), abs=0.01)


def test_renewed_with_the_heating_once(ahead: tuple[pd.DataFrame, dict[str, pd.DataFrame]]) -> None:
    """Home H2's is due four years on: in the fourth year, under every policy."""
    table = ahead[0]
    renewed = table.loc[table["renewed_with_heating"].gt(0), ["year", "renewed_with_heating"]].to_numpy().tolist()
    assert renewed == [[4.0, pytest.approx(1.0)]] * 3


def test_least_cost_is_named_the_cheapest_and_how_surely(
    ahead: tuple[pd.DataFrame, dict[str, pd.DataFrame]],
) -> None:
    table, more = ahead
    totals = more["forecast_totals"].set_index("policy")
    assert totals["present_value"].to_dict() == pytest.approx(
        table.groupby("policy")["present_value_gbp"].sum().to_dict()
    )
    cheapest = totals.loc[totals["cheapest"].eq("yes"), "present_value"].item()
    assert totals["present_value"].min() == totals.loc["least_cost", "present_value"]
    assert cheapest == pytest.approx(totals["present_value"].min(), abs=0.5)
    assert totals["dearer"].tolist() == pytest.approx((totals["present_value"] - cheapest).tolist())
    assert (totals["dearer_low"].le(totals["dearer"]) & totals["dearer_high"].ge(totals["dearer"])).all()


def test_months_spread_the_years_failures(ahead: tuple[pd.DataFrame, dict[str, pd.DataFrame]]) -> None:
    table, more = ahead
    months = more["forecast_months"]
    assert months["month"].iloc[[0, -1]].tolist() == [pd.Timestamp("2026-12-01"), pd.Timestamp("2028-11-01")]
    yearly = table.loc[table["policy"].eq("least_cost"), "failures"].head(2)
    spread = months["failures least_cost"].to_numpy().reshape(2, 12)
    assert spread.sum(axis=1) == pytest.approx(yearly.to_numpy())
    assert more["forecast_by_year"]["failures least_cost"].head(2).tolist() == yearly.tolist()


def test_assumptions_are_said(ahead: tuple[pd.DataFrame, dict[str, pd.DataFrame]]) -> None:
    said = " ".join(ahead[1]["forecast_said"]["sentence"])
    for words_said in (
        "is the cheapest over 6 years", "discounted at 3.5 % a year", "Prices stay as they are today",
        "The stock stays the same", "count as new from then on (1 of them)", "heads assumed, bodies assumed", "80 %",
    ):  # fmt: skip
        assert words_said in said, said


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            {"money__no_heat_winter": 0, "money__out_of_hours_share": 0, "money__second_visit_share": 0},
            "never pays here (on average £100 in time against £100 at failure",
        ),
        ({"money__no_heat_winter": 900}, "years renews every head that is this old"),
    ],
)
def test_the_age_for_heads_or_that_there_is_none(
    known: tuple[Facts, LifeFit], changes: dict[str, float], said: str
) -> None:
    table, more = years(known, money__horizon=2, **changes)
    assert said in " ".join(more["forecast_said"]["sentence"])
    planned = table.loc[table["policy"].eq("heads_at_age"), "planned_heads"].sum()
    assert (planned > 0) == ("never" not in said)


@pytest.mark.parametrize(
    ("amount", "said"),
    [
        (195_843_992.0, "£195.8 million"), (2_900_000.0, "£2.90 million"), (-1_234_567.0, "−£1.23 million"),
        (436_094.0, "£436,000"), (4_853.5, "£4,850"), (84.3, "£84"), (0.2, "£0"), (-0.2, "£0"), (-23.4, "−£23"),
    ],
)  # fmt: skip
def test_amounts_as_they_are_said(amount: float, said: str) -> None:
    assert as_said(amount) == said


# ---------------------------------------------------------------- laws

TINY = Grid(step=1.0, rate=0.035, head_steps=5, body_steps=6)
AGES = st.lists(st.tuples(st.integers(0, 4), st.integers(0, 5)), min_size=1, max_size=6)


def tiny(ages: list[tuple[int, int]], due: int, *, weak: bool) -> tuple[Floats, StockClass]:
    """What 12 years bring to valves of these ages whose heating is renewed after `due` of them, at least cost."""
    counts = np.zeros((TINY.head_steps, TINY.body_steps))
    np.add.at(counts, tuple(np.array(ages).T), 1.0)
    leaving = np.where(np.arange(12) == due - 1, 1.0, 0.0)
    soon = Band(counts, leaving, np.maximum(due - np.arange(12), 1))
    bands = (soon, Band(np.zeros_like(counts), np.zeros(12), 12 - np.arange(12)))
    of = StockClass(Lives(2.0, 2.5, 3.0, 4.0, 0.4), COSTS, 1.0, weak, bands)
    best = least_cost(of.lives, of.costs, TINY, 12, frozenset(range(1, 13)), weak=weak)
    return flow(of.bands, weak, of.chances(TINY, NO_DOUBT), best)[:, 0], of


@settings(max_examples=40, deadline=None)
@given(AGES, AGES, st.integers(1, 11), st.booleans())
def test_two_stocks_bring_what_each_brings(
    one: list[tuple[int, int]], other: list[tuple[int, int]], due: int, weak: bool
) -> None:
    together = tiny(one + other, due, weak=weak)[0]
    assert together == pytest.approx(tiny(one, due, weak=weak)[0] + tiny(other, due, weak=weak)[0], abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(AGES, st.integers(1, 11), st.booleans())
def test_no_valve_is_lost_or_fails_twice_in_a_step(ages: list[tuple[int, int]], due: int, weak: bool) -> None:
    events = tiny(ages, due, weak=weak)[0]
    assert (events >= -1e-12).all()
    assert events[:, FAILED].sum(axis=1).max() <= len(ages) + 1e-9
    assert events[:, WITH_HEATING].sum() == pytest.approx(len(ages))
    assert weak or events[:, WEAK_FAILS].sum() == 0


# ---------------------------------------------------------------- doubt and classes


def errors(**changes: float) -> pd.DataFrame:
    row = {"log_shape_error": 0.1, "log_scale_error": 0.2, "log_correlation": -0.5} | changes
    return pd.DataFrame([{"part": "head", **row}, {"part": "body", **row}])


def test_lives_are_drawn_as_far_apart_as_the_errors_say() -> None:
    drawn = drawn_doubt(errors())
    assert drawn.shape == (1 + DRAWS, 4)
    assert drawn[0].tolist() == [0, 0, 0, 0]
    assert drawn[1:].std(axis=0) == pytest.approx([0.1, 0.2, 0.1, 0.2], rel=0.15)
    assert np.corrcoef(drawn[1:, 0], drawn[1:, 1])[0, 1] == pytest.approx(-0.5, abs=0.2)


def test_chance_spreads_as_a_binomial() -> None:
    """Of 1,000 valves 100 fail: standard deviation √(1000 × 0.1 × 0.9) = 9.49; never more than there are."""
    luck = by_chance(np.full(400, 100.0), 1000)
    assert luck.mean() == pytest.approx(1.0, abs=0.005)
    assert (100 * luck).std() == pytest.approx(math.sqrt(90), rel=0.03)
    assert (2.5 * by_chance(np.full(40, 2.5), 3)).max() <= 3


def lives_of(head_scale: Floats, weak: np.ndarray) -> pd.DataFrame:
    return pd.DataFrame({"head_scale": head_scale, "weak": weak}).assign(
        has_motor=True, head_shape=2.4, body_shape=3.0, body_scale=32.0
    )


def test_classes_part_lives_that_differ_and_kinds_always() -> None:
    scale = np.array([5.0, 5.0, 12.0, 12.0, 12.0, 12.0])
    weak = np.array([False, False, False, False, True, True])
    parted = [rows.tolist() for rows in classed(lives_of(scale, weak), 12)]
    assert sorted(parted) == [[0, 1], [2, 3], [4, 5]]
    assert sorted(rows.tolist() for rows in classed(lives_of(scale, weak), 1)) == [[0, 1, 2, 3], [4, 5]]
    many = classed(lives_of(np.linspace(4, 14, 5000), np.zeros(5000, dtype=bool)), 12)
    assert len(many) == 12
    assert np.sort(np.concatenate(many)).tolist() == list(range(5000))
