"""Books whose cells are hard to understand: dates, numbers, yes and no, ids, words, errors, marks for not known."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import openpyxl

from tests.corpus.delimited import pages
from tests.corpus.dialects import CALL_CENTRE, CONTRACTOR, LANDLORD, trade
from tests.corpus.files import one_workbook, text_files
from tests.corpus.layouts import three
from tests.corpus.plant import RETURNED, Book, Cell, Error, Page, Spoilt, day, headers_of, typed
from tests.corpus.stock import Record, portfolio

DATES = {"valves": ("body_fitted", "head_fitted", "location_temp_on", "flow_temp_on"),
         "visits": ("reported", "attended", "completed"),
         "homes": ("gas_check_due", "heating_renewal_due")}  # fmt: skip
START_1900, START_1904 = dt.datetime(1899, 12, 30), dt.datetime(1904, 1, 1)  # ECMA-376 part 1, 18.17.4.1, from memory


def _ordinal(value: dt.datetime) -> str:
    end = "th" if 4 <= value.day % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(value.day % 10, "th")
    return f"{value.day}{end} {value:%B %Y}"


USUAL_FORMS = (
    "%d/%m/%Y", "%d-%m-%Y", "%d.%m.%Y", "%d/%m/%y", "%d %b %Y", "%d-%b-%y", "%d-%b-%Y", "%d %B %Y", "%Y-%m-%d",
    "%Y/%m/%d", "%a %d %b %Y", "%A, %d %B %Y", "%d/%m/%Y 00:00", "%Y-%m-%d 00:00:00", "%d%b%Y", "%B %d, %Y", "ordinal",
    "%Y%m%d",
)  # fmt: skip


def in_a_form(form: str, value: dt.datetime) -> str:
    """A date in one usual form."""
    return _ordinal(value) if form == "ordinal" else f"{value:{form}}"


def dates_in_every_form(folder: Path) -> Book:
    """Eighteen usual forms of a date as text, mixed in every column."""
    cell: Cell = lambda v, n: None if v is None else in_a_form(USUAL_FORMS[n % len(USUAL_FORMS)], v)  # noqa: E731
    shown = dict.fromkeys((c for columns in DATES.values() for c in columns), cell)
    return text_files(folder, pages(401, LANDLORD, **shown))


def _without_zeros(form: str) -> Cell:
    return lambda v, n: None if v is None else in_a_form(form, v).lstrip("0").replace("/0", "/")


def one_form_a_column(folder: Path) -> Book:
    """Each column of dates in a form of its own, single digits without their zeros."""
    forms = ("%d/%m/%Y", "%d.%m.%y", "%d-%b-%Y", "%Y-%m-%d")
    shown: dict[str, Cell] = {
        c: _without_zeros(form) for columns in DATES.values() for c, form in zip(columns, forms, strict=False)
    }
    return text_files(folder, pages(402, CONTRACTOR, **shown))


def dates_with_times(folder: Path) -> Book:
    """Reports, attendances and completions to the minute, as date cells and as text."""
    stock = portfolio(403)
    for n, record in enumerate(stock["visits"]):
        record["reported"] += dt.timedelta(hours=7 + n % 3, minutes=n)
        for later in ("attended", "completed"):
            if record[later] is not None:
                record[later] += dt.timedelta(hours=12 + n % 7, minutes=n % 60)
    half = len(stock["visits"]) // 2
    names = LANDLORD["visits"]
    log = Page("Log").table("visits", stock["visits"][:half], names, show=trade("visits", stock["visits"]))
    shown = typed("visits", names, "%d/%m/%Y %H:%M") | trade("visits", stock["visits"])
    text = Page("later").table("visits", stock["visits"][half:], names, show=shown)
    register = [page for page in three(403, LANDLORD) if page.name != "Visits"]
    book = one_workbook(folder, [*register, log])
    more = text_files(folder, [text])
    book.files += more.files
    book.planted += more.planted
    return book


def _serial(start: dt.datetime) -> Cell:
    return lambda value, n: None if value is None else (value - start).days


def day_numbers_of_1900(folder: Path) -> Book:
    """Dates as plain numbers: the format of the columns was lost; as numbers, and as text in a text file."""
    stock = portfolio(404)
    shown = dict.fromkeys(DATES["valves"], _serial(START_1900))
    show = trade("valves", stock["valves"]) | shown
    register = Page("Valves").table("valves", stock["valves"], LANDLORD["valves"], show=show)
    book = one_workbook(folder, [three(404, LANDLORD)[0], register])
    more = text_files(folder, pages(404, LANDLORD, **dict.fromkeys(DATES["visits"], _serial(START_1900)))[2:])
    book.files += more.files
    book.planted += more.planted
    return book


def workbook_of_1904(folder: Path) -> Book:
    """A workbook that counts days from 1904: real dates on one sheet, plain numbers on another."""
    stock = portfolio(405)
    show = trade("valves", stock["valves"]) | dict.fromkeys(DATES["valves"], _serial(START_1904))
    register = Page("Valves").table("valves", stock["valves"], LANDLORD["valves"], show=show)
    sheets = three(405, LANDLORD)
    book = one_workbook(folder, [sheets[0], register, sheets[2]], since_1904=True)
    book.says = ["1904"]
    return book


def month_first(folder: Path) -> Book:
    """Month before day; every column holds a day past the twelfth, which proves it, and that is said."""
    shown = dict.fromkeys((c for columns in DATES.values() for c in columns), day("%m/%d/%Y"))
    book = text_files(folder, pages(406, LANDLORD, **shown))
    book.says = [r"(?i)month (comes )?(first|before)"]
    return book


def neither_proves(folder: Path) -> Book:
    """No day past the twelfth in any column: read day first, as the trade writes, and said."""
    stock = portfolio(407)
    for n, record in enumerate(stock["visits"]):
        record["reported"] = dt.datetime(2024, 1 + n % 12, 1 + n % 5)
        record["attended"] = record["reported"].replace(day=6 + n % 2)
        record["completed"] = record["attended"].replace(day=9 + n % 4)
    names = CONTRACTOR["visits"]
    page = Page("log").table("visits", stock["visits"], names, show=typed("visits", names))
    book = text_files(folder, [*pages(407, CONTRACTOR)[:2], page])
    book.says = [r"(?i)log.*(Raised|reported).*day"]
    return book


def days_that_never_were(folder: Path) -> Book:
    """The 31st of June, a 13th month, the year 0203, letters: returned where a row needs them, else said."""
    stock = portfolio(408)["visits"]
    spoilt = {
        (3, "reported"): Spoilt("31/06/2024"), (8, "reported"): Spoilt("29/02/2025"), (12, "reported"): Spoilt("soon"),
        (15, "attended"): Spoilt("45/01/2024"), (21, "completed"): Spoilt("00/00/0000"),
        (22, "completed"): Spoilt("12/13/2024"), (30, "completed"): Spoilt("31/04/2024 10:00"),
    }  # fmt: skip
    names = LANDLORD["visits"]
    show = typed("visits", names) | trade("visits", stock)
    page = Page("log").table(
        "visits", stock, names, show=show, spoilt=spoilt, fates=dict.fromkeys((3, 8, 12), RETURNED)
    )
    return text_files(folder, [*pages(408, LANDLORD)[:2], page])


def numbers_as_people_type_them(folder: Path) -> Book:
    """Thousands commas, pound signs before and behind, text numbers in workbooks, brackets below zero, h:mm."""
    stock = portfolio(409)
    for n, record in enumerate(stock["visits"]):
        if n % 6 == 0:
            record["location_temp_c"] = -float(n % 5 + 1)
    forms = ("{:,.2f}", "£{:,.2f}", "{:.2f}", "£ {:,.2f}", "{:,.2f} ", "GBP {:.2f}")
    show: dict[str, Cell] = {
        "cost_gbp": lambda v, n: None if v is None else forms[n % len(forms)].format(v),
        "hours": lambda v, n: None if v is None else f"{int(v)}:{int(v % 1 * 60):02d}" if n % 3 == 0 else f"{v:.2f}",
        "location_temp_c": lambda v, n: None if v is None else f"({-v:g})" if v < 0 else f"{v:.1f}",
        "store_temp_c": lambda v, n: None if v is None else f" {v:.2f}",
    }
    names = LANDLORD["visits"]
    page = Page("Visits").table("visits", stock["visits"], names, show=trade("visits", stock["visits"]) | show)
    return one_workbook(folder, [*three(409, LANDLORD)[:2], page])


def numbers_that_are_none(folder: Path) -> Book:
    """A letter O for a nought, two numbers in a cell, a lost decimal point, a decimal comma: said, never guessed."""
    stock = portfolio(410)["visits"]
    spoilt = {
        (2, "store_temp_c"): Spoilt("6O"), (5, "store_temp_c"): Spoilt("58/61"), (9, "store_temp_c"): Spoilt("605"),
        (11, "hours"): Spoilt("a while"), (14, "hours"): Spoilt("-3"), (17, "cost_gbp"): Spoilt("see invoice"),
        (20, "cost_gbp"): Spoilt("1.2.3"), (23, "cost_gbp"): Spoilt("(45.00)"), (26, "tap_temp_c"): Spoilt("hot"),
    }  # fmt: skip
    names = LANDLORD["visits"]
    show = typed("visits", names) | trade("visits", stock)
    page = Page("log").table("visits", stock, names, show=show, spoilt=spoilt)
    return text_files(folder, [*pages(410, LANDLORD)[:2], page])


def yes_and_no(folder: Path) -> Book:
    """Real true and false, 1 and 0 as numbers, letters, words and ticks in one workbook."""
    stock = portfolio(411)
    ways: tuple[Mapping[str, Any], ...] = (
        {"yes": True, "no": False}, {"yes": 1, "no": 0}, {"yes": "Y ", "no": " N"}, {"yes": "✔", "no": "✘"},
        {"yes": "yes", "no": "nO"}, {"yes": "T", "no": "F"},
    )  # fmt: skip
    cell: Cell = lambda v, n: None if v is None else ways[n % len(ways)][v]  # noqa: E731
    flags = ("priority_household", "head_detachable", "motor_replaceable", "isolation", "earthed", "changeover_in_use",
             "flow_direction_ok", "demand_heating", "demand_hot_water", "brown_live", "white_live", "grey_live",
             "orange_live")  # fmt: skip
    made = []
    for table in stock:
        show = trade(table, stock[table]) | {c: cell for c in flags if c in headers_of(table)}
        made.append(Page(table).table(table, stock[table], LANDLORD[table], show=show))
    return one_workbook(folder, made)


def zeros_lost_in_the_log(folder: Path) -> Book:
    """Home numbers with leading zeros in the asset list, without them in register and log; joined, and said."""
    bare: Cell = lambda v, n: v.lstrip("0")  # noqa: E731
    stock = portfolio(412)
    made = [three(412, CONTRACTOR)[0]]
    for table in ("valves", "visits"):
        show = trade(table, stock[table]) | {"home_id": lambda v, n: int(v)}
        made.append(Page(table).table(table, stock[table][:-9], CONTRACTOR[table], show=show))
    book = one_workbook(folder, made)
    late = []
    for table in ("valves", "visits"):
        show = typed(table, CONTRACTOR[table]) | trade(table, stock[table]) | {"home_id": bare}
        late.append(Page(f"late {table}").table(table, stock[table][-9:], CONTRACTOR[table], show=show))
    more = text_files(folder, late)
    book.files += more.files
    book.planted += more.planted
    book.says = [r"(?i)zero"]
    return book


def numbers_with_stray_signs(folder: Path) -> Book:
    """Ids as 1234.0, with no-break and trailing blanks, in other capitals, one file against the other."""
    stock = portfolio(413)
    for records in stock.values():
        for record in records:
            record["home_id"] = str(1000 + int(record["home_id"]))
    ways: tuple[Cell, ...] = (
        lambda v, n: f"{v}.0", lambda v, n: f"{v} ", lambda v, n: f"\u00a0{v}", lambda v, n: f"{v}\u00a0",
        lambda v, n: v,
    )  # fmt: skip
    names: tuple[Cell, ...] = (lambda v, n: v.lower(), lambda v, n: f" {v}", lambda v, n: f"{v.title()}\u00a0")
    shown: dict[str, Cell] = {
        "home_id": lambda v, n: ways[n % len(ways)](v, n),
        "valve_id": lambda v, n: None if v is None else names[n % len(names)](v, n),
    }
    made = [Page("homes").table("homes", stock["homes"], LANDLORD["homes"], show=typed("homes", LANDLORD["homes"]))]
    register = typed("valves", LANDLORD["valves"])
    made.append(Page("valves").table("valves", stock["valves"], LANDLORD["valves"], show=register))
    log = typed("visits", LANDLORD["visits"]) | shown
    made.append(Page("visits").table("visits", stock["visits"], LANDLORD["visits"], show=log))
    return text_files(folder, made)


def numbers_beyond_repair(folder: Path) -> Book:
    """UPRNs that a spreadsheet rounded to 1.00020E+11: the digits are gone, so they are said, not used."""
    stock = portfolio(414)["homes"]
    for n, record in enumerate(stock):
        record["uprn"] = record["uprn"] or f"1000200{n:05d}"
    spoilt = {(n, "uprn"): Spoilt("1.0002E+11") for n in (2, 7, 11)}
    names = LANDLORD["homes"]
    show = typed("homes", names) | trade("homes", stock)
    page = Page("homes").table("homes", stock, names, show=show, spoilt=spoilt)
    return text_files(folder, [page, *pages(414, LANDLORD)[1:]])


def formula_errors(folder: Path) -> Book:
    """Error cells of every kind, in cells that may be empty and in ones that may not."""
    stock = portfolio(415)["valves"]
    spoilt = {
        (1, "make"): Spoilt(Error("#N/A")), (3, "location_temp_c"): Spoilt(Error("#REF!")),
        (4, "body_fitted"): Spoilt(Error("#VALUE!")), (6, "lever"): Spoilt(Error("#NAME?")),
        (8, "wires"): Spoilt(Error("#DIV/0!")), (10, "home_id"): Spoilt(Error("#N/A")),
        (12, "flow_temp_c"): Spoilt(Error("#NUM!")), (13, "earthed"): Spoilt(Error("#NULL!")),
    }  # fmt: skip
    page = Page("Register").table(
        "valves", stock, LANDLORD["valves"], show=trade("valves", stock), spoilt=spoilt, fates={10: RETURNED}
    )
    others = three(415, LANDLORD)
    return one_workbook(folder, [others[0], page])


def errors_typed_as_text(folder: Path) -> Book:
    """The same errors in a text file, where they are text like any other."""
    stock = portfolio(416)["valves"]
    spoilt = {
        (1, "make"): Spoilt("#N/A"), (3, "location_temp_c"): Spoilt("#REF!"), (4, "body_fitted"): Spoilt("#VALUE!"),
        (6, "lever"): Spoilt("#NAME?"), (8, "wires"): Spoilt("#DIV/0!"), (10, "home_id"): Spoilt("#N/A"),
    }  # fmt: skip
    names = LANDLORD["valves"]
    page = Page("register").table(
        "valves", stock, names, show=typed("valves", names), spoilt=spoilt, fates={10: RETURNED}
    )
    return text_files(folder, [pages(416, LANDLORD)[0], page])


NOT_KNOWN = ("NA", "n/a", "-", "TBC", "N/A", "tbc", "unknown", "Not known", "?", "--", "T.B.C.", " ")


def not_known(folder: Path) -> Book:
    """NA, n/a, a dash, TBC and their like in place of every kind of value."""
    stock = portfolio(417)
    optional = {"valves": ("make", "location_temp_c", "body_fitted", "lever", "wires", "location", "batch"),
                "visits": ("completed", "hours", "store_temp_c", "engineer", "cost_gbp")}  # fmt: skip
    made = [pages(417, LANDLORD)[0]]
    for table, columns in optional.items():
        records, names = stock[table], LANDLORD[table]
        show = typed(table, names) | trade(table, records)
        for n, record in enumerate(records):
            for place, column in enumerate(columns):
                if (n + place) % 4 == 0:
                    record[column] = None
        show |= {c: _or_a_mark(show[c], n) for n, c in enumerate(columns)}
        made.append(Page(table).table(table, records, names, show=show))
    return text_files(folder, made)


def _or_a_mark(cell: Cell, shift: int) -> Cell:
    return lambda v, n: NOT_KNOWN[(n // 4 + shift) % len(NOT_KNOWN)] if v is None else cell(v, n)


def words_that_are_none(folder: Path) -> Book:
    """Words that no list has: said with the row, never forced into a word that they are not."""
    stock = portfolio(418)["visits"]
    spoilt = {
        (1, "outcome"): Spoilt("purple"), (4, "symptom"): Spoilt("as discussed"), (7, "cause"): Spoilt("gremlins"),
        (9, "kind"): Spoilt("X99"), (13, "position"): Spoilt("sideways"), (16, "lever"): Spoilt("lost"),
        (19, "action"): Spoilt("tea made"),
    }  # fmt: skip
    names = LANDLORD["visits"]
    page = Page("Log").table("visits", stock, names, show=trade("visits", stock), spoilt=spoilt)
    return one_workbook(folder, [*three(418, LANDLORD)[:2], page])


def text_that_looks_like_formulas(folder: Path) -> Book:
    """Notes and addresses that begin with = + - @ and an apostrophe: text, kept as it is."""
    stock = portfolio(419)
    starts = ("=1+1", "+44 ring first", "- left as was", "@ rear door", "'quoted", "=HYPERLINK(x)")
    for n, record in enumerate(stock["homes"]):
        record["access_note"] = starts[n % len(starts)]
    names = LANDLORD
    made = [Page(t).table(t, stock[t], names[t], show=typed(t, names[t]) | trade(t, stock[t])) for t in stock]
    return text_files(folder, made)


def text_in_pieces(folder: Path) -> Book:
    """A workbook of numbers stored as text, dates stored as text, blanks around everything, notes on cells."""
    padded: dict[str, Cell] = {}
    stock = portfolio(420)
    made = []
    for table in stock:
        names = CALL_CENTRE.get(table) or LANDLORD[table] | {"home_id": "PROPERTY ID"}
        show: dict[str, Cell] = typed(table, names) | trade(table, stock[table])
        padded = {c: _padded(cell) for c, cell in show.items()}
        made.append(Page(table).table(table, stock[table], names, show=padded))
    book = one_workbook(folder, made)
    opened = openpyxl.load_workbook(book.files[0])
    for sheet in opened:
        sheet["B2"].comment = openpyxl.comments.Comment("check with the office", "E17")
        sheet.freeze_panes = "B2"
    opened.save(book.files[0])
    return book


def _padded(cell: Cell) -> Cell:
    def show(value: Any, n: int) -> Any:
        text = cell(value, n)
        return text if text is None else f"{' ' * (n % 3)}{text}{' ' * (n % 2)}"

    return show


def months_and_years(folder: Path) -> Book:
    """Fitted in 'May 2019' or just '2014': the day is not known, so what was taken is said."""
    stock: list[Record] = portfolio(421)["valves"]
    for n, record in enumerate(stock):
        record["body_fitted"] = dt.datetime(2004 + n % 9, 1, 1)
        record["head_fitted"] = dt.datetime(2014 + n % 9, 1 + n % 12, 1)
    show = typed("valves", LANDLORD["valves"]) | trade("valves", stock)
    told = {(n, "body_fitted"): Spoilt(f"{r['body_fitted']:%Y}", r["body_fitted"], True) for n, r in enumerate(stock)}
    told |= {
        (n, "head_fitted"): Spoilt(f"{r['head_fitted']:%b %Y}", r["head_fitted"], True) for n, r in enumerate(stock)
    }
    page = Page("register").table("valves", stock, LANDLORD["valves"], show=show, spoilt=told)
    book = text_files(folder, [pages(421, LANDLORD)[0], page])
    book.near = {"body_fitted": 366, "head_fitted": 31}  # any day of that year, of that month
    return book


BOOKS = (
    dates_in_every_form, one_form_a_column, dates_with_times, day_numbers_of_1900, workbook_of_1904, month_first,
    neither_proves, days_that_never_were, numbers_as_people_type_them, numbers_that_are_none, yes_and_no,
    zeros_lost_in_the_log, numbers_with_stray_signs, numbers_beyond_repair, formula_errors, errors_typed_as_text,
    not_known, words_that_are_none, text_that_looks_like_formulas, text_in_pieces, months_and_years,
)  # fmt: skip
