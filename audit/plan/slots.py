"""The hours there are: one slot a week, team and patch."""

from __future__ import annotations

import datetime as dt
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

Whole = npt.NDArray[np.int64]
DAYS: Final = 7  # of a week
WORKING_DAYS: Final = 5  # Monday to Friday
NAMED: Final = 10  # rows named in a sentence


def usable(
    capacity: pd.DataFrame, start: dt.date, weeks: int, patches: pd.Series | None = None
) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Return the slots (week_starting, team, patch, hours) inside the quarter, by week, and what has to be said.

    Rows of one team, patch and week are added up. A week that has begun when the quarter starts counts with its
    working days left, and the weeks of the quarter are counted from it. Weeks outside the quarter, and hours of a patch
    in which none of the homes lies (`patches`, one a home; a home without one may be anywhere), are left out. All of it
    is said.
    """
    capacity, begins, said = _rest_of_week(capacity, start)
    ends = begins + pd.Timedelta(weeks=weeks)
    quarter = f"{start:%-d %B %Y} to {ends - pd.Timedelta(days=1):%-d %B %Y}"
    inside = capacity["week_starting"].ge(begins) & capacity["week_starting"].lt(ends)
    has_homes = _with_homes(capacity["patch"], patches)
    rows = capacity.loc[inside & has_homes & capacity["hours"].gt(0), ["team", "patch", "week_starting", "hours"]]
    slots = rows.groupby(["week_starting", "team", "patch"], dropna=False)["hours"].sum().reset_index()
    said += [
        *_unused(capacity.loc[~inside], f"outside the quarter, {quarter}", "correct week_starting or --quarter-start"),
        *_unused(
            capacity.loc[inside & ~has_homes], "a patch in which no home lies", "correct patch, or leave it empty"
        ),
    ]
    if slots.empty:
        said.append(f"No team has hours in the quarter, {quarter}: no visit could be planned.")
    return slots.sort_values(["week_starting", "team", "patch"], kind="stable").reset_index(drop=True), tuple(said)


def _rest_of_week(capacity: pd.DataFrame, start: dt.date) -> tuple[pd.DataFrame, pd.Timestamp, list[str]]:
    """Cut the hours of weeks that have begun when the quarter starts to their working days left.

    Returns:
        The rows, the first day of the first such week (of the quarter where there is none), and what has to be said.
    """
    begins, left = pd.Timestamp(start), _left(capacity, start)
    rows = capacity["week_starting"].lt(begins) & left.gt(0) & capacity["hours"].gt(0)
    if not rows.any():
        return capacity, begins, []
    hours = (capacity["hours"] * left).round(2).where(rows, capacity["hours"])
    said = (
        f"{_where(capacity.loc[rows])}: the quarter starts within the week, on {begins:%A %-d %B %Y}; of "
        f"{capacity.loc[rows, 'hours'].sum():,.4g} h those of the working days left count, {hours[rows].sum():,.4g} h."
    )
    return capacity.assign(hours=hours), capacity.loc[rows, "week_starting"].min(), [said]


def _left(capacity: pd.DataFrame, start: dt.date) -> pd.Series[float]:
    """Share of each week's working days that is left from the quarter's start on."""
    weeks = capacity["week_starting"].to_numpy("datetime64[D]")
    left = np.busday_count(np.datetime64(start), weeks + DAYS) / WORKING_DAYS
    return pd.Series(np.clip(left, 0.0, 1.0), index=capacity.index)


def _with_homes(patch: pd.Series, patches: pd.Series | None) -> pd.Series[bool]:
    if patches is None or patches.isna().any():
        return pd.Series(True, index=patch.index)
    return patch.isna() | patch.isin(patches)


def _unused(rows: pd.DataFrame, what: str, mend: str) -> list[str]:
    """Say which rows of capacity are not used, why, and what mends them; nothing where there are none."""
    if rows.empty:
        return []
    return [f"{_where(rows)}: {what}; not used ({rows['hours'].sum():,.4g} h): {mend}."]


def _where(rows: pd.DataFrame) -> str:
    """File, sheet and rows, the first few named."""
    if "source_row" not in rows or rows["source_row"].isna().any():
        return f"{len(rows):,} {'row' if len(rows) == 1 else 'rows'} of capacity"
    told = []
    for (file, sheet), of in rows.groupby(["source_file", "source_sheet"], dropna=False, sort=True):
        numbers = [f"{number:.0f}" for number in of["source_row"].head(NAMED)]
        more = f" and {len(of) - NAMED:,} more" if len(of) > NAMED else ""
        place = f"{file}, sheet '{sheet}'" if isinstance(sheet, str) and sheet else str(file)
        told.append(f"{place}, {'row' if len(of) == 1 else 'rows'} {', '.join(numbers)}{more}")
    return "; ".join(told)


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
