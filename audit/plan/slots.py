"""The hours there are: one slot a week, team and patch."""

from __future__ import annotations

import datetime as dt

import numpy as np
import numpy.typing as npt
import pandas as pd

Whole = npt.NDArray[np.int64]


def usable(capacity: pd.DataFrame, start: dt.date, weeks: int) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Return the slots (week_starting, team, patch, hours) inside the quarter, by week, and what has to be said.

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


def open_to(slots: pd.DataFrame, patch: str | float) -> Whole:
    """Places of the slots open to a patch, by week, its own team before one that goes anywhere.

    A home without a patch (NaN) is open to all.
    """
    own = slots["patch"].eq(patch).to_numpy() if isinstance(patch, str) else np.ones(len(slots), dtype=bool)
    anywhere = slots["patch"].isna().to_numpy()
    week = slots["week_starting"].rank(method="dense").to_numpy()
    order = np.lexsort((np.arange(len(slots)), ~own, week))
    return np.asarray(order[(own | anywhere)[order]], dtype=np.int64)


def longest(slots: pd.DataFrame, patches: pd.Series) -> pd.Series:
    """Return the hours of the longest week open to each patch; 0 where no team works it."""
    hours = slots["hours"].to_numpy()
    most = {patch: float(hours[open_to(slots, patch)].max(initial=0.0)) for patch in patches.unique()}
    return pd.Series([most[patch] for patch in patches], index=patches.index, dtype="float64")
