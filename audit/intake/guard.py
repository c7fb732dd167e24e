"""A look at the bytes of a workbook before the fast reader opens it, so that no file can harm the process.

The fast reader aborts the whole process on a lone cell at the far end of a sheet, and reads an error cell (#N/A) as a
blank. One pass over the compressed parts finds both, and costs a fraction of the reading.
"""

from __future__ import annotations

import re
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from xml.etree import ElementTree

from audit.errors import CannotUse
from audit.intake.cells import LAST_ROW, Found, Marks
from audit.intake.ods import Table, Walk
from audit.policy import Policy

OLE = bytes.fromhex("d0cf11e0a1b11ae1")
CHUNK = 1 << 20
SAVE_AGAIN = "open it in a spreadsheet program and save it again as .xlsx"
DAMAGED = "the file is damaged or incomplete; ask for it again, or " + SAVE_AGAIN
FAR = "select the empty rows below and the empty columns right of the table, delete them, and save"
RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"


@dataclass(frozen=True)
class Look:
    """What the bytes say. `marks` are, for each sheet, the cells that hold an error or an uncomputed formula."""

    epoch_1904: bool = False
    marks: dict[str, Marks] = field(default_factory=dict)


def look(path: Path, name: str, policy: Policy) -> Look:
    """Check a .xlsx or .ods file and find its error cells.

    Raises:
        CannotUse: the file is damaged, locked with a password, not what its name says, or built to do harm.
    """
    _check_kind(path, name)
    try:
        with zipfile.ZipFile(path) as book:
            part = Part(book, name, path.stat().st_size, policy)
            return _look_ods(part) if path.suffix.lower() == ".ods" else _look_xlsx(part)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, UnicodeDecodeError, ElementTree.ParseError):
        raise CannotUse(f"{name}: {DAMAGED}.") from None


def _check_kind(path: Path, name: str) -> None:
    """Tell a workbook from the other things that go by its name."""
    with path.open("rb") as stream:
        head = stream.read(4096)
        if head.startswith(b"PK"):
            return
        if head.startswith(OLE):
            rest = head + stream.read(1 << 20)
            stream.seek(max(0, path.stat().st_size - (1 << 20)))
            rest += stream.read()
            if "EncryptedPackage".encode("utf-16-le") in rest:
                raise CannotUse(f"{name}: the workbook is locked with a password; save it without one.")
            raise CannotUse(f"{name}: this is an old .xls workbook under another name; {SAVE_AGAIN}.")
    if b"\0" in head:
        raise CannotUse(f"{name}: {DAMAGED}.")
    kind = "a web page" if b"<html" in head.lower() or b"<table" in head.lower() else "a text file"
    raise CannotUse(f"{name}: this is {kind} under the name of a workbook; name it .csv if it is one, or {SAVE_AGAIN}.")


class Part:
    """The parts of one zipped workbook, read as streams with a limit on what they may grow to."""

    def __init__(self, book: zipfile.ZipFile, name: str, size: int, policy: Policy) -> None:
        self.book, self.name, self.size, self.policy = book, name, size, policy
        self.grown = 0
        self.members = {info.filename.lower().lstrip("/"): info for info in book.infolist()}
        if len(self.members) < len(book.infolist()):  # which of two parts of one name is read, nobody can say
            raise CannotUse(f"{name}: {DAMAGED}.")

    def chunks(self, member: str) -> Iterator[bytes]:
        """Inflate one part, a piece at a time.

        Raises:
            CannotUse: it is locked, grows beyond all measure, or defines entities of its own.
        """
        info = self.members.get(member.lower().lstrip("/"))
        if info is None:
            raise CannotUse(f"{self.name}: {DAMAGED}.")
        if info.flag_bits & 1:
            raise CannotUse(f"{self.name}: the workbook is locked with a password; save it without one.")
        free = self.policy.number("reading.inflated_free") * CHUNK
        most = self.policy.number("reading.inflated_most") * CHUNK
        ratio = self.policy.number("reading.inflated_ratio")
        with self.book.open(info) as stream:
            first = True
            while piece := stream.read(CHUNK):
                self.grown += len(piece)
                if self.grown > most or (self.grown > free and self.grown > ratio * self.size):
                    raise CannotUse(
                        f"{self.name}: unpacks to over {self.grown // CHUNK:,} MiB from {self.size / CHUNK:,.1f} MiB, "
                        f"as no honest workbook does; {SAVE_AGAIN}, or ask for the records as .csv."
                    )
                if (first and piece[:2] in (b"\xff\xfe", b"\xfe\xff")) or b"<!DOCTYPE" in piece or b"<!ENTITY" in piece:
                    raise CannotUse(f"{self.name}: holds definitions that a workbook never has; {SAVE_AGAIN}.")
                first = False
                yield piece

    def text(self, member: str) -> bytes:
        """Inflate one small part whole."""
        return b"".join(self.chunks(member))

    def has(self, member: str) -> bool:
        """Tell whether there is such a part."""
        return member.lower().lstrip("/") in self.members


