"""What parsing gives back: typed values, the cells that could not be used, the cells that were put right."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.policy import Policy
from schemas.column import Column

NOTE_COLUMNS: Final = ("pos", "value", "reason", "mend")

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Objects = npt.NDArray[np.object_]
Times = npt.NDArray[np.datetime64]


@dataclass(frozen=True)
class Parsed:
    """One column, understood.

    `values` has the index and length of the raw cells and the column's type. `bad` and `repaired` have one row a cell:
    `pos` (place in the column, from 0), `value` (as it stood), `reason`, `mend`. A bad cell's value is missing.
    `said` are sentences about the column as a whole; each begins with the column's name.
    """

    values: pd.Series[Any]
    bad: pd.DataFrame
    repaired: pd.DataFrame
    said: tuple[str, ...] = ()


@dataclass(frozen=True)
class Asked:
    """What the caller knows of the column: its record, the unit in its header, the workbook's day zero, today."""

    column: Column
    policy: Policy
    header_unit: str = ""
    epoch_1904: bool = False
    as_today: dt.date | None = None

    @property
    def name(self) -> str:
        """The column's name."""
        return self.column.name


class Notes:
    """Reason and mend for some of the distinct cells; the first note on a cell stands."""

    def __init__(self, length: int) -> None:
        self.mask: Bools = np.zeros(length, dtype=bool)
        self.reason: Objects = np.full(length, None, dtype=object)
        self.mend: Objects = np.full(length, None, dtype=object)

    def add(self, where: Bools | Ints, reason: str | Sequence[str] | Objects, mend: str) -> None:
        """Note on the cells `where` (a mask or positions) that have no note yet; `reason` is one or one a cell."""
        positions = np.flatnonzero(where) if where.dtype == bool else where
        free = ~self.mask[positions]
        new = positions[free]
        self.reason[new] = reason if isinstance(reason, str) else np.asarray(reason, dtype=object)[free]
        self.mend[new] = mend
        self.mask[new] = True

    def lay(self, other: Notes, where: Bools | Ints) -> None:
        """Take over the notes of another set, whose cells stand at `where` in this one."""
        self.mask[where], self.reason[where], self.mend[where] = other.mask, other.reason, other.mend


@dataclass
class Judged:
    """What one parser makes of the distinct cells: a value each, notes, and sentences about the column."""

    values: Any  # array as long as the distinct cells, of the column's type
    bad: Notes
    repaired: Notes
    said: list[str] = field(default_factory=list)
