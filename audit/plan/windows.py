"""What each visit may do when: its weeks, hours, worth, and what it keeps for doors that stay shut."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.choice.prices import Prices
from audit.model import Facts
from audit.plan import gas
from audit.plan.problem import Flags, Numbers, Problem, Whole
from audit.plan.slots import open_to
from audit.plan.waiting import counts
from audit.policy import Policy

MOST_SHUT: Final = 0.5  # share of doors that stay shut, at most: beyond it access is no matter of hours


@dataclass(frozen=True)
class Windows:
    """For each visit (n) and week (w) of the quarter: whether it may be, what it takes, and what it brings.

    What a visit brings is what acting now saves against leaving it for the quarter (`audit.choice.options`: the chance
    of failing in it, times what that costs above planned work). Over so short a time the chance grows evenly, so each
    week that a visit waits loses the same part of that, and at the quarter's end nothing of it is left.
    """

    weeks: npt.NDArray[np.datetime64]  # first days
    allowed: Flags  # (n, w)
    hours: Numbers  # (n, w), without the allowance
    allowance: Numbers  # (n,)
    benefit: Numbers  # GBP, (n, w)
    joins: Flags  # (n, w): with the gas safety check
    cold: Flags  # (n,): kept out of the cold months
    left: Numbers  # (w,): share of the quarter that is still to come
    winter: Flags  # (w,): weeks in the cold months
    arrival: pd.Series  # day on which the last part that is not on hand is there; NaT where all are


def windows(
    visits: pd.DataFrame,
    parts: pd.DataFrame,
    stock: pd.DataFrame,
    facts: Facts,
    prices: Prices,
    policy: Policy,
    starts: pd.Timestamp,
) -> Windows:
    """Work out every visit's weeks; `visits` and `parts` as `audit.plan.visits.visits` gives them, by rank."""
    count = round(policy.number("quarter.weeks"))
    weeks = quarter_weeks(starts, policy)
    cold, winter = _kept_from_cold(visits), is_cold(weeks, policy)
    arrival = _arrival(visits, parts, stock, facts.as_of)
    allowed = ~(cold[:, None] & winter[None, :])
    days = arrival.to_numpy("datetime64[D]")
    allowed &= (
        np.isnat(days)[:, None]
        | (days[:, None] <= weeks[None, :])
        | visits["severity"].eq("danger").to_numpy()[:, None]
    )
    joins = gas.joins(visits["gas_check_due"], weeks) & visits["gas_check_due"].ge(facts.as_of).to_numpy()[:, None]
    joins &= visits["trip"].eq(0).to_numpy()[:, None]
    left = 1.0 - np.arange(count) / count
    own = visits["benefit_gbp"].to_numpy(dtype=np.float64)
    lost = np.where(own[:, None] > 0, own[:, None] * left, own[:, None])
    spared = policy.number("hours.visit") * visits["people"].to_numpy()[:, None]
    return Windows(
        weeks=weeks,
        allowed=np.asarray(allowed),
        hours=np.maximum(visits["hours"].to_numpy()[:, None] - spared * joins, 0.05),
        allowance=allowance(visits["scheme"], facts, policy),
        benefit=np.round(lost + prices.cost["call_out"] * joins, 2),
        joins=joins,
        cold=cold,
        arrival=arrival,
        left=left,
        winter=winter,
    )


