"""Observed against expected, group by group, with the control of false names over every group tried."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.statistics.rates import benjamini_hochberg, central_p, garwood


def matched(frame: pd.DataFrame, strata: list[pd.Series]) -> pd.Series:
    """Scale the failures expected of each valve so that those of every stratum add up to what was seen in it.

    The life says how failures are spread over valves and ages; the stock says how many there were. A stratum in which
    nothing is expected keeps it.

    Args:
        frame: observed, raw (expected), both per valve.
        strata: Columns, aligned with the frame, whose values together make the strata.
    """
    sums = frame.groupby(_stratum(strata))[["observed", "raw"]].transform("sum")
    share: pd.Series = (sums["observed"] / sums["raw"].where(sums["raw"].gt(0))).fillna(1.0)
    return frame["raw"] * share


def _stratum(parts: list[pd.Series]) -> NDArray[np.int64]:
    """A number for each combination of the parts' values, missing ones among them."""
    code = np.zeros(len(parts[0]), dtype=np.int64)
    for part in parts:
        own, values = pd.factorize(part, use_na_sentinel=False)
        code = pd.factorize(code * max(len(values), 1) + own)[0]
    return code


def counted(frame: pd.DataFrame, group: pd.Series, least: float) -> pd.DataFrame:
    """Add valves up by group.

    Args:
        frame: observed, expected, years, per valve.
        group: Each valve's group; missing where it has none.
        least: Groups with fewer failures expected are not tried: chance alone could hardly show in them. What is
            expected does not depend on what was seen, so the choice does not bend the test.

    Returns:
        group, valves, exposure_years, observed, expected.
    """
    rows = frame.assign(group=group.array)
    table = rows.groupby("group", as_index=False, sort=True).agg(
        valves=("observed", "size"),
        exposure_years=("years", "sum"),
        observed=("observed", "sum"),
        expected=("expected", "sum"),
    )
    kept = table.loc[table["expected"].ge(least)]
    return kept.iloc[:0] if len(kept) < 2 else kept.reset_index(drop=True)  # one group alone is the stock itself


def judged(table: pd.DataFrame, false_share: float, least_ratio: float) -> pd.DataFrame:
    """Add ratio, low, high (95 %, Garwood), p, p_adjusted and named to all groups tried, of every grouping together.

    Args:
        table: observed, expected, one row a group tried.
        false_share: Share of the named that may be named falsely, 0 to 1 (Benjamini and Hochberg 1995).
        least_ratio: Groups below so many times the expected are not named: the life may miss by that much.
    """
    if table.empty:
        none = dict.fromkeys(("ratio", "low", "high", "p", "p_adjusted"), pd.Series(dtype="float64"))
        return table.assign(**none, named=pd.Series(dtype="str"))
    low, high = garwood(table["observed"])
    p = central_p(table["observed"], table["expected"])
    adjusted = benjamini_hochberg(p)
    ratio = table["observed"] / table["expected"]
    named = (adjusted <= false_share) & ratio.gt(1) & ratio.ge(least_ratio)
    return table.assign(
        ratio=ratio,
        low=low / table["expected"],
        high=high / table["expected"],
        p=p,
        p_adjusted=adjusted,
        named=pd.Series(np.where(named, "yes", "no"), index=table.index, dtype="str"),
    )
