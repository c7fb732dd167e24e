"""Books of text files and parquet: delimiters, quotes, encodings, ends of lines, returns inside cells."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import pyarrow as pa

from tests.corpus.dialects import CALL_CENTRE, CONTRACTOR, LANDLORD, SURVEYOR, trade
from tests.corpus.files import parquet, raw, text, text_files
from tests.corpus.plant import Book, Cell, Page, headers_of, typed
from tests.corpus.stock import Record, portfolio


def pages(
    seed: int,
    dialect: Mapping[str, dict[str, str]],
    style: str = "%d/%m/%Y",
    above: Sequence[Sequence[Any]] = (),
    **shown: Cell,
) -> list[Page]:
    """Three pages of text cells, coded columns in the trade's words; `shown` writes a column in its own way."""
    stock = portfolio(seed)
    made = []
    for table in stock:
        names = dialect.get(table) or headers_of(table)
        show = typed(table, names, style) | trade(table, stock[table]) | shown
        made.append(Page(table).lines(*above).table(table, stock[table], names, show=show))
    return made


def commas(folder: Path) -> Book:
    """Commas, cells with commas and doubled quotation marks, LF."""
    return text_files(folder, pages(201, LANDLORD))


def semicolons(folder: Path) -> Book:
    """Semicolons and CRLF, as spreadsheets of other countries save."""
    return text_files(folder, pages(202, CONTRACTOR), delimiter=";", lineterminator="\r\n")


def tabs(folder: Path) -> Book:
    """Tabs, in files that end in .csv all the same."""
    return text_files(folder, pages(203, LANDLORD), delimiter="\t")


def bars(folder: Path) -> Book:
    """Upright bars."""
    return text_files(folder, pages(204, CONTRACTOR), delimiter="|")


def single_quotation_marks(folder: Path) -> Book:
    """Every cell in single quotation marks."""
    return text_files(folder, pages(205, LANDLORD), quotechar="'", quoting=csv.QUOTE_ALL)


def everything_quoted(folder: Path) -> Book:
    """Every cell in quotation marks, numbers and dates too."""
    return text_files(folder, pages(206, CONTRACTOR), quoting=csv.QUOTE_ALL)


def with_byte_order_mark(folder: Path) -> Book:
    """UTF-8 with a byte-order mark."""
    return text_files(folder, pages(207, LANDLORD), encoding="utf-8-sig")


def utf_16(folder: Path) -> Book:
    """UTF-16 with tabs, one file little-endian, one big-endian, one without a mark."""
    made = pages(208, CONTRACTOR)
    book = Book()
    for page, code, mark in zip(made, ("utf-16-le", "utf-16-be", "utf-16-le"), ("\ufeff", "\ufeff", ""), strict=True):
        book.add(text(folder / f"{page.name}.csv", page, encoding=code, before=mark, delimiter="\t"), [page])
    return book


def windows_letters(folder: Path) -> Book:
    """cp1252: pounds, degrees, dashes, curly apostrophes, accents."""
    stock = portfolio(209)
    for record in stock["homes"]:
        record["address"] = f"Café House – Flat ’{record['home_id'][-1]}’, {record['home_id']} Example Road"
    names = LANDLORD
    made = [
        Page(t).table(t, stock[t], names[t], show=typed(t, names[t]) | words_of_1252(t, stock[t])) for t in stock
    ]  # fmt: skip
    return text_files(folder, made, encoding="cp1252")


def words_of_1252(table: str, records: list[Record]) -> dict[str, Cell]:
    """Coded columns in words that the code page has: it has no tick."""
    show = trade(table, records)
    plain = {"✓": "Y", "✗": "N"}

    def without(cell: Cell) -> Cell:
        return lambda value, n: plain.get(cell(value, n), cell(value, n))

    return {column: without(cell) for column, cell in show.items()}


def lines_end_in_cr(folder: Path) -> Book:
    """Lines that end in CR alone, as an old program of some contractor still writes."""
    return text_files(folder, pages(210, LANDLORD), lineterminator="\r")


def returns_in_cells(folder: Path) -> Book:
    """Addresses and notes of several lines inside quotation marks: LF, CRLF and CR."""
    stock = portfolio(211)
    for n, record in enumerate(stock["homes"]):
        record["address"] = ("\n", "\r\n", "\r")[n % 3].join(["Flat 1", f"{n} Example Road", "Exampleton"])
    for n, record in enumerate(stock["visits"]):
        record["notes"] = f"card in file{chr(13) if n % 2 else chr(10)}ring before 9am"
    made = [Page(t).table(t, stock[t], CONTRACTOR[t], show=typed(t, CONTRACTOR[t]) | trade(t, stock[t])) for t in stock]
    book = text_files(folder, made, lineterminator="\r\n")
    book.lines = ("address", "notes")
    return book


