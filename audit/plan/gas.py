"""Gas safety checks: when one may be done without losing its date, and what a visit has to know of it.

Source: Gas Safety (Installation and Use) Regulations 1998, regulation 36(3): a check at most every 12 months; and 36A:
one made within the two months that end with its due date counts as made on that date.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.repeats.text import short_day

MONTHS_EARLY, MONTHS_BETWEEN = 2, 12  # regulations 36A and 36(3)
NAMED: Final = 20  # homes named in a sentence
WEEKDAYS: Final = 5  # a visit of a week may fall on any of its working days

Days = npt.NDArray[np.datetime64]


def first_day(due: pd.Series) -> pd.Series:
    """The first day on which a check may be done and keep its due date: 11 June for one due on 10 August.

    A day that the month does not have is reached on the first of the next month, so that nothing is too early.
    """
    after = due.to_numpy("datetime64[D]") + 1
    month = after.astype("datetime64[M]")
    start = (month - MONTHS_EARLY).astype("datetime64[D]")
    length = ((month - MONTHS_EARLY + 1).astype("datetime64[D]") - start).astype("float64")
    day = (after - month.astype("datetime64[D]")).astype("float64")
    days = np.where(np.isnat(after), np.timedelta64("NaT", "D"), _whole(np.fmin(day, length)))
    return pd.Series((start + days).astype("datetime64[us]"), index=due.index)


def next_due(due: pd.Series, done: pd.Series) -> pd.Series:
    """When the check after this one is due: the old date a year on, or a year after the day it was done.

    The old date is kept where the check was done in the two months that end with it. 29 February becomes the 28th.
    """
    kept = done.ge(first_day(due)) & done.le(due)
    return done.mask(kept, due) + pd.DateOffset(months=MONTHS_BETWEEN)


def joins(due: pd.Series, weeks: Days) -> npt.NDArray[np.bool_]:
    """Whether every working day of a week lies in the check's two months; shape (visits, weeks)."""
    first, last = first_day(due).to_numpy("datetime64[D]"), due.to_numpy("datetime64[D]")
    monday = weeks.astype("datetime64[D]")
    return np.asarray((monday >= first[:, None]) & (monday + (WEEKDAYS - 1) <= last[:, None]))


def notes(due: pd.Series, week: pd.Series, as_of: pd.Timestamp) -> pd.Series:
    """Say what a visit in its week (NaT where left out) has to know of the check; empty where none is due near it."""
    first = first_day(due)
    day, can = short_day(due), short_day(first)
    note = pd.Series("", index=due.index, dtype="str")
    with_it = week.ge(first) & (week + pd.Timedelta(days=WEEKDAYS - 1)).le(due)
    note = note.mask(
        with_it, "joins the gas safety check: from " + can + " to " + day + " it keeps its due date (reg 36A)"
    )
    late = due.ge(as_of) & week.gt(due - pd.Timedelta(days=WEEKDAYS - 1))
    note = note.mask(late, "gas safety check due " + day + ", before this visit: it is done on its own, by its date")
    overdue = due.lt(as_of)
    return note.mask(overdue, "GAS SAFETY CHECK OVERDUE since " + day + ": arrange it now, apart from this plan")


def said(due: pd.Series, as_of: pd.Timestamp) -> tuple[str, ...]:
    """Say which homes' checks are overdue, the longest first; `due` has one date a home, by home_id."""
    overdue = due[due.lt(as_of)].sort_values(kind="stable")
    if overdue.empty:
        return ()
    homes = "1 home is" if len(overdue) == 1 else f"{len(overdue):,} homes are"
    named = "; ".join(f"{home} since {day:%-d %B %Y}" for home, day in overdue.head(NAMED).items())
    more = f"; and {len(overdue) - NAMED:,} more, in clean/homes.csv" if len(overdue) > NAMED else ""
    return (
        f"Gas safety checks: {homes} past the due date on {as_of:%-d %B %Y} ({named}{more}); arrange them at once. "
        "This plan moves no check past its date; an overdue one is done apart from it, never with one of its visits.",
    )


def _whole(days: npt.NDArray[np.float64]) -> npt.NDArray[np.timedelta64]:
    return np.nan_to_num(days).astype("int64").astype("timedelta64[D]")
