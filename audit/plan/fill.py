"""Filling the teams' weeks: ranked visits, each into the earliest week of a suitable team with room."""

from __future__ import annotations

import datetime as dt
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

Whole = npt.NDArray[np.int64]

NOWHERE: Final = -1
_CRUMB: Final = 1e-9  # hours: sums of decimal hours may miss by this much


def usable(capacity: pd.DataFrame, start: dt.date, weeks: int) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Return the slots (team, patch, week_starting, hours) inside the quarter, by week, and what has to be said.

    Rows of one team, patch and week are added up. Weeks that start outside the quarter, or hold no hours, are left
    out and said.
    """
    begins = pd.Timestamp(start)
    ends = begins + pd.Timedelta(weeks=weeks)
    quarter = f"{begins:%-d %B %Y} to {ends - pd.Timedelta(days=1):%-d %B %Y}"
    inside = capacity["week_starting"].ge(begins) & capacity["week_starting"].lt(ends)
    rows = capacity.loc[inside & capacity["hours"].gt(0), ["team", "patch", "week_starting", "hours"]]
    slots = rows.groupby(["week_starting", "team", "patch"], dropna=False)["hours"].sum().reset_index()
    said = []
    if not inside.all():
        said.append(
            f"{(~inside).sum():,} of {len(inside):,} rows of capacity start outside the quarter, {quarter}, and were "
            "not used; correct week_starting or give --quarter-start."
        )
    if slots.empty:
        said.append(f"No team has hours in the quarter, {quarter}: no visit could be planned.")
    return slots.sort_values(["week_starting", "team", "patch"], kind="stable").reset_index(drop=True), tuple(said)


def fill(hours: npt.NDArray[np.float64], patches: pd.Series, slots: pd.DataFrame) -> Whole:
    """Return for each visit, in the order given, the place of its slot in `slots`, or `NOWHERE`.

    A visit goes into the earliest week with room for the whole of it, of a team that works its patch or has none; in
    the same week its own patch's team comes first, then the team's name. A home without a patch goes to any team.
    Where visits come shortest first, more hours never push one out.
    """
    room = slots["hours"].to_numpy(dtype=np.float64, copy=True)
    place = np.full(len(hours), NOWHERE, dtype=np.int64)
    lines = {patch: _line(slots, patch) for patch in patches.unique()}
    for visit, (needed, patch) in enumerate(zip(hours, patches, strict=True)):
        line = lines[patch]
        fits = room[line] >= needed - _CRUMB
        if fits.any():
            slot = line[fits.argmax()]
            room[slot] -= needed
            place[visit] = slot
    return place


def _line(slots: pd.DataFrame, patch: str | float) -> Whole:
    """Places of the slots open to a patch, in the order in which they are tried; a missing patch (NaN) to all."""
    own = slots["patch"].eq(patch).to_numpy() if isinstance(patch, str) else np.ones(len(slots), dtype=bool)
    anywhere = slots["patch"].isna().to_numpy()
    week = slots["week_starting"].rank(method="dense").to_numpy()
    order = np.lexsort((np.arange(len(slots)), ~own, week))
    return np.asarray(order[(own | anywhere)[order]], dtype=np.int64)
