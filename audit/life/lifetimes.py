"""Lives of heads and bodies, built from the register and the log.

Each valve gives, for either part, one opening (from the first watched day to the part's first replacement, or to the
last watched day) and one later life for each replacement in the log. In the opening the part was already in place; how
old it was may be known from the register, or may not, because the register keeps only the last date.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from audit.life.grid import Floats
from audit.life.renewal import Unseen
from audit.life.season import Season, season_of
from audit.life.timeline import Timeline, timeline
from audit.life.watched import days
from audit.model import Facts
from audit.policy import Policy


@dataclass(frozen=True)
class PartLives:
    """Lives of one part in years on the season's clock; `valve` is the place in `facts.valves`.

    `openings`, one row a valve: valve; origin, the years from the first of such parts here to the first watched day,
    and age, the part's own age then (NaN: not known; equal: never renewed); span, the years until its first
    replacement or the last watched day; failed, how that span ended.
    `later`, one row a later life: valve, entered (age when first watched), ended (age at its end), failed, began (when
    its head or body went in, or its motor, on the clock).
    """

    openings: pd.DataFrame
    later: pd.DataFrame
    unseen: Unseen

    def sampled(self, every: int) -> PartLives:
        """Return the lives of every so-manieth valve."""
        openings, later = (frame.loc[frame["valve"] % every == 0] for frame in (self.openings, self.later))
        return replace(self, openings=openings, later=later)


@dataclass(frozen=True)
class Lives:
    """Lives of heads and bodies.

    `head_age`, `body_age` (valves,): age today of each head, or of the motor in it, and of each body, in years on the
    season's clock, NaN where not known. `first` (valves,): the clock on each valve's first watched day. `said`: what
    the reader must know.
    """

    head: PartLives
    body: PartLives
    head_age: Floats
    body_age: Floats
    season: Season
    first: Floats
    said: tuple[str, ...]


def lives(facts: Facts, policy: Policy) -> Lives:
    """Build all lives known on the as-of date, from the register and the log.

    A head's origin is the day its body went in, or where that was overwritten the earliest day among the bodies of its
    home. A body's origin is known only where it went in while watched; see `audit.life.homes` for the others.
    """
    line = timeline(facts, policy)
    kept = 1 - policy.number("life.motor_share")
    failed = line.events.loc[line.events["head_failed"] | line.events["body_failed"], "day"].to_numpy(float)
    closed = line.last.max(initial=0.0)
    opened = line.first.min(initial=closed)
    season = season_of(failed, opened, closed, policy.number("life.even_season"))
    now = season.years(days(pd.Series([facts.as_of])))[0]
    head_age, body_age = (now - season.years(days(facts.valves[f"{part}_since"])) for part in ("head", "body"))
    line = _on_clock(line, season, policy.number("repeats.long_window"))
    return Lives(
        head=_heads(line, kept),
        body=_bodies(line),
        head_age=np.fmin(head_age, now - _motor_began(line, kept)),
        body_age=body_age,
        season=season,
        first=line.first,
        said=_said(line),
    )


def _on_clock(line: Timeline, season: Season, window: float) -> Timeline:
    """Turn days into years on the season's clock, and add to each event `clear`, when its repeat window ends."""
    events = line.events.assign(clear=line.events["until"] + window)
    for name in ("day", "until", "clear"):
        events[name] = season.years(events[name].to_numpy(float))
    first, last, head, body, home = map(season.years, (line.first, line.last, line.head, line.body, line.home_body))
    return replace(line, events=events, first=first, last=last, head=head, body=body, home_body=home)


def _heads(line: Timeline, kept: float) -> PartLives:
    events, first = line.events, line.first
    motor_first = events.drop_duplicates("valve").loc[lambda rows: rows["what"].eq("motor"), "valve"]
    head = line.head.copy()
    head[motor_first] = np.nan  # whether such a head's date still stands depends on what failed later
    origin = np.where(line.body <= first, line.body, line.home_body)
    openings = _openings(events, line, origin, head, "head_failed")
    years = max((line.last - first).sum(), 1.0)
    return PartLives(openings, _later(events, line.last, "head_failed", kept), _unseen_heads(events, kept, years))


