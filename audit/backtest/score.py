"""The whole backtest: the earlier day's ranking, what failed next, what was caught, and whether the chances held."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import pandas as pd

from audit.backtest.calibration import Slope, by_tenth, slope
from audit.backtest.capture import capture
from audit.backtest.failed import Failed, failed, watched_through
from audit.backtest.lost_dates import ages_drawn, lost_heads
from audit.backtest.orders import ORDERS, within
from audit.backtest.ranking import ranking, stand, with_ages
from audit.backtest.then import facts_then, quarter_after
from audit.choice import prices
from audit.errors import CannotUse
from audit.facts import facts
from audit.life.grid import Ints
from audit.model import Portfolio
from audit.policy import Policy
from schemas.backtest import TOP
from schemas.tables import COLUMNS


@dataclass(frozen=True)
class Score:
    """What a backtest finds.

    `ranking`: RANKED of `audit.backtest.ranking`, failed (bool), reported, part, place, and caught: how much of the
    valve the first TOP of the first order compared hold, 0 to 1, on the mean of the rankings with dates drawn back.

    `capture`: as `audit.backtest.capture` gives it, benefit only where a valve has one. `dearer_gbp`: how much more a
    failed head costs than a planned one, the middle of the valves.

    `named`: share of the quarter's failures whose call-out names its valve; `unranked`: failed valves that nothing
    shows to have been there on the day; `unwatched`: valves left out, whose log does not cover the quarter; `undated`:
    shares of all valves, and of the failed ones, whose head's date is drawn back; `winter`: which share of failures
    counted as cold.
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
    unwatched: int
    undated: tuple[float, float]
    homes: int
    dearer_gbp: float
    winter: str = ""


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
    watched = then.valves["valve_id"].isin(watched_through(after, day, end, policy))
    seen = then.valves.loc[watched, "valve_id"]
    known = found.valves["valve_id"].isin(seen)
    if not known.any():
        raise CannotUse(
            f"--on {day:%Y-%m-%d}: no visit of the 13 weeks after it names a valve whose motor, head or body was "
            "renewed for a fault, so there is nothing to score by; give another date, or name valves in the log."
        )
    standing = stand(then, prices(portfolio.rates, policy), policy, end)
    ranked = ranking(standing, policy)
    ranked = with_outcome(ranked.loc[ranked["valve_id"].isin(seen)].reset_index(drop=True), found.valves)
    lost = lost_heads(then, standing.fit, portfolio.valves.set_index("valve_id")["head_fitted"], after, policy)
    drawn = with_ages(standing, ranked, lost.row, ages_drawn(lost, then, standing.fit), policy)
    pays = any(one["benefit_gbp"].gt(0).any() for one in drawn)
    orders = [order for order in ORDERS if pays or order != "benefit"]
    caught = np.mean([within(one, orders[0], TOP) for one in drawn], axis=0)
    undated = ranked["valve_id"].isin(then.valves["valve_id"].iloc[lost.row])
    named = len(found.valves) / (len(found.valves) + found.unnamed)
    return Score(
        on=day,
        end=end,
        ranking=ranked.assign(place=place_of(ranked), caught=caught).sort_values("place", ignore_index=True),
        capture=capture(drawn, orders),
        calibration=by_tenth(drawn, named),
        slope=slope(drawn),
        failed=found,
        named=named,
        unranked=int((~found.valves["valve_id"].isin(then.valves["valve_id"])).sum()),
        unwatched=int((~watched).sum()),
        undated=(float(undated.mean()), float(undated[ranked["failed"]].mean())),
        homes=int(ranked["home_id"].nunique()),
        dearer_gbp=float((standing.priced["head_failure"] - standing.priced["head"]).median()),
        winter=standing.winter,
    )


def with_outcome(ranked: pd.DataFrame, failed_valves: pd.DataFrame) -> pd.DataFrame:
    """Lay what became of each valve beside its rank: failed (bool), reported and part where it failed."""
    became = failed_valves.set_index("valve_id").reindex(pd.Index(ranked["valve_id"])).set_axis(ranked.index)
    return pd.concat([ranked, became], axis=1).assign(failed=became["reported"].notna())


def place_of(ranked: pd.DataFrame) -> Ints:
    """Return each valve's place by benefit, then chance, then valve_id, 1 the first; rows are sorted by valve_id."""
    place = np.empty(len(ranked), dtype=np.int64)
    place[np.lexsort((-ranked["chance"], -ranked["benefit_gbp"]))] = np.arange(1, len(ranked) + 1)
    return place
