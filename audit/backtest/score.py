"""The whole backtest: the earlier day's ranking, what failed next, what was caught, and whether the chances held."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from audit.backtest.calibration import Slope, by_tenth, slope
from audit.backtest.capture import capture
from audit.backtest.failed import Failed, failed
from audit.backtest.lost_dates import ages_drawn, lost_heads
from audit.backtest.ranking import ranking, stand, with_ages
from audit.backtest.then import facts_then, quarter_after
from audit.choice import prices
from audit.errors import CannotUse
from audit.facts import facts
from audit.life.grid import Floats
from audit.model import Portfolio
from audit.policy import Policy
from schemas.backtest import TOP
from schemas.tables import COLUMNS


@dataclass(frozen=True)
class Score:
    """What a backtest finds.

    `ranking`: RANKED of `audit.backtest.ranking`, failed (bool), reported, part, place by benefit, and caught: in what
    share of the rankings with dates drawn back the valve lies in the first TOP of all.

    `named`: share of the quarter's failures whose call-out names its valve; `unranked`: failed valves that nothing
    shows to have been there on the day; `undated`: shares of all valves and of the failed ones whose head's date is
    drawn back.
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
    undated: tuple[float, float]
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
    after = facts(portfolio, as_of, policy)
    found = failed(after, day, end, policy)
    known = found.valves["valve_id"].isin(then.valves["valve_id"])
    if not known.any():
        raise CannotUse(
            f"--on {day:%Y-%m-%d}: no visit of the 13 weeks after it names a valve whose motor, head or body was "
            "renewed for a fault, so there is nothing to score by; give another date, or name valves in the log."
        )
    standing = stand(then, prices(portfolio.rates, policy), policy, end)
    ranked = ranking(standing, policy)
    lost = lost_heads(then, standing.fit, portfolio.valves.set_index("valve_id")["head_fitted"], after, policy)
    drawn = with_ages(standing, ranked, lost.row, ages_drawn(lost, then, standing.fit), policy)
    joined = [outcome(one, found.valves) for one in drawn]
    shown = outcome(ranked, found.valves)
    undated = shown["valve_id"].isin(then.valves["valve_id"].iloc[lost.row])
    named = len(found.valves) / (len(found.valves) + found.unnamed)
    return Score(
        on=day,
        end=end,
        ranking=shown.assign(caught=_caught(shown, joined)),
        capture=capture(joined),
        calibration=by_tenth(joined, named),
        slope=slope(joined),
        failed=found,
        named=named,
        unranked=int((~known).sum()),
        undated=(float(undated.mean()), float(undated[shown["failed"]].mean())),
        homes=int(shown["home_id"].nunique()),
    )


def _caught(shown: pd.DataFrame, drawn: Sequence[pd.DataFrame]) -> Floats:
    """Return in what share of the rankings each valve lies in the first TOP of all."""
    inside = [one.set_index("valve_id")["place"].reindex(shown["valve_id"]) <= TOP * len(one) for one in drawn]
    return np.asarray(np.mean([each.to_numpy(float) for each in inside], axis=0))


def outcome(ranked: pd.DataFrame, failed_valves: pd.DataFrame) -> pd.DataFrame:
    """Lay what became of each valve beside its rank: failed (bool), reported, part, and place, 1 the first."""
    rows = ranked.merge(failed_valves, on="valve_id", how="left")
    order = np.lexsort((rows["valve_id"].to_numpy(str), -rows["chance"], -rows["benefit_gbp"]))
    rows = rows.iloc[order].reset_index(drop=True)
    return rows.assign(failed=rows["reported"].notna(), place=np.arange(1, len(rows) + 1))
