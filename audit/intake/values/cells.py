"""The distinct cells of a column: what each shows, of which kind it is, and how many there are."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

import numpy as np
import pandas as pd
from pandas.api.types import infer_dtype

from audit.intake.values.parsed import Bools, Ints, Objects

TEXT: Final = 0
NUMBER: Final = 1
DATE: Final = 2
TIME: Final = 3
SPAN: Final = 4


@dataclass(frozen=True)
class Cells:
    """Distinct cells, arrays of one length.

    `raw` as read (None in a column of text alone), `text` as shown, `kind` one of TEXT NUMBER DATE TIME SPAN, `count`
    how many cells of the column hold it.
    """

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
    if isinstance(raw.dtype, pd.StringDtype | pd.CategoricalDtype):
        codes, texts = _texts(raw)
        nothing = np.full(len(texts), None, dtype=object)
        kinds = np.zeros(len(texts), dtype=np.int64)
        return codes, Cells(nothing, pd.Series(texts, dtype="str"), kinds, _counts(codes, len(texts)))
    codes, unique = pd.factorize(_booleans_as_shown(raw.to_numpy(dtype=object)))
    cells = np.asarray(unique, dtype=object)
    kinds = _kinds(cells)
    return codes, Cells(cells, _as_text(_shown(cells, kinds)), kinds, _counts(codes, len(cells)))


def _texts(raw: pd.Series[Any]) -> tuple[Ints, Any]:
    """Distinct texts of a text column; of a column of categories they are known already."""
    if isinstance(raw.dtype, pd.CategoricalDtype):
        return np.asarray(raw.cat.codes, dtype=np.int64), raw.cat.categories
    codes, texts = pd.factorize(raw)
    return np.asarray(codes, dtype=np.int64), texts


def _counts(codes: Ints, length: int) -> Ints:
    return np.bincount(codes[codes >= 0], minlength=length).astype(np.int64)


def _booleans_as_shown(values: Objects) -> Objects:
    """TRUE and FALSE as text: to a hash table, True and 1 are the same."""
    if infer_dtype(values, skipna=True) not in ("mixed", "mixed-integer", "boolean"):
        return values
    boolean = np.array([kind is bool or kind is np.bool_ for kind in map(type, values)], dtype=bool)
    shown = values.copy()
    shown[boolean] = np.where(values[boolean].astype(bool), "TRUE", "FALSE")
    return shown


def _kinds(cells: Objects) -> Ints:
    """The kind of each cell, by its type."""
    types = list(map(type, cells))
    kind = {of: _kind(of) for of in set(types)}
    return np.array([kind[of] for of in types], dtype=np.int64)


def _kind(of: type) -> int:
    if issubclass(of, int | float | np.number | Decimal):
        return NUMBER
    if issubclass(of, dt.date | np.datetime64):
        return DATE
    if issubclass(of, dt.timedelta | np.timedelta64):
        return SPAN
    return TIME if issubclass(of, dt.time) else TEXT


def _shown(cells: Objects, kinds: Ints) -> Objects:
    """The cells as their reader would write them: 12 and not 12.0, 2008-01-02 and not 2008-01-02 00:00:00."""
    shown = cells.copy()
    for kind, write in ((NUMBER, _number_shown), (TIME, str), (SPAN, str), (TEXT, str)):
        at = np.flatnonzero(kinds == kind)
        shown[at] = [write(cell) for cell in cells[at]]
    shown[kinds == DATE] = _dates_shown(cells[kinds == DATE])
    return shown


def _number_shown(cell: Any) -> str:
    number = float(cell)
    return str(int(cell)) if number.is_integer() and abs(number) < 1e15 else repr(number)


def _dates_shown(cells: Objects) -> Objects:
    """Dates to the second, without a midnight."""
    if any(getattr(cell, "tzinfo", None) for cell in cells):
        return np.array([str(cell) for cell in cells], dtype=object)
    texts = np.datetime_as_string(pd.to_datetime(pd.Series(cells)).to_numpy("datetime64[s]"))
    return np.array([text.replace("T", " ").removesuffix(" 00:00:00") for text in texts], dtype=object)


def _as_text(shown: Objects) -> pd.Series[str]:
    """As a text column; half characters, which no file can hold, become question marks."""
    try:
        return pd.Series(shown, dtype="str")
    except UnicodeEncodeError:
        return pd.Series([text.encode("utf-8", "replace").decode() for text in shown], dtype="str")
