"""The whole backtest: the earlier day's ranking, what failed next, what was caught, and whether the chances held."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import pandas as pd

from audit.backtest.calibration import Slope, by_tenth, slope
from audit.backtest.capture import capture
from audit.backtest.failed import Failed, failed
from audit.backtest.ranking import ranking
from audit.backtest.then import facts_then, quarter_after, share_undated
from audit.choice import prices
from audit.errors import CannotUse
from audit.facts import facts
from audit.model import Portfolio
from audit.policy import Policy
from schemas.tables import COLUMNS


@dataclass(frozen=True)
class Score:
    """What a backtest finds. `ranking`: RANKED of `audit.backtest.ranking`, place, failed (bool), reported, part.

    `named`: share of the quarter's failures whose call-out names its valve; `unranked`: failed valves that nothing
    shows to have been there on the day; `undated`: share of valves whose head's date was overwritten since.
    """

    on: pd.Timestamp
    end: pd.Timestamp
    ranking: pd.DataFrame
    capture: pd.DataFrame
    calibration: pd.DataFrame
    slope: Slope
    failed: Failed
    named: float
    unranked: int
    undated: float
    homes: int


def score(portfolio: Portfolio, on: dt.date | None, as_of: dt.date, policy: Policy) -> Score:
    """Rank every valve as on an earlier day, and score the ranking against the 13 weeks that followed.

    Args:
        portfolio: What was known on the as-of date.
        on: The earlier day; 13 weeks before the log's last day where None.
        as_of: The day that the audit treats as today; it tells which valves failed, and never how they rank.
        policy: Limits and assumed prices.

    Raises:
        CannotUse: the log ends too early, nothing was known on the earlier day, or no valve failed in the quarter.
    """
    tables = {name: getattr(portfolio, name) for name in COLUMNS}
    day, end = quarter_after(portfolio.visits, None if on is None else pd.Timestamp(on))
    then = facts_then(tables, day, policy)
    found = failed(facts(portfolio, as_of, policy), day, end, policy)
    known = found.valves["valve_id"].isin(then.valves["valve_id"])
    if not known.any():
        raise CannotUse(
            f"--on {day:%Y-%m-%d}: no visit of the 13 weeks after it names a valve whose motor, head or body was "
            "renewed for a fault, so there is nothing to score by; give another date, or name valves in the log."
        )
    joined = outcome(ranking(then, prices(portfolio.rates, policy), policy, end), found.valves)
    named = len(found.valves) / (len(found.valves) + found.unnamed)
    return Score(
        on=day,
        end=end,
        ranking=joined,
        capture=capture(joined),
        calibration=by_tenth(joined, named),
        slope=slope(joined),
        failed=found,
        named=named,
        unranked=int((~known).sum()),
        undated=share_undated(then, tables),
        homes=int(joined["home_id"].nunique()),
    )


def outcome(ranked: pd.DataFrame, failed_valves: pd.DataFrame) -> pd.DataFrame:
    """Lay what became of each valve beside its rank: failed (bool), reported, part, and place, 1 the first."""
    rows = ranked.merge(failed_valves, on="valve_id", how="left")
    order = np.lexsort((rows["valve_id"].to_numpy(str), -rows["chance"], -rows["benefit_gbp"]))
    rows = rows.iloc[order].reset_index(drop=True)
    return rows.assign(failed=rows["reported"].notna(), place=np.arange(1, len(rows) + 1))
