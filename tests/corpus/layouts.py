"""Books whose tables are hard to find: titles, groups, gaps, totals, several tables, hidden sheets, pivots."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from openpyxl.utils import get_column_letter

from tests.corpus.dialects import CALL_CENTRE, CONTRACTOR, LANDLORD, SURVEYOR, trade
from tests.corpus.files import one_workbook, open_workbook, text_files, workbook
from tests.corpus.plant import RETURNED, Book, Headers, Page, Spoilt, headers_of, typed
from tests.corpus.stock import portfolio


def three(seed: int, dialect: dict[str, dict[str, str]], homes: int = 16) -> list[Page]:
    """Three sheets, each with its header in the first row."""
    stock = portfolio(seed, homes)
    return [
        Page(table.title()).table(table, stock[table], dialect[table], show=trade(table, stock[table]))
        for table in stock
        if table in dialect
    ]


def title_and_cover_rows(folder: Path) -> Book:
    """A title, who ran the report, a filter line and a blank row above each header."""
    stock = portfolio(101)
    pages = []
    for table, title in (("homes", "Asset list"), ("valves", "Motorised valve register"), ("visits", "Repairs log")):
        page = Page(title).lines([f"{title} - Example Homes"], ["Report run", dt.datetime(2026, 4, 1), "by", "E17"])
        page.lines(["Filter: trade = heating; status = all; from 01/01/2024"]).blank()
        page.table(table, stock[table], LANDLORD[table], show=trade(table, stock[table]))
        page.merges.append("A1:H1")
        pages.append(page)
    return one_workbook(folder, pages)


def header_far_down(folder: Path) -> Book:
    """Headers on rows 7, 19 and 30, below lines of explanation that use the same words."""
    stock = portfolio(102)
    pages = []
    for table, row in (("homes", 7), ("valves", 19), ("visits", 30)):
        page = Page(f"{table} {row}")
        for line in range(1, row):
            page.lines([f"{line}." if line % 3 else None, "Please give the property reference and date on every job"])
        pages.append(page.table(table, stock[table], CONTRACTOR[table], show=trade(table, stock[table])))
    return one_workbook(folder, pages)


def grouped_headers(folder: Path) -> Book:
    """Two header rows: groups in merged cells above, single columns merged downwards."""
    stock = portfolio(103)
    names = LANDLORD["valves"] | {
        "ports": "Ports", "body_size_mm": "Size mm", "body_fitted": "Installed", "head_fitted": "Installed",
        "head_kind": "Type", "wires": "Wires", "voltage_v": "Voltage", "batch": "Date Code",
        "location_temp_c": "Temp °C", "location_temp_on": "Date", "flow_temp_c": "Temp °C", "flow_temp_on": "Date",
    }  # fmt: skip
    groups = {
        "Valve Body": ("ports", "body_size_mm", "body_fitted"),
        "Head": ("head_kind", "wires", "voltage_v", "batch", "head_fitted"),
        "Ambient": ("location_temp_c", "location_temp_on"),
        "Flow": ("flow_temp_c", "flow_temp_on"),
    }
    page = Page("Register")
    _two_rows(page, names, groups)
    page.rows("valves", stock["valves"], _ordered(names, groups), show=trade("valves", stock["valves"]))
    others = three(103, LANDLORD)
    return one_workbook(folder, [others[0], page, others[2]])


def _ordered(names: Headers, groups: dict[str, tuple[str, ...]]) -> dict[str, str]:
    grouped = [column for columns in groups.values() for column in columns]
    return {c: names[c] for c in [*(c for c in names if c not in grouped and names[c]), *grouped]}


def _two_rows(page: Page, names: Headers, groups: dict[str, tuple[str, ...]]) -> None:
    order = list(_ordered(names, groups))
    upper, lower = [], []
    for column in order:
        group = next((g for g, columns in groups.items() if column in columns), "")
        first = bool(group) and groups[group][0] == column
        upper.append(group if first else None if group else names[column])
        lower.append(names[column] if group else None)
        place = order.index(column) + 1
        letter = get_column_letter(place)
        if first:
            page.merges.append(f"{letter}1:{get_column_letter(place + len(groups[group]) - 1)}1")
        elif not group:
            page.merges.append(f"{letter}1:{letter}2")
    page.lines(upper, lower)


def gaps_between_blocks(folder: Path) -> Book:
    """A blank row after every fifth row, as people leave them between blocks."""
    stock = portfolio(104)
    pages = []
    for table in stock:
        page = Page(table).header(CONTRACTOR[table])
        show = trade(table, stock[table])
        for start in range(0, len(stock[table]), 5):
            page.rows(table, stock[table][start : start + 5], CONTRACTOR[table], show=show).blank(1 + start % 2)
        pages.append(page)
    return one_workbook(folder, pages)


def forty_thousand_blank_rows(folder: Path) -> Book:
    """Ten rows, forty thousand blank ones, and the rest: somebody typed at the end of the sheet."""
    pages = three(105, LANDLORD)
    stock = portfolio(105)["visits"]
    page = Page("Log").table("visits", stock[:10], LANDLORD["visits"], show=trade("visits", stock))
    page.blank(40_000).rows("visits", stock[10:], LANDLORD["visits"], show=trade("visits", stock))
    return one_workbook(folder, [*pages[:2], page])


def totals_and_notes_below(folder: Path) -> Book:
    """Totals, counts, a key and a signature below the last row."""
    stock = portfolio(106)
    names = headers_of("visits", CONTRACTOR["visits"])
    pages = three(106, CONTRACTOR)[:2]
    page = Page("Jobs").table("visits", stock["visits"], names, show=trade("visits", stock["visits"]))
    count = len(stock["visits"])
    page.lines(["Total", *[None] * 10, sum(r["hours"] or 0 for r in stock["visits"])])
    page.lines(["Grand Total", count]).blank(2)
    page.lines(["Notes:"], ["* times are to the nearest quarter hour"], ["** costs exclude VAT and call-out"])
    page.lines(["Checked by E17 on 01/04/2026"])
    pages[1].blank().lines([f"Total valves: {len(stock['valves'])}"], ["End of report"])
    return one_workbook(folder, [*pages, page])


def subtotals_between(folder: Path) -> Book:
    """A subtotal after every block, and the scheme's name alone on a row above it."""
    stock = portfolio(107)
    names = LANDLORD["visits"]
    place = list(names).index("cost_gbp")
    page = Page("Costs").header(names)
    show = trade("visits", stock["visits"])
    for n, start in enumerate(range(0, len(stock["visits"]), 12), start=1):
        block = stock["visits"][start : start + 12]
        page.rows("visits", block, names, show=show)
        cells: list[object] = [None] * len(names)
        cells[0], cells[place] = f"Subtotal block {n}", round(sum(r["cost_gbp"] or 0 for r in block), 2)
        page.lines(cells)
    return one_workbook(folder, [*three(107, LANDLORD)[:2], page])


