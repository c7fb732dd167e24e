"""Cells that say nothing, and cells that hold a spreadsheet's error."""

from __future__ import annotations

from typing import Final

import pandas as pd

from audit.intake.values.parsed import Bools

# what people write where nothing is known; common practice, no source
MISSING: Final = frozenset(
    [
        "", "na", "n/a", "n\\a", "n.a", "n.a.", "n a", "#n a", "not applicable", "not available", "nan", "null", "<null>",
        "(null)", "none", "nothing", "nil", "-", "--", "---", "----", ".", "..", "...", "/", "?", "??", "???", "tbc", "t.b.c",
        "to be confirmed", "tba", "t.b.a", "tbd", "to be advised", "to follow", "unknown", "unk", "unkn", "not known",
        "n/k", "nk", "not recorded", "n/r", "not given", "not stated", "not found", "no data", "no record", "no date",
        "blank", "(blank)", "<blank>", "[blank]", "empty", "missing", "*", "_", "nat", "<na>", "none recorded", "no info",
        "don't know", "dont know", "not yet known", "awaiting", "awaited", "x/x", "n.k", "n.k.", "–", "—", "undefined",
    ]
)  # fmt: skip

ERRORS: Final = (
    r"^(?:#(?:N/A|REF!|DIV/0!|VALUE!|NAME\?|NUM!|NULL!|SPILL!|CALC!|FIELD!|BLOCKED!|CONNECT!|BUSY!|UNKNOWN!"
    r"|GETTING_DATA|PYTHON!|EXTERNAL!)|Err:\d{3})$"
)
TOO_NARROW: Final = r"^#{2,}$"


def plain(text: pd.Series[str]) -> pd.Series[str]:
    """The text without blanks around it (no-break and zero-width ones too), in small letters."""
    blanks = " \t\r\n\v\f\x00\u00a0\u200b\u200c\u200d\u2060\ufeff\u2007\u202f"
    return text.str.strip(blanks).str.lower()


def says_nothing(text: pd.Series[str]) -> Bools:
    """True where a cell says that nothing is known."""
    return plain(text).isin(MISSING).to_numpy(dtype=bool)


def is_error(text: pd.Series[str]) -> Bools:
    """True where a cell holds a spreadsheet's error."""
    return text.str.match(ERRORS).to_numpy(dtype=bool)


def is_too_narrow(text: pd.Series[str]) -> Bools:
    """True where a text file was written from a column too narrow to show its numbers."""
    return text.str.match(TOO_NARROW).to_numpy(dtype=bool)
