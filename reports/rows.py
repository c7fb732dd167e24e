"""Rows of a sheet as spreadsheet XML, made column-wise: writing cell by cell would take fifteen times as long.

Text is always an inline string, whatever it begins with, so that no cell can become a formula.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from openpyxl.utils import get_column_letter

from reports.arrow_text import TEXT, array, as_bytes, join, swap, word
from reports.look import CUT, MAX_CELL, NUMBERS, SEVERITY_WORD, Field, body_cell, severity_cell

if TYPE_CHECKING:
    import pandas as pd

CHUNK: Final = 20_000  # rows made at a time: bounds the memory
NOISE: Final = 6  # decimals kept; what lies below is noise of the arithmetic
NOT_IN_CELLS: Final = r"[\x00-\x08\x0b\x0c\x0e-\x1f\x{FFFE}\x{FFFF}]"
DAY_ZERO: Final = np.datetime64("1899-12-30", "us")
MICROSECONDS_A_DAY: Final = 86_400_000_000


class Rows:
    """The body of one table: iterate over it to get its XML in pieces."""

    def __init__(
        self,
        sheet: Any,
        frame: pd.DataFrame,
        fields: Sequence[Field],
        first_row: int,
        heights: np.ndarray[Any, Any],
        strong: str = "",
    ) -> None:
        self._frame = frame
        self._fields = fields
        self._first_row = first_row
        self._heights = heights
        self._strong = strong
        self._styles = [[str(body_cell(sheet, f, strong=flag).style_id) for flag in (False, True)] for f in fields]
        self._severity = {name: str(severity_cell(sheet, name).style_id) for name in SEVERITY_WORD}

    def __len__(self) -> int:
        return len(self._frame)

    def __iter__(self) -> Iterator[memoryview]:
        for start in range(0, len(self._frame), CHUNK):
            yield self._piece(start, self._frame.iloc[start : start + CHUNK])

    def _piece(self, start: int, part: pd.DataFrame) -> memoryview:
        count = len(part)
        numbers = pa.array(np.arange(count) + start + self._first_row).cast(TEXT)
        strong = pa.array(part[self._strong].to_numpy(dtype=bool)) if self._strong else pa.repeat(False, count)
        heights = pa.array(self._heights[start : start + count]).cast(TEXT)
        opening = join('<row r="', numbers, '" ht="', heights, '" customHeight="1">')
        cells = [
            self._cells(part, column, styles, get_column_letter(place), numbers, strong)
            for place, (column, styles) in enumerate(zip(self._fields, self._styles, strict=True), 1)
        ]
        return as_bytes(join(opening, *cells, "</row>"))

    def _cells(
        self, part: pd.DataFrame, column: Field, styles: Sequence[str], letter: str, numbers: Any, strong: Any
    ) -> Any:
        style = pc.if_else(strong, word(styles[1]), word(styles[0]))
        if column.name not in part.columns:
            return join(f'<c r="{letter}', numbers, '" s="', style, '"/>')
        kind, content = _content(part[column.name], column)
        if column.form == "severity":
            content, style = self._worded(content, style)
        head = join(f'<c r="{letter}', numbers, '" s="', style)
        return pc.coalesce(join(head, kind, content, _closing(kind)), join(head, '"/>'))

    def _worded(self, content: Any, style: Any) -> tuple[Any, Any]:
        """The severity with its shape, in its own look."""
        worded = content
        for name, own in self._severity.items():
            found = pc.fill_null(pc.equal(content, word(name)), False)
            worded = pc.if_else(found, word(SEVERITY_WORD[name]), worded)
            style = pc.if_else(found, word(own), style)
        return worded, style


NUMBER: Final = '"><v>'
STRING: Final = '" t="inlineStr"><is><t xml:space="preserve">'


def _closing(kind: Any) -> Any:
    if isinstance(kind, str):
        return "</v></c>" if kind == NUMBER else "</t></is></c>"
    return pc.if_else(pc.equal(kind, word(NUMBER)), word("</v></c>"), word("</t></is></c>"))


def _content(values: pd.Series, column: Field) -> tuple[Any, Any]:
    """What opens the cells of a column, and what stands in them: null where the value is missing."""
    if column.form == "any":
        return _mixed(values)
    if column.form in NUMBERS:
        return NUMBER, _numbers(values)
    made = array(values)
    if pa.types.is_timestamp(made.type):
        return NUMBER, _serials(values)
    text = swap(made.cast(TEXT), "_", " ") if column.form == "word" else made.cast(TEXT)
    return STRING, _clean(text)


def _numbers(values: pd.Series) -> Any:
    rounded = values.astype("float64").round(NOISE) + 0.0
    return pa.array(rounded.where(np.isfinite(rounded)), from_pandas=True).cast(TEXT)


def _serials(values: pd.Series) -> Any:
    """Days since the spreadsheet's day zero."""
    moments = values.to_numpy(dtype="datetime64[us]")
    days = (moments - DAY_ZERO).astype("int64") / MICROSECONDS_A_DAY
    return pa.array(days, mask=np.isnat(moments)).cast(TEXT)


def _mixed(values: pd.Series) -> tuple[Any, Any]:
    """Numbers as numbers, lists and anything else as text; for short tables only."""
    plain = [", ".join(map(str, value)) if isinstance(value, list) else value for value in values]
    kinds = [NUMBER if isinstance(value, int | float) else STRING for value in plain]
    texts = [f"{value:.15g}" if isinstance(value, int | float) else str(value) for value in plain]
    return pa.array(kinds, TEXT), _clean(pa.array(texts, TEXT))


def _clean(text: Any) -> Any:
    """Take out what a cell cannot hold, say where a text had to be cut, and write XML's own signs in its way."""
    if pc.any(pc.match_substring_regex(text, f"[\r&<>]|{NOT_IN_CELLS}")).as_py():
        text = swap(swap(text, "\r\n", "\n"), "\r", "\n")
        text = pc.replace_substring_regex(text, pattern=NOT_IN_CELLS, replacement="\N{REPLACEMENT CHARACTER}")
        text = _cut(text)
        return swap(swap(swap(text, "&", "&amp;"), "<", "&lt;"), ">", "&gt;")
    return _cut(text)


def _cut(text: Any) -> Any:
    text = pc.if_else(pc.equal(text, word("")), pa.scalar(None, TEXT), text)
    if (pc.max(pc.utf8_length(text)).as_py() or 0) <= MAX_CELL:
        return text
    short = join(pc.utf8_slice_codeunits(text, 0, MAX_CELL - len(CUT)), CUT)
    return pc.if_else(pc.greater(pc.utf8_length(text), MAX_CELL), short, text)
