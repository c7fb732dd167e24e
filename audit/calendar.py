"""Ages and periods by the calendar, England's bank holidays, working days, and the repair periods of SI 1994/133."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

if TYPE_CHECKING:
    from audit.policy import Policy

MONTHS_A_YEAR: Final = 12
WINTER_MONTHS: Final = (11, 12, 1, 2, 3, 4)  # SI 1994/133, Schedule: 1 November to 30 April, both days included

Days = npt.NDArray[np.datetime64]


def months_between(since: pd.Series, until: pd.Timestamp) -> pd.Series:
    """Months from each day to `until`: whole months by the calendar, then the part of the month begun.

    On an anniversary the answer is a whole number. A day that a month does not have (29 February, 31 November) is
    reached on the first of the next month, as for ages in England. Times of day are ignored.

    Args:
        since: Days, shape (n,); missing gives NaN.
        until: The day to which is counted.

    Returns:
        Months, shape (n,), negative where `since` is later than `until`.
    """
    known = since.notna().to_numpy()
    end = np.datetime64(until.date(), "D")
    days = np.where(known, since.to_numpy("datetime64[D]"), end)
    months = days.astype("datetime64[M]")
    day = (days - months).astype("int64")  # 0 is the first of the month
    last = end.astype("datetime64[M]")
    whole = (last - months).astype("int64") - (day > (end - last).astype("int64"))
    begun, ends = _same_day(months + whole, day), _same_day(months + whole + 1, day)
    count = whole + (end - begun).astype("int64") / (ends - begun).astype("int64")
    return pd.Series(np.where(known, count, np.nan), index=since.index)


def years_between(since: pd.Series, until: pd.Timestamp) -> pd.Series:
    """Years from each day to `until`; a whole number exactly on the anniversary. See `months_between`."""
    return months_between(since, until) / MONTHS_A_YEAR


def _same_day(months: Days, day: npt.NDArray[np.int64]) -> Days:
    first = months.astype("datetime64[D]")
    length = ((months + 1).astype("datetime64[D]") - first).astype("int64")
    return np.asarray(first + np.minimum(day, length))


def bank_holidays(years: Iterable[int]) -> frozenset[dt.date]:
    """England's bank holidays with Christmas Day and Good Friday, substitute days included."""
    import holidays

    return frozenset(holidays.country_holidays("GB", subdiv="ENG", years=sorted(set(years))))


def is_winter(reported: pd.Series) -> pd.Series:
    """True for 1 November to 30 April, by the day of the report (SI 1994/133, Schedule)."""
    winter: pd.Series = reported.dt.month.isin(WINTER_MONTHS)
    return winter


def repair_days(reported: pd.Series, policy: Policy) -> pd.Series:
    """Working days allowed to restore heating or hot water, by the season of the report (SI 1994/133, Schedule)."""
    allowed = np.where(
        is_winter(reported),
        policy.number("response.winter_working_days"),
        policy.number("response.summer_working_days"),
    )
    return pd.Series(allowed, index=reported.index)


def working_days(reported: pd.Series, done: pd.Series, extra: Iterable[dt.date] = ()) -> pd.Series:
    """The working day, counted from the day after the report as day 1, by whose end the job was done.

    Done on the day of the report is 0. Done on a day that is no working day counts as the working day after it, so
    that "more than n" says exactly "after the end of day n".

    Args:
        reported: Days of report, shape (n,).
        done: Days of completion, shape (n,), not before the report; missing gives NaN.
        extra: Days off besides weekends and England's bank holidays.
    """
    known = (reported.notna() & done.notna()).to_numpy()
    count = pd.Series(np.nan, index=reported.index)
    if not known.any():
        return count
    start, end = (s[known].to_numpy("datetime64[D]") for s in (reported, done))
    off = _days_off(start.min(), end.max(), extra)
    passed = np.busday_count(start + 1, end + 1, holidays=off)
    begun = (end > start) & ~np.is_busday(end, holidays=off)
    count[known] = np.asarray(passed + begun, dtype="float64")
    return count


def deadline(reported: pd.Series, days: pd.Series, extra: Iterable[dt.date] = ()) -> pd.Series:
    """The last day of the period of so many whole working days; the day after the report is day 1.

    Args:
        reported: Days of report, shape (n,); missing gives NaT.
        days: Working days allowed, shape (n,), at least 0; a part of a day is dropped.
        extra: Days off besides weekends and England's bank holidays.
    """
    known = reported.notna().to_numpy()
    due = np.full(len(reported), np.datetime64("NaT", "D"))
    if known.any():
        start = reported[known].to_numpy("datetime64[D]")
        count = np.floor(days[known].to_numpy("float64")).astype("int64")
        off = _days_off(start.min(), start.max() + 2 * int(count.max()) + 30, extra)
        after = np.busday_offset(start, count, roll="preceding", holidays=off)
        due[known] = np.maximum(after, start)  # zero days from a day off end on that day
    return pd.Series(due.astype("datetime64[us]"), index=reported.index)


def _days_off(first: np.datetime64, last: np.datetime64, extra: Iterable[dt.date]) -> Days:
    years = range(int(str(first)[:4]) - 1, int(str(last)[:4]) + 2)
    return np.array(sorted({*bank_holidays(years), *extra}), dtype="datetime64[D]")
