"""Rows of a sheet: typed values in styled cells, text always as text, whatever it begins with."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from openpyxl.cell import WriteOnlyCell

from reports.look import LIVE, NOISE, NUMBERS, SEVERITY_WORD, Field, body_cell, fill, severity_cell
from schemas.words import spoken

if TYPE_CHECKING:
    import pandas as pd

CHUNK: Final = 5_000  # rows made at a time: bounds the memory


def append_rows(
    sheet: Any,
    frame: pd.DataFrame,
    fields: Sequence[Field],
    first_row: int,
    heights: np.ndarray[Any, Any],
    strong: str = "",
) -> None:
    """Append one row a record to a write-only sheet.

    Args:
        sheet: The sheet; its next free row is `first_row`.
        frame: The records; a column that `fields` names and the frame lacks stays empty.
        fields: The columns, in order.
        first_row: Number of the first record's row, counted from 1.
        heights: Height of each row in points, shape (n,).
        strong: A yes/no column of the frame (boolean); its rows stand out.
    """
    styles = [[body_cell(sheet, column, strong=flag)._style for flag in (False, True)] for column in fields]
    severities = {SEVERITY_WORD[name]: severity_cell(sheet, name)._style for name in SEVERITY_WORD}
    stands_out = frame[strong].to_numpy(dtype=int) if strong else np.zeros(len(frame), dtype=int)
    for start in range(0, len(frame), CHUNK):
        part = frame.iloc[start : start + CHUNK]
        records = zip(*(_values(part, column) for column in fields), strict=True)
        for place, record in enumerate(records, start):
            sheet.row_dimensions[first_row + place].height = float(heights[place])
            looks = (pair[stands_out[place]] for pair in styles)
            sheet.append(
                [
                    _cell(sheet, value, severities.get(value, look) if column.form == "severity" else look, column.form)
                    for value, look, column in zip(record, looks, fields, strict=True)
                ]
            )


def _cell(sheet: Any, value: object, style: Any, form: str) -> Any:
    made: Any = WriteOnlyCell(sheet)
    made._style = style  # shared: building the style anew for each cell would take most of the time
    if form in LIVE and isinstance(value, str):
        made.value, made.data_type = value, "f"
        return made
    return fill(made, value)


def _values(frame: pd.DataFrame, column: Field) -> Iterable[object]:
    """The values of one column as cells hold them; missing ones are None."""
    if column.name not in frame.columns:
        return [None] * len(frame)
    values = frame[column.name]
    if column.form in NUMBERS:
        rounded = values.astype("float64").round(NOISE) + 0.0
        return [value if value == value else None for value in rounded.tolist()]
    if column.form == "word":
        values = values.map({word: spoken(word) for word in values.dropna().unique()})
    elif column.form == "severity":
        values = values.map(SEVERITY_WORD).fillna(values)
    return values.astype("object").where(values.notna(), None).tolist()
