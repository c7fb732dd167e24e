"""Which months stand out: faults of each month against those expected of its homes, days and season."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from audit.life.watched import days
from audit.statistics.charts import exact_chart
from audit.trends.events import Floats, Ints, Watch

PER: Final = 100.0  # homes: rates are faults a month of so many homes


def monthly(watch: Watch, group: Ints, names: list[str]) -> pd.DataFrame:
    """Chart the faults of each month, exact limits, season removed (a u-chart: rates over unequal exposures).

    Expected of a month are the faults of all the group's months, shared out by its home-days and by the season of the
    whole stock. Beyond a limit chance alone seldom (27 in 10,000) takes a month.

    Args:
        watch: Homes and faults.
        group: Group of each home, -1 for none.
        names: Names of the groups.

    Returns:
        One row a group and month, in that order: group, month, homes (watched, on average), call_outs, expected, low,
        high (counts), rate, expected_rate, low_rate, high_rate (a month and `PER` homes), out ("above", "below", "").
    """
    months = _months(watch)
    edges = months.append(months[-1:] + pd.offsets.MonthBegin(1))
    edge_days = days(pd.Series(edges))
    worn = np.diff(watch.season.years(edge_days)) / np.diff(edge_days)  # how fast the clock runs in each month
    exposed = _home_days(watch, group, len(names), edge_days)
    month = np.searchsorted(edge_days, watch.day, side="right") - 1
    own = group[watch.home]
    kept = own >= 0
    seen = np.bincount(own[kept] * len(months) + month[kept], minlength=exposed.size).reshape(exposed.shape)
    load = exposed * worn
    with np.errstate(invalid="ignore", divide="ignore"):
        expected = load * (seen.sum(axis=1) / load.sum(axis=1))[:, None]
    table = pd.DataFrame(
        {
            "group": np.repeat(np.array(names, dtype=object), len(months)),
            "month": np.tile(months, len(names)),
            "homes": (exposed / np.diff(edge_days)).ravel(),
            "call_outs": seen.ravel().astype(float),
            "expected": expected.ravel(),
        }
    ).astype({"group": "str", "month": "datetime64[us]"})
    return _charted(table.loc[table["expected"].gt(0)].reset_index(drop=True))


def _charted(table: pd.DataFrame) -> pd.DataFrame:
    chart = exact_chart(table["call_outs"], table["expected"])
    per = PER / table["homes"]
    above, below = table["call_outs"].gt(chart.high), table["call_outs"].lt(chart.low)
    return table.assign(
        low=chart.low,
        high=chart.high,
        rate=table["call_outs"] * per,
        expected_rate=table["expected"] * per,
        low_rate=chart.low * per,
        high_rate=chart.high * per,
        out=pd.Series(np.select([above, below], ["above", "below"], ""), index=table.index, dtype="str"),
    )


def _months(watch: Watch) -> pd.DatetimeIndex:
    first, last = (
        pd.Timestamp(0) + pd.Timedelta(days=float(day))
        for day in (watch.homes["first"].min(), watch.homes["last"].max())
    )
    return pd.date_range(first.to_period("M").to_timestamp(), last, freq="MS")


def _home_days(watch: Watch, group: Ints, groups: int, edges: Floats) -> Floats:
    """Days that homes were watched, by group and month; homes of one group mostly share their first and last day."""
    kept = group >= 0
    spans = watch.homes.loc[kept, ["first", "last"]].assign(group=group[kept]).value_counts().reset_index()
    first, last = spans["first"].to_numpy()[:, None], spans["last"].to_numpy()[:, None]
    each = np.maximum(np.minimum(last, edges[1:]) - np.maximum(first, edges[:-1]), 0.0) * spans[["count"]].to_numpy()
    total = np.zeros((groups, len(edges) - 1))
    np.add.at(total, spans["group"].to_numpy(), each)
    return total
