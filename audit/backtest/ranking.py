"""Every valve then in service, with what ranks it: benefit of acting that quarter, chance of failing, age, visits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from audit.choice import fitted, with_own_winter
from audit.choice.ahead import costs_ahead
from audit.choice.asked import OLDEST_BODY, OLDEST_HEAD
from audit.choice.assumed_life import QUARTER, typical_age
from audit.choice.bill import bill
from audit.choice.bill import fitted as parts_of
from audit.choice.prices import Prices
from audit.forecast.valves import BILLED, priced_valves
from audit.life import LifeFit, chance_fail, life
from audit.life.grid import Floats, Ints
from audit.life.watched import days
from audit.model import Facts
from audit.policy import Policy

ACTS: Final = ("motor", "head", "full")
RANKED: Final = (
    "valve_id", "home_id", "scheme", "option", "benefit_gbp", "chance", "cost_gbp", "hours", "head_years", "body_years",
    "head_age_basis", "visits",
)  # fmt: skip
HANG_ON_AGE: Final = ("benefit_gbp", "chance", "head_years")  # the work stays what that day would have asked for
RECENT: Final = pd.Timedelta(days=365)
PENNY: Final = 0.01


@dataclass(frozen=True)
class Standing:
    """The earlier day: its facts, the lives fitted then, each valve's life, ages and prices, and the quarter's end.

    `lived` (LIVED) and `priced` (`audit.forecast.valves`) are aligned with `then.valves`; `hours` (valves, 3) by ACTS.
    `winter` says which share of failures counted as cold.
    """

    then: Facts
    end: pd.Timestamp
    fit: LifeFit
    lived: pd.DataFrame
    priced: pd.DataFrame
    hours: Floats
    winter: str = ""


def stand(then: Facts, prices: Prices, policy: Policy, end: pd.Timestamp) -> Standing:
    """Stand on the day `then.as_of`, with what was known then."""
    fit = life(then, policy)
    policy, winter = with_own_winter(policy, fit.season)
    lived = _known(fitted(fit, then, policy)).loc[then.valves["valve_id"]]
    return Standing(then, end, fit, lived, priced_valves(then, lived, prices, policy), _hours(then, policy), winter)


def ranking(standing: Standing, policy: Policy) -> pd.DataFrame:
    """Return RANKED, one row a valve by valve_id, from what was known on the day.

    `option`: the work that costs least in the long run; `cost_gbp` and `hours`: that work as a visit of its own;
    `benefit_gbp`: what it saves against leaving the valve that quarter and acting best afterwards, 0 where nothing;
    `chance`: of head or body failing by the quarter's end, on the season's clock; `head_years`, `body_years`: the ages
    reckoned with, in calendar years; `visits`: call-outs and return visits to the home in the year before.
    """
    every = np.arange(len(standing.lived))
    return _table(standing, every, standing.lived["head_age"].to_numpy(), policy)


def with_ages(standing: Standing, ranked: pd.DataFrame, row: Ints, ages: Floats, policy: Policy) -> list[pd.DataFrame]:
    """Return the ranking once for each draw of other ages of some heads.

    Args:
        standing: The earlier day.
        ranked: Its ranking, by valve_id; some valves may be left out.
        row: (n,) places of those heads in `then.valves`.
        ages: (draws, n) their ages, in calendar years.
        policy: For the options.
    """
    if not len(row):
        return [ranked]
    drawn = _table(standing, np.tile(row, len(ages)), ages.ravel(), policy)  # a valve's rows in the order of its draws
    place = pd.Index(ranked["valve_id"]).get_indexer(pd.Index(drawn["valve_id"].iloc[:: len(ages)]))
    values = {name: drawn[name].to_numpy().reshape(-1, len(ages))[place >= 0] for name in HANG_ON_AGE}
    return [
        ranked.assign(**{name: _put(ranked[name], place[place >= 0], value[:, draw]) for name, value in values.items()})
        for draw in range(len(ages))
    ]


def _put(column: pd.Series, place: Ints, values: Any) -> pd.Series:
    """Return the column with other values in some places."""
    changed = column.copy()
    changed.iloc[place] = values
    return changed


def _table(standing: Standing, row: Ints, head_age: Floats, policy: Policy) -> pd.DataFrame:
    """Return RANKED for the valves in these places, their heads as old as given, by valve_id."""
    then = standing.then
    lived = standing.lived.iloc[row].assign(head_age=head_age).reset_index(drop=True)
    priced = standing.priced.iloc[row].assign(head_age=head_age).reset_index(drop=True)
    valves = then.valves[["valve_id", "home_id", "scheme", "head_age_basis"]].iloc[row].reset_index(drop=True)
    table = pd.concat([valves, _work(priced, standing.hours[row], policy)], axis=1).assign(
        chance=chances(standing.fit, lived, then.as_of, standing.end),
        head_years=head_age,
        body_years=lived["body_age"],
        visits=_visits(then).to_numpy()[row],
        head_age_basis=valves["head_age_basis"].astype("str").fillna("not known"),
    )
    return table[list(RANKED)].sort_values("valve_id", kind="stable", ignore_index=True)


def chances(fit: LifeFit, lived: pd.DataFrame, on: pd.Timestamp, end: pd.Timestamp) -> Floats:
    """Return each valve's chance of failing after the day `on`, up to and with the day `end`."""
    edges = fit.season.years(days(pd.Series([on, end])) + 1.0)
    holds = [
        1.0 - chance_fail(lived[f"{part}_age"], edges[1] - edges[0], lived[f"{part}_shape"], lived[f"{part}_scale"])
        for part in ("head", "body")
    ]
    return np.asarray(1.0 - holds[0] * holds[1], dtype=float)


