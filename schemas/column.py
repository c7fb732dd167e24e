"""One column of a table: its type, unit, allowed words, bounds and meaning. Imports no table library."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Kind = Literal["id", "text", "word", "number", "date", "time"]


@dataclass(frozen=True, slots=True)
class Column:
    """What is known of one column.

    `kind`: id (text that identifies), text (free), word (one of `words`), number (float, missing is NaN),
    date (midnight), time (date with optional time of day).
    """

    table: str
    name: str
    kind: Kind
    meaning: str
    unit: str = ""
    required: bool = False
    unique: bool = False
    words: Mapping[str, str] | None = None
    low: float | None = None
    high: float | None = None
    whole: bool = False
    example: str = ""

    @property
    def bounds(self) -> str:
        """The allowed range in words, with its unit; empty where there is none."""
        unit = f" {self.unit}" if self.unit else ""
        if self.low is not None and self.high is not None:
            return f"{self.low:,.10g} to {self.high:,.10g}{unit}"
        if self.low is not None:
            return f"at least {self.low:,.10g}{unit}"
        return f"at most {self.high:,.10g}{unit}" if self.high is not None else ""
