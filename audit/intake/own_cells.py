"""Cells of the sheets that this program wrote, found by their headers."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np
import pandas as pd

from audit.intake.heads import words_of
from audit.intake.sheet import Rows, Sheet, is_blank
from schemas import work_list as words
from schemas.column import Column
from schemas.tables import COLUMNS

TOP: Final = 12  # rows from the top in which the headers of a sheet are looked for
LONG_DATE: Final = re.compile(r"\d{1,2} [A-Z][a-z]+ \d{4}")


def own_date(sheets: Sequence[Sheet]) -> pd.Timestamp | None:
    """The date of a list, as its first sheet says it."""
    first = next((sheet for sheet in sheets if sheet.name == words.FRONT[0]), None)
    for row in range(min(TOP, first.grid.height) if first is not None else 0):
        told = [words_of(cell) for cell in first.row(row)] if first is not None else []
        if told[:1] == [words.AS_OF] and len(told) > 1 and (day := LONG_DATE.search(told[1])):
            return pd.Timestamp(pd.to_datetime(day[0], format="%d %B %Y"))
    return None


def columns(sheet: Sheet, header: int, wanted: Mapping[str, str]) -> dict[str, int]:
    """The grid column of each of our names; the first, where a header stands twice."""
    labels = [words_of(cell) for cell in sheet.row(header)]
    return {name: labels.index(label) for name, label in wanted.items() if label in labels}


def cells(sheet: Sheet, place: int, rows: Rows) -> Any:
    """Cells of a column as objects, blanks as None."""
    found = np.array(sheet.grid.column(place, rows), dtype=object)
    return np.array([None if is_blank(cell) else cell for cell in found], dtype=object)


def column(table: str, name: str) -> Column:
    """What there is to know of a column of a table."""
    return next(found for found in COLUMNS[table] if found.name == name)
