"""Small parts of the sentences that are said of a column."""

from __future__ import annotations

from typing import Final

WRITE_DATE: Final = "write it as day/month/year (31 January 2024, for instance, is written 31/01/2024)"
WRITE_TIME: Final = "write the date and the time of day (14:35 on 31 January 2024 is written 31/01/2024 14:35)"


def counted(number: int, thing: str) -> str:
    """A number with its thing: "1 cell", "1,234 cells"."""
    return f"{number:,} {thing}" if number == 1 else f"{number:,} {thing}s"
