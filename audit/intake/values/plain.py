"""What needs no understanding: cells already in the form in which the audit writes them, read at once.

Each reader gives the values and marks the suspects, the cells that it leaves to the parsers.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
from pandas.api.types import infer_dtype

from audit.intake.values import arrow
from audit.intake.values.clock import UK, ZONED
from audit.intake.values.date_order import days
from audit.intake.values.date_text import FIXED
from audit.intake.values.missing import LONGEST
from audit.intake.values.numbers import PLAIN
from audit.intake.values.parsed import Asked, Bools, Times
from audit.intake.values.wording import counted

_ID: Final = r"^[A-Z0-9/_-]*[0-9][A-Z0-9/_-]*$"
_ISO: Final = r"^\d{4}-\d\d-\d\d(?:[ T]\d\d:\d\d(?::\d\d(?:\.\d{1,6})?)?)?$"
_ZONE: Final = r"^\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d(?:\.\d+)?(?:Z|[+-]\d\d:?\d\d)$"
_HIDDEN: Final = (
    r"^'[=+@\t\n-]|^\s|\s$|^#+$|_x000D_|[\x00-\x08\x0b-\x1f\x7f-\x{9f}\x{a0}\x{ad}\x{2000}-\x{200f}\x{202a}-\x{202f}"
    r"\x{205f}\x{2060}\x{2066}-\x{2069}\x{3000}\x{feff}\x{fffe}\x{ffff}]"
)
_LOOK: Final = 1000  # first cells that tell which form to try
_SAMPLE: Final = 20_000  # rows looked at, evenly spread
_MOSTLY: Final = 0.5  # from this share of distinct texts in the sample on, it pays to read row by row


@dataclass
class Plain:
    """Values of the plain cells, in the column's type; `suspects` are the cells still to be parsed."""

    values: Any
    suspects: Bools
    said: list[str] = field(default_factory=list)


def read_plain(raw: pd.Series[Any], asked: Asked) -> Plain | None:
    """Read the plain cells of a column of text, or of real dates; None where `parse` is quicker without."""
    column = asked.column
    if raw.dtype == object and column.kind in ("date", "time"):
        return _real_dates(raw, asked)
    if not isinstance(raw.dtype, pd.StringDtype) or column.name in ("uprn", "postcode", "body_size_mm"):
        return None
    if column.words is not None:
        return _words(raw, asked)
    if column.kind == "text":
        return _texts(raw, asked)
    if not _mostly_distinct(raw):
        return None  # reading each distinct text once is faster
    if column.kind == "id":
        return _texts(raw, asked)
    if column.kind == "number":
        return None if asked.header_unit else _numbers(arrow.texts(raw), asked)
    return _dates(arrow.texts(raw), asked) if column.kind in ("date", "time") else None


def _real_dates(raw: pd.Series[Any], asked: Asked) -> Plain | None:
    """A column that holds nothing but dates and empty cells."""
    if infer_dtype(raw, skipna=True) not in ("datetime", "date"):
        return None
    try:
        times = pd.to_datetime(raw)
    except ValueError:  # some with a zone, some without
        return None
    if times.dt.tz is not None:
        return None
    return _checked(Plain(times.to_numpy("datetime64[us]"), np.zeros(len(raw), dtype=bool)), asked)


