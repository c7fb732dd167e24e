"""Numbers with their units: every common way of writing one, converted to the column's unit and held to its bounds."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from audit.intake.values import arrow, cells
from audit.intake.values.affixes import ONE_VALUE, Affix, around
from audit.intake.values.cells import Cells
from audit.intake.values.odd_numbers import TIMES, hours_of, read_odd
from audit.intake.values.parsed import Asked, Bools, Floats, Ints, Judged, Notes
from audit.intake.values.pipes import nearest_pipe
from audit.intake.values.units import Unit, column_unit, convert, find
from audit.intake.values.wording import counted

PLAIN: Final = r"^[-+]?(?:\d+\.?\d*|\.\d+)$"
_THOUSANDS: Final = r"^[-+]?[1-9]\d{0,2}(?:(?:,\d{3})+|(?: \d{3})+)(?:\.\d+)?$"
_COMMA: Final = r"^[-+]?\d+,\d+$"  # and no thousands comma: 12,5
_DOTTED: Final = r"^[-+]?[1-9]\d{0,2}(?:(?:\.\d{3})+,\d+|(?:\.\d{3}){2,})$"  # 1.234,50
_AROUND: Final = r"^(?P<before>[^\d]*?)(?P<core>[-+]?(?:\d[\d,. ]*\d|\d|[.,]\d+)\.?)(?P<after>[^\d]*)$"
_FRACTIONS: Final = {"¼": "1/4", "½": "1/2", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_VULGAR: Final = {**{sign: f" {plain}" for sign, plain in _FRACTIONS.items()}, "⁄": "/"}
MEND: Final = "give one number"


@dataclass
class Work:
    """The numbers of one column on their way: `own` marks cells that carry a unit, `converted` counts them by unit."""

    found: Cells
    asked: Asked
    wanted: Unit | None
    judged: Judged
    own: Bools
    converted: Counter[str] = field(default_factory=Counter)

    @property
    def values(self) -> Floats:
        """The values so far; NaN where there is none."""
        values: Floats = self.judged.values
        return values


def judge_numbers(found: Cells, asked: Asked) -> Judged:
    """Numbers (float64) of the distinct cells in the column's unit."""
    judged = Judged(np.full(len(found), np.nan), Notes(len(found)), Notes(len(found)))
    work = Work(found, asked, column_unit(asked.column.unit), judged, np.zeros(len(found), dtype=bool))
    numeric = found.of(cells.NUMBER)
    judged.values[numeric] = found.raw[numeric].astype(np.float64)
    _texts(work)
    _clock_cells(work)
    _header(work)
    if asked.name == "body_size_mm":
        nearest_pipe(judged)
    judged.bad.add(~np.isfinite(judged.values), "this is not a number", MEND)
    _bounds(judged, asked)
    judged.values[judged.bad.mask] = np.nan
    for unit, count in work.converted.items():
        judged.said.append(f"{asked.name}: {counted(count, 'cell')} converted from {unit} to {asked.column.unit}.")
    return judged


def _texts(work: Work) -> None:
    at = np.flatnonzero(work.found.of(cells.TEXT))
    if not len(at):
        return
    text = _tidy(arrow.texts(work.found.text.iloc[at]))
    there, part = arrow.pieces(text, _AROUND)
    work.values[at[there]] = _cores(part["core"], at[there], work.judged)
    _affixes(part, at[there], work)
    _odd(text.filter(pa.array(~there)).to_pylist(), at[~there], work)


def _tidy(text: Any) -> Any:
    """Small letters, fractions in plain figures, plain blanks and dashes."""
    text = pc.utf8_lower(text)
    if arrow.matches(text, "[¼½¾⅛⅜⅝⅞⁄]").any():
        for sign, plain in _VULGAR.items():
            text = pc.replace_substring(text, sign, plain)
    text = arrow.replace(text, r"[\t\n\r\v\x{a0}\x{2007}\x{2009}\x{202f}\x{200b}\x{feff}]|\s\s+", " ")
    return pc.utf8_trim_whitespace(arrow.replace(text, "[‐‑‒–—−]", "-"))


def _cores(core: Any, at: Ints, judged: Judged) -> Floats:
    """The digits as numbers: plain, with thousands commas, with a decimal comma (said); NaN for any other pattern."""
    values = np.full(len(at), np.nan)
    plain = arrow.matches(core, PLAIN)
    values[plain] = arrow.floats(core.filter(plain))
    left = np.flatnonzero(~plain)
    other = core.filter(~plain)
    for pattern, drop, comma in ((_THOUSANDS, "[, ]", False), (_COMMA, "", True), (_DOTTED, "[.]", True)):
        there = arrow.matches(other, pattern)
        digits = arrow.replace(other.filter(there), drop, "") if drop else other.filter(there)
        values[left[there]] = arrow.floats(pc.replace_substring(digits, ",", "."))
        if comma:
            judged.repaired.add(at[left[there]], "the comma is read as the decimal point", "write a decimal point")
        left, other = left[~there], other.filter(~there)
    return values


