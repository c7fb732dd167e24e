"""Numbers that are not written as one row of digits: fractions, feet and inches, hours and minutes, words, ranges."""

from __future__ import annotations

import datetime as dt
import math
import re
from dataclasses import dataclass
from typing import Final

from audit.intake.values.units import COUNTED, Unit, convert_one, find, spelt


@dataclass(frozen=True, slots=True)
class Odd:
    """One such number: its value in the column's unit (None if bad), what was read, why it is bad."""

    value: float | None = None
    repair: str = ""
    bad: str = "this is not one number"
    own_unit: bool = True  # the value is in the column's unit already, whatever the header says


_FRACTION: Final = re.compile(r"^(?:(\d{1,2})[\s-]+)?(\d{1,2})\s?/\s?(\d{1,2})\s*(\D*)$")
_FEET: Final = re.compile(r"^(\d+)\s*(?:'|′|’|ft|feet|foot)\s*(\d+(?:\.\d+)?)\s*(?:\"|''|″|”|in|ins|inch|inches)?\.?$")
_CLOCK: Final = re.compile(r"^(\d{1,3}):(\d{2})(?::(\d{2}))?\s*(?:h|hrs?|hours?)?$")
_HOURS: Final = re.compile(r"^(\d{1,3})\s*(?:h|hrs?|hours?)\.?\s*(?:and|,)?\s*(\d{1,2})\s*(?:m|mins?|minutes?)?\.?$")
_SEVERAL: Final = re.compile(
    r"^\D{0,3}\d[\d.,]*\s*\D{0,6}\s*(?:-|to|/|x|×|&|and|or|,|;|\+)\s*\D{0,3}\d[\d.,]*\D{0,12}$"
)
_POWER: Final = re.compile(r"^[-+]?\d+(?:\.\d+)?e[-+]?\d{1,3}$")
_ONES: Final = {
    w: float(n)
    for n, w in enumerate(("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"))
}
# words that stand for a number, by column; common practice, no source
WORDS: Final = {
    "": {"nil": 0.0},
    "voltage_v": {"mains": 230.0, "mains voltage": 230.0, "mv": 230.0, "extra low voltage": 24.0, "elv": 24.0},
    "on_hand": {"out of stock": 0.0, "none in stock": 0.0},
    "lead_time_days": {"ex stock": 0.0, "in stock": 0.0, "stock": 0.0, "same day": 0.0, "next day": 1.0},
    "cost_gbp": {"no charge": 0.0, "n/c": 0.0, "free": 0.0, "foc": 0.0, "free of charge": 0.0},
    "hours": {"half an hour": 0.5, "an hour": 1.0, "half hour": 0.5, "quarter of an hour": 0.25},
}
TIMES: Final = "hours and minutes are read as decimal hours"


def read_odd(text: str, wanted: Unit | None, column: str) -> Odd:
    """Read one such number (small letters, no blanks around it) for a column that wants the unit `wanted`."""
    found = (
        _feet(text, wanted) or _fraction(text, wanted) or _work_time(text, wanted) or _in_words(text, wanted, column)
    )
    if found:
        return found
    if _POWER.match(text):
        return Odd(value=float(text), repair="a power of ten is read as a number", own_unit=False)
    if _SEVERAL.match(text):
        return Odd(bad="more than one number, or a range")
    return Odd()


def _feet(text: str, wanted: Unit | None) -> Odd | None:
    found = _FEET.match(text)
    inches = find("inches", wanted) if found else None
    if not found or not inches or not wanted or wanted.measures != inches.measures:
        return None
    value = convert_one(float(found[1]) * 12 + float(found[2]), inches, wanted)
    return Odd(value=value, repair=f"feet and inches are read as {value:g} {wanted.name}")


def _fraction(text: str, wanted: Unit | None) -> Odd | None:
    """Fractions in halves to sixteenths; of an inch in a column of lengths, unless a unit stands beside them."""
    found = _FRACTION.match(text)
    if not found or not wanted or int(found[3]) not in (2, 4, 8, 16):
        return None
    unit = (
        find(found[4], wanted) if spelt(found[4]) else find("inches", wanted) if wanted.measures == "length" else wanted
    )
    if unit is None or unit.measures != wanted.measures:
        return None
    value = convert_one(float(found[1] or 0) + float(found[2]) / float(found[3]), unit, wanted)
    return Odd(value=value, repair=f"{text} is read as {value:g} {wanted.name}")


def _work_time(text: str, wanted: Unit | None) -> Odd | None:
    if not wanted or wanted.measures != "work time":
        return None
    found = _CLOCK.match(text) or _HOURS.match(text)
    if not found or int(found[2]) > 59:
        return None
    seconds = int(found[3] or 0) if found.re is _CLOCK else 0
    return Odd(value=round(int(found[1]) + int(found[2]) / 60 + seconds / 3600, 6), repair=TIMES)


def _in_words(text: str, wanted: Unit | None, column: str) -> Odd | None:
    """One to ten, with their unit, and a few words of the trade."""
    value = WORDS[""].get(text, WORDS.get(column, {}).get(text))
    if value is not None:
        return Odd(value=value, repair=f"the words are read as {value:g}")
    first, _, rest = text.replace("-", " ").partition(" ")
    if first not in _ONES:
        return None
    unit = find(rest, wanted)
    if rest and unit is None and spelt(rest) not in COUNTED:
        return None
    value = _ONES[first]
    if unit and wanted:
        value = convert_one(value, unit, wanted) if unit.measures == wanted.measures else None
    return None if value is None else Odd(value=value, repair=f"the words are read as {value:g}", own_unit=bool(rest))


def hours_of(cell: object) -> float:
    """Hours of a time of day, a duration, or a duration stored as a date on day zero of the spreadsheet; else NaN."""
    if isinstance(cell, dt.datetime) and dt.datetime(1899, 12, 30) <= cell < dt.datetime(1900, 3, 1):
        zero = dt.datetime(1899, 12, 30) if cell < dt.datetime(1899, 12, 31) else dt.datetime(1899, 12, 31)
        cell = cell - zero
    if isinstance(cell, dt.time):
        cell = dt.timedelta(hours=cell.hour, minutes=cell.minute, seconds=cell.second)
    return round(cell / dt.timedelta(hours=1), 6) if isinstance(cell, dt.timedelta) else math.nan
