"""Books as small contractors keep them: addresses in parts or for numbers, prefixes, weeks, subtotals, rows abreast."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from tests.corpus.delimited import pages
from tests.corpus.dialects import CONTRACTOR, LANDLORD, trade
from tests.corpus.files import one_workbook, text_files
from tests.corpus.layouts import three
from tests.corpus.plant import RETURNED, Book, Headers, Page, Spoilt, typed
from tests.corpus.stock import Record, portfolio


def _log(name: str, records: list[Record], names: Headers, **more: Any) -> Page:
    return Page(name).table("visits", records, names, show=typed("visits", names) | trade("visits", records), **more)


def address_in_parts(folder: Path) -> Book:
    """Flat, house number, street and town in columns of their own: the address is all of them."""
    stock = portfolio(901)
    page = Page("homes").lines(["Property Reference", "Flat", "House No", "Street", "Town", "Postcode"])
    for n, home in enumerate(stock["homes"]):
        flat = f"{n}A" if n % 3 else ""
        whole = (f"Flat {flat}, " if flat else "") + f"{n + 1} Example Road, Sometown"
        truth = {"home_id": home["home_id"], "address": whole, "postcode": home["postcode"]}
        names = dict(zip(("home_id", "address", "postcode"), ("Property Reference", "Flat", "Postcode"), strict=True))
        page.rows("homes", [truth], names)
        page.grid[-1] = [home["home_id"], flat, str(n + 1), "Example Road", "Sometown", home["postcode"]]
    return text_files(folder, [page, *pages(901, LANDLORD)[1:]])


def prefixes_in_one_file(folder: Path) -> Book:
    """PROP-00012 in the landlord's list, 12 in the contractor's register and log."""
    stock = portfolio(902)
    for records in stock.values():
        for record in records:
            record["home_id"] = f"PROP-{record['home_id']:0>5}"
    made = []
    for table, records in stock.items():
        names = LANDLORD[table]
        bare = {} if table == "homes" else {"home_id": lambda v, n: str(int(v[5:]))}
        show = typed(table, names) | trade(table, records) | bare
        made.append(Page(table).table(table, records, names, show=show))
    book = text_files(folder, made)
    book.says = [r"home numbers were joined with others by what follows their prefix"]
    return book


def homes_at_their_first_row(folder: Path) -> Book:
    """The register names each home in the first of its rows only, without merged cells."""
    stock = portfolio(903)
    show = trade("valves", stock["valves"])
    page = Page("Register").table("valves", stock["valves"], LANDLORD["valves"], show=show)
    place = list(LANDLORD["valves"]).index("home_id")
    for n in range(len(stock["valves"]) - 1, 0, -1):
        if stock["valves"][n]["home_id"] == stock["valves"][n - 1]["home_id"]:
            page.grid[n + 1][place] = None
    book = one_workbook(folder, [three(903, LANDLORD)[0], page, three(903, LANDLORD)[2]])
    book.says = [r"rows without a home stand below the first row of one"]
    return book


def weeks_for_days(folder: Path) -> Book:
    """Some jobs are dated by their week only, and some days have no year: the week's first day, and said."""
    stock = portfolio(904)["visits"]
    spoilt: dict[tuple[int, str], Spoilt] = {}
    for n in (2, 7, 11):
        day = stock[n]["reported"]
        stock[n] |= {"attended": day, "completed": day}
        spoilt[n, "reported"] = Spoilt(f"w/c {day:%d/%m/%Y}", day, told=True)
    for n in (4, 9):
        spoilt[n, "reported"] = Spoilt(f"{stock[n]['reported']:%d/%m}")
    main = _log("log", stock, LANDLORD["visits"], spoilt=spoilt, fates=dict.fromkeys((4, 9), RETURNED))
    book = text_files(folder, [*pages(904, LANDLORD)[:2], main])
    book.says = [r"only the week is given", r"the date has no year"]
    return book


