"""Blank workbooks to fill in, and the data dictionary: both made from `schemas.tables.COLUMNS`."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from openpyxl import Workbook
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Border, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from reports.folder import replacing
from reports.look import FORMATS, HEADER, LINE, QUIET, Form, font, height_of, lines_of
from reports.workbook import A4
from schemas.column import Column
from schemas.fixed_zip import save_workbook
from schemas.results import DICTIONARY_HEADERS, RESULT_COLUMNS
from schemas.tables import COLUMNS

BOOKS: Final = {
    "asset-list.xlsx": ("homes", "valves"),
    "visit-log.xlsx": ("visits",),
    "prices-and-teams.xlsx": ("rates", "capacity", "parts"),
}
DICTIONARY: Final = "Data dictionary"
DATED: Final = dt.date(2026, 1, 1)  # fixed, so that the same version writes the same bytes
LAST_ROW: Final = 1_048_576
CELL_FORMS: Final[dict[str, Form]] = {"id": "text", "text": "text", "word": "text", "date": "date", "time": "time"}
NEEDED: Final = "D5DEE6"  # header fill of required columns, with a star beside it
DICTIONARY_WIDTHS: Final = (12, 24, 10, 52, 16, 8, 70, 34)
KINDS: Final = {
    "id": "number or code",
    "text": "free text",
    "word": "one of the words",
    "number": "number",
    "date": "date",
    "time": "date, time if known",
}


def write_template(folder: Path) -> list[Path]:
    """Write the blank workbooks, all or none.

    Returns:
        The files written.

    Raises:
        OSError: the folder or a file in it cannot be written.
    """
    with replacing(folder) as fresh:
        for name, tables in BOOKS.items():
            save_workbook(_book(tables), fresh / name, DATED)
    return [folder / name for name in BOOKS]


def _book(tables: Sequence[str]) -> Workbook:
    book = Workbook()
    book.remove(book.worksheets[0])
    book.properties.creator = "valve-audit"
    book._named_styles["Normal"].font = font()  # type: ignore[attr-defined]  # widths count its digits
    for table in tables:
        _blank(book.create_sheet(table), COLUMNS[table])
    _dictionary(book.create_sheet(DICTIONARY), [column for table in tables for column in COLUMNS[table]])
    return book


def _blank(sheet: Any, columns: Sequence[Column]) -> None:
    for place, column in enumerate(columns, 1):
        letter = get_column_letter(place)
        head = sheet.cell(row=1, column=place, value=column.name)
        _dress_header(head, NEEDED if column.required else HEADER)
        head.comment = _note(column)
        sheet.column_dimensions[letter].width = max(12.0, len(column.name) + 4.0)
        sheet.column_dimensions[letter].number_format = _format(column)
        check = _validation(column)
        if check is not None:
            check.add(f"{letter}2:{letter}{LAST_ROW}")
            sheet.add_data_validation(check)
    sheet.freeze_panes = "B2"
    sheet.row_dimensions[1].height = height_of(2)
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = A4


def _dress_header(cell: Any, fill: str) -> None:
    cell.font = font(bold=True)
    cell.fill = PatternFill("solid", fgColor=fill)
    cell.alignment = Alignment(vertical="center", wrap_text=True)
    cell.border = Border(bottom=Side(style="medium", color=QUIET))


def _note(column: Column) -> Comment:
    lines = [column.meaning, "Required." if column.required else "Optional.", f"Kind: {KINDS[column.kind]}."]
    if column.unit:
        lines.append(f"Unit: {column.unit}.")
    if column.bounds:
        lines.append(f"Allowed: {column.bounds}{', whole numbers' if column.whole else ''}.")
    if column.words:
        lines.append("Allowed: " + ", ".join(column.words) + ".")
    if column.example:
        lines.append(f"Example: {column.example}")
    text = "\n".join(lines)
    return Comment(text, "valve-audit", height=40 + 18 * (len(lines) + len(text) // 42), width=320)


def _format(column: Column) -> str:
    if column.kind == "number":
        return "0" if column.whole else "General"
    return FORMATS[CELL_FORMS[column.kind]]


def _validation(column: Column) -> DataValidation | None:
    """A drop-down for words, bounds for numbers, a date for dates; nothing for text."""
    if column.words:
        choice = f'"{",".join(column.words)}"'
        return _checked(DataValidation(type="list", formula1=choice), "Choose one of the words.", column)
    if column.kind in ("date", "time"):
        check = DataValidation(type="date", operator="greaterThanOrEqual", formula1="1")
        return _checked(check, "Enter a date, day month year.", column)
    if column.kind == "number" and column.low is not None and column.high is not None:
        check = DataValidation(
            type="whole" if column.whole else "decimal",
            operator="between",
            formula1=f"{column.low:.10g}",
            formula2=f"{column.high:.10g}",
        )
        return _checked(check, f"Enter a number, {column.bounds}.", column)
    return None


def _checked(check: DataValidation, mend: str, column: Column) -> DataValidation:
    check.allow_blank = True
    check.showErrorMessage = True
    check.errorTitle = column.name
    check.error = mend
    return check


def _dictionary(sheet: Any, columns: Sequence[Column]) -> None:
    for place, (header, width) in enumerate(zip(DICTIONARY_HEADERS, DICTIONARY_WIDTHS, strict=True), 1):
        _dress_header(sheet.cell(row=1, column=place, value=header), HEADER)
        sheet.column_dimensions[get_column_letter(place)].width = width
    for row, column in enumerate(columns, 2):
        entry = _entry(column)
        tallest = max(_lines(text, width) for text, width in zip(entry, DICTIONARY_WIDTHS, strict=True))
        sheet.row_dimensions[row].height = height_of(tallest)
        for place, text in enumerate(entry, 1):
            cell = sheet.cell(row=row, column=place, value=text)
            cell.font = font()
            cell.alignment = Alignment(vertical="top", wrap_text=True)
            cell.border = Border(bottom=Side(style="thin", color=LINE))
    sheet.freeze_panes = "C2"
    sheet.auto_filter.ref = f"A1:{get_column_letter(len(DICTIONARY_HEADERS))}{len(columns) + 1}"
    sheet.row_dimensions[1].height = height_of(2)
    _on_paper(sheet)


def _lines(text: str, width: float) -> int:
    return sum(lines_of(len(line), width) for line in text.split("\n"))


def _on_paper(sheet: Any) -> None:
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = A4
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.print_title_rows = "1:1"


def _entry(column: Column) -> tuple[str, ...]:
    return (
        column.table,
        column.name,
        "yes" if column.required else "",
        column.meaning,
        KINDS[column.kind],
        column.unit,
        _allowed(column),
        column.example,
    )


def _allowed(column: Column) -> str:
    if column.words:
        return "\n".join(word if word == meaning else f"{word}: {meaning}" for word, meaning in column.words.items())
    unique = "each value once" if column.unique else ""
    whole = "whole numbers" if column.whole else ""
    return ", ".join(part for part in (column.bounds, whole, unique) if part)


def data_dictionary_markdown() -> str:
    """The data dictionary for the README: each input table in full, each result table in short."""
    parts = ["### What goes in", "", "A star marks the required columns."]
    for table, columns in COLUMNS.items():
        parts += ["", f"**{table}**", "", "| column | holds | unit | allowed |", "|---|---|---|---|"]
        parts += [_markdown_row(column) for column in columns]
    parts += ["", "### What comes out", "", "| file | columns |", "|---|---|"]
    for table, columns in RESULT_COLUMNS.items():
        parts.append(f"| `{table}.csv` | {', '.join(f'`{column.name}`' for column in columns)} |")
    return "\n".join(parts) + "\n"


def _markdown_row(column: Column) -> str:
    allowed = ", ".join(f"`{word}`" for word in column.words) if column.words else _allowed(column)
    star = "\\*" if column.required else ""
    return f"| `{column.name}`{star} | {column.meaning} | {column.unit} | {allowed} |"
