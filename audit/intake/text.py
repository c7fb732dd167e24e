"""Text files to sheets of raw cells: encoding, delimiter, quote and line ends are read from the file itself."""

from __future__ import annotations

import codecs
import csv
import io
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv

from audit.errors import CannotUse
from audit.intake.sheet import Sheet, TextGrid
from audit.policy import Policy

HEAD = 1 << 18  # bytes looked at to learn how a file is written
DELIMITERS = ",;\t|"
BOMS = ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))
NAMES = {"cp1252": "Windows-1252", "utf-16-le": "UTF-16", "utf-16-be": "UTF-16", "utf-8": "UTF-8"}


@dataclass(frozen=True)
class Form:
    """How a text file is written."""

    delimiter: str = ","
    quote: str = '"'
    width: int = 1


@dataclass
class Ragged:
    """Rows that are wider or narrower than the rest, by their number from 1 among all rows."""

    rows: dict[int, str] = field(default_factory=dict)

    def __call__(self, row: pa.csv.InvalidRow) -> str:
        """Keep one such row aside while the rest is read."""
        self.rows[row.number] = row.text
        return "skip"


def read_text(path: Path, name: str, policy: Policy) -> list[Sheet]:
    """Read a delimited text file as one sheet; row numbers are those a spreadsheet shows.

    Raises:
        CannotUse: it holds NUL bytes, a cell beyond all measure, too many columns, or cannot be opened.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise CannotUse(f"{name}: the file cannot be opened ({error.strerror}); check who may read it.") from None
    if data[:4] == b"PK\x03\x04" or data[:8] == bytes.fromhex("d0cf11e0a1b11ae1"):
        raise CannotUse(f"{name}: this is a workbook under the name of a text file; name it .xlsx.")
    text, encoding = _as_utf8(data, name)
    if (place := text.find(b"\0")) >= 0:
        line = text.count(b"\n", 0, place) + 1
        raise CannotUse(f"{name}, line {line}: holds a NUL byte, as no table does; export the file again.")
    try:
        return [_sheet(text, encoding, name, policy)]
    except UnicodeDecodeError:  # the first lines were UTF-8 by chance
        return [_sheet(_recoded(data, "cp1252", name), "cp1252", name, policy)]


def _sheet(text: bytes, encoding: str, name: str, policy: Policy) -> Sheet:
    said = () if encoding == "utf-8" else (f"{name}: read as {NAMES[encoding]} text.",)
    form = _form(text, name, policy)
    first_row = 1
    if text[:4].lower() == b"sep=":
        text, first_row = text[_line_end(text) :], 2
    return Sheet(name, "", _grid(text, form, name, policy), first_row, said=said)


def _as_utf8(data: bytes, name: str) -> tuple[bytes, str]:
    """Turn the bytes into UTF-8; returns them and the encoding that they were in."""
    for mark, encoding in BOMS:
        if data.startswith(mark):
            return _recoded(data[len(mark) :], encoding, name), encoding
    head = data[:4096]
    for encoding, zeros in (("utf-16-le", head[1::2]), ("utf-16-be", head[::2])):
        if len(head) > 3 and zeros.count(0) > 0.6 * len(zeros):
            return _recoded(data, encoding, name), encoding
    try:
        codecs.getincrementaldecoder("utf-8")().decode(data[:HEAD], len(data) <= HEAD)
    except UnicodeDecodeError:
        return _recoded(data, "cp1252", name), "cp1252"
    return data, "utf-8"


def _recoded(data: bytes, encoding: str, name: str) -> bytes:
    if encoding == "utf-8":
        return data
    try:
        return data.decode(encoding).encode()
    except UnicodeDecodeError as error:
        if encoding == "cp1252":
            return data.decode("latin-1").encode()
        line = data.count(b"\n", 0, error.start) + 1
        raise CannotUse(f"{name}, line {line}: is not {NAMES[encoding]} text; export it as UTF-8.") from None


def _line_end(text: bytes) -> int:
    """The place after the first line."""
    ends = [text.find(mark) for mark in (b"\n", b"\r") if mark in text[:HEAD]]
    if not ends:
        return len(text)
    end = min(ends)
    return end + 2 if text[end : end + 2] == b"\r\n" else end + 1


def _form(text: bytes, name: str, policy: Policy) -> Form:
    """Learn delimiter, quote and number of columns from the first rows."""
    head = text[:HEAD].decode("utf-8", "replace")
    if head[:4].lower() == "sep=" and len(head) > 4:
        delimiter = head[4]
        rest = text[_line_end(text) :][:HEAD].decode("utf-8", "replace")
        quote = _quote(rest, delimiter)
        form = Form(delimiter, quote, _width(_rows(rest, delimiter, quote)))
    else:
        tried = [(d, _quote(head, d)) for d in DELIMITERS]
        form = max(
            (Form(d, q, _width(_rows(head, d, q))) for d, q in tried),
            key=lambda f: _evenness(_rows(head, f.delimiter, f.quote)),
        )
    if form.width > policy.number("reading.columns_most"):
        raise CannotUse(_too_wide(name, policy))
    return form


def _too_wide(name: str, policy: Policy) -> str:
    most = f"{policy.number('reading.columns_most'):,.0f}"
    return f"{name}: has over {most} columns, more than a sheet can hold; export it with the records down the page."


def _rows(head: str, delimiter: str, quote: str) -> list[list[str]]:
    csv.field_size_limit(2 * HEAD)
    found = []
    try:
        for row in csv.reader(io.StringIO(head, newline=""), delimiter=delimiter, quotechar=quote):
            found.append(row)
            if len(found) > 200:
                break
    except csv.Error:
        pass
    return found[:-1] if len(found) > 1 and len(head) >= HEAD // 2 else found


def _width(rows: Sequence[Sequence[str]]) -> int:
    """The most usual width of rows with more than one cell, or the widest header."""
    widths = Counter(len(row) for row in rows if len(row) > 1)
    return max(widths.items(), key=lambda item: (item[1], item[0]))[0] if widths else 1


def _evenness(rows: Sequence[Sequence[str]]) -> tuple[float, int]:
    """How well a delimiter explains the rows: the share of rows of the usual width, then that width."""
    filled = [row for row in rows if any(row)]
    if not filled:
        return 0.0, 0
    width = _width(filled)
    return (sum(len(row) == width for row in filled) / len(filled) if width > 1 else 0.0, width)


def _quote(head: str, delimiter: str) -> str:
    """The mark around texts: a double one, unless single ones stand on both sides of many cells, and of more."""
    cells = [cell.strip() for line in head.splitlines()[:200] for cell in line.split(delimiter)]
    single, double = (sum(len(c) > 1 and c[0] == c[-1] == mark for c in cells) for mark in "'\"")
    return "'" if single > max(2, 0.2 * len(cells), double) else '"'


def _grid(text: bytes, form: Form, name: str, policy: Policy) -> TextGrid:
    """Read all rows: the fastest way that the file allows, odd rows put back where they stood, else by hand."""
    quoted = form.quote.encode() in text
    ragged = Ragged()
    for lines_in_cells, handler in ((False, None), (True, None), (True, ragged)):
        try:
            grid = _fast(text, form, lines_in_cells, handler)
        except pa.ArrowInvalid:
            text.decode()  # where the reason is that it is not UTF-8, this tells
            continue
        if lines_in_cells or not quoted or grid.height == _lines(text):
            odd = [_cells_of(row, form, name, number, policy) for number, row in ragged.rows.items()]
            whole = _spliced(grid, list(ragged.rows), odd)
            if lines_in_cells:
                _refuse_open_quote(whole, form, name)
            return whole
    return _by_hand(text, form, name, policy)


def _cells_of(text: str, form: Form, name: str, number: int, policy: Policy) -> list[str]:
    """Split one row into cells, without empty ones at its end."""
    most = int(policy.number("reading.cell_most"))
    csv.field_size_limit(most)
    try:
        row = next(iter(csv.reader(io.StringIO(text, newline=""), delimiter=form.delimiter, quotechar=form.quote)), [])
    except csv.Error:
        raise CannotUse(_too_long(name, number, most)) from None
    while row and not row[-1].strip():
        row.pop()
    return row


def _too_long(name: str, number: int, most: int) -> str:
    what = f"a cell holds over {most:,} characters, or a quotation mark is never closed"
    return f"{name}, row {number}: {what}; mend that row."


def _refuse_open_quote(grid: TextGrid, form: Form, name: str) -> None:
    """Refuse a file in which a quotation mark that is never closed made several rows into one cell."""
    between = form.width - 1
    if between < 3:
        return
    for column in grid.columns:
        many = pc.greater_equal(pc.count_substring(column, form.delimiter), 2 * between)
        for number in pc.indices_nonzero(many).to_pylist():
            lines = column[number].as_py().splitlines()
            if sum(line.count(form.delimiter) == between for line in lines) > 1:
                raise CannotUse(
                    f"{name}, row {number + 1}: a quotation mark is opened and not closed, so that {len(lines)} rows "
                    "ran into one cell; close it or delete it."
                )


def _lines(text: bytes) -> int:
    """Count lines; a text with as many rows has no line end inside a cell."""
    end = b"\n" if b"\n" in text else b"\r"
    return text.count(end) + (not text.endswith(end))


def _fast(text: bytes, form: Form, lines_in_cells: bool, ragged: Ragged | None) -> TextGrid:
    names = [str(place) for place in range(form.width)]
    table = pyarrow.csv.read_csv(
        pa.BufferReader(text),
        read_options=pyarrow.csv.ReadOptions(column_names=names, use_threads=ragged is None),
        parse_options=pyarrow.csv.ParseOptions(
            delimiter=form.delimiter,
            quote_char=form.quote,
            newlines_in_values=lines_in_cells,
            ignore_empty_lines=False,
            invalid_row_handler=ragged,
        ),
        convert_options=pyarrow.csv.ConvertOptions(
            column_types=dict.fromkeys(names, pa.string()), strings_can_be_null=True, null_values=[""]
        ),
    )
    return TextGrid(table.columns, table.num_rows)


def _spliced(grid: TextGrid, numbers: list[int], odd: list[list[str]]) -> TextGrid:
    """Put the rows of another width back where they stood, short ones filled up, long ones with more columns."""
    if not odd:
        return grid
    width = max(grid.width, *map(len, odd))
    places = np.array(numbers) - 1
    height = grid.height + len(places)
    even = np.setdiff1d(np.arange(height), places, assume_unique=True)
    order = np.empty(height, dtype=np.int64)
    order[even] = np.arange(grid.height)
    order[places] = grid.height + np.arange(len(places))
    blank = pa.array([""] * grid.height, pa.string()) if width > grid.width else None
    columns = []
    for place in range(width):
        extra = pa.array([row[place] if place < len(row) else "" for row in odd], pa.string())
        body = grid.columns[place].chunks if place < grid.width else [blank]
        columns.append(pa.chunked_array([*body, extra]).take(pa.array(order)))
    return TextGrid(columns, height)


def _by_hand(text: bytes, form: Form, name: str, policy: Policy) -> TextGrid:
    """Read what the fast reader will not, and refuse what is no table."""
    csv.field_size_limit(int(policy.number("reading.cell_most")))
    rows: list[list[str]] = []
    stream = io.TextIOWrapper(io.BytesIO(text), encoding="utf-8", newline="")
    try:
        rows.extend(csv.reader(stream, delimiter=form.delimiter, quotechar=form.quote))
    except csv.Error:
        raise CannotUse(_too_long(name, len(rows) + 1, int(policy.number("reading.cell_most")))) from None
    width = max((len(row) for row in rows), default=0)
    if width > policy.number("reading.columns_most"):
        raise CannotUse(_too_wide(name, policy))
    columns = [
        pa.chunked_array([pa.array([r[place] if place < len(r) else "" for r in rows], pa.string())])
        for place in range(width)
    ]
    return TextGrid(columns, len(rows))
