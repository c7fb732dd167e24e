"""The forms of postcodes and UPRNs."""

from __future__ import annotations

from typing import Any, Final

import pandas as pd
import pyarrow.compute as pc

from audit.intake.values import arrow
from audit.intake.values.parsed import Bools

# area and district A9 A99 AA9 AA99 A9A AA9A, a blank, digit and two letters, or GIR 0AA: the pattern that government
# published for bulk data transfer, 12 November 2015. Its ban on some letters is left out, because ZZ99, the pseudo area
# for "no fixed place", breaks it. The whole alternation stands in one group: half-anchored copies accept xxM1 1AE.
POSTCODE: Final = r"^(?:GIR 0AA|[A-Z]{1,2}\d{1,2} \d[A-Z]{2}|[A-Z]{1,2}\d[A-Z] \d[A-Z]{2})$"
UPRN_DIGITS: Final = 12  # Ordnance Survey: a unique property reference number has up to 12 digits


def postcode_ok(text: pd.Series[str]) -> Bools:
    """True where a text has the form of a postcode: capitals, one blank before the last three characters."""
    return arrow.matches(arrow.texts(text), POSTCODE)


def tidy_postcode(text: pd.Series[str]) -> pd.Series[str]:
    """Capitals, one blank before the last three; the letters O and I read as digits where only a digit can stand."""
    close = arrow.replace(pc.utf8_upper(arrow.texts(text)), r"[\s\x{a0}\x{200b}.\-_]+", "")
    close = arrow.replace(close, r"^([A-Z]{1,2}\d[A-Z\d]?)O([A-Z]{2})$", r"\10\2")
    close = arrow.replace(close, r"^([A-Z]{1,2}\d[A-Z\d]?)I([A-Z]{2})$", r"\11\2")
    return _like(text, arrow.replace(close, r"^(.+)(...)$", r"\1 \2"))


def uprn_ok(text: pd.Series[str]) -> Bools:
    """True where a text is a number of up to 12 digits, leading zeros aside, and not zero."""
    return arrow.matches(arrow.texts(text), r"^0*[1-9]\d{0,11}$")


def pad_uprn(text: pd.Series[str]) -> pd.Series[str]:
    """The UPRN with 12 digits: 199356 and 000000199356 are the same."""
    return _like(text, pc.utf8_lpad(pc.utf8_ltrim(arrow.texts(text), "0"), UPRN_DIGITS, "0"))


def _like(text: pd.Series[str], array: Any) -> pd.Series[str]:
    return pd.Series(arrow.column(array).array, index=text.index)
