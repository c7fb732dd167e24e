"""Prices of an hour, week by week, and the bound that they prove.

The relaxation. Give every hour of week w in the teams of one patch a price. A visit that pays for its hours gains
max(0, worth − price × hours) at its best week; the hours themselves are worth price × hours there are. For any prices
at all the sum of the two is no less than the worth of any plan that keeps the hours (weak duality of the Lagrangian).
The least such sum is looked for by minimising a smoothed form of it, at ever less smoothing; the bound is that of the
sum itself. Travel is relaxed to one journey for each slot, which every used slot needs.

Source: M. L. Fisher (1981), The Lagrangian relaxation method for solving integer programming problems, Management
Science 27(1), 1-18.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from audit.plan.problem import Numbers, Problem, Whole

SMOOTH: Final = (0.1, 0.03, 0.01, 0.003)  # in units of the mean worth of a visit
STEPS: Final = 40  # of the descent at each smoothing
PENNY: Final = 0.001  # GBP an hour: prices are rounded, so that noise of the arithmetic changes no plan


@dataclass(frozen=True)
class Priced:
    """Price of an hour by kind of visit and week, shape (lines, weeks); the bound in GBP; the price of a pound."""

    price: Numbers
    bound: float
    of_a_pound: float = 0.0


@dataclass(frozen=True)
class _Groups:
    """Slots that the same kinds of visit may use, in the same week, are one pool of hours."""

    hours: Numbers  # of each pool
    of_line: list[Whole]  # pools of each kind of visit, one row a choice, one column a week; −1 where there is none


@dataclass(frozen=True)
class _Table:
    """The visits of one kind: worth and hours, shape (n, w); the pools open to them; what they spend, in its unit."""

    worth: Numbers
    hours: Numbers
    of: Whole
    spends: Numbers | None


def priced(it: Problem, free: Numbers, wanted: Whole, money: float = np.inf) -> Priced:
    """Find prices and bound. A budget is one more pool, of which each visit takes what it costs.

    Args:
        it: The problem.
        free: Hours left in each slot, shape (s,); travel of slots in use already taken off.
        wanted: Visits that compete for them.
        money: GBP left, where a budget binds.
    """
    pools = _pools(it, free)
    if not len(pools.hours) or not len(wanted):
        return Priced(np.zeros((len(it.open_to), it.worth.shape[1])), 0.0)
    unit = 1.0
    if it.spends is not None:  # pounds are counted in hours' worth of them, so that the descent sees like sizes
        unit = float(it.spends[wanted].mean() / it.hours[wanted].mean()) or 1.0
        pools = _Groups(np.append(pools.hours, max(money, 0.0) / unit), pools.of_line)
    lines = [wanted[it.line[wanted] == line] for line in range(len(it.open_to))]
    tables = [
        _Table(
            it.worth[rows], it.hours[rows], pools.of_line[line], None if it.spends is None else it.spends[rows] / unit
        )
        for line, rows in enumerate(lines)
        if len(rows)
    ]
    price = _descend(pools, tables, float(_mean_worth(it.worth[wanted])))
    price = np.round(np.maximum(price, 0.0) / PENNY) * PENNY
    bound = float(price @ pools.hours) + sum(_surplus(price, table) for table in tables)
    of_a_pound = 0.0 if it.spends is None else float(price[-1]) / unit
    return Priced(np.stack([_of_week(price, of) for of in pools.of_line]), bound, of_a_pound)


def _mean_worth(worth: Numbers) -> float:
    best = worth.max(axis=1)
    return float(np.mean(best[np.isfinite(best)])) if np.isfinite(best).any() else 1.0


def _pools(it: Problem, free: Numbers) -> _Groups:
    weeks = it.worth.shape[1]
    users = np.zeros((len(it.room), len(it.open_to)), dtype=bool)
    for line, slots in enumerate(it.open_to):
        users[slots, line] = True
    key = np.column_stack([it.week, users])
    kinds, pool = np.unique(key, axis=0, return_inverse=True)
    hours = np.bincount(pool.ravel(), weights=np.maximum(free, 0.0), minlength=len(kinds))
    of_line = []
    for line in range(len(it.open_to)):
        by_week = [np.flatnonzero((kinds[:, 0] == week) & (kinds[:, 1 + line] > 0)) for week in range(weeks)]
        most = max([len(pools) for pools in by_week], default=0)
        table = np.full((max(most, 1), weeks), -1, dtype=np.int64)
        for week, pools in enumerate(by_week):
            table[: len(pools), week] = pools
        of_line.append(table)
    return _Groups(hours.astype(np.float64), of_line)


def _at(price: Numbers, of: Whole) -> Numbers:
    return np.where(of >= 0, price[of], np.inf)


def _of_week(price: Numbers, of: Whole) -> Numbers:
    return np.asarray(_at(price, of).min(axis=0))


def _surplus(price: Numbers, table: _Table) -> float:
    """What the visits gain at these prices, each in its best week or not at all."""
    week = _of_week(price, table.of)
    open_weeks = np.isfinite(week)
    if not open_weeks.any():
        return 0.0
    gain = table.worth[:, open_weeks] - table.hours[:, open_weeks] * week[open_weeks]
    if table.spends is not None:
        gain -= table.spends[:, open_weeks] * price[-1]
    return float(np.maximum(gain.max(axis=1), 0.0).sum())


def _descend(pools: _Groups, tables: list[_Table], scale: float) -> Numbers:
    from scipy.optimize import minimize

    price = np.full(len(pools.hours), 0.0)
    for smooth in SMOOTH:
        temper = smooth * max(scale, 1.0)
        found = minimize(
            lambda at, temper=temper: _smoothed(at, pools, tables, temper),
            price,
            jac=True,
            method="L-BFGS-B",
            bounds=[(0.0, None)] * len(price),
            options={"maxiter": STEPS, "maxfun": 2 * STEPS},
        )
        price = np.asarray(found.x, dtype=np.float64)
    return price


def _smoothed(price: Numbers, pools: _Groups, tables: list[_Table], temper: float) -> tuple[float, Numbers]:
    """The smoothed sum and its slope by price: each visit's best choice becomes a soft maximum."""
    total, slope = float(price @ pools.hours), pools.hours.copy()
    for table in tables:
        of = table.of
        for_sale = [(choice, week) for choice in range(len(of)) for week in range(of.shape[1]) if of[choice, week] >= 0]
        if not for_sale:
            continue
        weeks = np.array([week for _, week in for_sale])
        pool = np.array([of[at] for at in for_sale])
        asked = table.hours[:, weeks]
        gain = table.worth[:, weeks] - asked * price[pool]
        if table.spends is not None:
            gain -= table.spends[:, weeks] * price[-1]
        gain /= temper
        top = np.maximum(gain.max(axis=1), 0.0)
        part = np.exp(gain - top[:, None])
        whole = np.exp(-top) + part.sum(axis=1)
        total += temper * float((top + np.log(whole)).sum())
        part /= whole[:, None]
        slope -= np.bincount(pool, weights=(asked * part).sum(axis=0), minlength=len(slope))
        if table.spends is not None:
            slope[-1] -= float((table.spends[:, weeks] * part).sum())
    return total, slope
