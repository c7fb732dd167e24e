"""Each valve's time line: when it was watched, what was renewed on it, and which of the register's dates hold."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.life.grid import Floats, Ints
from audit.life.replaced import replaced
from audit.life.watched import days, watched
from audit.model import Facts
from audit.policy import Policy

Bools = npt.NDArray[np.bool_]

ENOUGH = 10  # valves with a replacement in the log, to judge by them whether the register is kept up


@dataclass(frozen=True)
class Timeline:
    """Days since 1970. Arrays are aligned with `facts.valves`, NaN is not known.

    `first`, `last`: watched from and to; `new`: it was fitted while watched, on the day `first`; `head`, `body`: the
    register's dates as far as they hold; `home_body`: the earliest among the bodies of its home and system.
    `events`: as `audit.life.replaced.replaced`, within the watched time; `logged` False where only the register tells.
    `inferred`: replacements whose valve was inferred; `kept_up`: the register's head dates follow the log.
    """

    first: Floats
    last: Floats
    new: Bools
    head: Floats
    body: Floats
    home_body: Floats
    events: pd.DataFrame
    inferred: int
    kept_up: bool


def timeline(facts: Facts, policy: Policy) -> Timeline:
    """Lay the register's dates beside the log."""
    slack = policy.number("life.date_slack")
    first, last = watched(facts, policy)
    events, inferred = replaced(facts, policy)
    events = events.loc[(events["day"] >= first[events["valve"]]) & (events["day"] <= last[events["valve"]])]
    head, body = (np.floor(days(facts.valves[f"{part}_fitted"])) for part in ("head", "body"))
    head = np.where(np.abs(head - body) <= slack, body, np.where(head < body, np.nan, head))
    kept_up = _kept_up(events, head, slack)
    if not kept_up:
        head = np.full(len(head), np.nan)
    home = home_of(facts)
    home_body = _earliest(body, home)
    unlogged = _unlogged(events.loc[events["what"].eq("full")], body, first, last, slack)
    started = _earliest(np.where(unlogged, body, np.nan), home)
    new = unlogged | (started <= home_body)  # the whole home was fitted out while watched
    first = np.where(new, np.where(unlogged, body, started), first)
    events = events.loc[events["day"] > np.where(new, first, -np.inf)[events["valve"]]]
    also = np.flatnonzero(_unlogged(events, head, first, last, slack))
    events = _with_register_dates(events, also, head[also])
    return Timeline(first, last, new, head, body, home_body, events, inferred, kept_up)


def home_of(facts: Facts) -> Ints:
    """Return a number (valves,) for each valve's home and system, 0 on, whatever the order of rows."""
    numbers = facts.valves.groupby(["home_id", "system"], dropna=False).ngroup()
    return np.asarray(numbers, dtype=np.int64)


def _earliest(body: Floats, home: Ints) -> Floats:
    """Return the earliest of the days of each valve's home."""
    return np.asarray(pd.Series(body).groupby(home).transform("min"), dtype=float)


def _kept_up(events: pd.DataFrame, head: Floats, slack: float) -> bool:
    """Tell whether the register's head dates follow the log; else they say nothing of renewals before it either."""
    latest = events.loc[events["what"].ne("motor")].groupby("valve")["until"].max()
    if len(latest) < ENOUGH:
        return True
    return bool((head[latest.index] >= latest - slack).mean() >= 0.5)


def _unlogged(events: pd.DataFrame, dated: Floats, first: Floats, last: Floats, slack: float) -> Bools:
    """Tell the valves whose own date lies in the watched time, with no replacement near it in the log."""
    inside = (dated > first) & (dated <= last)
    own = dated[events["valve"]]
    near = (own >= events["day"] - slack) & (own <= events["until"] + slack)
    inside[events.loc[near, "valve"].unique()] = False
    return inside


def _with_register_dates(events: pd.DataFrame, valve: Ints, day: Floats) -> pd.DataFrame:
    """Add heads renewed in the watched time of which only the register tells: replaced for another reason."""
    extra = pd.DataFrame(
        {"valve": valve, "day": day, "until": day, "what": "head", "head_failed": False, "body_failed": False}
    ).astype(events.dtypes.to_dict())
    both = pd.concat([events.assign(logged=True), extra.assign(logged=False)], ignore_index=True)
    return both.sort_values(["valve", "day"], kind="stable", ignore_index=True)