def _known(lived: pd.DataFrame) -> pd.DataFrame:
    """Put a typical age where none is known, as the options do."""
    typical = {
        f"{part}_age": lived[f"{part}_age"].fillna(typical_age(lived[f"{part}_shape"], lived[f"{part}_scale"]))
        for part in ("head", "body")
    }
    return lived.assign(**typical)


def _work(valves: pd.DataFrame, hours: Floats, policy: Policy) -> pd.DataFrame:
    """Return option, benefit_gbp, cost_gbp and hours of each row of `audit.forecast.valves`, numbered from 0."""
    planned = valves[list(ACTS)].where(_possible(valves), np.inf)
    ahead = costs_ahead(
        valves.assign(
            motor=planned["motor"],
            frail=valves["weak"],
            head_quarters=_quarters(valves["head_age"], OLDEST_HEAD),
            body_quarters=_quarters(valves["body_age"], OLDEST_BODY),
            horizon_quarters=valves["due"],
        ),
        policy,
    ).later
    total = planned.to_numpy() + ahead[:, 1:]
    best = total.argmin(axis=1)
    row = np.arange(len(best))
    gain = ahead[:, 0] - total[row, best]
    return pd.DataFrame(
        {
            "option": pd.Series(np.array(ACTS)[best], dtype="str"),
            "benefit_gbp": np.round(np.maximum(gain, 0.0) / PENNY) * PENNY,
            "cost_gbp": planned.to_numpy()[row, best],
            "hours": hours[row, best],
        }
    )


def _possible(valves: pd.DataFrame) -> pd.DataFrame:
    """Which acts a valve allows: a motor where it can be changed on its own, only the whole valve where it is weak."""
    sound = ~valves["weak"]
    return pd.DataFrame({"motor": valves["has_motor"] & sound, "head": sound, "full": True}, index=valves.index)


def _quarters(years: pd.Series, oldest: float) -> pd.Series:
    return (years.clip(0.0, oldest) / QUARTER).round().astype("int64")


def _hours(then: Facts, policy: Policy) -> Floats:
    """Hours of each act on each valve (valves, 3), reckoned once for each kind of valve."""
    nothing = pd.Series(False, index=then.valves.index)
    kinds = then.valves.assign(**parts_of(then.valves, nothing), wrong_kind=False)[list(BILLED)]
    number = kinds.groupby(list(BILLED), dropna=False, sort=True).ngroup().to_numpy()
    _, first = np.unique(number, return_index=True)
    one = kinds.iloc[first]
    hours = [
        bill(one, pd.Series(act, index=one.index, dtype="str"), pd.DataFrame(index=one.index), policy)["hours"]
        for act in ACTS
    ]
    return np.stack(hours, axis=1)[number]


def _visits(then: Facts) -> pd.Series:
    """Visits that a fault caused to each valve's home in the year before the day."""
    recent = then.visits["is_fault"] & (then.visits["reported"] > then.as_of - RECENT)
    count = then.visits.loc[recent, "home_id"].value_counts()
    return then.valves["home_id"].map(count).fillna(0).astype("int64")