def subtotals_between_blocks(folder: Path) -> Book:
    """Jobs by month, each with its total below, in the first column or beside the costs."""
    stock = portfolio(905)
    names = {c: h for c, h in CONTRACTOR["visits"].items() if c in
             ("visit_id", "home_id", "reported", "completed", "outcome", "cost_gbp")}  # fmt: skip
    show = typed("visits", names) | trade("visits", stock["visits"])
    page = Page("jobs").header(names)
    for n, start in enumerate(range(0, len(stock["visits"]), 8)):
        page.rows("visits", stock["visits"][start : start + 8], names, show=show)
        page.lines((["Month total", "", "", "", "", "1,240.50"], ["", "", "Sub-total:", "", "", "£310"])[n % 2])
    page.lines(["Grand total", "", "", "", "", "£9,310.00"], ["No. of jobs", str(len(stock["visits"]))])
    book = text_files(folder, [pages(905, CONTRACTOR)[1], page])
    return book


def jobs_by_address(folder: Path) -> Book:
    """The log has addresses for the homes' numbers, in capitals, with short forms and postcodes."""
    stock = portfolio(906)
    for n, home in enumerate(stock["homes"]):
        home["address"] = f"Flat {n % 3 + 1}, {n + 1} Example Road"
    where = {home["home_id"]: home for home in stock["homes"]}
    names = {"home_id": "Site Address"} | {c: h for c, h in CONTRACTOR["visits"].items() if c != "home_id"}

    def written(value: str, n: int) -> str:
        home = where[value]
        return (home["address"], f"{home['address'].upper().replace('ROAD', 'RD')} {home['postcode']}")[n % 2]

    homes = Page("homes").table("homes", stock["homes"], CONTRACTOR["homes"],
                                show=typed("homes", CONTRACTOR["homes"]) | trade("homes", stock["homes"]))  # fmt: skip
    show = typed("visits", names) | trade("visits", stock["visits"]) | {"home_id": written}
    book = text_files(
        folder, [homes, pages(906, CONTRACTOR)[1], Page("log").table("visits", stock["visits"], names, show=show)]
    )
    book.says = [r"homes given by their address were given the home's own number"]
    return book


def one_odd_month(folder: Path) -> Book:
    """One date of a column has its month first: it is said, and the others are read as they are."""
    stock = portfolio(907)["visits"]
    stock[5] |= {"reported": dt.datetime(2024, 3, 25), "attended": dt.datetime(2024, 3, 26), "completed": None}
    spoilt = {(5, "reported"): Spoilt("03/25/2024", stock[5]["reported"], told=True)}
    return text_files(folder, [*pages(907, LANDLORD)[:2], _log("log", stock, LANDLORD["visits"], spoilt=spoilt)])


def pounds_with_and_without_tax(folder: Path) -> Book:
    """Costs headed by a pound sign, the net beside the gross: the net counts."""
    stock = portfolio(908)
    names = LANDLORD["visits"] | {"cost_gbp": "£ (ex VAT)"}
    page = _log("log", stock["visits"], names)
    page.grid[0].append("£ (inc VAT)")
    place = list(names).index("cost_gbp")
    for row in page.grid[1:]:
        row.append(f"{float(row[place]) * 1.2:.2f}" if row[place] else None)
    return text_files(folder, [*pages(908, LANDLORD)[:2], page])


def two_valves_in_a_row(folder: Path) -> Book:
    """A heating and a hot water valve side by side in each home's row: refused with how to lay them out."""
    rows = [[f"{n:04d}", f"V{n}-1", "13/05/2015", f"V{n}-2", "14/06/2016"] for n in range(1, 9)]
    page = Page("register").lines(["Property Ref", "Htg valve", "Htg head fitted", "HW valve", "HW head fitted"], *rows)
    book = text_files(folder, [page])
    book.asks = r"several valves of a home stand side by side in each row"
    return book


def visits_in_columns(folder: Path) -> Book:
    """One row a home, and three columns for each visit: refused with how to lay them out."""
    stock = pages(910, LANDLORD)[:2]
    rows = [[f"{n:04d}", "14/05/2024", "No access", "21/05/2024", "Fixed"] for n in range(1, 9)]
    heads = ["Property Ref", "Visit 1", "Visit 1 outcome", "Visit 2", "Visit 2 outcome"]
    book = text_files(folder, [*stock, Page("log").lines(heads, *rows)])
    book.asks = r"several visits of a home stand side by side in each row"
    return book


BOOKS = (
    address_in_parts, prefixes_in_one_file, homes_at_their_first_row, weeks_for_days, subtotals_between_blocks,
    jobs_by_address, one_odd_month, pounds_with_and_without_tax, two_valves_in_a_row, visits_in_columns,
)  # fmt: skip