def problem(
    visits: pd.DataFrame,
    slots: pd.DataFrame,
    there: Windows,
    policy: Policy,
    *,
    barred: Flags | None = None,
    fixed: Whole | None = None,
    call_out: float = 0.0,
    budget: float = np.inf,
) -> Problem:
    """Lay the visits and slots out as arrays; a fault or danger counts more than its money (`audit.plan.waiting`).

    Danger is placed first, then homes without heat; such a home counts, for each cold week from the visit on, the
    household's loss of heat at a failure once more.
    `barred` visits may be nowhere, `fixed` is as in `Problem`; a visit that joins a gas check spares the `call_out`.
    """
    no_heat = visits["no_heat"].to_numpy(dtype=bool)
    spared = policy.number("money.no_heat_winter") * np.cumsum(there.winter[::-1])[::-1]
    besides = counts(visits, policy).to_numpy(dtype=np.float64)[:, None] * there.left + no_heat[:, None] * spared
    worth = np.where(there.allowed, there.benefit + besides, -np.inf)
    line, patches = pd.factorize(visits["patch"], use_na_sentinel=False)
    area, _ = pd.factorize(visits["area"], use_na_sentinel=False)
    week = week_of(slots, there)
    danger, free = visits["severity"].eq("danger").to_numpy(), True if barred is None else ~barred
    latest = int((policy.number("plan.danger_days") - 1) // 7)
    return Problem(
        worth=worth,
        hours=there.hours + there.allowance[:, None],
        urgent=(danger | no_heat) & free,
        latest=np.full(len(visits), latest, dtype=np.int64),
        line=line.astype(np.int64),
        area=area.astype(np.int64),
        open_to=tuple(open_to(slots, patch) for patch in patches) or (np.arange(0, dtype=np.int64),),
        week=week,
        room=slots["hours"].to_numpy(dtype=np.float64),
        travel=policy.number("plan.travel"),
        fixed=fixed,
        cost=np.maximum(visits["cost_gbp"].to_numpy(dtype=np.float64)[:, None] - call_out * there.joins, 0.0),
        budget=budget,
        danger=danger & free,
    )


def week_of(slots: pd.DataFrame, there: Windows) -> Whole:
    """The week of each slot, from 0."""
    days = (slots["week_starting"].to_numpy("datetime64[D]") - there.weeks[0]).astype("int64")
    return np.asarray(days // 7, dtype=np.int64)


def area(visits: pd.DataFrame, policy: Policy) -> pd.Series:
    """The patch, or else the outward half of the postcode, or else the square of the grid in which the home lies."""
    outward = visits["postcode"].astype("str").str.replace(" .*", "", regex=True)
    side = 1000.0 * policy.number("plan.square")
    east, north = (visits[name] // side for name in ("easting", "northing"))
    square = "square " + east.astype("str") + " " + north.astype("str")
    square = square.astype("str").where(east.notna() & north.notna())
    return visits["patch"].astype("str").fillna(outward.astype("str")).fillna(square).fillna("").astype("str")


def quarter_weeks(starts: pd.Timestamp, policy: Policy) -> npt.NDArray[np.datetime64]:
    """The first day of each week of the quarter."""
    count = round(policy.number("quarter.weeks"))
    return np.asarray(starts.to_datetime64().astype("datetime64[D]") + 7 * np.arange(count))


def is_cold(weeks: npt.NDArray[np.datetime64], policy: Policy) -> Flags:
    """Whether a week has a day in the cold months."""
    first, last = round(policy.number("plan.cold_first_month")), round(policy.number("plan.cold_last_month"))
    days = (weeks[:, None] + np.arange(7)).astype("datetime64[M]").astype("int64") % 12 + 1
    inside = (days >= first) & (days <= last) if first <= last else (days >= first) | (days <= last)
    return np.asarray(inside.any(axis=1))


def _kept_from_cold(visits: pd.DataFrame) -> Flags:
    """Drain-downs in priority households, unless there is danger or no heat now."""
    waits = visits["drain_down"].eq("yes") & visits["priority_household"].eq("yes") & visits["severity"].ne("danger")
    return np.asarray((waits & ~visits["no_heat"]).to_numpy(dtype=bool))


def allowance(schemes: pd.Series, facts: Facts, policy: Policy) -> Numbers:
    """Hours that a visit keeps for doors that stay shut: its own time, as often as the scheme's log says it is lost."""
    log = facts.visits.loc[facts.visits["outcome"].notna(), ["scheme", "outcome"]]
    if log.empty:
        return np.zeros(len(schemes))
    shut = log["outcome"].eq("no_access")
    whole, prior = float(shut.mean()), policy.number("plan.no_access_prior")
    by_scheme = shut.groupby(log["scheme"]).agg(["sum", "size"])
    share = (by_scheme["sum"] + prior * whole) / (by_scheme["size"] + prior)
    at = share.reindex(schemes).fillna(whole).clip(upper=MOST_SHUT).to_numpy(dtype=np.float64)
    return np.asarray(np.round(policy.number("hours.visit") * at / (1.0 - at), 2))


def _arrival(visits: pd.DataFrame, parts: pd.DataFrame, stock: pd.DataFrame, as_of: pd.Timestamp) -> pd.Series:
    """When a visit's parts are all there: those on hand go to the most urgent; the others come after the lead time."""
    held = stock.drop_duplicates("part").set_index("part")[["on_hand", "lead_time_days"]].astype("float64")
    lines = parts.sort_values("rank", kind="stable")
    used = lines.groupby("part")["pieces"].cumsum().to_numpy()
    short = used > held["on_hand"].reindex(lines["part"]).to_numpy(dtype="float64")
    lead = held["lead_time_days"].reindex(lines["part"]).where(short)
    days = lead.groupby(lines["rank"].to_numpy()).max().reindex(visits["rank"]).set_axis(visits.index)
    return (as_of + pd.to_timedelta(days.astype("float64"), unit="D")).astype("datetime64[us]")


def first_week(there: Windows) -> Whole:
    """The first week in which each visit may be; −1 where none is."""
    return np.where(there.allowed.any(axis=1), there.allowed.argmax(axis=1), -1).astype(np.int64)
