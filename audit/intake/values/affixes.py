"""What stands around a number: signs, brackets, units, "about", VAT."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

from audit.intake.values.units import COUNTED, Unit, find, spelt


@dataclass(frozen=True, slots=True)
class Affix:
    """What the text around a number says: value = number × times + plus, in `unit` (None: none given)."""

    unit: Unit | None = None
    times: float = 1.0
    plus: float = 0.0
    repair: str = ""
    bad: str = ""
    mend: str = ""


_ABOUT: Final = re.compile(
    r"^(?:approx(?:imately)?|about|around|circa|ca|c|est|estimated|say|roughly)\.?\s+|^[~≈±]\s*|^c\."
)
_ABOUT_END: Final = re.compile(r"\s*(?:\?+|\(?\s*(?:approx|est|ish|or so|estimated|about)\.?\s*\)?)$")
_BOUND: Final = re.compile(
    r"^(?:[<>≤≥]=?|up to|over|under|above|below|min|max|less than|more than|at least|at most)\b|^[<>≤≥]"
)
_DIAMETER: Final = re.compile(r"^(?:[øØ⌀]|dia(?:meter)?\.?|od)\s*$")
_WITHOUT_VAT: Final = re.compile(
    r"\s*\(?\s*(?:\+|plus|ex|exc|excl|excluding|net of|nett?)\.?\s*(?:vat)\.?\s*\)?$|\s+nett?$"
)
_WITH_VAT: Final = re.compile(r"(?:inc|incl|including|with)\.?\s*vat|gross")
_PER: Final = re.compile(
    r"\s*(?:/|per|p/|an?)\s*(?:hr|hour|h|visit|each|ea|item|dose|call|unit|piece)s?\.?$|\s+(?:each|ea)\.?$"
)
_EARTH: Final = re.compile(r"^-?\s*(?:cores?|wires?|c)?\s*(?:\+|and|&|plus)\s*(?:e|earth|cpc)$")
ONE_VALUE: Final = "give one number, with its unit if it is another than the column's"


@lru_cache(maxsize=10_000)
def around(before: str, after: str, wanted: Unit | None, column: str) -> Affix:
    """Understand the text before and after a number (small letters) in a column that wants the unit `wanted`."""
    affix = Affix()
    before, after = before.strip().lstrip("'").strip(), after.strip()
    if _BOUND.match(before) or after == "+":
        return Affix(bad="this is a bound, not a value", mend=ONE_VALUE)
    if column == "wires" and _EARTH.match(after):
        return Affix(
            plus=1.0, repair="the earth is counted among the wires", mend="give the number of wires, earth included"
        )
    if wanted and wanted.measures == "length":
        before = _DIAMETER.sub("", before)
    before, after, affix = _about(before, after, affix)
    before, after, affix = _sign(before, after, affix)
    if wanted and wanted.measures == "money":
        before, after, affix = _money(before, after, affix)
    if affix.bad:
        return affix
    return _unit(before, after, wanted, affix)


def _about(before: str, after: str, affix: Affix) -> tuple[str, str, Affix]:
    rough = _ABOUT.sub("", before + " ", count=1).strip() if before else before
    clear = _ABOUT_END.sub("", after)
    if (rough, clear) == (before, after):
        return before, after, affix
    return rough, clear, replace(affix, repair="the value is given as approximate", mend="write the number alone")


def _sign(before: str, after: str, affix: Affix) -> tuple[str, str, Affix]:
    """Minus in front, behind, or as brackets; a credit."""
    reason = ""
    if before.startswith("(") and after.endswith(")") and "(" not in after:
        before, after, reason = before[1:].strip(), after[:-1].strip(), "brackets are read as a minus sign"
    elif after in ("-", "cr") or re.fullmatch(r"-\s*£?", after):
        after, reason = after.strip("-cr "), "a minus sign or CR behind the number makes it negative"
    elif before.startswith("-"):
        return before[1:].strip(), after, replace(affix, times=-affix.times)
    if not reason:
        return before.lstrip("+").strip(), after, affix
    return before, after, replace(affix, times=-affix.times, repair=reason, mend="write a minus sign before the number")


def _money(before: str, after: str, affix: Affix) -> tuple[str, str, Affix]:
    if _WITH_VAT.search(after) or _WITH_VAT.search(before):
        return before, after, replace(affix, bad="the amount includes VAT", mend="give the amount without VAT")
    after = _PER.sub("", _WITHOUT_VAT.sub("", after)).removesuffix("/-").strip()
    if after == "k":
        note = "k is read as thousand"
        return before, "", replace(affix, times=affix.times * 1000, repair=note, mend="write the whole amount")
    return before, after, affix


def _unit(before: str, after: str, wanted: Unit | None, affix: Affix) -> Affix:
    """The unit before or behind the number; refuses units that measure something else, and any other words."""
    text = after or before
    if (before and after and spelt(before) != spelt(after)) or (before and find(before, wanted) is None):
        return _words(affix)
    word = spelt(text)
    if not word or (wanted is None and word in COUNTED):
        return affix
    unit = find(text, wanted)
    if unit is None:
        return _words(affix)
    if wanted is None or unit.measures != wanted.measures:
        wants = f"the column holds {wanted.name}" if wanted else "the column holds plain numbers"
        return replace(affix, bad=f"the unit is {unit.name}; {wants}", mend=ONE_VALUE)
    return replace(affix, unit=unit)


def _words(affix: Affix) -> Affix:
    return replace(affix, bad="words stand beside the number", mend=ONE_VALUE)