def all_on_one_sheet(folder: Path) -> Book:
    """Homes, valves and visits one below the other on one sheet, each with its title."""
    stock = portfolio(108)
    page = Page("Everything")
    for table in stock:
        page.lines([f"Table of {table}"])
        page.table(table, stock[table], SURVEYOR.get(table) or CONTRACTOR[table] | {"home_id": "Dwelling No"},
                   show=trade(table, stock[table])).blank(2)  # fmt: skip
    return one_workbook(folder, [page])


def two_beside_each_other(folder: Path) -> Book:
    """The list of homes on the left, the register of valves on the right of one sheet."""
    stock = portfolio(109)
    left = Page("Both").table("homes", stock["homes"], CONTRACTOR["homes"], show=trade("homes", stock["homes"]))
    shift = sum(1 for h in CONTRACTOR["homes"].values() if h) + 1
    right = Page("Both").table("valves", stock["valves"], CONTRACTOR["valves"], show=trade("valves", stock["valves"]))
    page = Page("Both", planted=[*left.planted, *right.planted])
    for row in range(max(len(left.grid), len(right.grid))):
        cells = list(left.grid[row]) if row < len(left.grid) else []
        cells += [None] * (shift - len(cells))
        page.grid.append(cells + (right.grid[row] if row < len(right.grid) else []))
    return one_workbook(folder, [page, three(109, CONTRACTOR)[2]])


def sheet_a_year(folder: Path) -> Book:
    """One sheet a year, the columns in another order and under other names on each."""
    stock = portfolio(110, 20)
    pages = three(110, CONTRACTOR, 20)[:2]
    for year, names in ((2024, CONTRACTOR["visits"]), (2025, LANDLORD["visits"]), (2026, CALL_CENTRE["visits"])):
        kept = [r for r in stock["visits"] if r["reported"].year == year]
        order = sorted((c for c in names if names[c]), key=lambda c: (hash_of(c, year), c))
        page = Page(f"{year}").table("visits", kept, {c: names[c] for c in order}, show=trade("visits", kept))
        pages.append(page)
    return one_workbook(folder, pages)


def hash_of(column: str, year: int) -> int:
    """A shuffle of columns that is the same on every machine."""
    return sum(ord(c) * (place + year) for place, c in enumerate(column)) % 97


def hidden_sheets(folder: Path) -> Book:
    """Last year's jobs on a hidden sheet, the valves on one that the menu does not even show."""
    pages = three(111, LANDLORD)
    pages[1].hidden, pages[2].hidden = "veryHidden", "hidden"
    book = one_workbook(folder, pages)
    book.says = [r"Valves.*hidden", r"Visits.*hidden"]
    return book