def _mostly_distinct(raw: pd.Series[Any]) -> bool:
    sample = raw.iloc[:: max(1, len(raw) // _SAMPLE)].dropna()
    return bool(sample.nunique() >= _MOSTLY * len(sample))


def _words(raw: pd.Series[Any], asked: Asked) -> Plain | None:
    """The allowed words, written as they are; None where most cells are something else."""
    array = arrow.texts(raw)
    known = arrow.among(array, list(asked.column.words or ()))
    suspects = ~known & ~_null(array)
    if 2 * int(suspects.sum()) > int(known.sum()):
        return None
    return Plain(arrow.column(_without(array, suspects)).array, suspects)


def _texts(raw: pd.Series[Any], asked: Asked) -> Plain:
    array = arrow.texts(raw)
    empty = _null(array)
    if asked.column.kind == "id":
        suspects = ~arrow.matches(array, _ID) & ~empty
    else:
        suspects = (arrow.short(array, LONGEST) | _hides(array)) & ~empty
    return Plain(arrow.column(_without(array, suspects)).array, suspects)


def _hides(array: Any) -> Bools:
    """True where a text holds something that cannot be seen, or that only seems to be text."""
    odd = ~arrow.printable(array)  # nearly no text: the pattern is slow, plain looks are quick
    found = np.zeros(len(odd), dtype=bool)
    found[odd] = arrow.matches(array.filter(pa.array(odd)), _HIDDEN)
    for look, sign in ((pc.starts_with, " "), (pc.ends_with, " "), (pc.match_substring, "_x000D_")):
        found |= arrow.true(look(array, sign))
    for sign in ("'", "#"):
        first = arrow.true(pc.starts_with(array, sign))
        if first.any():
            found[first] |= arrow.matches(array.filter(pa.array(first)), _HIDDEN)
    return found


def _without(array: Any, suspects: Bools) -> Any:
    return pc.if_else(pa.array(suspects), pa.scalar(None, array.type), array) if suspects.any() else array


def _null(array: Any) -> Bools:
    return np.asarray(array.is_null().to_numpy(zero_copy_only=False), dtype=bool)


def _numbers(array: Any, asked: Asked) -> Plain:
    plain = arrow.matches(array, PLAIN)
    values = arrow.floats(pc.if_else(pa.array(plain), array, pa.scalar(None, array.type)))
    low, high = asked.column.low, asked.column.high
    out = (values < (-math.inf if low is None else low)) | (values > (math.inf if high is None else high))
    if asked.column.whole:
        out |= values != np.floor(values)
    suspects = ~plain & ~_null(array) | (plain & out)
    return Plain(np.where(suspects, np.nan, values), suspects)


def _dates(array: Any, asked: Asked) -> Plain | None:
    found = _zoned(array, asked) or _iso(array) or _day_first(array)
    return None if found is None else _checked(found, asked)


def _checked(found: Plain, asked: Asked) -> Plain:
    """Leave to the parsers what lies outside the plausible years, and in a `date` column what has a time of day."""
    low, high = (int(asked.policy.number(f"intake.{name}")) for name in ("earliest_year", "latest_year"))
    start, end = (np.datetime64(dt.datetime(year, 1, 1), "us") for year in (low, high + 1))
    there = ~np.isnat(found.values)
    found.suspects |= there & ((found.values < start) | (found.values >= end))
    if asked.column.kind == "date":
        midnight = found.values.astype("datetime64[D]").astype("datetime64[us]")
        found.suspects |= there & (midnight != found.values)
    found.values = np.where(found.suspects, np.datetime64("NaT", "us"), found.values)
    return found


def _iso(array: Any) -> Plain | None:
    """ISO dates and times without a zone; None where none is, or where one of them is no date that exists."""
    first = arrow.matches(array.drop_null()[:_LOOK], _ISO)
    if not first.any():
        return None
    try:
        if first.all():
            return Plain(_cast(array, pa.timestamp("us")), np.zeros(len(array), dtype=bool))
    except pa.ArrowInvalid:
        pass  # some are of another form: look at each
    iso = arrow.matches(array, _ISO)
    try:
        values = _cast(pc.if_else(pa.array(iso), array, pa.scalar(None, array.type)), pa.timestamp("us"))
    except pa.ArrowInvalid:
        return None
    return Plain(values, ~iso & ~_null(array))


def _zoned(array: Any, asked: Asked) -> Plain | None:
    """ISO times that all have a zone: the clock in the UK, said."""
    if not arrow.matches(array.drop_null()[:1], _ZONE).any():
        return None
    try:
        utc = pd.DatetimeIndex(_cast(array, pa.timestamp("us", "UTC")))
    except pa.ArrowInvalid:
        return None
    values = utc.tz_localize("UTC").tz_convert(UK).tz_localize(None).to_numpy("datetime64[us]").copy()
    times = counted(int((~np.isnat(values)).sum()), "time")
    return Plain(values, np.zeros(len(values), dtype=bool), [f"{asked.name}: {times} {ZONED}."])


def _cast(array: Any, unit: Any) -> Times:
    cast = pc.cast(array.cast(pa.string()), unit)
    return np.array(cast.cast(pa.timestamp("us")).to_numpy(zero_copy_only=False), dtype="datetime64[us]")


def _day_first(array: Any) -> Plain | None:
    """02/01/2008 with or without a time, where the column proves that the day comes first and has no other form."""
    null = _null(array)
    fixed = arrow.matches(array, FIXED)
    if not fixed.any() or not (fixed | null).all():
        return None
    found = array.filter(pa.array(fixed))
    day, month, year = (arrow.ints(arrow.slices(found, a, b)) for a, b in ((0, 2), (3, 5), (6, 10)))
    if day.max() <= 12 or month.max() > 12:
        return None
    hour, minute, second = (arrow.ints(arrow.slices(found, a, a + 2)) for a in (11, 14, 17))
    dates = days(year, month, day)
    if np.isnat(dates).any() or hour.max() > 23 or minute.max() > 59 or second.max() > 59:
        return None
    values = np.full(len(array), np.datetime64("NaT", "us"))
    seconds = ((hour * 60 + minute) * 60 + second).astype("timedelta64[s]")
    values[fixed] = dates.astype("datetime64[us]") + seconds
    return Plain(values, np.zeros(len(array), dtype=bool))
