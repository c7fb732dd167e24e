"""Files made to do harm, and files that are not what their names say; each is a few lines of bytes."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from pathlib import Path

SPREADSHEET = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006"
TYPES = (
    f'<Types xmlns="{PACKAGE}/content-types"><Default Extension="rels" '
    'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="xml" ContentType="application/xml"/></Types>'
)
LINKS = (
    f'<Relationships xmlns="{PACKAGE}/relationships"><Relationship Id="rId1" Type="{OFFICE}/officeDocument" '
    'Target="xl/workbook.xml"/></Relationships>'
)
BOOK = (
    f'<workbook xmlns="{SPREADSHEET}" xmlns:r="{OFFICE}">'
    '<sheets><sheet name="Valves" sheetId="1" r:id="rId1"/></sheets></workbook>'
)
BOOK_LINKS = (
    f'<Relationships xmlns="{PACKAGE}/relationships"><Relationship Id="rId1" Type="{OFFICE}/worksheet" '
    'Target="worksheets/sheet1.xml"/></Relationships>'
)
HEADERS = ("valve_id", "home_id", "make")


def cell(reference: str, text: str) -> str:
    """One inline text cell."""
    return f'<c r="{reference}" t="inlineStr"><is><t>{text}</t></is></c>'


def row(number: int, *texts: str) -> str:
    """One row of inline text cells from column A."""
    cells = "".join(cell(f"{chr(65 + place)}{number}", text) for place, text in enumerate(texts))
    return f'<row r="{number}">{cells}</row>'


def sheet(rows: str, before: str = "", prolog: str = "") -> str:
    """The XML of one sheet."""
    start = f'<?xml version="1.0"?>{prolog}<worksheet xmlns="{SPREADSHEET}">{before}'
    return f"{start}<sheetData>{rows}</sheetData></worksheet>"


def workbook(path: Path, content: str | bytes | Callable[[io.BufferedIOBase], None], **parts: str) -> Path:
    """Write a minimal workbook around the XML of its one sheet, given whole or written piece by piece."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as book:
        book.writestr("[Content_Types].xml", TYPES)
        book.writestr("_rels/.rels", LINKS)
        book.writestr("xl/workbook.xml", parts.get("book", BOOK))
        book.writestr("xl/_rels/workbook.xml.rels", BOOK_LINKS)
        if callable(content):
            with book.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as stream:
                content(stream)  # type: ignore[arg-type]
        else:
            book.writestr("xl/worksheets/sheet1.xml", content)
    return path


def honest(count: int = 5) -> str:
    """Rows of an honest register."""
    return row(1, *HEADERS) + "".join(row(n, f"V{n}", f"H{n}", "Make A") for n in range(2, count + 2))


