"""A user's own workbook, loaded and saved again with as little change as openpyxl allows.

Carried over: values, formulas with their last results, number formats, fonts, fills, widths, heights, merged cells,
hidden and very hidden sheets, filters, frozen panes, tables, drop-downs, conditional formats, links, names, protection,
print set-up, comments (as plain text, in boxes of a new size).

Not carried over by openpyxl 3.1: pictures, text boxes and shapes, form controls, embedded objects, slicers, links to
outside data, sparklines, threads of comments, the printer's own settings, the newer conditional formats and drop-downs
kept in extensions, values hidden under merged cells, the seventeenth digit of a number. Charts and pivot tables are
written anew and may look different. `lost` says which of these a workbook holds.
"""

from __future__ import annotations

import datetime as dt
import io
import os
import re
import warnings
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from openpyxl.reader.excel import ExcelReader
from openpyxl.writer.excel import ExcelWriter

from schemas.fixed_zip import FixedZip, entry

CORE: Final = "docProps/core.xml"
LOST_PARTS: Final = {  # how the names of its parts begin → what the user calls it
    "xl/media/": "pictures",
    "xl/ctrlProps/": "form controls",
    "xl/activeX/": "form controls",
    "xl/embeddings/": "embedded objects",
    "xl/slicers/": "slicers",
    "xl/timelines/": "slicers",
    "xl/threadedComments/": "threads of comments (their text stays)",
    "xl/connections.xml": "links to outside data",
    "xl/queryTables/": "links to outside data",
    "xl/model/": "the data model",
    "xl/metadata.xml": "the spilling of formulas into neighbouring cells",
}
LOST_IN_SHEETS: Final = {  # words of openpyxl's own warning → what the user calls it
    "Conditional Formatting": "some conditional formats",
    "Data Validation": "some drop-downs",
    "Sparkline": "sparklines",
    "Slicer": "slicers",
}
REDRAWN: Final = {"xl/charts/": "charts", "xl/pivotTables/": "pivot tables"}
SHAPE: Final = re.compile(rb"<(?:\w+:)?(?:sp|grpSp|cxnSp)>|<(?:\w+:)?(?:sp|grpSp|cxnSp) ")
ROW: Final = re.compile(rb"<(?:\w+:)?row[\s>/]")
# a cell with a formula and its last result, in any file; and as openpyxl writes it, without one
RESULT: Final = re.compile(
    rb"<(?:\w+:)?c\b([^<>]*)>\s*<(?:\w+:)?f\b[^<>]*?(?:/>|>[^<]*</(?:\w+:)?f>)\s*<(?:\w+:)?v[^<>]*>([^<]*)</"
)
WRITTEN: Final = re.compile(rb'<c r="([A-Z]+[0-9]+)"([^<>]*)>(<f\b[^<>]*?(?:/>|>[^<]*</f>))<v\s*(?:/>|></v>)')
REFERENCE: Final = re.compile(rb"""(?:^|\s)r\s*=\s*["']([A-Z]+[0-9]+)["']""")
KIND: Final = re.compile(rb"""(?:^|\s)t\s*=\s*["'](str|b|e|n)["']""")
Result = tuple[bytes, bytes]  # kind of the value (empty for a number), and the value, as in the file


@dataclass
class UserWorkbook:
    """An openpyxl workbook, the last results of its formulas by sheet and cell, and what it could not carry over."""

    book: Any
    results: dict[str, dict[bytes, Result]] = field(default_factory=dict)
    lost: tuple[str, ...] = ()
    redrawn: tuple[str, ...] = ()
    dated: bool = True  # its creation is on record


class _Reader(ExcelReader):
    """Takes dates for the numbers that they are, so that saving alters none, not even one that is no date."""

    def read_worksheets(self) -> None:
        """Read all sheets."""
        self.wb._date_formats = self.wb._timedelta_formats = frozenset()  # type: ignore[attr-defined]
        super().read_worksheets()


