"""Books with what else people do: merged ids, bands, placeholders for dates, decimal commas, folders of all sorts."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import openpyxl
from odf.opendocument import load as load_open
from openpyxl.utils import get_column_letter

from tests.corpus.delimited import pages
from tests.corpus.dialects import CONTRACTOR, LANDLORD, SURVEYOR, trade
from tests.corpus.files import one_workbook, open_workbook, text, text_files, workbook
from tests.corpus.layouts import three
from tests.corpus.plant import RETURNED, Book, Cell, Error, Page, Spoilt, typed
from tests.corpus.stock import portfolio


def ids_merged_down(folder: Path) -> Book:
    """The home's number in one cell merged down over the rows of all its valves."""
    stock = portfolio(601)["valves"]
    names = {"home_id": LANDLORD["valves"]["home_id"]} | LANDLORD["valves"]
    page = Page("Register").table("valves", stock, names, show=trade("valves", stock))
    first = 0
    for n in range(1, len(stock) + 1):
        if n == len(stock) or stock[n]["home_id"] != stock[first]["home_id"]:
            if n - first > 1:
                page.merges.append(f"A{first + 2}:A{n + 1}")
            first = n
    for n in range(1, len(stock)):
        if stock[n]["home_id"] == stock[n - 1]["home_id"]:
            page.grid[n + 1][0] = None
    return one_workbook(folder, [three(601, LANDLORD)[0], page])


def bands_of_schemes(folder: Path) -> Book:
    """The scheme's name alone on a row above its homes: a heading, no home."""
    stock = portfolio(602)
    names = CONTRACTOR["homes"]
    page = Page("Homes").header(names)
    show = trade("homes", stock["homes"])
    for n, start in enumerate(range(0, len(stock["homes"]), 4)):
        page.lines([("Birch Court", "Elm Rise Phase 2", "Ash Close", "Rowan House")[n % 4]])
        page.rows("homes", stock["homes"][start : start + 4], names, show=show)
    return one_workbook(folder, [page, *three(602, CONTRACTOR)[1:]])


def dates_that_stand_for_nothing(folder: Path) -> Book:
    """01/01/1900, 31/12/9999 and 00/01/1900 where a system asked for a date and nobody knew one: said, not used."""
    stock = portfolio(603)["valves"]
    spoilt = {
        (2, "body_fitted"): Spoilt("01/01/1900"), (4, "head_fitted"): Spoilt("31/12/9999"),
        (7, "head_fitted"): Spoilt("00/01/1900"), (9, "location_temp_on"): Spoilt("01/01/1900"),
        (12, "flow_temp_on"): Spoilt("31/12/2999"),
    }  # fmt: skip
    names = LANDLORD["valves"]
    show = typed("valves", names) | trade("valves", stock)
    page = Page("register").table("valves", stock, names, show=show, spoilt=spoilt)
    return text_files(folder, [pages(603, LANDLORD)[0], page])


def heads_older_than_bodies(folder: Path) -> Book:
    """A head fitted before its body, jobs done before they were reported: the later date is said, not used."""
    stock = portfolio(604)
    valves = {
        (n, "head_fitted"): Spoilt(stock["valves"][n]["body_fitted"] - dt.timedelta(days=900))
        for n in (1, 5, 8)
        if stock["valves"][n]["body_fitted"]
    }
    visits = {(n, "completed"): Spoilt(stock["visits"][n]["reported"] - dt.timedelta(days=9)) for n in (3, 6, 11)}
    made = [three(604, LANDLORD)[0]]
    for table, spoilt in (("valves", valves), ("visits", visits)):
        show = trade(table, stock[table])
        made.append(Page(table).table(table, stock[table], LANDLORD[table], show=show, spoilt=spoilt))
    return one_workbook(folder, made)


def decimal_commas(folder: Path) -> Book:
    """Semicolons with decimal commas, as programs set to another country write: 45,5 is not 455."""
    cell: Cell = lambda v, n: None if v is None else f"{v:.2f}".replace(".", ",")  # noqa: E731
    shown = dict.fromkeys(("cost_gbp", "hours", "store_temp_c", "tap_temp_c", "location_temp_c", "flow_temp_c"), cell)
    return text_files(folder, pages(605, LANDLORD, **shown), delimiter=";")


