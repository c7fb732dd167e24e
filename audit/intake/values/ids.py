"""Ids: text that names something, in one spelling; what a spreadsheet did to it is put right, or refused."""

from __future__ import annotations

import re
from typing import Final

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from audit.intake.values import arrow, cells
from audit.intake.values.cells import Cells
from audit.intake.values.hidden import without_hidden
from audit.intake.values.parsed import Asked, Bools, Judged, Notes
from audit.intake.values.postcodes import pad_uprn, uprn_ok
from audit.intake.values.wording import counted

# a number cell is a double: 15 significant digits survive (IEEE 754; ECMA-376 part 1, 18.17.5.2)
DIGITS_KEPT: Final = 15
_POWER: Final = r"^\d(?:\.\d+)?E\+\d+$|^\d\.\d+E\d+$"  # 1.00023E+11; but 1E5 may be a flat
_POINT_ZERO: Final = r"^(\d+)\.0+$"
_COMMAS: Final = r"^[1-9]\d{0,2}(?:,\d{3})+$"
_UPRN_LABEL: Final = r"^UPRN\W*"
MEND_TEXT: Final = "format the column as text and type the id again"


def judge_ids(found: Cells, asked: Asked) -> Judged:
    """Ids (str) of the distinct cells: capitals, single blanks, plain hyphens, nothing hidden, no .0 behind."""
    judged = Judged(found.text, Notes(len(found)), Notes(len(found)))
    _numbers(found, judged)
    array = without_hidden(pa.array(found.text, type=pa.large_string()))
    for pattern, plain in (("[‐‑‒–—−]", "-"), (r"^\s*'+", ""), (r"\s\s+|[\t\n]", " ")):
        array = arrow.replace(array, pattern, plain)
    tidy = arrow.column(pc.utf8_upper(pc.utf8_trim_whitespace(array)))
    judged.bad.add(
        arrow.matches(arrow.texts(tidy), _POWER),
        "the digits of this id are lost: a power of ten stands in their place",
        MEND_TEXT,
    )
    whole = _repair(tidy, judged)
    if asked.column.name == "uprn":
        whole = _uprns(whole, found, judged, asked)
    judged.said += _said(found, tidy, judged, asked)
    judged.values = whole.mask(judged.bad.mask | (whole == "").to_numpy(dtype=bool))
    return judged


def _numbers(found: Cells, judged: Judged) -> None:
    """Number cells hold 15 digits; date cells were ids once."""
    at = np.flatnonzero(found.of(cells.NUMBER))
    large = at[np.abs(found.raw[at].astype(np.float64)) >= 10**DIGITS_KEPT]
    judged.bad.add(large, f"a number cell keeps {DIGITS_KEPT} digits: the last ones of this id may be lost", MEND_TEXT)
    dated = found.of(cells.DATE) | found.of(cells.TIME) | found.of(cells.SPAN)
    judged.bad.add(dated, "the spreadsheet made a date or time of this id", MEND_TEXT)


def _repair(tidy: pd.Series[str], judged: Judged) -> pd.Series[str]:
    array = arrow.texts(tidy)
    zero, commas = arrow.matches(array, _POINT_ZERO), arrow.matches(array, _COMMAS)
    judged.repaired.add(zero, "the .0 behind the id came from a number format", MEND_TEXT)
    judged.repaired.add(commas, "the commas in the id came from a number format", MEND_TEXT)
    if not (zero | commas).any():
        return tidy
    bare = arrow.column(arrow.replace(array, _POINT_ZERO, r"\1"))
    return tidy.where(~zero, bare).where(~commas, tidy.str.replace(",", ""))


def _uprns(ids: pd.Series[str], found: Cells, judged: Judged, asked: Asked) -> pd.Series[str]:
    """UPRNs of 12 digits: with or without leading zeros they are the same."""
    digits = arrow.column(arrow.replace(arrow.replace(arrow.texts(ids), _UPRN_LABEL, ""), r"[\s-]", ""))
    good = uprn_ok(digits)
    judged.bad.add(~good, "a UPRN is a number of up to 12 digits", "give the UPRN as in the address register")
    padded = pad_uprn(digits)
    changed = int(found.count[good & (padded != ids).to_numpy(dtype=bool)].sum())
    if changed:
        judged.said.append(f"{asked.name}: {counted(changed, 'UPRN')} written out as 12 digits, with leading zeros.")
    return padded.where(good)


def _said(found: Cells, tidy: pd.Series[str], judged: Judged, asked: Asked) -> list[str]:
    """Say, in one sentence, how many ids were brought to one spelling, and which spellings now are one id."""
    name = asked.column.name
    changed: Bools = (tidy != found.text).to_numpy(dtype=bool) & ~judged.bad.mask & (tidy != "").to_numpy(dtype=bool)
    if not changed.any():
        return []
    alike = f"capitals, blanks and hidden characters made alike in {counted(found.count[changed].sum(), 'id')}"
    same = tidy[tidy.duplicated(keep=False) & ~judged.bad.mask]
    spellings = same.nunique()
    if spellings:
        example = re.sub(r"\s+", " ", " and ".join(map(repr, found.text[tidy == same.iloc[0]].head(3))))
        return [f"{name}: {alike}; {counted(spellings, 'id')} stood in more than one spelling, such as {example}."]
    first = int(np.flatnonzero(changed)[0])
    return [f"{name}: {alike}, such as {found.text.iloc[first]!r} = {tidy.iloc[first]}."]
