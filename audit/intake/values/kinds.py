"""Which parser judges which kind of column."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

import numpy as np
import pandas as pd

from audit.intake.values.cells import Cells
from audit.intake.values.parsed import Asked, Judged, Notes


def _text(cells: Cells, asked: Asked) -> Judged:
    return Judged(cells.text.str.strip(), Notes(len(cells)), Notes(len(cells)))


def _number(cells: Cells, asked: Asked) -> Judged:
    values = pd.to_numeric(cells.text, errors="coerce")
    bad = Notes(len(cells))
    bad.add(values.isna().to_numpy(), "not a number", "give one number")
    return Judged(values, bad, Notes(len(cells)))


def _date(cells: Cells, asked: Asked) -> Judged:
    values = pd.to_datetime(cells.text, errors="coerce", dayfirst=True, format="mixed")
    bad = Notes(len(cells))
    bad.add(values.isna().to_numpy(), "not a date", "write the date as 2024-03-31")
    return Judged(values.astype("datetime64[us]"), bad, Notes(len(cells)))


def _word(cells: Cells, asked: Asked) -> Judged:
    known = cells.text.str.strip().str.lower()
    good = known.isin(list(asked.column.words or {})).to_numpy()
    bad = Notes(len(cells))
    bad.add(~good, "not one of the column's words", "use one of: " + ", ".join(asked.column.words or {}))
    return Judged(np.where(good, known, None), bad, Notes(len(cells)))


KINDS: Final[Mapping[str, Callable[[Cells, Asked], Judged]]] = {
    "id": _text,
    "text": _text,
    "word": _word,
    "number": _number,
    "date": _date,
    "time": _date,
}
