"""The forecast: what each policy of renewal brings, year by year, with how surely that is known."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.choice.assumed_life import QUARTER
from audit.choice.options import no_heat
from audit.choice.prices import Prices
from audit.choice.programme import Grid
from audit.forecast.age_replacement import best_age
from audit.forecast.ahead import FAILED, PLANNED, SUMS, Ahead, HeadsPay
from audit.forecast.classes import Coarseness, StockClass, stock_classes
from audit.forecast.decisions import fix_on_failure, heads_at, least_cost
from audit.forecast.doubt import drawn_doubt
from audit.forecast.flow import BODY_FAILS, FULLS, WEAK_FAILS, Decide, Floats, flow
from audit.forecast.told import told
from audit.forecast.valves import priced_valves
from audit.forecast.year_table import year_table
from audit.life import LifeFit
from audit.model import Facts
from audit.policy import Policy
from audit.threads import one_thread
from schemas import words

VALVES_A_CLASS: Final = 250  # fewer than this are not worth a class of their own
FINE: Final = (QUARTER, 16, 2)  # step in years, most classes, and bands of heating renewal in each
ROUGH: Final = (1.0, 5, 2)  # likewise where the lives are drawn over and over
AGES: Final = (30.0, 50.0)  # years: older heads and bodies count as this old
Accounts = npt.NDArray[np.float64]  # (policies, draws, years, SUMS)


def forecast(
    facts: Facts, lived: pd.DataFrame, fit: LifeFit, prices: Prices, policy: Policy
) -> tuple[pd.DataFrame, dict[str, pd.DataFrame]]:
    """Reckon the years ahead under each policy of `schemas.words.RENEWAL_POLICY`.

    Args:
        facts: The stock as known on the as-of date; it stays the same, but for valves renewed with their heating.
        lived: Lives and ages of every valve, as `audit.choice.fitted`.
        fit: The fit, for its doubt and its season.
        prices: Today's.
        policy: Horizon, discount rate, shares.

    Returns:
        The `forecast` table, money not discounted, one row a policy and year; and for the reports `forecast_by_year`
        (the same side by side, one row a year), `forecast_months` (one row a month), `forecast_totals` (one row a
        policy: sums over the horizon, present value, how much dearer than the cheapest) and `forecast_said` (about,
        sentence): which is the cheapest, and what was assumed.
    """
    with one_thread():
        return _forecast(facts, lived, fit, prices, policy)


def _forecast(
    facts: Facts, lived: pd.DataFrame, fit: LifeFit, prices: Prices, policy: Policy
) -> tuple[pd.DataFrame, dict[str, pd.DataFrame]]:
    years = max(1, round(policy.number("money.horizon")))
    valves = priced_valves(facts, lived, prices, policy)
    rate, keeps = policy.number("money.discount_rate"), 1.0 - policy.number("life.motor_share")
    enough = len(valves) // VALVES_A_CLASS
    fine, rough = (
        Coarseness(Grid(step, rate, *(1 + round(age / step) for age in AGES)), min(most, enough), bands)
        for step, most, bands in (FINE, ROUGH)
    )
    stock = stock_classes(valves, fine, years, keeps)
    head = heads_pay(stock)
    expected = _accounts(stock, fine, years, head.age, np.zeros((1, 4)), no_heat(policy))
    stock = stock_classes(valves, rough, years, keeps)
    moved = _accounts(stock, rough, years, head.age, drawn_doubt(fit.table), no_heat(policy))
    drawn = np.maximum(expected + moved[:, 1:] - moved[:, :1], 0.0)
    ahead = Ahead(expected[:, 0], drawn, len(valves), rate)
    whole = fit.table.drop_duplicates("part").set_index("part")["basis"]
    basis = f"heads {whole['head']}, bodies {whole['body']}"
    table = year_table(ahead, facts.as_of, fit.season)
    return table, told(table, ahead, facts.as_of, fit.season, basis, head, prices, policy)


def heads_pay(stock: tuple[StockClass, ...]) -> HeadsPay:
    """Return the age, in whole quarters, at which renewing all heads of sound valves costs least."""
    sound = [each for each in stock if not each.weak] or stock
    columns = ("head_shape", "head_scale"), ("head", "head_failure")
    shape, scale = (np.array([getattr(each.lives, name) for each in sound]) for name in columns[0])
    planned, failing = (np.array([getattr(each.costs, name) for each in sound]) for name in columns[1])
    valves = np.array([each.valves for each in sound])
    age = best_age(np.arange(QUARTER, AGES[0], QUARTER), valves, shape, scale, planned, failing)
    means = (float(np.average(each, weights=valves)) for each in (planned, failing))
    return HeadsPay(age, bool((shape > 1).any()), *means)


def _accounts(
    stock: tuple[StockClass, ...], how: Coarseness, years: int, age: float, doubt: Floats, allowance: float
) -> Accounts:
    made = np.zeros((len(words.RENEWAL_POLICY), len(doubt), years, len(SUMS)))
    for each in stock:
        chances = each.chances(how.grid, doubt)
        for place, decide in enumerate(_policies(each, how, years, age)):
            events = flow(each.bands, each.weak, chances, decide)
            made[place] += yearly(sums(events, each, how.grid, allowance), years)
    return made


def _policies(stock: StockClass, how: Coarseness, years: int, age: float) -> tuple[Decide, ...]:
    """In the order of RENEWAL_POLICY."""
    due = frozenset(int(to_go) for band in stock.bands for to_go in band.to_go)
    best = least_cost(stock.lives, stock.costs, how.grid, how.steps(years), due, weak=stock.weak)
    return fix_on_failure, heads_at(age, how.grid), best


def sums(events: Floats, stock: StockClass, grid: Grid, allowance: float) -> Floats:
    """Return SUMS of each step (steps, draws, SUMS) from EVENTS; `allowance` is in the cost of every failure, GBP."""
    costs = stock.costs
    failed, planned = events[..., FAILED], events[..., PLANNED]
    failing = failed @ (np.array([costs.head_failure, costs.body_failure, costs.body_failure]) - allowance)
    cold = failed.sum(axis=-1) * allowance
    price = np.array([costs.motor, costs.head, costs.full])
    renewing = planned @ np.where(np.isfinite(price), price, 0.0)
    drains = (events[..., BODY_FAILS] + events[..., WEAK_FAILS] + events[..., FULLS]) * stock.drains
    worth = (grid.discount ** np.arange(len(events)))[:, None]
    present = worth * (renewing + np.sqrt(grid.discount) * (failing + cold))
    return np.concatenate([events, np.stack([failing, renewing, cold, drains, present], axis=-1)], axis=-1)


def yearly(of_steps: Floats, years: int) -> Floats:
    """Add up the steps of each year: (draws, years, SUMS)."""
    return np.moveaxis(of_steps.reshape(years, -1, *of_steps.shape[1:]).sum(axis=1), 1, 0)
