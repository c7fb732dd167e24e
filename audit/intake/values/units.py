"""Units as people write them, and the way from one to another."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from audit.intake.values.parsed import Floats


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: what it measures, and base = value × factor + offset."""

    name: str
    measures: str
    factor: float = 1.0
    offset: float = 0.0


# the inch is 25.4 mm and the foot 0.3048 m exactly (international yard, 1959); °C = (°F − 32) × 5/9
UNITS: Final = (
    (Unit("mm", "length", 0.001), "mm mms millimetre millimetres millimeter millimeters m/m"),
    (Unit("cm", "length", 0.01), "cm cms centimetre centimetres centimeter centimeters"),
    (Unit("m", "length"), "m metre metres meter meters mtr mtrs mts"),
    (Unit("inches", "length", 0.0254), "in ins inch inches \" '' ” ″ “ ′′ ’’"),
    (Unit("feet", "length", 0.3048), "ft fts foot feet ' ′ ’"),
    (Unit("yards", "length", 0.9144), "yd yds yard yards"),
    (Unit("°C", "temperature"), "°c c degc degsc degreec degreesc celsius degcelsius degreescelsius centigrade ℃ oc"),
    (Unit("°C", "temperature"), "° deg degs degree degrees degreescentigrade"),
    (Unit("°F", "temperature", 5 / 9, -160 / 9), "°f f degf degsf degreef degreesf fahrenheit degreesfahrenheit ℉ of"),
    (Unit("K", "temperature", 1.0, -273.15), "k kelvin °k"),
    (Unit("h", "work time"), "h hr hrs hour hours hr(s hour(s"),
    (Unit("minutes", "work time", 1 / 60), "m min mins minute minutes min(s ' ′"),
    (Unit("seconds", "work time", 1 / 3600), "s sec secs second seconds"),
    (Unit("days", "calendar time"), "d day days day(s calendardays"),
    (Unit("weeks", "calendar time", 7.0), "w wk wks week weeks week(s"),
    (Unit("GBP", "money"), "£ gbp pound pounds ukp sterling poundssterling £gbp gbp£"),
    (Unit("pence", "money", 0.01), "p pence penny"),
    (Unit("A", "current"), "a amp amps ampere amperes amp(s"),
    (Unit("mA", "current", 0.001), "ma milliamp milliamps"),
    (Unit("V", "voltage"), "v volt volts vac vdc vrms volt(s voltsac acvolts v~ acv"),
    (Unit("kV", "voltage", 1000.0), "kv"),
    (Unit("$", "other money"), "$ usd dollars"),
    (Unit("€", "other money"), "€ eur euro euros"),
    (Unit("%", "share"), "% percent pc"),
    (Unit("W", "power"), "w watt watts"),
    (Unit("kW", "power", 1000.0), "kw"),
    (Unit("bar", "pressure"), "bar bars"),
)
_MEASURED: Final = {(word, unit.measures): unit for unit, words in UNITS for word in words.split()}
_ANY: Final = {word: unit for unit, words in reversed(UNITS) for word in words.split()}
# what may stand behind a plain count
COUNTED: Final = frozenset(
    [
        *("port", "ports", "way", "ways", "wire", "wires", "core", "cores", "coreflex"),
        *("x", "off", "no", "nos", "pcs", "piece", "pieces", "ea", "each", "unit", "units", "items"),
    ]
)


def column_unit(name: str) -> Unit | None:
    """The unit that a column's record names; None for plain counts."""
    return next((unit for unit, _ in UNITS if unit.name == name), None)


def spelt(text: str) -> str:
    """A unit as written, in one spelling: small letters, one degree sign, no blanks, stops or brackets around it."""
    text = "".join(text.lower().split()).replace("â", "").replace("º", "°").replace("˚", "°")  # â: a text file misread
    return text.replace(".", "").strip("()[],;:-_")


def find(text: str, wanted: Unit | None) -> Unit | None:
    """The unit that a text names, among those that measure the same as `wanted` first; None if it names none."""
    word = spelt(text)
    measured = _MEASURED.get((word, wanted.measures)) if wanted else None
    return measured or _ANY.get(word)


def convert(values: Floats, unit: Unit, to: Unit) -> Floats:
    """Values in `unit` as values in `to`, to six decimals; both must measure the same."""
    if unit == to:
        return values
    return np.asarray(np.round((values * unit.factor + unit.offset - to.offset) / to.factor, 6), dtype=np.float64)


def convert_one(value: float, unit: Unit, to: Unit) -> float:
    """One value, as `convert` does."""
    return float(convert(np.array([value]), unit, to)[0])
