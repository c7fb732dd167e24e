"""How every workbook looks: fields, fonts, fills, number formats, column widths and row heights."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
import pandas as pd
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side

Form = Literal[
    "text",
    "word",
    "prose",
    "any",
    "number",
    "fine",
    "whole",
    "money",
    "date",
    "time",
    "month",
    "share",
    "severity",
    "live",
    "live_date",
]

MAX_CELL: Final = 32_767  # characters that a cell can hold
CUT: Final = " … (cut)"
NOT_IN_CELLS: Final = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
FORMATS: Final[dict[Form, str]] = {
    "text": "@",
    "word": "@",
    "prose": "@",
    "any": "General",
    "severity": "@",
    "number": "#,##0.0",
    "fine": "#,##0.00",
    "whole": "#,##0",
    "money": '"£"#,##0.00;[Red]-"£"#,##0.00',
    "date": "dd mmm yyyy",
    "time": "dd mmm yyyy hh:mm",
    "month": "mmm yyyy",
    "share": "0.0%",
    "live": "#,##0",  # a formula of ours; no text of a user may stand in one
    "live_date": "dd mmm yyyy",
}
FORMAT_WIDTH: Final[dict[Form, float]] = {
    "date": 13,
    "month": 11,
    "time": 19,
    "money": 12,
    "share": 9,
    "number": 9,
    "fine": 9,
    "whole": 8,
}
NARROWEST, WIDEST, PROSE_WIDTH = 6.0, 34.0, 46.0  # characters
FONT: Final = "Arial"  # or its metric twin on every system, so that the heights of wrapped rows hold
LINE_POINTS, ROW_POINTS, TALLEST_POINTS = 12.75, 3.0, 409.0
CHARACTERS: Final = 1.15  # of running text in one character of column width, which is a digit's
SAMPLE: Final = 400  # rows looked at for a column's width
# A shape with each word, so that colour never carries the meaning alone.
SEVERITY_WORD: Final = {
    "danger": "◆ danger",
    "fault": "▲ fault",
    "money": "● money",
    "record": "○ record",
}
INK, QUIET, LINE, HEADER = "1F2933", "52606D", "CBD2D9", "E4E7EB"
STRONG: Final = "EEF2F6"
SEVERITY_FILL: Final = {"danger": "F8D7DA", "fault": "FCE8CC", "money": "E3EFDA", "record": "F0F1F3"}


@dataclass(frozen=True, slots=True)
class Field:
    """One column of a sheet: the frame's column, the reader's header with its unit, and how its cells look."""

    name: str
    header: str
    form: Form = "text"
    width: float = 0.0  # characters; 0 fits the content
    paper: bool = True  # false for a column that is for the screen only, right of those that are printed


def font(size: float = 10, color: str = INK, *, bold: bool = False) -> Font:
    """The one typeface, in the size and colour asked for."""
    return Font(name=FONT, size=size, color=color, bold=bold)


_SIDE = Side(style="thin", color=LINE)
_MIDDLE = Alignment(vertical="center")
_LEFT = Alignment(vertical="top", horizontal="left", indent=1)
_RIGHT = Alignment(vertical="top", horizontal="right", indent=1)
_WRAP = Alignment(vertical="top", horizontal="left", wrap_text=True, indent=1)
_UNDER = Border(bottom=_SIDE)
_LOOKS: Final[dict[str, dict[str, Any]]] = {
    "title": {"font": font(15, bold=True), "alignment": _MIDDLE},
    "heading": {"font": font(12, bold=True), "alignment": Alignment(vertical="bottom"), "border": _UNDER},
    "note": {"font": font(color=QUIET), "alignment": _MIDDLE},
    "long note": {"font": font(color=QUIET), "alignment": Alignment(vertical="top", wrap_text=True)},
    "warning": {"font": font(color="8A3B00", bold=True), "alignment": _MIDDLE},
    "header": {
        "font": font(bold=True),
        "fill": PatternFill("solid", fgColor=HEADER),
        "alignment": Alignment(vertical="center", horizontal="left", wrap_text=True, indent=1),
        "border": Border(bottom=Side(style="medium", color=QUIET)),
    },
    "left": {"font": font(), "alignment": _LEFT, "border": _UNDER},
    "right": {"font": font(), "alignment": _RIGHT, "border": _UNDER},
    "label": {"font": font(bold=True), "alignment": _LEFT, "border": _UNDER},
    "prose": {"font": font(), "alignment": _WRAP, "border": _UNDER},
}
_LOOKS["header_right"] = _LOOKS["header"] | {
    "alignment": Alignment(vertical="center", horizontal="right", wrap_text=True, indent=1)
}
NOISE: Final = 6  # decimals kept; what lies below is noise of the arithmetic
NUMBERS: Final = ("number", "fine", "whole", "money", "share")
LIVE: Final = ("live", "live_date")
WRAPPED: Final = ("text", "word", "prose")


def header_look(column: Field) -> str:
    """The look of a column's header: numbers stand right, like their cells."""
    return "header_right" if column.form in (*NUMBERS, "live") else "header"


