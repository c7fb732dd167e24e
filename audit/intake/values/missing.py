"""Cells that say nothing, and cells that hold a spreadsheet's error."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any, Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from audit.intake.values import arrow
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

LONGEST: Final = 20  # bytes; no such word and no error is longer
ERRORS: Final = (
    r"^(?:#(?:N/A|REF!|DIV/0!|VALUE!|NAME\?|NUM!|NULL!|SPILL!|CALC!|FIELD!|BLOCKED!|CONNECT!|BUSY!|UNKNOWN!"
    r"|GETTING_DATA|PYTHON!|EXTERNAL!|NO VALUE)|Err:\d{3})$"
)
TOO_NARROW: Final = r"^##+$"
_BLANKS: Final = " \t\r\n\v\f\x00\u00a0\u200b\u200c\u200d\u2060\ufeff\u2007\u202f"


def says_nothing(array: Any, known: Collection[str] = ()) -> Bools:
    """True where a text says that nothing is known; `known` are the words that mean something in this column."""
    nothing = arrow.short(array, LONGEST)
    words = pa.array(sorted(MISSING.difference(known)), type=pa.large_string())
    some = array.filter(pa.array(nothing))
    plain = pc.utf8_lower(pc.utf8_trim(pc.fill_null(some, ""), _BLANKS))
    nothing[nothing] = np.asarray(pc.is_in(plain, value_set=words).to_numpy(zero_copy_only=False), dtype=bool)
    return nothing


def is_error(array: Any) -> Bools:
    """True where a text is a spreadsheet's error."""
    return arrow.matches(array, ERRORS)


def is_too_narrow(array: Any) -> Bools:
    """True where a text file was written from a column too narrow to show its numbers."""
    return arrow.matches(array, TOO_NARROW)
