"""What a ranking catches: failed valves among its first ones, per £1,000 and per 100 hours, with intervals.

Valves that share a place lie there in random order: of a place cut by the limit, the share above it is expected to be
caught. So ties neither help nor harm, and a random order is one place that holds all valves.

Intervals draw whole homes with replacement, since the valves of a home share its heat, water and visits: each home
counts as often as a Poisson number of mean 1 says, which for many homes is the bootstrap (Hanley and MacGibbon 2006,
Computer Methods and Programs in Biomedicine 83, 57-62; percentile limits, Efron and Tibshirani 1993, chapter 13).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.backtest.orders import ORDERS, places, whole

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

SHARES: Final = (0.01, 0.05, 0.10, 0.20)
DRAWS: Final = 300
AT_ONCE: Final = 50  # draws, to bound the memory
STEPS: Final = 1000  # places told apart in the draws; each is at most a thousandth of the valves, or one place
LEVEL: Final = 0.90
SEED: Final = 0
COUNTED: Final = ("valves", "failed", "cost_gbp", "hours")
MEASURES: Final = ("caught_share", "per_1000_gbp", "per_100_hours")


def capture(rankings: Sequence[pd.DataFrame], orders: Sequence[str] = tuple(ORDERS)) -> pd.DataFrame:
    """Score each order at each share of the valves, in whole valves, on the mean of some rankings of the same valves.

    Args:
        rankings: Each one row a valve: valve_id, home_id, failed (bool), cost_gbp and hours of its work, and what
            ORDERS names. Their draws of homes together make the limits.
        orders: Those of ORDERS to compare.

    Returns:
        order, share, valves (the first `share` of all), failed, caught, cost_gbp, hours (of them), times_random, and
        for each of MEASURES its value and 90 % limits (`_low`, `_high`).
    """
    sorted_rows = [_by_valve(rows) for rows in rankings]
    home = np.unique(sorted_rows[0]["home_id"].to_numpy(str), return_inverse=True)[1]
    table = [_scored(sorted_rows, order, home).assign(order=order) for order in orders]
    first = ["order", "share"]
    found = pd.concat(table, ignore_index=True).astype({"order": "str"})
    return found[[*first, *(name for name in found.columns if name not in first)]]


def _by_valve(rows: pd.DataFrame) -> pd.DataFrame:
    in_order = rows["valve_id"].is_monotonic_increasing
    return rows if in_order else rows.sort_values("valve_id", ignore_index=True)


def _scored(rankings: Sequence[pd.DataFrame], order: str, home: Ints) -> pd.DataFrame:
    exact, drawn = [], []
    draws = -(-DRAWS // len(rankings))
    shares = whole(SHARES, len(home)) / max(len(home), 1)
    for number, rows in enumerate(rankings):
        place = places(rows, order)
        amounts = np.stack([np.ones(len(rows)), *(rows[name].to_numpy(float) for name in COUNTED[1:])], axis=1)
        sums = np.stack([np.bincount(place, weights=column) for column in amounts.T]).astype(float)
        exact.append(caught_at(sums[:, :, None], shares))
        random = np.random.default_rng([SEED, number])
        drawn.append(_drawn(_steps(place), amounts, home, random, draws, shares))
    mean = np.mean(exact, axis=0)
    low, high = np.nanquantile(_measures(np.concatenate(drawn, axis=2)), [(1 - LEVEL) / 2, (1 + LEVEL) / 2], axis=2)
    value = _measures(mean)[:, :, 0]
    valves, caught, cost, hours, failed = mean[:, :, 0]
    table = pd.DataFrame({"share": SHARES, "valves": valves, "failed": failed, "caught": caught, "cost_gbp": cost})
    table = table.assign(hours=hours, times_random=value[0] / shares)
    for at, name in enumerate(MEASURES):
        table = table.assign(**{name: value[at], f"{name}_low": low[at], f"{name}_high": high[at]})
    return table


def caught_at(sums: Floats, shares: Floats) -> Floats:
    """Return what lies in the first shares of the valves, (4 of COUNTED and all failed, shares, draws).

    Args:
        sums: (4, places, draws) valves, failed, cost and hours of each place, first place first.
        shares: (shares,) of the valves.
    """
    total = np.concatenate([np.zeros((4, 1, sums.shape[2])), np.cumsum(sums, axis=1)], axis=1)
    found = np.empty((5, len(shares), sums.shape[2]))
    for draw in range(sums.shape[2]):
        cut = shares * total[0, -1, draw]
        for what in range(4):
            found[what, :, draw] = np.interp(cut, total[0, :, draw], total[what, :, draw])
        found[4, :, draw] = total[1, -1, draw]
    return found


def _measures(caught: Floats) -> Floats:
    """Return MEASURES (3, shares, draws) of what `caught_at` gives; NaN where nothing failed or nothing is spent."""
    with np.errstate(divide="ignore", invalid="ignore"):
        found = np.stack([caught[1] / caught[4], 1000 * caught[1] / caught[2], 100 * caught[1] / caught[3]])
    return np.where(np.isfinite(found), found, np.nan)


def _steps(place: Ints) -> Ints:
    """Draw neighbouring places together, so that at most some STEPS are left."""
    size = np.bincount(place)
    before = np.cumsum(size) - size
    step = before * STEPS // len(place)
    return np.asarray(np.unique(step, return_inverse=True)[1][place], dtype=np.int64)


def _drawn(step: Ints, amounts: Floats, home: Ints, random: np.random.Generator, draws: int, shares: Floats) -> Floats:
    """Return `caught_at` for so many draws of homes."""
    from scipy.sparse import csr_array

    shape = (int(step.max()) + 1, int(home.max()) + 1)
    tables = [csr_array((column, (step, home)), shape=shape) for column in amounts.T]
    found = []
    for first in range(0, draws, AT_ONCE):
        times = random.poisson(1.0, (shape[1], min(AT_ONCE, draws - first))).astype(float)
        found.append(caught_at(np.stack([table @ times for table in tables]), shares))
    return np.concatenate(found, axis=2)
