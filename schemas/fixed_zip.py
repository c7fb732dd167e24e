"""Workbooks with the same bytes every time: a zip archive whose entries all carry one date."""

from __future__ import annotations

import datetime as dt
import os
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from openpyxl import Workbook

EARLIEST = (1980, 1, 1, 0, 0, 0)  # the first date that the zip format can hold


class FixedZip(zipfile.ZipFile):
    """A `zipfile.ZipFile` for writing that records neither the clock nor the file system."""

    def writestr(
        self,
        zinfo_or_arcname: str | zipfile.ZipInfo,
        data: str | bytes | Any,
        compress_type: int | None = None,
        compresslevel: int | None = None,
    ) -> None:
        """Add `data` under a name, dated 1 January 1980."""
        name = zinfo_or_arcname.filename if isinstance(zinfo_or_arcname, zipfile.ZipInfo) else zinfo_or_arcname
        super().writestr(entry(name), data, zipfile.ZIP_DEFLATED if compress_type is None else compress_type)

    def write(
        self,
        filename: str | os.PathLike[str],
        arcname: str | os.PathLike[str] | None = None,
        compress_type: int | None = None,
        compresslevel: int | None = None,
    ) -> None:
        """Add a file's content in pieces, dated 1 January 1980."""
        made = entry(os.fspath(arcname if arcname is not None else filename))
        made.file_size = os.stat(filename).st_size  # lets the archive decide on 64-bit sizes up front
        with open(filename, "rb") as source, self.open(made, "w") as target:
            while piece := source.read(1 << 20):
                target.write(piece)


def entry(name: str) -> zipfile.ZipInfo:
    """An archive entry dated 1 January 1980, compressed, the same on every operating system."""
    made = zipfile.ZipInfo(name, EARLIEST)
    made.compress_type = zipfile.ZIP_DEFLATED
    made.create_system = 0
    made.external_attr = 0
    return made


def save_workbook(book: Workbook, path: Path, on: dt.date) -> None:
    """Write an openpyxl workbook so that equal content gives equal bytes.

    Args:
        book: The workbook; it cannot be used afterwards if it is write-only.
        path: Where to write.
        on: The day to record as created and modified, instead of the clock's.
    """
    from openpyxl.writer.excel import ExcelWriter

    moment = dt.datetime(on.year, on.month, on.day)
    book.properties.created = moment
    book.properties.modified = moment
    with FixedZip(path, "w", zipfile.ZIP_DEFLATED) as target:
        ExcelWriter(book, target).save()
