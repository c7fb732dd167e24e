"""Tables of trends: the whole stock and each scheme."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd

from audit.model import Facts
from audit.policy import Policy
from audit.statistics.cumulative import mean_at_end, mean_cumulative
from audit.statistics.rates import benjamini_hochberg
from audit.statistics.trends import crow, laplace, mil_hdbk_189
from audit.trends.events import ALL, YEAR, Floats, Ints, Watch, watch
from audit.trends.months import monthly

# Critical values of the Cramér-von Mises statistic of the power law at 10 %, by events (MIL-HDBK-189; from memory).
FIT_EVENTS: Final = (2, 3, 5, 10, 20, 60)
FIT_LIMITS: Final = (0.138, 0.154, 0.160, 0.167, 0.172, 0.173)
COLUMNS: Final = (
    "group", "homes", "home_years", "call_outs", "per_home_year", "mean", "mean_low", "mean_high", "trend",
    "laplace", "laplace_p", "laplace_adjusted", "mil_hdbk", "mil_hdbk_p", "mil_hdbk_adjusted", "growth", "misfit",
    "misfit_limit", "power_law", "months_above", "months_below",
)  # fmt: skip


def trend_tables(facts: Facts, policy: Policy) -> dict[str, pd.DataFrame]:
    """Follow the faults of the whole stock and of every scheme.

    Args:
        facts: What was known on the as-of date.
        policy: Windows, least faults of a scheme, share of false names.

    Returns:
        `trends`: columns `COLUMNS`, one row for all homes, then one a scheme with enough faults, the surest worsening
        first. `mean` is the mean cumulative function at the end of the watch: faults a home, with 95 % limits that
        assume no independence within a home (Lawless and Nadeau). Times are on the season's clock. `trend`: "more
        often" or "less often" where both tests show it, allowing for all rows tried; "tests disagree" where one does.
        `mean_cumulative`: years (since the watch began), mean, low, high, at_risk (homes), of all homes by quarter.
        `month_chart`: see `audit.trends.months.monthly`; all homes, then the schemes of `trends`.
    """
    seen = watch(facts, policy)
    scheme, names = _schemes(seen, policy.number("trends.least_call_outs"))
    whole = np.zeros(len(seen.homes), dtype=np.int64)
    rows = [*_rows(seen, whole, [ALL]), *_rows(seen, scheme, names)] if len(seen.day) >= 2 else []
    chart = pd.concat([monthly(seen, whole, [ALL]), monthly(seen, scheme, names)])
    chart = chart.reset_index(drop=True)
    table = _concluded(pd.DataFrame(rows), policy.number("repeats.batch_false_share") / 100) if rows else pd.DataFrame()
    for side in ("above", "below"):
        counts = chart.loc[chart["out"].eq(side)].groupby("group").size()
        if rows:
            table[f"months_{side}"] = table["group"].map(counts).fillna(0.0)
    return {
        "trends": table.reindex(columns=list(COLUMNS)),
        "mean_cumulative": _by_quarter(seen),
        "month_chart": chart,
    }


def _schemes(seen: Watch, least: float) -> tuple[Ints, list[str]]:
    """The schemes with enough faults: the place of each home's in the names, -1 for none."""
    counts = seen.homes["scheme"].iloc[seen.home].value_counts()
    names = sorted(str(name) for name in counts.index[counts.ge(least)])
    return np.asarray(pd.Index(names).get_indexer(pd.Index(seen.homes["scheme"])), dtype=np.int64), names


