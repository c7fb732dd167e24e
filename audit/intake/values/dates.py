"""Dates and times of day: real dates, spreadsheet day numbers, text in any usual form, ages in years."""

from __future__ import annotations

import datetime as dt
from typing import Final

import numpy as np
import pandas as pd

from audit.intake.values import arrow, cells
from audit.intake.values.cells import Cells
from audit.intake.values.clock import ZONED, to_uk
from audit.intake.values.date_numbers import AGE, NO_TODAY, count_back, read_numbers
from audit.intake.values.date_order import settle
from audit.intake.values.date_text import Fields, read_dates
from audit.intake.values.parsed import Asked, Bools, Ints, Judged, Notes, Times
from audit.intake.values.wording import WRITE_DATE, WRITE_TIME, counted

NAT: Final = np.datetime64("NaT", "us")
_ENOUGH: Final = 5  # by chance, five dates all fall on days 1 to 12 once in a hundred times
NO_YEAR: Final = (
    r"^\D{0,12}(?:\d{1,2}(?:st|nd|rd|th)?[\s/-]+(?:of\s+)?(?:[01]?\d|(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*)"
    r"|(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\s+\d{1,2}(?:st|nd|rd|th)?)\.?\s*$"
)
NUMERIC: Final = r"^\s*'?(?:[1-9]\d*(?:\.\d+)?|0\d{7})\s*$"
SIX: Final = r"^\s*'?\d{6}(?:\.0)?\s*$"


def judge_dates(found: Cells, asked: Asked) -> Judged:
    """Dates (datetime64[us]; midnight in a `date` column) of the distinct cells, in every form that is understood."""
    judged = Judged(np.full(len(found), NAT), Notes(len(found)), Notes(len(found)))
    _real_dates(found, judged, asked)
    numeric = found.of(cells.NUMBER) | (found.of(cells.TEXT) & arrow.matches(arrow.texts(found.text), NUMERIC))
    _numbers(found, numeric, judged, asked)
    text = np.flatnonzero(found.of(cells.TEXT) & ~numeric)
    _texts(found, text, judged, asked)
    only_time = found.of(cells.TIME) | found.of(cells.SPAN)
    judged.bad.add(only_time, "only a time of day, without its date", WRITE_TIME)
    six = arrow.matches(arrow.texts(found.text), SIX)
    judged.bad.add(six, "six digits may be day, month, year or year, month, day", WRITE_DATE)
    yearless = arrow.matches(arrow.texts(found.text.str.lower()), NO_YEAR) & np.isnat(judged.values)
    judged.bad.add(yearless, "the date has no year", WRITE_DATE)
    judged.bad.add(np.isnat(judged.values), "this is not a date", WRITE_DATE)
    _plausible(judged, asked)
    _finish(found, judged, asked)
    return judged


def _real_dates(found: Cells, judged: Judged, asked: Asked) -> None:
    where = found.of(cells.DATE)
    if not where.any():
        return
    zoned = np.array([getattr(cell, "tzinfo", None) is not None for cell in found.raw[where]], dtype=bool)
    naive = found.raw[where]
    naive[zoned] = [cell.astimezone(dt.UTC).replace(tzinfo=None) for cell in naive[zoned]]
    times: Times = pd.to_datetime(pd.Series(naive)).to_numpy("datetime64[us]")
    judged.values[where] = to_uk(times, np.where(zoned, 0.0, np.nan))
    if zoned.any():
        judged.said.append(f"{asked.name}: {counted(int(found.count[where][zoned].sum()), 'time')} {ZONED}.")
    early = where.copy()
    early[where] = judged.values[where] < np.datetime64("1904-01-03", "us")  # a time of day, stored on day zero
    judged.bad.add(early, "only a time of day, without its date", WRITE_TIME)


def _numbers(found: Cells, where: Bools, judged: Judged, asked: Asked) -> None:
    if not where.any():
        return
    numbers = pd.to_numeric(found.text[where].str.strip(" '\t\r\n")).to_numpy(dtype=np.float64)
    read = read_numbers(numbers, found.count[where], asked)
    judged.values[where] = read.values
    judged.bad.lay(read.bad, where)
    judged.repaired.lay(read.repaired, where)
    judged.said += read.said