def clock_times(folder: Path) -> Book:
    """Times of the twelve-hour clock beside the dates, seconds, and a time zone."""
    stock = portfolio(606)["visits"]
    forms = ("{:%d/%m/%Y %I:%M %p}", "{:%d/%m/%Y %I:%M:%S%p}", "{:%Y-%m-%dT%H:%M:%S}", "{:%Y-%m-%d %H:%M:%S.000}")
    for n, record in enumerate(stock):
        for name in ("reported", "attended", "completed"):
            if record[name] is not None:
                record[name] = record[name].replace(hour={"reported": 8, "attended": 13}.get(name, 17), minute=n)
    cell: Cell = lambda v, n: None if v is None else forms[n % len(forms)].format(v)  # noqa: E731
    names = LANDLORD["visits"]
    show = typed("visits", names) | trade("visits", stock) | dict.fromkeys(("reported", "attended", "completed"), cell)
    return text_files(folder, [*pages(606, LANDLORD)[:2], Page("log").table("visits", stock, names, show=show)])


def uprns_as_numbers(folder: Path) -> Book:
    """UPRNs that a workbook keeps as numbers, those with a leading zero shortened, and the log goes by them."""
    stock = portfolio(607)
    for n, home in enumerate(stock["homes"]):
        home["uprn"] = home["uprn"] or f"10009{n:07d}"
    show = trade("homes", stock["homes"]) | {"uprn": lambda v, n: int(v)}
    page = Page("Homes").table("homes", stock["homes"], LANDLORD["homes"], show=show)
    by = {home["home_id"]: home["uprn"] for home in stock["homes"]}
    names = {"home_id": "UPRN"} | {c: h for c, h in LANDLORD["visits"].items() if c != "home_id"}
    log = Page("log").table(
        "visits", stock["visits"], names,
        show=typed("visits", names) | trade("visits", stock["visits"]) | {"home_id": lambda v, n: by[v]},
    )  # fmt: skip
    book = one_workbook(folder, [page, three(607, LANDLORD)[1]])
    more = text_files(folder, [log])
    book.files += more.files
    book.planted += more.planted
    book.says = [r"(?i)UPRN"]
    return book


def ids_made_into_dates(folder: Path) -> Book:
    """Home numbers such as 3-5 that a spreadsheet made into dates: returned, not used as 2026-05-03."""
    stock = portfolio(608)
    for records in stock.values():
        for record in records:
            record["home_id"] = f"{int(record['home_id'])}-{int(record['home_id']) % 7 + 20}"
    spoilt = {(n, "home_id"): Spoilt(dt.datetime(2026, 5, 3)) for n in (6, 9)}
    made = [
        Page("Homes").table("homes", stock["homes"], LANDLORD["homes"], show=trade("homes", stock["homes"])),
        Page("Valves").table("valves", stock["valves"], LANDLORD["valves"], show=trade("valves", stock["valves"])),
        Page("Visits").table("visits", stock["visits"], LANDLORD["visits"], show=trade("visits", stock["visits"]),
                             spoilt=spoilt, fates=dict.fromkeys((6, 9), RETURNED)),
    ]  # fmt: skip
    return one_workbook(folder, made)


def signs_that_nobody_sees(folder: Path) -> Book:
    """Headers and words with no-break blanks, zero-width signs, tabs, two blanks and typographic dashes."""
    stock = portfolio(609)
    made = []
    for table in stock:
        names = {c: h.replace(" ", ("\u00a0", "  ", " \u200b", "\t")[n % 4]) + " " for n, (c, h) in
                 enumerate(LANDLORD[table].items())}  # fmt: skip
        show = {c: _dressed(cell) for c, cell in trade(table, stock[table]).items()}
        made.append(Page(table).table(table, stock[table], names, show=show))
    return one_workbook(folder, made)


def _dressed(cell: Cell) -> Cell:
    def show(value: Any, n: int) -> Any:
        word = cell(value, n)
        return word if word is None else str(word).replace("-", "–").replace(" ", "\u00a0 "[n % 2]) + "\u200b" * (n % 2)

    return show


