"""Books whose headers are hard to understand: synonyms, slips, no words, units, rivals, gaps, columns of no use."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from tests.corpus.delimited import pages
from tests.corpus.dialects import CALL_CENTRE, CONTRACTOR, LANDLORD, SHORT, SPELLINGS, SURVEYOR, trade
from tests.corpus.files import one_workbook, text_files
from tests.corpus.layouts import three
from tests.corpus.plant import Book, Cell, Headers, Page, headers_of, typed
from tests.corpus.stock import portfolio, prices

AS_OF = dt.datetime(2026, 9, 30)  # the day that ages count back from


def exact_names(folder: Path) -> Book:
    """The audit's own names and words."""
    stock = portfolio(301)
    return one_workbook(folder, [Page(t).table(t, stock[t], headers_of(t)) for t in stock])


def exact_names_shouted(folder: Path) -> Book:
    """The audit's own names in capitals with blanks."""
    stock = portfolio(302)
    names = {t: {c: c.upper().replace("_", " ") for c in headers_of(t)} for t in stock}
    return one_workbook(folder, [Page(t).table(t, stock[t], names[t]) for t in stock])


def words_of_a_landlord(folder: Path) -> Book:
    """Headers as a landlord's asset list has them."""
    return one_workbook(folder, three(303, LANDLORD))


def words_of_a_contractor(folder: Path) -> Book:
    """Headers as a contractor's job system exports them."""
    return text_files(folder, pages(304, CONTRACTOR))


def words_of_a_call_centre(folder: Path) -> Book:
    """Headers in capitals, as a call centre's report has them; the register is the landlord's."""
    register = LANDLORD["valves"] | {"home_id": "PROPERTY ID"}
    return text_files(folder, pages(305, CALL_CENTRE | {"valves": register}))


def words_of_a_surveyor(folder: Path) -> Book:
    """Headers of a survey form."""
    log = CONTRACTOR["visits"] | {"home_id": "Dwelling No", "valve_id": "Valve ID"}
    return one_workbook(folder, three(306, SURVEYOR | {"visits": log}))


def shortest_words(folder: Path) -> Book:
    """Headers cut as short as they go."""
    homes = CONTRACTOR["homes"] | {"home_id": "Prop No"}
    return text_files(folder, pages(307, SHORT | {"homes": homes}))


def prices_and_hours(folder: Path) -> Book:
    """Rates, capacity and stock of parts in the trade's words."""
    stock = portfolio(308) | prices()
    names = LANDLORD | {
        "rates": {"item": "Item", "unit": "Unit", "cost_gbp": "Rate (£)", "source": "Source"},
        "capacity": {"team": "Team", "patch": "Patch", "week_starting": "Week Commencing", "hours": "Available Hours"},
        "parts": {"part": "Part", "on_hand": "Qty in Stock", "lead_time_days": "Lead Time (days)"},
    }
    made = [Page(t).table(t, stock[t], names[t], show=trade(t, stock[t])) for t in stock]
    return one_workbook(folder, made)


def slips_of_the_keyboard(folder: Path) -> Book:
    """Headers with a letter lost, doubled or swapped."""
    stock = portfolio(309)
    slips = {
        "homes": LANDLORD["homes"] | {"home_id": "Property Referance", "postcode": "Postocde", "address": "Adress",
                                      "access_note": "Acess Arrangements"},
        "valves": LANDLORD["valves"] | {"home_id": "Property Referance", "make": "Manufacurer",
                                        "head_fitted": "Head Instaled", "isolation": "Isolaton Valves Fitted",
                                        "location": "Valve Locaton", "voltage_v": "Votlage (V)",
                                        "switch_load_a": "Swtich Load (A)", "earthed": "Earthd"},
        "visits": LANDLORD["visits"] | {"home_id": "Property Referance", "reported": "Date Reportd",
                                        "attended": "Date Attneded", "completed": "Date Compelted",
                                        "symptom": "Reproted Fault", "action": "Acton Taken", "engineer": "Enginer",
                                        "outcome": "Outcom"},
    }  # fmt: skip
    made = [Page(t).table(t, stock[t], slips[t], show=trade(t, stock[t])) for t in stock]
    return one_workbook(folder, made)


