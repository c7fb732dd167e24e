"""The distinct cells of a column: what each shows, of which kind it is, and how many there are."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

import numpy as np
import pandas as pd

from audit.intake.values.parsed import Bools, Ints, Objects

TEXT: Final = 0
NUMBER: Final = 1
DATE: Final = 2
TIME: Final = 3
SPAN: Final = 4


@dataclass(frozen=True)
class Cells:
    """Distinct cells. `raw` as read, `text` as shown, `kind` one of TEXT NUMBER DATE TIME SPAN, `count` of each."""

    raw: Objects
    text: pd.Series[str]
    kind: Ints
    count: Ints

    def __len__(self) -> int:
        return len(self.raw)

    def of(self, kind: int) -> Bools:
        """True where the cell is of that kind."""
        return np.equal(self.kind, kind)

    def take(self, where: Bools) -> Cells:
        """The cells where the mask holds."""
        return Cells(self.raw[where], self.text[where].reset_index(drop=True), self.kind[where], self.count[where])


def distinct(raw: pd.Series[Any]) -> tuple[Ints, Cells]:
    """The distinct cells of a column and, for each row, which of them it holds (-1 where the cell is empty)."""
    if not isinstance(raw.dtype, pd.StringDtype):
        raw = _booleans_as_shown(raw)
    codes, unique = pd.factorize(raw)
    cells = np.asarray(unique, dtype=object)
    count = np.bincount(codes[codes >= 0], minlength=len(cells))
    if isinstance(raw.dtype, pd.StringDtype):
        return codes, Cells(cells, pd.Series(unique, dtype="str"), np.zeros(len(cells), dtype=np.int64), count)
    kinds = np.array([_kind(cell) for cell in cells], dtype=np.int64)
    text = _as_text([_shown(cell) for cell in cells])
    return codes, Cells(cells, text, kinds, count)


def _booleans_as_shown(raw: pd.Series[Any]) -> pd.Series[Any]:
    """TRUE and FALSE as text: to a hash table, True and 1 are the same."""
    values = raw.to_numpy(dtype=object, copy=True)
    boolean = np.fromiter((isinstance(cell, bool | np.bool_) for cell in values), dtype=bool, count=len(values))
    values[boolean] = np.where(values[boolean].astype(bool), "TRUE", "FALSE")
    return pd.Series(values, index=raw.index, dtype=object)


def _as_text(shown: list[str]) -> pd.Series[str]:
    """As a text column; half characters, which no file can hold, become question marks."""
    try:
        return pd.Series(shown, dtype="str")
    except UnicodeEncodeError:
        return pd.Series([text.encode("utf-8", "replace").decode() for text in shown], dtype="str")


def _kind(cell: object) -> int:
    if isinstance(cell, int | float | np.number | Decimal):
        return NUMBER
    if isinstance(cell, dt.date | np.datetime64):
        return DATE
    if isinstance(cell, dt.timedelta | np.timedelta64):
        return SPAN
    return TIME if isinstance(cell, dt.time) else TEXT


def _shown(cell: Any) -> str:
    """A cell as its reader would write it: 12 and not 12.0, 2008-01-02 and not 2008-01-02 00:00:00."""
    if isinstance(cell, float | np.floating):
        return str(int(cell)) if float(cell).is_integer() and abs(float(cell)) < 1e15 else repr(float(cell))
    if isinstance(cell, dt.datetime) and cell.time() == dt.time():
        return cell.date().isoformat()
    return str(cell)
