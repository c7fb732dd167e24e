"""Cells that say nothing, and cells that hold a spreadsheet's error."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

import pandas as pd

from audit.intake.values.parsed import Bools

# what people write where nothing is known; common practice, no source
MISSING: Final = frozenset(
    [
        *(
            "",
            "na",
            "n/a",
            "n\\a",
            "n.a",
            "n.a.",
            "n a",
            "#n a",
            "not applicable",
            "not available",
            "nan",
            "nat",
            "<na>",
        ),
        *(
            "null",
            "<null>",
            "(null)",
            "none",
            "nothing",
            "nil",
            "-",
            "--",
            "---",
            "----",
            "–",
            "—",
            ".",
            "..",
            "...",
            "/",
        ),
        *("?", "??", "???", "*", "_", "x/x", "tbc", "t.b.c", "t.b.c.", "to be confirmed", "tba", "t.b.a", "tbd"),
        *("to be advised", "to follow", "awaiting", "awaited", "unknown", "unk", "unkn", "not known", "not yet known"),
        *("n/k", "nk", "n.k", "n.k.", "don't know", "dont know", "not recorded", "none recorded", "n/r", "not given"),
        *("not stated", "not found", "no data", "no record", "no date", "no info", "undefined", "missing", "empty"),
        *("blank", "(blank)", "<blank>", "[blank]"),
    ]
)

ERRORS: Final = (
    r"^(?:#(?:N/A|REF!|DIV/0!|VALUE!|NAME\?|NUM!|NULL!|SPILL!|CALC!|FIELD!|BLOCKED!|CONNECT!|BUSY!|UNKNOWN!"
    r"|GETTING_DATA|PYTHON!|EXTERNAL!)|Err:\d{3})$"
)
TOO_NARROW: Final = r"^#{2,}$"


def plain(text: pd.Series[str]) -> pd.Series[str]:
    """The text without blanks around it (no-break and zero-width ones too), in small letters."""
    blanks = " \t\r\n\v\f\x00\u00a0\u200b\u200c\u200d\u2060\ufeff\u2007\u202f"
    return text.str.strip(blanks).str.lower()


def says_nothing(text: pd.Series[str], known: Collection[str] = ()) -> Bools:
    """True where a cell says that nothing is known; `known` are the words that mean something in this column."""
    return plain(text).isin(MISSING.difference(known)).to_numpy(dtype=bool)


def is_error(text: pd.Series[str]) -> Bools:
    """True where a cell holds a spreadsheet's error."""
    return text.str.match(ERRORS).to_numpy(dtype=bool)


def is_too_narrow(text: pd.Series[str]) -> Bools:
    """True where a text file was written from a column too narrow to show its numbers."""
    return text.str.match(TOO_NARROW).to_numpy(dtype=bool)
