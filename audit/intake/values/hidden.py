"""Characters that cannot be seen: control characters, no-break and zero-width blanks, line ends."""

from __future__ import annotations

from typing import Any, Final

from audit.intake.values import arrow

BLANKS: Final = r"[\x{a0}\x{2000}-\x{200a}\x{202f}\x{205f}\x{3000}]"  # all blanks that are not the plain one
NOTHING: Final = r"[\x{ad}\x{200b}-\x{200f}\x{2060}\x{feff}\x{202a}-\x{202e}\x{2066}-\x{2069}]"  # no width
CONTROL: Final = r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x{9f}\x{fffe}\x{ffff}]+"
LINE_END: Final = r"_x000D_\n?|\r\n?"


def without_hidden(array: Any) -> Any:
    """Plain blanks for other blanks and control characters, nothing for what has no width, LF for every line end."""
    for pattern, plain in ((LINE_END, "\n"), (NOTHING, ""), (BLANKS, " "), (CONTROL, " ")):
        array = arrow.replace(array, pattern, plain)
    return array