def _texts(found: Cells, at: Ints, judged: Judged, asked: Asked) -> None:
    if not len(at):
        return
    text = found.text.iloc[at].reset_index(drop=True)
    fields = read_dates(text, asked.policy.number("intake.two_digit_year"))
    day, said = settle(fields, found.count[at], asked)
    times = day.astype("datetime64[us]") + fields.micros.astype("timedelta64[us]")
    judged.values[at] = to_uk(times, fields.zone)
    judged.said += said
    judged.bad.lay(fields.bad, at)
    judged.repaired.lay(fields.repaired, at)
    _ages(text, at, judged, asked)
    judged.said += _swapped(found, fields, found.count[at], judged, asked)
    impossible = at[(fields.year > 0) & (fields.month > 0) & np.isnat(day)]  # no month: a word, and no date at all
    judged.bad.add(impossible, "no such day in the calendar", WRITE_DATE)
    zoned = int(found.count[at][np.isfinite(fields.zone)].sum())
    if zoned:
        judged.said.append(f"{asked.name}: {counted(zoned, 'time')} {ZONED}.")


def _swapped(found: Cells, fields: Fields, count: Ints, judged: Judged, asked: Asked) -> list[str]:
    """Say where a spreadsheet seems to have made dates of some texts with day and month the wrong way round.

    It does so with those that fit its own order, and leaves the others as text: then every text proves its order, and
    every real date falls on one of the days 1 to 12.
    """
    larger, smaller = np.maximum(fields.day, fields.month), np.minimum(fields.day, fields.month)
    if (fields.loose & (larger <= 12) & (larger != smaller)).any():
        return []
    proved = int(count[fields.loose & (larger > 12)].sum())
    real = found.of(cells.DATE) & ~np.isnat(judged.values)
    months = judged.values[real].astype("datetime64[M]")
    day = (judged.values[real].astype("datetime64[D]") - months).astype(np.int64) + 1
    dates = int(found.count[real].sum())
    if min(proved, dates) < _ENOUGH or (day > 12).any():
        return []
    real_dates, text_dates = counted(dates, "real date"), counted(proved, "text date")
    return [
        f"{asked.name}: all {real_dates} fall on days 1 to 12, and none of {text_dates} could: the spreadsheet may "
        "have swapped day and month of the real dates; compare some with another record."
    ]


def _ages(text: pd.Series[str], at: Ints, judged: Judged, asked: Asked) -> None:
    """Ages in words, such as "5 years" or "18 months old"."""
    there, part = arrow.pieces(arrow.texts(text), AGE)
    aged = at[there]
    units = [text.lower().removesuffix("s") for text in part["unit"].to_pylist()]
    judged.values[aged] = count_back(arrow.floats(part["n"]), units, asked)
    if asked.as_today is None:
        judged.bad.add(aged, NO_TODAY, WRITE_DATE)
    judged.repaired.add(aged, f"an age, counted back from {asked.as_today}; the day is assumed", WRITE_DATE)


def _plausible(judged: Judged, asked: Asked) -> None:
    """Refuse years outside the policy's range."""
    low, high = (int(asked.policy.number(f"intake.{name}")) for name in ("earliest_year", "latest_year"))
    years: Ints = judged.values.astype("datetime64[Y]").astype(np.int64) + 1970
    out = ~np.isnat(judged.values) & ((years < low) | (years > high))
    reasons = [f"the year {year} is not plausible: dates from {low} to {high} are used" for year in years[out]]
    judged.bad.add(out, reasons, WRITE_DATE)


def _finish(found: Cells, judged: Judged, asked: Asked) -> None:
    """No value for bad cells; midnight in a `date` column, said where a time of day falls away."""
    judged.values[judged.bad.mask] = NAT
    if asked.column.kind != "date":
        return
    midnight = judged.values.astype("datetime64[D]").astype("datetime64[us]")
    timed = int(found.count[(midnight != judged.values) & ~np.isnat(midnight)].sum())
    if timed:
        judged.said.append(f"{asked.name}: {counted(timed, 'date')} with a time of day; only the day is used.")
    judged.values = midnight