def repeated(head: str, piece: bytes, times: int, tail: str) -> Callable[[io.BufferedIOBase], None]:
    """XML with one piece repeated, written without holding it in memory."""

    def write(stream: io.BufferedIOBase) -> None:
        stream.write(head.encode())
        block = piece * max(1, (1 << 20) // len(piece))
        for _ in range(times * len(piece) // len(block)):
            stream.write(block)
        stream.write(tail.encode())

    return write


START = f'<worksheet xmlns="{SPREADSHEET}"><sheetData>'
END = "</sheetData></worksheet>"
ENTITIES = (
    '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">'
    + "".join(f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefgh", "bcdefghi", strict=True))
    + "]>"
)
OLE = bytes.fromhex("d0cf11e0a1b11ae1")


def entity_bomb(path: Path) -> Path:
    """Entities that grow tenfold, nine times over."""
    return workbook(path, sheet(honest() + row(9, "&i;"), prolog=ENTITIES))


def outside_entity(path: Path) -> Path:
    """An entity that would read a file of this machine."""
    return workbook(path, sheet(row(1, "&x;"), prolog='<!DOCTYPE x [<!ENTITY x SYSTEM "file:///etc/hostname">]>'))


def bomb_of_blanks(path: Path) -> Path:
    """A gigabyte of blanks in a megabyte."""
    return workbook(path, repeated(START + honest(), b" ", 1 << 30, END))


def bomb_of_rows(path: Path) -> Path:
    """Thirty million empty rows in a quarter of a megabyte."""
    return workbook(path, repeated(START + honest(), b"<row/>", 30_000_000, END))


def bomb_of_cells(path: Path) -> Path:
    """Twenty million cells in one row."""
    return workbook(path, repeated(START + honest() + '<row r="9">', b"<c><v>1</v></c>", 20_000_000, "</row>" + END))


def bomb_of_one_cell(path: Path) -> Path:
    """One cell that unpacks to a gigabyte."""
    return workbook(path, repeated(START + '<row r="1"><c r="A1" t="str"><v>', b"a", 1 << 30, "</v></c></row>" + END))


def truncated(path: Path) -> Path:
    """The first half of an honest workbook."""
    whole = workbook(path, sheet(honest(500))).read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    return path


def flipped(path: Path) -> Path:
    """An honest workbook with one byte of its sheet changed."""
    workbook(path, sheet(honest(500)))
    data = bytearray(path.read_bytes())
    place = data.find(b"xl/worksheets/sheet1.xml") + 200
    data[place] ^= 0xFF
    path.write_bytes(bytes(data))
    return path


def locked(path: Path) -> Path:
    """A workbook with a password is an OLE file that holds an encrypted package."""
    path.write_bytes(OLE + bytes(1000) + "EncryptedPackage".encode("utf-16-le") + bytes(1000))
    return path


def old_workbook(path: Path) -> Path:
    """An .xls workbook under the name of an .xlsx."""
    path.write_bytes(OLE + bytes(1000) + "Workbook".encode("utf-16-le") + bytes(1000))
    return path


def text_as_workbook(path: Path) -> Path:
    """A text file under the name of a workbook."""
    path.write_text("valve_id,home_id\nV1,H1\n", encoding="utf-8")
    return path


def page_as_workbook(path: Path) -> Path:
    """A web page under the name of a workbook, as some systems export."""
    path.write_text("<html><body><table><tr><td>valve_id</td></tr></table></body></html>", encoding="utf-8")
    return path


def other_zip(path: Path) -> Path:
    """A zip file that is no workbook."""
    with zipfile.ZipFile(path, "w") as book:
        book.writestr("read me.txt", "nothing here")
    return path


def last_cell(path: Path) -> Path:
    """A table, and one cell at the last row and column of the sheet."""
    return workbook(path, sheet(honest() + f'<row r="1048576">{cell("XFD1048576", "x")}</row>'))


def last_cell_alone(path: Path) -> Path:
    """The reference of a cell far away inside the row of another."""
    return workbook(path, sheet(row(1, *HEADERS) + f'<row r="2">{cell("XFD1048576", "x")}</row>'))


def far_down(path: Path) -> Path:
    """A cell in the last row and the twenty-fifth column: 26 million cells."""
    return workbook(path, sheet(honest() + f'<row r="1048576">{cell("Y1048576", "x")}</row>'))


def beyond_the_last_row(path: Path) -> Path:
    """A row number that no sheet has."""
    return workbook(path, sheet(honest() + f'<row r="99999999999">{cell("A99999999999", "x")}</row>'))


def beyond_the_last_column(path: Path) -> Path:
    """A column that no sheet has."""
    return workbook(path, sheet(honest() + f'<row r="9">{cell("ZZZZZZZ9", "x")}</row>'))


def single_quotes(path: Path) -> Path:
    """The far cell again, its reference in single quotes."""
    far = cell("XFD1048576", "x").replace('r="XFD1048576"', "r='XFD1048576'")
    return workbook(path, sheet(honest() + f"<row r='1048576'>{far}</row>"))


def many_columns(path: Path) -> Path:
    """A hundred thousand columns."""
    rows = "".join(f'<c r="{letters(place)}1"><v>{place}</v></c>' for place in range(100_000))
    return workbook(path, sheet(f'<row r="1">{rows}</row>'))


def letters(column: int) -> str:
    """The spreadsheet's name of a column, from 0."""
    name = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        name = chr(65 + rest) + name
    return name


def long_cell(path: Path) -> Path:
    """One cell of ten million characters."""
    return workbook(path, sheet(honest() + row(9, "V9", "H9", "abcdefghij" * 1_000_000)))


def broken_xml(path: Path) -> Path:
    """XML that ends in the middle."""
    return workbook(path, sheet(honest())[:-40])


def nonsense_number(path: Path) -> Path:
    """A number cell that holds no number."""
    return workbook(path, sheet(honest() + '<row r="9"><c r="A9"><v>one</v></c><c r="B9" t="s"><v>7</v></c></row>'))


def twice_the_same_part(path: Path) -> Path:
    """A zip with two sheets of one name: an honest one to look at, a harmful one to read."""
    import warnings

    workbook(path, sheet(honest() + f'<row r="1048576">{cell("XFD1048576", "x")}</row>'))
    with warnings.catch_warnings(), zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as book:
        warnings.simplefilter("ignore")  # the library warns of the second name, which is the point
        book.writestr("xl/worksheets/sheet1.xml", sheet(honest()))
    return path


WORKBOOKS = (
    entity_bomb,
    outside_entity,
    bomb_of_blanks,
    bomb_of_rows,
    bomb_of_cells,
    bomb_of_one_cell,
    truncated,
    flipped,
    locked,
    old_workbook,
    text_as_workbook,
    page_as_workbook,
    other_zip,
    last_cell,
    last_cell_alone,
    far_down,
    beyond_the_last_row,
    beyond_the_last_column,
    single_quotes,
    many_columns,
    long_cell,
    broken_xml,
    nonsense_number,
    twice_the_same_part,
)


URN = "urn:oasis:names:tc:opendocument:xmlns"
OPEN_START = (
    f'<?xml version="1.0"?><office:document-content xmlns:office="{URN}:office:1.0" xmlns:table="{URN}:table:1.0" '
    f'xmlns:text="{URN}:text:1.0" xmlns:calcext="{URN}:calcext:1.0"><office:body><office:spreadsheet>'
    '<table:table table:name="Valves">'
)
OPEN_END = "</table:table></office:spreadsheet></office:body></office:document-content>"
OPEN_KIND = "application/vnd.oasis.opendocument.spreadsheet"


def open_cell(text: str, more: str = "", kind: str = "string") -> str:
    """One cell of an .ods workbook."""
    return (
        f'<table:table-cell office:value-type="string" calcext:value-type="{kind}" {more}>'
        f"<text:p>{text}</text:p></table:table-cell>"
    )


def open_row(*cells: str, more: str = "") -> str:
    """One row of an .ods workbook."""
    return f"<table:table-row {more}>{''.join(cells)}</table:table-row>"


def open_workbook(path: Path, rows: str, manifest: str = "") -> Path:
    """Write a minimal .ods workbook around the rows of its one sheet."""
    entry = f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{OPEN_KIND}">'
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as book:
        book.writestr("mimetype", OPEN_KIND)
        start = f'<manifest:manifest xmlns:manifest="{URN}:manifest:1.0">'
        book.writestr("META-INF/manifest.xml", f"{start}{entry}{manifest}</manifest:file-entry></manifest:manifest>")
        book.writestr("content.xml", OPEN_START + rows + OPEN_END)
    return path


def open_head() -> str:
    """The header of a register in an .ods workbook."""
    return open_row(*(open_cell(name) for name in HEADERS))


def open_repeats(path: Path) -> Path:
    """A row of a hundred equal cells, a hundred thousand times, in two lines."""
    many = open_cell("x", 'table:number-columns-repeated="100"')
    return open_workbook(path, open_head() + open_row(many, more='table:number-rows-repeated="100000"'))


def open_locked(path: Path) -> Path:
    """An .ods workbook with a password."""
    return open_workbook(path, open_head(), "<manifest:encryption-data/>")


def open_entities(path: Path) -> Path:
    """Entities that grow in an .ods workbook."""
    open_workbook(path, open_head() + open_row(open_cell("&i;")))
    with zipfile.ZipFile(path) as book:
        content = book.read("content.xml").decode()
    with zipfile.ZipFile(path, "w") as book:
        book.writestr("content.xml", content.replace("?>", "?>" + ENTITIES, 1))
    return path


OPEN = (open_repeats, open_locked, open_entities)


def nul_bytes(path: Path) -> Path:
    """NUL bytes in the middle of a text file."""
    path.write_bytes(b"visit_id,home_id,reported\nJ1,H1,2024-05-01\nJ2,H\0\0,2024-05-02\n")
    return path


def wide_text(path: Path) -> Path:
    """A text file of a hundred thousand columns."""
    path.write_text(",".join(f"c{n}" for n in range(100_000)) + "\n" + "," * 99_999 + "\n", encoding="utf-8")
    return path


def long_text_cell(path: Path) -> Path:
    """A text file with one cell of ten million characters."""
    path.write_text("visit_id,home_id,reported,notes\nJ1,H1,2024-05-01," + "x" * 10_000_000 + "\n", encoding="utf-8")
    return path


def open_quote(path: Path) -> Path:
    """A quotation mark that is never closed, and much after it."""
    path.write_text('visit_id,home_id,reported\n"J1,H1,2024-05-01\n' + "J2,H2,2024-05-02\n" * 100_000, encoding="utf-8")
    return path


def workbook_as_text(path: Path) -> Path:
    """A workbook under the name of a text file."""
    return workbook(path, sheet(honest()))


TEXTS = (nul_bytes, wide_text, long_text_cell, open_quote, workbook_as_text)
