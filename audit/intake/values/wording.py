"""Small parts of the sentences that are said of a column."""

from __future__ import annotations


def counted(number: int, thing: str) -> str:
    """A number with its thing: "1 cell", "1,234 cells"."""
    return f"{number:,} {thing}" if number == 1 else f"{number:,} {thing}s"
