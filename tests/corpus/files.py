"""Writers: workbooks by openpyxl and odfpy, text files by csv, parquet files by pyarrow."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import openpyxl
import pyarrow as pa
import pyarrow.parquet as pq
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from tests.corpus.plant import Book, Error, Grid, Page

DATE = "dd/mm/yyyy"
TIME = "dd/mm/yyyy hh:mm"


def workbook(path: Path, *pages: Page, since_1904: bool = False) -> Path:
    """Write an .xlsx workbook; text stays text, `Error` becomes an error cell, datetimes become date cells."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    if since_1904:
        book.epoch = CALENDAR_MAC_1904
    for page in pages:
        sheet = book.create_sheet(page.name)
        for row, cells in enumerate(page.grid, start=1):
            for column, value in enumerate(cells, start=1):
                if value is not None:
                    _put(sheet.cell(row, column), value)
        for area in page.merges:
            sheet.merge_cells(area)
        if page.hidden:
            sheet.sheet_state = page.hidden
    book.save(path)
    return path


def _put(cell: Any, value: Any) -> None:
    if isinstance(value, Error):
        cell.value, cell.data_type = value.text, "e"
    elif isinstance(value, dt.datetime):
        cell.value = value
        cell.number_format = TIME if value.time() != dt.time() else DATE
    else:
        cell.value = value
        if isinstance(value, str) and not value.startswith("="):
            cell.data_type = "s"


def text(path: Path, page: Page, encoding: str = "utf-8", before: str = "", **dialect: Any) -> Path:
    """Write a delimited text file; `dialect` is csv's."""
    stream = io.StringIO()
    csv.writer(stream, **({"lineterminator": "\n"} | dialect)).writerows(page.grid)
    path.write_bytes((before + stream.getvalue()).encode(encoding))
    return path


def open_workbook(path: Path, *pages: Page) -> Path:
    """Write an .ods workbook."""
    document = OpenDocumentSpreadsheet()
    for page in pages:
        table = Table(name=page.name)
        for cells in page.grid:
            row = TableRow()
            for value in cells:
                row.addElement(_open_cell(value))
            table.addElement(row)
        document.spreadsheet.addElement(table)
    document.save(str(path))
    return path


def _open_cell(value: Any) -> TableCell:
    if value is None:
        return TableCell()
    if isinstance(value, dt.datetime):
        cell = TableCell(valuetype="date", datevalue=value.date().isoformat())
        cell.addElement(P(text=f"{value:%d/%m/%Y}"))
    elif isinstance(value, bool):
        cell = TableCell(valuetype="boolean", booleanvalue=str(value).lower())
        cell.addElement(P(text=str(value).upper()))
    elif isinstance(value, int | float):
        cell = TableCell(valuetype="float", value=f"{value!r}")
        cell.addElement(P(text=f"{value:g}"))
    else:
        cell = TableCell(valuetype="string")
        cell.addElement(P(text=value))
    return cell


def parquet(path: Path, page: Page, types: dict[str, pa.DataType] | None = None) -> Path:
    """Write a parquet file; the page's first row heads it. `types` sets the type of a column by its header."""
    head, *rows = page.grid
    columns = {str(h): [row[n] for row in rows] for n, h in enumerate(head)}
    types = types or {}
    pq.write_table(pa.table({h: pa.array(values, types.get(h)) for h, values in columns.items()}), path)
    return path


def one_workbook(folder: Path, pages: Sequence[Page], name: str = "book.xlsx", **more: Any) -> Book:
    """A book of one workbook."""
    return Book().add(workbook(folder / name, *pages, **more), pages)


def text_files(folder: Path, pages: Sequence[Page], **more: Any) -> Book:
    """A book of text files, one a page, named after it."""
    book = Book()
    for page in pages:
        book.add(text(folder / f"{page.name}.csv", page, **more), [page])
    return book


def raw(path: Path, grid: Grid, end: str = "\n", encoding: str = "utf-8", sign: str = ",") -> Path:
    """Write text cells as they are, with no quoting at all."""
    path.write_bytes("".join(sign.join(map(str, row)) + end for row in grid).encode(encoding))
    return path