def headers_without_meaning(folder: Path) -> Book:
    """Headers such as 'Field 7' above a postcode, °C, cores and a date: the cells speak, or the column is asked for."""
    homes = LANDLORD["homes"] | {"postcode": "Field 4"}
    valves = LANDLORD["valves"] | {"wires": "Field 9", "earthed": "Field 12", "arrangement": "Field 2"}
    visits = LANDLORD["visits"] | {"symptom": "Field 7", "outcome": "Field 8", "store_temp_c": "Field 21"}
    shown: dict[str, Cell] = {
        "wires": lambda v, n: None if v is None else f"{v:g} core",
        "store_temp_c": lambda v, n: None if v is None else f"{v:g} °C",
    }
    return text_files(folder, pages(310, {"homes": homes, "valves": valves, "visits": visits}, **shown))


def _with_units(seed: int, table: str, names: Headers, shown: Mapping[str, Cell], folder: Path) -> Book:
    stock = portfolio(seed)
    made = [page for page in three(seed, LANDLORD) if page.name != table.title()]
    show = trade(table, stock[table]) | shown
    return one_workbook(folder, [*made, Page("Units").table(table, stock[table], LANDLORD[table] | names, show=show)])


def _scaled(times: float, plus: float = 0.0) -> Cell:
    return lambda value, n: None if value is None else round(value * times + plus, 10)


def units_of_length(folder: Path) -> Book:
    """Inches, feet and centimetres in the headers."""
    names = {"insertion_mm": "Pipe Insertion (inches)", "pump_distance_m": "Distance from Pump (feet)",
             "body_size_mm": "Valve Size (cm)"}  # fmt: skip
    shown = {"insertion_mm": _scaled(1 / 25.4), "pump_distance_m": _scaled(1 / 0.3048), "body_size_mm": _scaled(0.1)}
    return _with_units(311, "valves", names, shown, folder)


def degrees_fahrenheit(folder: Path) -> Book:
    """°F in the headers of a surveyor with an old meter."""
    names = {"location_temp_c": "Ambient Temp (°F)", "flow_temp_c": "Flow Temp deg F"}
    shown = {"location_temp_c": _scaled(1.8, 32), "flow_temp_c": _scaled(1.8, 32)}
    return _with_units(312, "valves", names, shown, folder)


def minutes_and_pounds(folder: Path) -> Book:
    """Time on site in minutes, costs with pound signs and thousands commas."""
    names = {"hours": "Time on Site (mins)", "cost_gbp": "Cost £ (ex VAT)"}
    shown: dict[str, Cell] = {"hours": _scaled(60), "cost_gbp": lambda v, n: None if v is None else f"£{v:,.2f}"}
    return _with_units(313, "visits", names, shown, folder)


def ages_in_years(folder: Path) -> Book:
    """The age of head and body in years in place of the days that they were fitted."""
    stock = portfolio(314)
    for n, record in enumerate(stock["valves"]):
        record["body_fitted"] = AS_OF.replace(year=AS_OF.year - 9 - n % 9)
        record["head_fitted"] = AS_OF.replace(year=AS_OF.year - 1 - n % 8)
    names = LANDLORD["valves"] | {"body_fitted": "Age of Valve Body (years)", "head_fitted": "Head Age (yrs)"}
    years: Cell = lambda value, n: AS_OF.year - value.year  # noqa: E731
    show = trade("valves", stock["valves"]) | {"body_fitted": years, "head_fitted": years}
    pages_ = three(314, LANDLORD)
    book = one_workbook(folder, [pages_[0], Page("Ages").table("valves", stock["valves"], names, show=show), pages_[2]])
    book.near = {"body_fitted": 2, "head_fitted": 2}
    return book