def _bodies(line: Timeline) -> PartLives:
    whole = line.events.loc[line.events["what"].eq("full")]
    began = np.where(line.new, line.first, np.nan)
    openings = _openings(whole, line, began, np.where(line.new, began, line.body), "body_failed")
    return PartLives(openings, _later(whole, line.last, "body_failed", 0.0), Unseen())


def _unseen_heads(events: pd.DataFrame, kept: float, years: float) -> Unseen:
    """Take what the log shows of heads for what happened before it."""
    failures = max(events["head_failed"].sum(), 1)
    motor, whole = ((events["head_failed"] & events["what"].eq(what)).sum() / failures for what in ("motor", "full"))
    other = (~events["head_failed"] & events["what"].eq("head")).sum() / years
    return Unseen(float(motor), kept, float(other), float(whole))


def _openings(events: pd.DataFrame, line: Timeline, origin: Floats, fitted: Floats, failed: str) -> pd.DataFrame:
    """Return the opening of every valve; see `PartLives`. Days that lie in the watched time were overwritten."""
    first = line.first
    earliest = events.drop_duplicates("valve").set_index("valve")
    until = line.last.copy()
    until[earliest.index] = earliest["day"]
    ended = np.zeros(len(first), dtype=bool)
    ended[earliest.index] = earliest[failed]
    return pd.DataFrame(
        {
            "valve": np.arange(len(first)),
            "origin": first - np.where(origin <= first, origin, np.nan),
            "age": first - np.where(fitted <= first, fitted, np.nan),
            "span": until - first,
            "failed": ended,
        }
    )


def _later(events: pd.DataFrame, last: Floats, failed: str, kept: float) -> pd.DataFrame:
    """Return the life that each replacement began, up to the valve's next one or the last watched day.

    It is watched from the end of the repeat window on, as what fails within it counts as the same fault. A new motor
    keeps a share of its head's age. Left out, as whether it is known depends on what failed later, is the life of a
    motor in a head that was there before the first watched day, and of a head of which only the register tells.
    """
    of_valve = events.groupby("valve")
    until = of_valve["day"].shift(-1).fillna(pd.Series(last[events["valve"]], index=events.index))
    motor = events["what"].eq("motor")
    head_began = events["until"].where(~motor).groupby(events["valve"]).ffill()
    began = (kept * (events["day"] - head_began)).where(motor, 0.0)
    table = pd.DataFrame(
        {
            "valve": events["valve"],
            "entered": began + events["clear"] - events["until"],
            "ended": began + until - events["until"],
            "failed": of_valve[failed].shift(-1).eq(True),
            "began": events["until"],
        }
    )
    return table.loc[(table["ended"] > table["entered"]) & events["logged"]].reset_index(drop=True)


def _motor_began(line: Timeline, kept: float) -> Floats:
    """Return for each valve whose latest replacement was a motor the time on the clock when such a motor was new."""
    events = line.events
    own = events["until"].where(events["what"].ne("motor")).groupby(events["valve"]).ffill().to_numpy(float)
    known = np.where(line.head <= line.first, line.head, np.nan)[events["valve"]]
    latest = events.assign(own=np.where(np.isnan(own), known, own)).drop_duplicates("valve", keep="last")
    latest = latest.loc[latest["what"].eq("motor")]
    began = np.full(len(line.head), np.nan)
    began[latest["valve"]] = latest["until"] - kept * (latest["day"] - latest["own"])
    return began


def _said(line: Timeline) -> tuple[str, ...]:
    told = []
    if line.inferred:
        told.append(
            f"{line.inferred} replacements in the log do not name their valve; for the fit of lives it was taken from "
            "the register's dates, else from the symptom, else by lot among the home's valves."
        )
    if not line.kept_up:
        told.append(
            "The register's head dates do not follow the replacements in the log, so they were left out of the fit of "
            "lives; renewals before the log are inferred from the body's date."
        )
    return tuple(told)
