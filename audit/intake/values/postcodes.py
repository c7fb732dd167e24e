"""The forms of postcodes and UPRNs."""

from __future__ import annotations

from typing import Final

import pandas as pd

from audit.intake.values.parsed import Bools

# area and district A9 A99 AA9 AA99 A9A AA9A, a blank, digit and two letters, or GIR 0AA: the pattern that government
# published for bulk data transfer, 12 November 2015. Its ban on some letters is left out, because ZZ99, the pseudo area
# for "no fixed place", breaks it. The whole alternation stands in one group: half-anchored copies accept xxM1 1AE.
POSTCODE: Final = r"^(?:GIR 0AA|[A-Z]{1,2}\d{1,2} \d[A-Z]{2}|[A-Z]{1,2}\d[A-Z] \d[A-Z]{2})$"
UPRN_DIGITS: Final = 12  # Ordnance Survey: a unique property reference number has up to 12 digits


def postcode_ok(text: pd.Series[str]) -> Bools:
    """True where a text has the form of a postcode: capitals, one blank before the last three characters."""
    return text.str.match(POSTCODE).fillna(False).to_numpy(dtype=bool)


def tidy_postcode(text: pd.Series[str]) -> pd.Series[str]:
    """Capitals, one blank before the last three; the letters O and I read as digits where only a digit can stand."""
    close = text.str.upper().str.replace(r"[\s.\-_]+", "", regex=True)
    close = close.str.replace(r"^([A-Z]{1,2}\d[A-Z\d]?)O([A-Z]{2})$", r"\g<1>0\2", regex=True)
    close = close.str.replace(r"^([A-Z]{1,2}\d[A-Z\d]?)I([A-Z]{2})$", r"\g<1>1\2", regex=True)
    return close.str.replace(r"^(.+)(...)$", r"\1 \2", regex=True)


def uprn_ok(text: pd.Series[str]) -> Bools:
    """True where a text is a number of up to 12 digits, leading zeros aside, and not zero."""
    return text.str.match(r"^0*[1-9]\d{0,11}$").fillna(False).to_numpy(dtype=bool)


def pad_uprn(text: pd.Series[str]) -> pd.Series[str]:
    """The UPRN with 12 digits: 199356 and 000000199356 are the same."""
    return text.str.lstrip("0").str.zfill(UPRN_DIGITS)