def _look_xlsx(part: Part) -> Look:
    if not part.has("xl/workbook.xml"):
        if part.has("content.xml"):
            raise CannotUse(f"{part.name}: this is an .ods workbook under another name; name it .ods.")
        if part.has("xl/workbook.bin"):
            raise CannotUse(f"{part.name}: this is an .xlsb workbook under another name; {SAVE_AGAIN}.")
        raise CannotUse(f"{part.name}: the file is zipped but holds no workbook; {SAVE_AGAIN}.")
    if part.has("xl/styles.xml"):
        part.text("xl/styles.xml")
    if part.has("xl/sharedStrings.xml"):
        _check_gaps(part, "xl/sharedStrings.xml", b"<si")
    book = part.text("xl/workbook.xml")
    epoch = re.search(rb"""date1904\s*=\s*["'](1|true|on)["']""", book) is not None
    marks = {
        sheet: _marks(part, member, sheet) for sheet, member in _sheet_members(part, book).items() if part.has(member)
    }
    return Look(epoch, marks)


def _sheet_members(part: Part, book: bytes) -> dict[str, str]:
    """Map the names of the sheets to the parts that hold them."""
    links = ElementTree.fromstring(part.text("xl/_rels/workbook.xml.rels"))
    targets = {link.get("Id"): str(link.get("Target")) for link in links}
    found = {}
    for node in ElementTree.fromstring(book).iter():
        if node.tag.endswith("}sheet") and (target := targets.get(node.get(RELATION))):
            found[str(node.get("name"))] = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
    return found


def _marks(part: Part, member: str, sheet: str) -> Marks:
    """Read one sheet's part through, and refuse it where its cells lie too far apart for the fast reader."""
    found = Found()
    for piece in part.chunks(member):
        _refuse_long(part, f"{part.name}, sheet '{sheet}'", found.take(piece))
    found.end()
    if found.columns > part.policy.number("reading.columns_most") or found.rows > LAST_ROW:
        raise CannotUse(
            f"{part.name}, sheet '{sheet}': cell {found.far} lies outside what a sheet can hold; {SAVE_AGAIN}."
        )
    _refuse_far(part, sheet, found)
    return found.marks


def _check_gaps(part: Part, member: str, tag: bytes) -> None:
    """Refuse a part with one text longer than any cell can hold."""
    held = 0
    for piece in part.chunks(member):
        first, last = piece.find(tag), piece.rfind(tag)
        held = held + len(piece) if last < 0 else max(held + first, 0)
        _refuse_long(part, part.name, held)
        if last >= 0:
            held = len(piece) - last


def _look_ods(part: Part) -> Look:
    if not part.has("content.xml"):
        raise CannotUse(f"{part.name}: the file is zipped but holds no .ods workbook; {SAVE_AGAIN}.")
    if part.has("META-INF/manifest.xml") and b"encryption-data" in part.text("META-INF/manifest.xml"):
        raise CannotUse(f"{part.name}: the workbook is locked with a password; save it without one.")
    epoch, walk = False, Walk()
    for piece in part.chunks("content.xml"):
        epoch = epoch or b'table:date-value="1904-01-01"' in piece
        _refuse_long(part, part.name, walk.take(piece))
    walk.end()
    for sheet, found in walk.tables.items():
        _refuse_far(part, sheet, found)
    return Look(epoch, {sheet: found.marks for sheet, found in walk.tables.items()})


def _refuse_long(part: Part, place: str, held: int) -> None:
    if held > part.policy.number("reading.cell_most"):
        raise CannotUse(
            f"{place}: one text runs over {held:,} characters; a cell holds at most 32,767, shorten it or clear it."
        )


def _refuse_far(part: Part, sheet: str, found: Found | Table) -> None:
    """Refuse a sheet whose cells lie too far apart for the fast reader, which keeps room for every cell between."""
    area = found.rows * found.columns
    free, most = (part.policy.number(f"reading.cells_{word}") for word in ("free", "most"))
    if area > most or (area > free and area > 30 * found.cells):
        raise CannotUse(
            f"{part.name}, sheet '{sheet}': cell {found.far} lies far away from the table "
            f"({found.cells:,} cells spread over {area:,}); {FAR}."
        )