def _rows(seen: Watch, group: Ints, names: list[str]) -> list[dict[str, Any]]:
    """The row of each group; homes and faults are laid out group by group once, and each takes its own stretch."""
    homes = np.argsort(group, kind="stable")
    unit = np.empty(len(homes), dtype=np.int64)
    unit[homes] = np.arange(len(homes))
    faults = np.argsort(group[seen.home], kind="stable")
    first, last = (seen.homes[name].to_numpy()[homes] for name in ("first", "last"))
    clock = seen.season.years
    start, stop = clock(first), clock(last)
    of_fault = unit[seen.home[faults]]
    time = clock(seen.day[faults]) - start[of_fault]
    places = np.arange(len(names) + 1)
    at_home = np.searchsorted(group[homes], places)
    at_fault = np.searchsorted(group[seen.home][faults], places)
    rows = []
    for place, name in enumerate(names):
        h, f = slice(*at_home[place : place + 2]), slice(*at_fault[place : place + 2])
        years = float((last[h] - first[h]).sum()) / YEAR
        rows.append(_row(name, years, of_fault[f] - at_home[place], time[f], stop[h] - start[h]))
    return rows


def _row(name: str, years: float, unit: Ints, time: Floats, stop: Floats) -> dict[str, Any]:
    """One group's rate, mean cumulative function at its end, and trend tests.

    Args:
        name: The group.
        years: Home-years watched.
        unit: Home of each fault, 0 on.
        time: Each fault's time since its home's start, on the season's clock.
        stop: End of every home's watch, likewise.
    """
    (mean, low, high), end = mean_at_end(unit, time, stop), stop[unit]
    first, second = laplace(time, end), mil_hdbk_189(time, end)
    law = crow(time / end, 1.0)
    limit = float(np.interp(len(time), FIT_EVENTS, FIT_LIMITS))
    return {
        "group": name, "homes": len(stop), "home_years": years, "call_outs": len(time),
        "per_home_year": len(time) / years, "mean": mean, "mean_low": low, "mean_high": high,
        "laplace": first.statistic, "laplace_p": first.p, "mil_hdbk": second.statistic,
        "mil_hdbk_p": second.p, "growth": law.beta_unbiased, "misfit": law.cramer_von_mises, "misfit_limit": limit,
        "power_law": "fits" if law.cramer_von_mises <= limit else "does not fit",
        "denser": second.statistic < 2 * len(time),
    }  # fmt: skip


def _concluded(table: pd.DataFrame, false_share: float) -> pd.DataFrame:
    """Adjust both tests for all rows tried, and say what they show together."""
    table = table.assign(
        laplace_adjusted=benjamini_hochberg(table["laplace_p"]),
        mil_hdbk_adjusted=benjamini_hochberg(table["mil_hdbk_p"]),
    )
    one, two = table["laplace_adjusted"].le(false_share), table["mil_hdbk_adjusted"].le(false_share)
    rises, denser = table["laplace"].gt(0), table["denser"].astype(bool)
    words = np.select(
        [one & two & rises & denser, one & two & ~rises & ~denser, one | two],
        ["more often", "less often", "tests disagree"],
        "none shown",
    )
    table = table.assign(trend=pd.Series(words, index=table.index, dtype="str"), whole=table["group"].eq(ALL))
    order = ["whole", "laplace", "group"]
    return table.sort_values(order, ascending=[False, False, True], ignore_index=True)


def _by_quarter(seen: Watch) -> pd.DataFrame:
    """The mean cumulative function of all homes at each quarter of a year since their watch began."""
    columns = ["years", "mean", "low", "high", "at_risk"]
    if not len(seen.day):
        return pd.DataFrame(columns=columns, dtype="float64")
    first, last = seen.homes["first"].to_numpy(), seen.homes["last"].to_numpy()
    curve = mean_cumulative(seen.home, seen.day - first[seen.home], last - first)
    at = np.arange(1, int(curve.time[-1] // (YEAR / 4)) + 1) / 4
    step = np.searchsorted(curve.time, at * YEAR, side="right") - 1
    at, step = at[step >= 0], step[step >= 0]
    found: tuple[Floats, ...] = (at, curve.mean[step], curve.low[step], curve.high[step], curve.at_risk[step])
    return pd.DataFrame(dict(zip(columns, found, strict=True)))