def body_cell(sheet: Any, column: Field, *, strong: bool) -> Any:
    """An empty cell with the look of a column's cells; `strong` for rows that stand out."""
    look = (
        "prose" if column.form in WRAPPED and column.paper else "right" if column.form in (*NUMBERS, "live") else "left"
    )
    made = cell(sheet, None, look, FORMATS[column.form])
    if strong:
        made.font = font(bold=True)
        made.fill = PatternFill("solid", fgColor=STRONG)
    return made


def severity_cell(sheet: Any, severity: str) -> Any:
    """An empty cell with the look of one severity."""
    made = cell(sheet, None, "left", FORMATS["severity"])
    made.fill = PatternFill("solid", fgColor=SEVERITY_FILL[severity])
    return made


def clean_text(text: str) -> str:
    """Take out what a cell cannot hold, and say where a text had to be cut."""
    text = NOT_IN_CELLS.sub("\N{REPLACEMENT CHARACTER}", text.replace("\r\n", "\n").replace("\r", "\n"))
    return text if len(text) <= MAX_CELL else text[: MAX_CELL - len(CUT)] + CUT


def cell(sheet: Any, value: object, look: str, number_format: str = "General") -> Any:
    """Make a cell of one of the looks in `_LOOKS`."""
    made = WriteOnlyCell(sheet)
    for part, style in _LOOKS[look].items():
        setattr(made, part, style)
    made.number_format = number_format
    return fill(made, value)


def fill(made: Any, value: object) -> Any:
    """Put a value into a styled cell: text as text, whatever it begins with; missing values leave it empty."""
    if isinstance(value, list):
        value = ", ".join(map(str, value))
    if isinstance(value, str):
        made.value = clean_text(value)
        made.data_type = "s"
    elif value is None or value != value or (isinstance(value, float) and math.isinf(value)):
        made.value = None
    else:
        made.value = value
    return made


def width_of(frame: pd.DataFrame, column: Field) -> float:
    """Width of a column in characters: its own, or what its header and content need."""
    if column.width:
        return column.width
    longest_word = 1.1 * max((len(word) for word in column.header.split()), default=0) + 3.0
    if column.form == "prose":
        return PROSE_WIDTH
    if column.form in FORMAT_WIDTH:
        return max(FORMAT_WIDTH[column.form], longest_word)
    if column.form == "severity":
        return max(12.0, longest_word)
    text = frame[column.name].head(SAMPLE).dropna().astype("str") if column.name in frame.columns else None
    content = float(text.str.len().quantile(0.95)) if text is not None and len(text) else 0.0
    return min(max(NARROWEST, longest_word, content + 3.0), WIDEST)


def lines_of(length: float, width: float) -> int:
    """Lines that a text of so many characters takes in a column of that width."""
    return max(1, math.ceil(length / room(width)))


def room(width: float) -> float:
    """Characters of running text that a line of that width takes."""
    return max(CHARACTERS * (width - 2.0), 1.0)


def height_of(lines: int) -> float:
    """Height of a row of so many lines, in points, no more than a sheet allows."""
    return min(LINE_POINTS * lines + ROW_POINTS, TALLEST_POINTS)


def header_height(fields: Sequence[Field], widths: Sequence[float]) -> float:
    """Height of the header row, in points."""
    return height_of(max(lines_of(1.5 * len(field.header), width) for field, width in zip(fields, widths, strict=True)))


def row_heights(frame: pd.DataFrame, fields: Sequence[Field], widths: Sequence[float]) -> np.ndarray[Any, Any]:
    """Heights in points that make wrapped text fit; not every spreadsheet program fits rows by itself.

    Columns that are for the screen only do not wrap: their texts would make tall rows on paper that show nothing.
    """
    lines = np.ones(len(frame))
    for column, width in zip(fields, widths, strict=True):
        if column.form in WRAPPED and column.paper and column.name in frame.columns:
            lines = np.maximum(lines, _lines(frame[column.name], width))
    return np.minimum(LINE_POINTS * lines + ROW_POINTS, TALLEST_POINTS)


def _lines(texts: pd.Series, width: float) -> np.ndarray[Any, Any]:
    """Lines that each text takes in a column of that width, its own line ends kept; one that repeats is split once."""
    places, different = pd.factorize(texts.astype("str"))
    pieces = pd.Series(different, dtype="str").str.split("\n").explode()
    each = pd.Series(np.ceil(pieces.str.len() / room(width)), pieces.index).clip(lower=1.0)
    lines = each.groupby(level=0).sum()
    return np.append(lines.to_numpy(dtype="float64"), 1.0)[places]  # the last for a missing text, whose place is -1