def load(path: Path) -> UserWorkbook:
    """Load a workbook in full.

    Raises:
        Exception: of any kind, where openpyxl cannot make sense of the file.
    """
    with zipfile.ZipFile(path) as archive, warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        reader = _Reader(path, rich_text=True)
        reader.read()
        loaded = UserWorkbook(reader.wb)
        for sheet, part in reader.parser.find_sheets():
            found = _results(archive.read(part.target)) if "worksheet" in part.Type else {}
            if found:
                loaded.results[sheet.name] = found
        loaded.lost = _lost(archive, " ".join(str(one.message) for one in told))
        loaded.redrawn = _held(archive.namelist(), REDRAWN)
        loaded.dated = CORE in archive.namelist() and b"created" in archive.read(CORE)
    return loaded


def rows_of(path: Path) -> int:
    """Count the rows of all sheets, blank ones too, without loading any."""
    count = 0
    with zipfile.ZipFile(path) as archive:
        for name in archive.namelist():
            if name.startswith("xl/worksheets/") and name.endswith(".xml"):
                with archive.open(name) as part:
                    rest = b""
                    while piece := part.read(1 << 20):
                        piece = rest + piece
                        cut = max(piece.rfind(b"<"), 0)  # a tag is never counted in halves
                        count += len(ROW.findall(piece[:cut]))
                        rest = piece[cut:]
    return count


def to_bytes(loaded: UserWorkbook, on: dt.date) -> bytes:
    """Write the workbook; equal content gives equal bytes. It cannot be used afterwards.

    Args:
        loaded: The workbook.
        on: The day to record as that of the change.
    """
    moment = dt.datetime(on.year, on.month, on.day)
    loaded.book.properties.modified = moment
    if not loaded.dated:
        loaded.book.properties.created = moment
    sheets = {f"xl/worksheets/sheet{n}.xml": sheet.title for n, sheet in enumerate(loaded.book.worksheets, 1)}
    results = {part: loaded.results[title] for part, title in sheets.items() if title in loaded.results}
    whole = io.BytesIO()
    with warnings.catch_warnings(), _ResultsZip(whole, results) as archive:
        warnings.simplefilter("ignore")
        ExcelWriter(loaded.book, archive).save()
    return whole.getvalue()


class _ResultsZip(FixedZip):
    """Puts the last result back into each formula cell, which openpyxl leaves empty, while a sheet is written."""

    def __init__(self, file: io.BytesIO, results: Mapping[str, Mapping[bytes, Result]]) -> None:
        super().__init__(file, "w", zipfile.ZIP_DEFLATED)
        self._results = results

    def write(
        self,
        filename: str | os.PathLike[str],
        arcname: str | os.PathLike[str] | None = None,
        compress_type: int | None = None,
        compresslevel: int | None = None,
    ) -> None:
        """Add a file; a sheet with its results."""
        name = os.fspath(arcname if arcname is not None else filename)
        if name in self._results:
            self.writestr(entry(name), _with_results(Path(filename).read_bytes(), self._results[name]))
        else:
            super().write(filename, arcname)


def _results(sheet: bytes) -> dict[bytes, Result]:
    found: dict[bytes, Result] = {}
    if b"<f" not in sheet and b":f" not in sheet:
        return found
    for attributes, value in RESULT.findall(sheet):
        reference, kind = REFERENCE.search(attributes), KIND.search(attributes)
        if reference and value:
            found[reference[1]] = (kind[1] if kind else b"", value)
    return found


def _with_results(sheet: bytes, results: Mapping[bytes, Result]) -> bytes:
    def filled(cell: re.Match[bytes]) -> bytes:
        if cell[1] not in results:
            return cell[0]
        kind, value = results[cell[1]]
        told = b' t="%s"' % kind if kind else b""
        return b'<c r="%s"%s%s>%s<v>%s</v>' % (cell[1], cell[2], told, cell[3], value)

    return WRITTEN.sub(filled, sheet)


def _lost(archive: zipfile.ZipFile, told: str) -> tuple[str, ...]:
    names = archive.namelist()
    lost = [*_held(names, LOST_PARTS), *(words for sign, words in LOST_IN_SHEETS.items() if sign in told)]
    drawings = (name for name in names if name.startswith("xl/drawings/drawing") and name.endswith(".xml"))
    if any(SHAPE.search(archive.read(name)) for name in drawings):
        lost.append("text boxes and shapes")
    return tuple(dict.fromkeys(lost))


def _held(names: list[str], parts: Mapping[str, str]) -> tuple[str, ...]:
    held = (words for start, words in parts.items() if any(name.startswith(start) for name in names))
    return tuple(dict.fromkeys(held))
