"""The `forecast` table: one row a policy and year."""

from __future__ import annotations

import numpy as np
import pandas as pd

from audit.forecast.ahead import Ahead
from audit.forecast.doubt import limits
from audit.life.season import Season
from schemas import words
from schemas.results import RESULT_COLUMNS

AHEAD_MONTHS = 24  # shown month by month


def year_table(ahead: Ahead, as_of: pd.Timestamp, season: Season) -> pd.DataFrame:
    """Return the `forecast` table; money as spent in each year, not discounted."""
    policies, years = ahead.failures().shape
    failures, spend = limits(ahead.failures_drawn(), ahead.failures()), limits(ahead.spend_drawn(), ahead.spend())
    head, body, weak = (ahead.of(f"{part}_failures") for part in ("head", "body", "weak"))
    columns = {
        "failures": ahead.failures(),
        "failures_low": failures[0],
        "failures_high": failures[1],
        "drain_downs": ahead.of("drain_downs"),
        "spend_gbp": ahead.spend(),
        "spend_low": spend[0],
        "spend_high": spend[1],
        "winter_failures": ahead.failures() * season.cold,
        "head_failures": head + weak,
        "body_failures": body,
        "planned_motors": ahead.of("motors"),
        "planned_heads": ahead.of("heads"),
        "planned_valves": ahead.of("fulls"),
        "renewed_with_heating": ahead.of("renewed_with_heating"),
        "planned_gbp": ahead.of("planned_gbp"),
        "no_heat_gbp": ahead.of("no_heat_gbp"),
        "present_value_gbp": ahead.of("present_value_gbp"),
    }
    table = pd.DataFrame({name: np.asarray(values).ravel() for name, values in columns.items()})
    ends = pd.Series([as_of + pd.DateOffset(years=year + 1) for year in range(years)]).astype("datetime64[us]")
    table = table.assign(
        policy=pd.Series(np.repeat(list(words.RENEWAL_POLICY), years), dtype="str"),
        year=np.tile(np.arange(1.0, years + 1), policies),
        year_ends=np.tile(ends, policies),
    )
    return table[[column.name for column in RESULT_COLUMNS["forecast"]]]


def month_table(ahead: Ahead, as_of: pd.Timestamp, season: Season) -> pd.DataFrame:
    """Return policy, month and failures of the months ahead: each year's failures spread as the season tells."""
    first = as_of.to_period("M").to_timestamp() + pd.DateOffset(months=1)
    last = min(AHEAD_MONTHS, 12 * ahead.failures().shape[1])
    months = pd.Series([first + pd.DateOffset(months=place) for place in range(last)]).astype("datetime64[us]")
    year, share = np.arange(last) // 12, season.share[months.dt.month.to_numpy() - 1]
    failures = ahead.failures()[:, year] * share
    return pd.DataFrame(
        {
            "policy": pd.Series(np.repeat(list(words.RENEWAL_POLICY), last), dtype="str"),
            "month": np.tile(months, len(failures)),
            "failures": failures.ravel(),
        }
    )


def side_by_side(table: pd.DataFrame, by: str) -> pd.DataFrame:
    """Return one row a year or month (`by`), every number of every policy as a column `number policy`."""
    kept = [name for name in ("year_ends",) if name in table]
    numbers = [name for name in table.columns if name not in (by, "policy", *kept)]
    first = table.drop_duplicates(by)[[by, *kept]].reset_index(drop=True)
    wide = {
        f"{name} {policy}": table.loc[table["policy"].eq(policy), name].to_numpy()
        for name in numbers
        for policy in words.RENEWAL_POLICY
    }
    return first.assign(**wide)