UNIT_CELLS: dict[str, Cell] = {
    "location_temp_c": lambda v, n: None if v is None else f"{v:g}{(' °C', 'C', ' deg C', '°')[n % 4]}",
    "flow_temp_c": lambda v, n: None if v is None else (f"{v * 1.8 + 32:.6g} °F" if n % 2 else f"{v:g}c"),
    "body_size_mm": lambda v, n: None if v is None else f"{v:g}{('mm', ' mm', ' MM')[n % 3]}",
    "insertion_mm": lambda v, n: None if v is None else (f"{v / 10:g} cm" if n % 2 else f"{v:g} mm"),
    "pump_distance_m": lambda v, n: None if v is None else (f"{v * 100:g}cm" if n % 2 else f"{v:g} m"),
    "voltage_v": lambda v, n: None if v is None else f"{v:g}{('V', ' v', ' volts', 'V AC')[n % 4]}",
    "switch_load_a": lambda v, n: None if v is None else f"{v:g}{('A', ' amps', ' Amp')[n % 3]}",
    "wires": lambda v, n: None if v is None else f"{v:g}{(' wire', ' core', '-wire', ' wires')[n % 4]}",
    "ports": lambda v, n: None if v is None else f"{v:g}{(' port', '-port', ' ports')[n % 3]}",
    "hours": lambda v, n: None if v is None else (f"{v * 60:g} mins" if n % 2 else f"{v:g} hrs"),
    "cost_gbp": lambda v, n: None if v is None else (f"£{v:,.2f}" if n % 2 else f"{v:.2f} GBP"),
}


def units_in_the_cells(folder: Path) -> Book:
    """A unit behind every number, sometimes another one than in the row above."""
    plain = {
        "valves": LANDLORD["valves"] | {"location_temp_c": "Ambient Temp", "flow_temp_c": "Flow Temp",
                                        "body_size_mm": "Valve Size", "insertion_mm": "Pipe Insertion",
                                        "pump_distance_m": "Distance from Pump", "voltage_v": "Voltage",
                                        "switch_load_a": "Switch Load"},
        "visits": LANDLORD["visits"] | {"location_temp_c": "Ambient Temp", "flow_temp_c": "Flow Temp",
                                        "hours": "Time on Site", "cost_gbp": "Cost"},
    }  # fmt: skip
    return text_files(folder, pages(315, LANDLORD | plain, **UNIT_CELLS))


def rivals(folder: Path) -> Book:
    """Two columns that could each be the day of the report, and differ: only the user can say."""
    stock = portfolio(316)
    names = CONTRACTOR["visits"] | {"reported": "Date Reported"}
    page = Page("visits").table("visits", stock["visits"], names, show=typed("visits", names))
    for n, cells in enumerate(page.grid):
        cells.append(f"{stock['visits'][n - 1]['reported'] + dt.timedelta(days=9):%d/%m/%Y}" if n else "Reported Date")
    book = text_files(folder, [*pages(316, CONTRACTOR)[:2], page])
    return Book(book.files, asks=r"Date Reported.*Reported Date|Reported Date.*Date Reported")


def no_number_of_the_home(folder: Path) -> Book:
    """A log that names no home at all: a required column is asked for."""
    names = CONTRACTOR["visits"] | {"home_id": ""}
    book = text_files(folder, pages(317, CONTRACTOR | {"visits": names}))
    return Book(book.files, asks=r"home_id")


