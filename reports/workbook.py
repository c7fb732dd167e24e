"""A workbook under construction: title line, frozen filterable header, typed cells, A4 landscape.

Equal content gives equal bytes.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.cell_range import CellRange

from reports.look import Field, cell, font, header_height, header_look, row_heights, width_of
from reports.rows import append_rows
from schemas.fixed_zip import save_workbook

if TYPE_CHECKING:
    import pandas as pd

A4: Final = 9  # the file format's number for the paper


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
        self._book._named_styles["Normal"].font = font()  # type: ignore[attr-defined]  # widths count its digits
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
        paper_rows: int = 0,
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
            paper_rows: Rows that go on paper, where there are more; a sentence says so. 0 prints all.
        """
        shown = frame.head(max_rows)
        header_row = 4
        widths = [width_of(shown, column) for column in fields]
        frozen = f"{get_column_letter(freeze + 1)}{header_row + 1}"
        sheet = self.sheet(name, widths, frozen=frozen, header_row=header_row)
        last_row = header_row + len(shown)
        sheet.row_dimensions[header_row].height = header_height(fields, widths)
        printed = sum(column.paper for column in fields)
        on_paper = min(len(shown), paper_rows) if paper_rows else len(shown)
        if printed < len(fields) or on_paper < len(shown):
            sheet.print_area = f"A1:{get_column_letter(printed)}{header_row + max(on_paper, 1)}"
        sheet.auto_filter.ref = f"A{header_row}:{get_column_letter(len(fields))}{max(last_row, header_row)}"
        sheet.append([cell(sheet, heading, "title")])
        append_note(sheet, note, widths[:printed])
        cut = (_said_cut(len(frame), max_rows, csv), _said_paper(on_paper, len(shown)))
        sheet.append([cell(sheet, " ".join(filter(None, cut)), "warning")])
        sheet.append([cell(sheet, column.header, header_look(column)) for column in fields])
        if shown.empty:
            sheet.append([cell(sheet, "Nothing to show here.", "note")])
        else:
            heights = row_heights(shown, fields, widths)
            append_rows(sheet, shown, fields, header_row + 1, heights, strong)
        places = {column.name: place for place, column in enumerate(fields, 1)}
        return Layout(sheet, header_row, last_row, places)

    def save(self, path: Path) -> None:
        """Write the workbook; it takes no more sheets afterwards."""
        save_workbook(self._book, path, self._as_of)

    def _set_page(self, sheet: Any, name: str) -> None:
        sheet.page_setup.paperSize = A4
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


def append_note(sheet: Any, note: str, widths: Sequence[float]) -> None:
    """Append the note below a title, over as many lines as it takes across columns of these widths."""
    lines = ceil(1.1 * len(note) / sum(widths))  # a bit more than the digits that widths count
    if lines > 1 and len(widths) > 1:
        sheet.merged_cells.add(CellRange(f"A2:{get_column_letter(len(widths))}2"))
        sheet.row_dimensions[2].height = 14.0 * lines
    sheet.append([cell(sheet, note, "long note" if lines > 1 else "note")])


def _said_cut(rows: int, max_rows: int, csv: str) -> str:
    if rows <= max_rows:
        return ""
    return f"The first {max_rows:,} of {rows:,} rows are shown" + (f"; {csv} holds them all." if csv else ".")


def _said_paper(rows: int, of: int) -> str:
    if rows == of:
        return ""
    return f"On paper: the first {rows:,} of {of:,} rows; clear the print area to print them all."