def _affixes(part: dict[str, Any], at: Ints, work: Work) -> None:
    """Signs, units and remarks around the numbers, understood once for each distinct pair of texts."""
    bar = pa.scalar("\x1f", pa.large_string())
    pairs = pc.binary_join_element_wise(part["before"], part["after"], bar).dictionary_encode()
    codes = np.asarray(pairs.indices)
    order = np.argsort(codes, kind="stable")
    groups = np.split(order, np.cumsum(np.bincount(codes, minlength=len(pairs.dictionary)))[:-1])
    for pair, group in zip(pairs.dictionary.to_pylist(), groups, strict=False):
        before, _, after = pair.partition("\x1f")
        affix = around(before, after, work.wanted, work.asked.name)
        if affix != Affix():
            _apply(affix, at[group], work)


def _apply(affix: Affix, at: Ints, work: Work) -> None:
    judged = work.judged
    if affix.bad:
        judged.bad.add(at, affix.bad, affix.mend)
        return
    values = work.values[at] * affix.times + affix.plus
    if affix.repair:
        judged.repaired.add(at, affix.repair, affix.mend)
    if affix.unit and work.wanted:
        work.own[at] = True
        values = convert(values, affix.unit, work.wanted)
        if affix.unit != work.wanted:
            _say_converted(values, at, affix.unit.name, work)
    work.values[at] = values


def _say_converted(values: Floats, at: Ints, unit: str, work: Work) -> None:
    column_unit_name = work.asked.column.unit
    shown = work.found.text.iloc[at]
    reasons = [f"{text.strip()} is {value:g} {column_unit_name}" for text, value in zip(shown, values, strict=True)]
    work.judged.repaired.add(at, reasons, f"give the value in {column_unit_name}")
    work.converted[unit] += int(work.found.count[at].sum())


def _odd(texts: list[str], at: Ints, work: Work) -> None:
    """What is not one row of digits, read one distinct text at a time."""
    read = [read_odd(text or "", work.wanted, work.asked.name) for text in texts]
    good = np.array([odd.value is not None for odd in read], dtype=bool)
    for notes, where, reasons in (
        (work.judged.repaired, good, [odd.repair for odd in read]),
        (work.judged.bad, ~good, [odd.bad for odd in read]),
    ):
        notes.add(at[where], np.array(reasons, dtype=object)[where], ONE_VALUE)
    work.values[at[good]] = [odd.value for odd in read if odd.value is not None]
    work.own[at[good]] = [odd.own_unit for odd in read if odd.value is not None]


def _clock_cells(work: Work) -> None:
    """Times and durations are hours in an hours column; elsewhere the spreadsheet made a date of a number."""
    found, judged = work.found, work.judged
    at = np.flatnonzero(found.of(cells.TIME) | found.of(cells.SPAN) | found.of(cells.DATE))
    if not len(at):
        return
    work.own[at] = True
    if work.wanted and work.wanted.measures == "work time":
        work.values[at] = [hours_of(cell) for cell in found.raw[at]]
        judged.repaired.add(at[np.isfinite(work.values[at])], TIMES, "give decimal hours, such as 1.5")
    reason = "the cell holds a date or time, perhaps made by the spreadsheet from something like 3/4"
    judged.bad.add(at[np.isnan(work.values[at])], reason, "format the cell as text and type the value again")


def _header(work: Work) -> None:
    """Convert what carries no unit of its own from the unit in the header, said once for the column."""
    judged, wanted, text = work.judged, work.wanted, work.asked.header_unit
    name = work.asked.name
    if not text:
        return
    affix = around("", text.lower(), wanted, name)
    if "VAT" in affix.bad:
        judged.bad.add(np.isfinite(work.values), f"{affix.bad}, by the header", affix.mend)
        return
    if affix.unit is None or wanted is None:
        if (other := find(text, wanted)) and (wanted is None or other.measures != wanted.measures):
            judged.said.append(f"{name}: the header's unit {text!r} does not fit the column; it was not used.")
        return
    if affix.unit != wanted:
        bare = ~work.own & np.isfinite(work.values)
        work.values[bare] = convert(work.values[bare], affix.unit, wanted)
        count = counted(work.found.count[bare].sum(), "value")
        judged.said.append(f"{name}: {count} converted from {affix.unit.name}, the header's unit, to {wanted.name}.")


def _bounds(judged: Judged, asked: Asked) -> None:
    """Refuse what is no whole number where one is wanted, and what lies outside the column's bounds."""
    column, values = asked.column, judged.values
    unit = f" {column.unit}" if column.unit else ""
    if column.whole:
        part = np.isfinite(values) & (values != np.floor(values))
        judged.bad.add(part, [f"{value:g} is not a whole number" for value in values[part]], "give a whole number")
    for bound, word, out in (
        (column.low, "least", values < (-math.inf if column.low is None else column.low)),
        (column.high, "most", values > (math.inf if column.high is None else column.high)),
    ):
        if bound is not None and out.any():
            limit = f"{column.name} is at {word} {bound:g}{unit}"
            reasons = [f"{value:.10g}{unit} is outside the bounds: {limit}" for value in values[out]]
            judged.bad.add(out, reasons, f"mend the value ({column.bounds}), or write its unit beside it")