def net_and_gross(folder: Path) -> Book:
    """Cost without VAT, VAT, and cost with VAT; target, appointment and invoice days beside the real ones."""
    stock = portfolio(318)
    page = Page("visits").table("visits", stock["visits"], CALL_CENTRE["visits"], show=trade("visits", stock["visits"]))
    for n, cells in enumerate(page.grid):
        record = stock["visits"][n - 1]
        cost = record["cost_gbp"] or 0.0
        more: list[Any] = ["VAT", "GROSS COST", "TARGET DATE", "APPOINTMENT DATE", "INVOICE DATE", "PRIORITY"]
        if n:
            later = [record["reported"] + dt.timedelta(days=d) for d in (28, 2, 60)]
            more = [round(cost * 0.2, 2), round(cost * 1.2, 2), *later, ("R1", "R2")[n % 2]]
        cells += more
    register = LANDLORD["valves"] | {"home_id": "PROPERTY ID"}
    return one_workbook(folder, [*three(318, CALL_CENTRE | {"valves": register})[:2], page])


def columns_of_no_use(folder: Path) -> Book:
    """Columns that the audit has no use for, some of them empty, one without a header."""
    made = three(319, CONTRACTOR)
    for page in made:
        for n, cells in enumerate(page.grid):
            cells.insert(0, n or "Line")
            cells += [None, "SLA met" if not n else "Yes", "Contract lot" if not n else f"Lot {n % 3}", n and "x"]
            cells[-1] = cells[-1] or None
    return one_workbook(folder, made)


def every_name_of_every_word(folder: Path) -> Book:
    """Each name that these books know for each word, once."""
    stock = portfolio(320)
    names = {"valves": ("arrangement", "circuit", "head_kind", "lever", "switch_load_kind", "location"),
             "visits": ("kind", "outcome", "symptom", "cause", "action", "position", "lever")}  # fmt: skip
    made = []
    for table, coded in names.items():
        listed = {c: [(word, name) for word, spelt in SPELLINGS[c].items() for name in spelt] for c in coded}
        records, cells = [], []
        for n in range(max(len(pairs) for pairs in listed.values())):
            base = dict(stock[table][n % len(stock[table])])
            base[{"valves": "valve_id", "visits": "visit_id"}[table]] = f"{table[:2].upper()}{n:04d}"
            if table == "visits":
                base["valve_id"] = None
            row = {c: pairs[n] if n < len(pairs) else (None, None) for c, pairs in listed.items()}
            records.append(base | {c: word for c, (word, _) in row.items()})
            cells.append({c: name for c, (_, name) in row.items()})
        show: dict[str, Cell] = {c: _listed(cells, c) for c in coded}
        made.append(Page(table).table(table, records, LANDLORD[table], show=typed(table, LANDLORD[table]) | show))
    return text_files(folder, [pages(320, LANDLORD)[0], *made])


def _listed(cells: list[dict[str, Any]], column: str) -> Cell:
    return lambda value, n: cells[n][column]


def numbered_by_uprn(folder: Path) -> Book:
    """No number of the landlord's own: homes, register and log all go by the UPRN."""
    stock = portfolio(321)
    for home in stock["homes"]:
        home["uprn"] = home["uprn"] or f"10009{int(home['home_id']):07d}"
    by = {home["home_id"]: home["uprn"] for home in stock["homes"]}
    made = []
    for table, records in stock.items():
        told = [record | {"home_id": by[record["home_id"]]} for record in records]
        names = {"home_id": "UPRN"} | {c: h for c, h in LANDLORD[table].items() if c not in ("home_id", "uprn")}
        page = Page(table).table(table, told, names, show=typed(table, names) | trade(table, records))
        made.append(page)
    book = text_files(folder, made)
    book.also = {"homes": ("uprn",)}
    return book


BOOKS = (
    exact_names, exact_names_shouted, words_of_a_landlord, words_of_a_contractor, words_of_a_call_centre,
    words_of_a_surveyor, shortest_words, prices_and_hours, slips_of_the_keyboard, headers_without_meaning,
    units_of_length, degrees_fahrenheit, minutes_and_pounds, ages_in_years, units_in_the_cells, rivals,
    no_number_of_the_home, net_and_gross, columns_of_no_use, every_name_of_every_word, numbered_by_uprn,
)  # fmt: skip