def ends_of_lines_mixed(folder: Path) -> Book:
    """Exports pasted together: CRLF above, LF below."""
    made = pages(212, CALL_CENTRE)
    book = Book()
    for page in made:
        path = text(folder / f"{page.name}.csv", page, lineterminator="\r\n")
        data = path.read_bytes()
        half = data.index(b"\r\n", len(data) // 2)
        path.write_bytes(data[:half] + data[half:].replace(b"\r\n", b"\n"))
        book.add(path, [page])
    return book


def rows_of_uneven_length(folder: Path) -> Book:
    """Empty cells at the ends of rows left out, and commas too many on others."""
    made = pages(213, LANDLORD)
    for page in made:
        for n, cells in enumerate(page.grid[1:]):
            while cells and cells[-1] is None:
                cells.pop()
            cells += [None] * (n % 3)
    return text_files(folder, made)


def titles_in_text(folder: Path) -> Book:
    """Two lines of title and a blank line above the header, totals below, blank lines between."""
    stock = portfolio(214)
    made = []
    for table in stock:
        names = SURVEYOR.get(table) or LANDLORD[table] | {"home_id": "Dwelling No"}
        page = Page(table).lines([f"Export of {table}"], ["Printed", "01/04/2026"]).blank()
        show = typed(table, names) | trade(table, stock[table])
        page.header(names).rows(table, stock[table][:9], names, show=show).blank(2)
        page.rows(table, stock[table][9:], names, show={c: moved(cell, 9) for c, cell in show.items()}).blank()
        page.lines(["Total rows", len(stock[table])], ["End of export"])
        made.append(page)
    return text_files(folder, made)


def moved(cell: Cell, by: int) -> Cell:
    """The same cell where rows are counted from a later one."""
    return lambda value, n: cell(value, n + by)


def says_its_delimiter(folder: Path) -> Book:
    """A first line that names the delimiter, as some spreadsheets ask for."""
    book = Book()
    for page in pages(215, CONTRACTOR, above=[["sep=;"]]):
        below = Page(page.name, page.grid[1:])
        book.add(text(folder / f"{page.name}.csv", below, before="sep=;\n", delimiter=";"), [page])
    return book


def inches_unquoted(folder: Path) -> Book:
    """Inch marks in unquoted cells of a tab-delimited file, which no quoting rule allows for."""
    stock = portfolio(216)
    made = pages(216, LANDLORD)[:1]
    for n, record in enumerate(stock["valves"]):
        record["model"] = f'Model {n % 3} 3/4" tails'
    names = LANDLORD["valves"]
    page = Page("valves").table("valves", stock["valves"], names, show=typed("valves", names))
    book = text_files(folder, [*made, pages(216, LANDLORD)[2]])
    grid = [["" if cell is None else cell for cell in cells] for cells in page.grid]
    return book.add(raw(folder / "valves.csv", grid, sign="\t"), [page])


def parquet_typed(folder: Path) -> Book:
    """Parquet with real types: calendar days, times, whole numbers, true and false, coded text."""
    stock = portfolio(217)
    book = Book()
    for table in stock:
        page = Page(table).table(table, stock[table], headers_of(table), show=bare(table, stock[table]))
        book.add(parquet(folder / f"{table}.parquet", page, types_of(table)), [page])
    return book


def bare(table: str, records: list[Record]) -> dict[str, Cell]:
    """Yes and no as true and false."""
    from tests.corpus.plant import rule

    flags = [c for c in records[0] if rule(table, c).words and set(rule(table, c).words or ()) == {"yes", "no"}]
    return dict.fromkeys(flags, lambda value, n: None if value is None else value == "yes")


def types_of(table: str) -> dict[str, pa.DataType]:
    """Types as an export of a database has them."""
    from schemas.tables import COLUMNS

    types: dict[str, pa.DataType] = {}
    for column in COLUMNS[table]:
        if column.kind == "date":
            types[column.name] = pa.date32()
        elif column.kind == "time":
            types[column.name] = pa.timestamp("ns")
        elif column.whole:
            types[column.name] = pa.float32()
        elif column.kind == "word" and column.words and len(column.words) > 2:
            types[column.name] = pa.dictionary(pa.int8(), pa.string())
    return types


def parquet_of_texts(folder: Path) -> Book:
    """Parquet in which everything is text, under the trade's headers."""
    book = Book()
    for page in pages(218, CONTRACTOR):
        book.add(parquet(folder / f"{page.name}.parquet", page, {}), [page])
    return book


BOOKS = (
    commas, semicolons, tabs, bars, single_quotation_marks, everything_quoted, with_byte_order_mark, utf_16,
    windows_letters, lines_end_in_cr, returns_in_cells, ends_of_lines_mixed, rows_of_uneven_length, titles_in_text,
    says_its_delimiter, inches_unquoted, parquet_typed, parquet_of_texts,
)  # fmt: skip