def pivots_and_covers(folder: Path) -> Book:
    """A cover, a list of allowed words, and a pivot of jobs by month between the tables."""
    pages = three(112, CONTRACTOR)
    cover = Page("Cover").lines(["Heating repairs 2026"], [], ["Prepared for", "Example Homes"], ["Version", 3])
    lists = Page("Lists").lines(["Outcome", "Type"], ["Completed", "Reactive"], ["No access", "Planned"], ["NFF"])
    pivot = Page("Pivot").lines(["Count of Job No", "Column Labels"], ["Row Labels", "2024", "2025", "Grand Total"])
    pivot.lines(*[[f"{scheme}", 3, 4, 7] for scheme in ("Birch Court", "Elm Rise", "Ash Close")])
    pivot.lines(["Grand Total", 9, 12, 21])
    book = one_workbook(folder, [cover, *pages[:2], pivot, pages[2], lists])
    book.says = [r"Cover.*(passed over|ignored|left out)", r"Pivot.*(passed over|ignored|left out)", r"Lists.*passed"]
    return book


def header_on_every_page(folder: Path) -> Book:
    """The header again after every twenty rows, below a line that numbers the page, as printed reports have."""
    stock = portfolio(113)
    page = Page("Printed")
    show = trade("visits", stock["visits"])
    for n, start in enumerate(range(0, len(stock["visits"]), 20), start=1):
        page.lines([f"Repairs by property, page {n} of 3"]).header(CONTRACTOR["visits"])
        page.rows("visits", stock["visits"][start : start + 20], CONTRACTOR["visits"], show=show)
    return one_workbook(folder, [*three(113, CONTRACTOR)[:2], page])


def starts_in_the_middle(folder: Path) -> Book:
    """Tables that begin in column D, with a number for every line before them."""
    stock = portfolio(114)
    pages = []
    for table in stock:
        page = Page(table).blank(4)
        names = SURVEYOR.get(table) or LANDLORD[table] | {"home_id": "Dwelling No"}
        pages.append(page.table(table, stock[table], names, show=trade(table, stock[table]), left=3))
        for n, cells in enumerate(page.grid[5:], start=1):
            cells[2] = n
        page.grid[4][2] = "Line"
    return one_workbook(folder, pages)


def lines_broken_in_headers(folder: Path) -> Book:
    """Headers wrapped by hand over two and three lines of their cell."""
    stock = portfolio(115)
    pages = []
    for table in stock:
        names = {c: h.replace(" ", "\n", 2) for c, h in LANDLORD[table].items()}
        pages.append(Page(table).table(table, stock[table], names, show=trade(table, stock[table])))
    return one_workbook(folder, pages)


def filters_left_on(folder: Path) -> Book:
    """Rows hidden by a filter and columns hidden by hand: they are rows and columns all the same."""
    import openpyxl

    book = one_workbook(folder, three(116, LANDLORD))
    path = book.files[0]
    opened = openpyxl.load_workbook(path)
    for sheet in opened:
        sheet.auto_filter.ref = sheet.dimensions
        for row in range(3, sheet.max_row, 3):
            sheet.row_dimensions[row].hidden = True
        for letter in "CEH":
            sheet.column_dimensions[letter].hidden = True
    opened.save(path)
    return book


def on_its_side(folder: Path) -> Book:
    """A register with its headers down the first column and a valve in every further one."""
    return Book([workbook(folder / "side.xlsx", _turned())], asks=r"(?i)side.*(transpose|turn|header)")


def on_its_side_as_text(folder: Path) -> Book:
    """The same as a text file."""
    book = text_files(folder, [_turned()])
    return Book(book.files, asks=r"(?i)side.*(transpose|turn|header)")


def _turned() -> Page:
    stock = portfolio(117)
    names = LANDLORD["valves"]
    upright = Page("Side").table("valves", stock["valves"][:12], names, show=typed("valves", names))
    return Page("Side", grid=[list(cells) for cells in zip(*upright.grid, strict=True)])


def open_document(folder: Path) -> Book:
    """An .ods workbook with titles above, dates as dates, numbers as numbers."""
    stock = portfolio(118)
    pages = []
    for table in stock:
        page = Page(table).lines([f"Export of {table}"]).blank()
        pages.append(page.table(table, stock[table], LANDLORD[table], show=trade(table, stock[table])))
    return Book().add(open_workbook(folder / "book.ods", *pages), pages)


def rows_that_lack_a_number(folder: Path) -> Book:
    """Rows without the number of their home or job, among honest ones: returned, not lost."""
    pages = three(119, CONTRACTOR)
    stock = portfolio(119)["visits"]
    spoilt = {(4, "home_id"): Spoilt(None), (9, "visit_id"): Spoilt(None), (20, "reported"): Spoilt(None)}
    names = CONTRACTOR["visits"]
    page = Page("Jobs").table("visits", stock, names, show=trade("visits", stock), spoilt=spoilt,
                              fates=dict.fromkeys((4, 9, 20), RETURNED))  # fmt: skip
    return one_workbook(folder, [*pages[:2], page])


BOOKS = (
    title_and_cover_rows, header_far_down, grouped_headers, gaps_between_blocks, forty_thousand_blank_rows,
    totals_and_notes_below, subtotals_between, all_on_one_sheet, two_beside_each_other, sheet_a_year, hidden_sheets,
    pivots_and_covers, header_on_every_page, starts_in_the_middle, lines_broken_in_headers, filters_left_on,
    on_its_side, on_its_side_as_text, open_document, rows_that_lack_a_number,
)  # fmt: skip
