"""Characters that cannot be seen: control characters, no-break and zero-width blanks, line ends."""

from __future__ import annotations

from typing import Final

import pandas as pd

BLANKS: Final = r"[\u00a0\u2000-\u200a\u202f\u205f\u3000]"  # all blanks that are not the plain one
NOTHING: Final = r"[\u200b-\u200f\u2060\ufeff\u00ad\u202a-\u202e\u2066-\u2069]"  # no width, or turns the writing round
CONTROL: Final = r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ufffe\uffff\ud800-\udfff]+"
LINE_END: Final = r"_x000D_\n?|\r\n?"


def without_hidden(text: pd.Series[str]) -> pd.Series[str]:
    """Plain blanks for other blanks and control characters, nothing for what has no width, LF for every line end."""
    text = text.str.replace(LINE_END, "\n", regex=True)
    text = text.str.replace(NOTHING, "", regex=True)
    return text.str.replace(BLANKS, " ", regex=True).str.replace(CONTROL, " ", regex=True)
