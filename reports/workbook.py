"""One look for every workbook: title line, frozen filterable header, typed cells, widths that fit, A4 landscape.

Text from users is written as text whatever it begins with. Workbooks are streamed (write-only), so that long sheets
cost little memory, and have the same bytes every time.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter

from schemas.fixed_zip import save_workbook

if TYPE_CHECKING:
    import pandas as pd

Form = Literal["text", "word", "prose", "any", "number", "whole", "money", "date", "time", "share", "severity"]

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
    "whole": "#,##0",
    "money": '"£"#,##0.00;[Red]-"£"#,##0.00',
    "date": "dd mmm yyyy",
    "time": "dd mmm yyyy hh:mm",
    "share": "0.0%",
}
FORMAT_WIDTH: Final[dict[Form, float]] = {"date": 13, "time": 19, "money": 12, "share": 9, "number": 9, "whole": 8}
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


@dataclass(frozen=True)
class Layout:
    """Where a table came to lie on its sheet, for charts and links: rows and columns counted from 1."""

    sheet: Any
    header_row: int
    last_row: int
    columns: dict[str, int] = field(default_factory=dict)


class Book:
    """A workbook under construction, and the day that it is dated."""

    def __init__(self, title: str, as_of: dt.date) -> None:
        self._book = Workbook(write_only=True)
        self._book.properties.title = title
        self._book._named_styles["Normal"].font = _font()  # type: ignore[attr-defined]  # widths count its digits
        self._book.properties.creator = "valve-audit"
        self._title = title
        self._as_of = as_of

    def sheet(self, name: str, widths: Sequence[float], *, frozen: str = "", header_row: int = 0) -> Any:
        """Add an empty sheet set up for the screen and for A4 paper; rows are appended afterwards."""
        sheet = self._book.create_sheet(name[:31])
        for place, width in enumerate(widths, 1):
            sheet.column_dimensions[get_column_letter(place)].width = width
        sheet.sheet_view.showGridLines = False
        if frozen:
            sheet.freeze_panes = frozen
        if header_row:
            sheet.print_title_rows = f"{header_row}:{header_row}"
        self._set_page(sheet, name)
        return sheet

    def table(
        self,
        name: str,
        heading: str,
        frame: pd.DataFrame,
        fields: Sequence[Field],
        *,
        note: str = "",
        max_rows: int = 1_000_000,
        csv: str = "",
        freeze: int = 1,
        strong: str = "",
    ) -> Layout:
        """Add a sheet with one table: heading, note, header row that filters, one row a record.

        Args:
            name: The sheet's name.
            heading: The title line.
            frame: One row a record; a column that `fields` names and the frame lacks stays empty.
            fields: The columns, in order.
            note: A sentence beneath the heading.
            max_rows: Rows shown; a longer table is cut, and a sentence says so.
            csv: The file that holds all rows, named in that sentence.
            freeze: Columns that stay in sight when scrolling right.
            strong: A yes/no column of the frame (boolean); its rows stand out.
        """
        shown = frame.head(max_rows)
        header_row = 4
        widths = [_width(shown, column) for column in fields]
        frozen = f"{get_column_letter(freeze + 1)}{header_row + 1}"
        sheet = self.sheet(name, widths, frozen=frozen, header_row=header_row)
        last_row = header_row + len(shown)
        sheet.row_dimensions[header_row].height = _header_height(fields, widths)
        _set_heights(sheet, shown, fields, widths, header_row + 1)
        printed = sum(column.paper for column in fields)
        if printed < len(fields):
            sheet.print_area = f"A1:{get_column_letter(printed)}{max(last_row, header_row + 1)}"
        sheet.auto_filter.ref = f"A{header_row}:{get_column_letter(len(fields))}{max(last_row, header_row)}"
        sheet.append([cell(sheet, heading, "title")])
        sheet.append([cell(sheet, note, "note")])
        sheet.append([cell(sheet, _said_cut(len(frame), max_rows, csv), "warning")])
        sheet.append([cell(sheet, column.header, _header_look(column)) for column in fields])
        _append_rows(sheet, shown, fields, shown[strong].tolist() if strong else [False] * len(shown))
        if shown.empty:
            sheet.append([cell(sheet, "Nothing to show here.", "note")])
        places = {column.name: place for place, column in enumerate(fields, 1)}
        return Layout(sheet, header_row, last_row, places)

    def save(self, path: Path) -> None:
        """Write the workbook; it takes no more sheets afterwards."""
        save_workbook(self._book, path, self._as_of)

    def _set_page(self, sheet: Any, name: str) -> None:
        sheet.page_setup.paperSize = sheet.PAPERSIZE_A4 if hasattr(sheet, "PAPERSIZE_A4") else 9
        sheet.page_setup.orientation = "landscape"
        sheet.page_setup.fitToWidth = 1
        sheet.page_setup.fitToHeight = 0
        sheet.sheet_properties.pageSetUpPr.fitToPage = True
        sheet.page_margins.left = sheet.page_margins.right = 0.4
        sheet.page_margins.top, sheet.page_margins.bottom = 0.5, 0.6
        sheet.oddFooter.left.text = f"{self._title}: {name}".replace("&", "&&")
        sheet.oddFooter.center.text = f"as of {self._as_of:%d %B %Y}"
        sheet.oddFooter.right.text = "Page &P of &N"
        for part in (sheet.oddFooter.left, sheet.oddFooter.center, sheet.oddFooter.right):
            part.size = 8


def _font(size: float = 10, color: str = INK, *, bold: bool = False) -> Font:
    return Font(name=FONT, size=size, color=color, bold=bold)


_SIDE = Side(style="thin", color=LINE)
_MIDDLE = Alignment(vertical="center")
_LEFT = Alignment(vertical="top", horizontal="left", indent=1)
_RIGHT = Alignment(vertical="top", horizontal="right", indent=1)
_WRAP = Alignment(vertical="top", horizontal="left", wrap_text=True, indent=1)
_UNDER = Border(bottom=_SIDE)
_LOOKS: Final[dict[str, dict[str, Any]]] = {
    "title": {"font": _font(15, bold=True), "alignment": _MIDDLE},
    "heading": {"font": _font(12, bold=True), "alignment": Alignment(vertical="bottom"), "border": _UNDER},
    "note": {"font": _font(color=QUIET), "alignment": _MIDDLE},
    "warning": {"font": _font(color="8A3B00", bold=True), "alignment": _MIDDLE},
    "header": {
        "font": _font(bold=True),
        "fill": PatternFill("solid", fgColor=HEADER),
        "alignment": Alignment(vertical="center", horizontal="left", wrap_text=True, indent=1),
        "border": Border(bottom=Side(style="medium", color=QUIET)),
    },
    "left": {"font": _font(), "alignment": _LEFT, "border": _UNDER},
    "right": {"font": _font(), "alignment": _RIGHT, "border": _UNDER},
    "label": {"font": _font(bold=True), "alignment": _LEFT, "border": _UNDER},
    "prose": {"font": _font(), "alignment": _WRAP, "border": _UNDER},
}
_LOOKS["header_right"] = _LOOKS["header"] | {
    "alignment": Alignment(vertical="center", horizontal="right", wrap_text=True, indent=1)
}
NOISE: Final = 6  # decimals kept; what lies below is noise of the arithmetic
NUMBERS: Final = ("number", "whole", "money", "share")
WRAPPED: Final = ("text", "word", "prose")


def _header_look(column: Field) -> str:
    return "header_right" if column.form in NUMBERS else "header"


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


def _append_rows(sheet: Any, frame: pd.DataFrame, fields: Sequence[Field], strong: Sequence[bool]) -> None:
    """Stream the rows; one styled cell a column is used over and over, since styling is what costs time."""
    blank = [None] * len(frame)
    columns = [_values(frame, column) if column.name in frame.columns else blank for column in fields]
    cells = {flag: [_body_cell(sheet, column, strong=flag) for column in fields] for flag in (False, True)}
    by_word = {word: _severity_cell(sheet, word) for word in SEVERITY_WORD}
    severity = [column.form == "severity" for column in fields]
    for flag, *row in zip(strong, *columns, strict=True):
        sheet.append(
            [
                by_word[str(value)] if marked and value in by_word else fill(made, value)
                for made, value, marked in zip(cells[flag], row, severity, strict=True)
            ]
        )


def _values(frame: pd.DataFrame, column: Field) -> list[Any]:
    values = frame[column.name]
    if column.form in NUMBERS:
        values = values.astype("float64").round(NOISE)
    elif column.form == "word":
        values = values.astype("str").str.replace("_", " ")
    return values.astype("object").where(values.notna(), None).tolist()


def _body_cell(sheet: Any, column: Field, *, strong: bool) -> Any:
    look = "prose" if column.form in WRAPPED else "right" if column.form in NUMBERS else "left"
    made = cell(sheet, None, look, FORMATS[column.form])
    if strong:
        made.font = _font(bold=True)
        made.fill = PatternFill("solid", fgColor=STRONG)
    return made


def _severity_cell(sheet: Any, word: str) -> Any:
    made = cell(sheet, SEVERITY_WORD[word], "left", FORMATS["severity"])
    made.fill = PatternFill("solid", fgColor=SEVERITY_FILL[word])
    return made


def _width(frame: pd.DataFrame, column: Field) -> float:
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
    return max(1, math.ceil(length / _room(width)))


def _room(width: float) -> float:
    return max(CHARACTERS * (width - 2.0), 1.0)


def height_of(lines: int) -> float:
    """Height of a row of so many lines, in points, no more than a sheet allows."""
    return min(LINE_POINTS * lines + ROW_POINTS, TALLEST_POINTS)


def _header_height(fields: Sequence[Field], widths: Sequence[float]) -> float:
    return height_of(max(lines_of(1.5 * len(field.header), width) for field, width in zip(fields, widths, strict=True)))


def _set_heights(
    sheet: Any, frame: pd.DataFrame, fields: Sequence[Field], widths: Sequence[float], first_row: int
) -> None:
    """Make rows of wrapped text tall enough; not every spreadsheet program does so by itself."""
    lines = np.ones(len(frame))
    for column, width in zip(fields, widths, strict=True):
        if column.form in WRAPPED and column.name in frame.columns:
            text = frame[column.name].astype("str")
            length = text.str.len().to_numpy(dtype="float64", na_value=0.0)
            breaks = text.str.count("\n").to_numpy(dtype="float64", na_value=0.0)
            lines = np.maximum(lines, np.ceil(length / _room(width)) + breaks)
    for row in np.flatnonzero(lines > 1):
        sheet.row_dimensions[int(row) + first_row].height = height_of(int(lines[row]))


def _said_cut(rows: int, max_rows: int, csv: str) -> str:
    if rows <= max_rows:
        return ""
    return f"The first {max_rows:,} of {rows:,} rows are shown; {csv} holds them all."