def a_folder_of_everything(folder: Path) -> Book:
    """A folder with the books and what else lies there: a lock file, a picture, notes, last year's contract."""
    inner = folder / "Book of April"
    inner.mkdir()
    stock = portfolio(610)
    sheets = three(610, CONTRACTOR)
    book = Book()
    book.add(workbook(inner / "Asset list – final (2).xlsx", sheets[0]), [sheets[0]])
    book.add(workbook(inner / "REGISTER.XLSX", sheets[1]), [Page("Valves", planted=sheets[1].planted)])
    names = CONTRACTOR["visits"]
    log = Page("Visits").table("visits", stock["visits"], names, show=typed("visits", names))
    book.add(text(inner / "log.CSV", log), [log])
    (inner / "~$Asset list – final (2).xlsx").write_bytes(b"\x05E17" + b" " * 160)
    (inner / "photo.jpg").write_bytes(b"\xff\xd8\xff\xe0 not a picture")
    (inner / "read me.txt").write_text("Ask the office before the 5th.", encoding="utf-8")
    (inner / ".hidden.csv").write_text("a,b\n1,2\n", encoding="utf-8")
    book.files = [inner]
    return book


def open_document_with_errors(folder: Path) -> Book:
    """An .ods workbook with a hidden sheet, error cells, numbers as text and yes as true."""
    stock = portfolio(611)
    spoilt = {(2, "make"): Spoilt("#N/A"), (6, "wires"): Spoilt("#REF!")}
    flags = {c: (lambda v, n: None if v is None else v == "yes") for c in ("earthed", "isolation", "head_detachable")}
    show = trade("valves", stock["valves"]) | flags
    register = Page("Register").table("valves", stock["valves"], SURVEYOR["valves"], show=show, spoilt=spoilt)
    homes = Page("Homes").table("homes", stock["homes"], SURVEYOR["homes"], show=trade("homes", stock["homes"]))
    path = open_workbook(folder / "survey.ods", homes, register)
    assert load_open(str(path)).mimetype.endswith("spreadsheet")
    return Book().add(path, [homes, register])


def formulas_with_values(folder: Path) -> Book:
    """Numbers of homes and valves built by formulas, whose last values a program saved; others it never calculated."""
    stock = portfolio(612)
    book = one_workbook(folder, three(612, LANDLORD))
    opened = openpyxl.load_workbook(book.files[0])
    sheet = opened["Visits"]
    place = list(LANDLORD["visits"]).index("engineer") + 1
    letter = get_column_letter(place)
    for row in (3, 9, 14):
        sheet[f"{letter}{row}"] = '="E"&"0"&1'
    opened.save(book.files[0])
    rows = {(3, "engineer"), (9, "engineer"), (14, "engineer")}
    book.planted = [_never_calculated(row, {c for r, c in rows if r == row.row}) for row in book.planted]
    assert stock["visits"]
    return book


def _never_calculated(row: Any, columns: set[str]) -> Any:
    from dataclasses import replace

    if row.table != "visits" or not columns:
        return row
    return replace(row, cells=row.cells | dict.fromkeys(columns), said=frozenset(columns))


def errors_as_numbers_of_homes(folder: Path) -> Book:
    """A lookup that failed for some homes: #N/A where the number should be, in register and log."""
    stock = portfolio(613)
    made = [three(613, CONTRACTOR)[0]]
    for table, rows in (("valves", (2, 3)), ("visits", (5, 17))):
        spoilt = {(n, "home_id"): Spoilt(Error("#N/A")) for n in rows}
        page = Page(table).table(table, stock[table], CONTRACTOR[table], show=trade(table, stock[table]),
                                 spoilt=spoilt, fates=dict.fromkeys(rows, RETURNED))  # fmt: skip
        made.append(page)
    book = one_workbook(folder, made)
    lost = {stock["valves"][n]["valve_id"] for n in (2, 3)}
    book.planted = [_without_valve(row, lost) for row in book.planted]
    return book


def _without_valve(row: Any, lost: set[str]) -> Any:
    from dataclasses import replace

    if row.table != "visits" or row.cells.get("valve_id") not in lost:
        return row
    return replace(row, cells=row.cells | {"valve_id": None}, said=row.said | {"valve_id"})


BOOKS = (
    ids_merged_down, bands_of_schemes, dates_that_stand_for_nothing, heads_older_than_bodies, decimal_commas,
    clock_times, uprns_as_numbers, ids_made_into_dates, signs_that_nobody_sees, a_folder_of_everything,
    open_document_with_errors, formulas_with_values, errors_as_numbers_of_homes,
)  # fmt: skip
