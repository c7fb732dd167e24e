"""Work longer than any week of its teams: taken apart into stretches, which go into weeks in a row of one team."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from audit.plan.former import Wishes
from audit.plan.problem import CRUMB, NOWHERE
from audit.plan.windows import Windows

SHORTEST = 1.0  # hours of a week that are worth beginning such work in


def taken_apart(work: pd.DataFrame, room: pd.Series, own: float) -> pd.DataFrame:
    """Return the jobs, each one that is longer than its teams' longest week as several rows: its stretches.

    Args:
        work: Jobs with `trip`; see `audit.plan.split.in_trips`.
        room: Hours that the longest visit to each home may take, by home_id; missing means any.
        own: Hours of the visit itself, at each coming.

    Returns:
        The jobs, renumbered, with `stretch` and `stretches` (1 and 1 for a whole one). All stretches but the last fill
        the longest week. Hours, cost, benefit and further people's labour are shared by hours; parts go with the first.
    """
    most = (room.reindex(work["home_id"]).to_numpy(dtype=np.float64) - own).round(4)
    alone = work.groupby(["home_id", "trip"])["home_id"].transform("size").eq(1).to_numpy()
    hours = work["hours"].to_numpy(dtype=np.float64)
    long = alone & (most >= SHORTEST) & (hours > most + CRUMB)
    count = np.where(long, np.ceil((hours - CRUMB) / np.where(long, most, 1.0)), 1).astype(np.int64)
    if not long.any():
        return work.assign(stretch=1, stretches=1)
    at = np.repeat(np.arange(len(work)), count)
    rows = work.iloc[at].reset_index(drop=True)
    stretch = pd.Series(at).groupby(at).cumcount().to_numpy() + 1
    last, whole = stretch == count[at], count[at] == 1
    takes = np.where(last, hours[at] - most[at] * (stretch - 1), most[at])
    takes = np.where(whole, hours[at], takes)
    share = takes / np.where(hours[at] > 0, hours[at], 1.0)
    share = np.where(whole, 1.0, share)
    later = pd.Series(stretch > 1)
    after = rows.groupby("home_id")["trip"].transform("max") + later.groupby(rows["home_id"]).cumsum()
    told = [
        "" if n == 1 else f" Part {part} of {n}: goes on {'from the week before' if part == n else 'in the next week'}."
        for part, n in zip(stretch.tolist(), count[at].tolist(), strict=True)
    ]
    return rows.assign(
        stretch=stretch,
        stretches=count[at],
        hours=takes.round(4),
        cost_gbp=(rows["cost_gbp"] * share).round(2),
        benefit_gbp=(rows["benefit_gbp"] * share).round(2),
        more_gbp=rows["more_gbp"] * share,
        trip=rows["trip"].where(~later, after).astype("int64"),
        begun=rows["trip"],
        parts=rows["parts"].mask(later, "").astype("str"),
        what=(rows["what"].astype("str") + pd.Series(told, index=rows.index, dtype="str")).astype("str"),
    )


def in_a_row(visits: pd.DataFrame, wished: Wishes, slots: pd.DataFrame, there: Windows, travel: float) -> Wishes:
    """Give the stretches of one piece of work weeks in a row of one team; none where there are none with the hours.

    Args:
        visits: The visits, ranked, with stretch, stretches and begun (the home's visit that it began with).
        wished: What the planner settled; that comes first.
        slots: The slots, as `audit.plan.slots.usable` gives them.
        there: Windows of the visits.
        travel: Hours that a slot spends for each area; counted for each stretch, to be on the safe side.
    """
    parts = visits.loc[visits["stretches"].gt(1) & ~wished.barred]
    if parts.empty:
        return wished
    week = ((slots["week_starting"] - pd.Timestamp(there.weeks[0])).dt.days // 7).to_numpy()
    room = _left(wished, slots, there, week, travel)
    chosen, split = wished.slot.copy(), wished.split.copy()
    for _, rows in parts.groupby(["home_id", "begun"], sort=False):
        at = rows.sort_values("stretch", kind="stable").index.to_numpy()
        chosen[at] = NOWHERE
        found = _row(at, rows["patch"].iloc[0], slots, week, room, there, travel)
        split[at] = not found
        for visit, slot in zip(at.tolist(), found, strict=False):
            chosen[visit] = slot
            room[slot] -= there.hours[visit, week[slot]] + there.allowance[visit] + travel
    return replace(wished, slot=chosen, split=split)


def none_in_a_row(visits: pd.DataFrame, wished: Wishes) -> Wishes:
    """Leave all stretches out."""
    parts = visits["stretches"].gt(1).to_numpy() & ~wished.barred
    return replace(wished, slot=np.where(parts, NOWHERE, wished.slot), split=parts)


def _left(wished: Wishes, slots: pd.DataFrame, there: Windows, week: np.ndarray, travel: float) -> list[float]:
    """Hours that what is kept leaves of each slot."""
    room: list[float] = slots["hours"].tolist()
    for visit in np.flatnonzero(wished.slot != NOWHERE).tolist():
        slot = int(wished.slot[visit])
        room[slot] -= there.hours[visit, week[slot]] + there.allowance[visit] + travel
    return room


def _row(
    at: np.ndarray,
    patch: object,
    slots: pd.DataFrame,
    week: np.ndarray,
    room: list[float],
    there: Windows,
    travel: float,
) -> list[int]:
    """The first weeks in a row of a team that hold all stretches; its patch's own teams come first."""
    anywhere = slots["patch"].isna().to_numpy()
    own = slots["patch"].eq(patch).to_numpy() if isinstance(patch, str) else ~anywhere
    for start in range(len(there.weeks) - len(at) + 1):
        for mine in (own, anywhere):
            for team in slots["team"].loc[mine & (week == start)].tolist():
                run: list[int] = []
                for visit, of in zip(at.tolist(), range(start, start + len(at)), strict=True):
                    needs = there.hours[visit, of] + there.allowance[visit] + travel
                    fits = np.flatnonzero(mine & (week == of) & slots["team"].eq(team).to_numpy()).tolist()
                    run += [slot for slot in fits if there.allowed[visit, of] and needs <= room[slot] + CRUMB][:1]
                if len(run) == len(at):
                    return run
    return []
