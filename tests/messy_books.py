"""The messy books: each maker writes the truth of `tests.messy` as some contractor would have kept it."""

from __future__ import annotations

import codecs
import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd

from tests.messy import (
    ALL,
    Book,
    Grid,
    columns,
    delimited,
    headed,
    plain,
    rows,
    text,
    three,
    truth,
    workbook,
)

TRADE = {
    "homes": {
        "home_id": "Property Ref", "uprn": "UPRN", "address": "Property Address", "postcode": "Post Code",
        "scheme": "Estate", "patch": "Area", "priority_household": "Vulnerable", "gas_check_due": "LGSR Due",
    },
    "valves": {
        "valve_id": "Asset No.", "home_id": "Property Ref", "arrangement": "System Plan", "circuit": "Serves",
        "ports": "No. of ports", "body_size_mm": "Valve size", "head_kind": "Actuator type", "wires": "No. of Wires",
        "make": "Manufacturer", "body_fitted": "Install Date", "head_fitted": "Actuator Fitted",
        "head_detachable": "Removable head", "isolation": "Isolation valves", "location": "Where fitted",
        "location_temp_c": "Ambient Temp", "location_temp_on": "Ambient reading date", "flow_temp_c": "Flow Temp",
        "switch_load_a": "End switch amps", "earthed": "Earth OK", "pump_distance_m": "Distance from pump",
        "insertion_mm": "Pipe insertion depth", "lever": "Manual lever",
    },
    "visits": {
        "visit_id": "Works Order No", "home_id": "Property Ref", "valve_id": "Asset No", "reported": "Date Raised",
        "attended": "Date Attended", "completed": "Completion Date", "kind": "Job Type", "outcome": "Job Outcome",
        "symptom": "Fault Reported", "cause": "Cause found", "action": "Work carried out", "hours": "Time on site",
        "cost_gbp": "Invoice Value", "engineer": "Operative", "notes": "Engineer Comments",
        "store_temp_c": "Cylinder Temp",
    },
}  # fmt: skip

Maker = Callable[[Path], Book]


def canonical_csv(d: Path) -> Book:
    """Our own headers, text files."""
    return Book(three(d), ALL)


def canonical_workbook(d: Path) -> Book:
    """Our own headers, one workbook of three sheets, dates as dates."""
    return Book([workbook(d / "book.xlsx", {t: headed(t) for t in ALL})], ALL)


def trade_words(d: Path) -> Book:
    """The trade's own header words."""
    return Book([workbook(d / f"{t}.xlsx", {"Sheet1": headed(t, TRADE[t])}) for t in ALL], ALL)


def shouted(d: Path) -> Book:
    """Headers in capitals with stray blanks and underscores."""
    grids = {t: headed(t, {c: f" {c.upper().replace('_', '  ')} " for c in columns(t)}, text) for t in ALL}
    return Book(three(d, **grids), ALL)


def camel(d: Path) -> Book:
    """Headers run together as programs write them."""
    grids = {t: headed(t, {c: c.title().replace("_", "") for c in columns(t)}, text) for t in ALL}
    return Book(three(d, **grids), ALL)


def misspelt(d: Path) -> Book:
    """Slips of the keyboard in headers."""
    names = {
        "visit_id": "Works Oder No", "reported": "Date Rasied", "completed": "Completon Date",
        "symptom": "Fault Reproted",
        "notes": "Enginer Comments", "action": "Work caried out",
    }  # fmt: skip
    return Book(three(d, visits=headed("visits", TRADE["visits"] | names, text)), ALL)


def other_order(d: Path) -> Book:
    """Words of a usual header in another order, with filling words."""
    names = {
        "body_fitted": "Date of fitting the body: body fitted", "location_temp_c": "Temp. (ambient)",
        "wires": "Wires (no. of)", "make": "Make of valve", "head_fitted": "Head - date fitted",
    }  # fmt: skip
    names.pop("body_fitted")
    return Book(three(d, valves=headed("valves", names, text)), ALL)


def title_rows(d: Path) -> Book:
    """A title, a date and a blank row above the header."""
    top: Grid = [["Valve register 2026"], ["Printed", dt.date(2026, 9, 1)], []]
    return Book([workbook(d / "book.xlsx", {t: [*top, *headed(t)] for t in ALL})], ALL)


def cover_sheet(d: Path) -> Book:
    """A cover before the tables."""
    cover: Grid = [["Heating valve records"], [], ["Contents", "Page"], ["Homes", 2], ["Valves", 3], ["Visits", 4]]
    book = workbook(d / "book.xlsx", {"Cover": cover, **{t: headed(t) for t in ALL}})
    return Book([book], ALL, says=["'Cover': passed over"])


def header_in_row_30(d: Path) -> Book:
    """Twenty-nine rows of explanation above the header."""
    top: Grid = [[f"Explanation {n}: please read before use."] for n in range(29)]
    return Book([workbook(d / "book.xlsx", {t: [*top, *headed(t)] for t in ALL})], ALL)


def starts_at_d5(d: Path) -> Book:
    """A table that does not start at the first column."""
    moved = {t: [[], [], [], [], *([None, None, None, *row] for row in headed(t))] for t in ALL}
    return Book([workbook(d / "book.xlsx", moved)], ALL)


GROUPED = ["valve_id", "home_id", "body_size_mm", "body_fitted", "head_kind", "head_fitted", "location_temp_c",
           "location_temp_on", "flow_temp_c"]  # fmt: skip


def grouped(d: Path) -> Book:
    """Two header rows with merged group cells; words that mean something under their group only."""
    groups = ["Reference", None, "Body", None, "Head", None, "Ambient", None, "Flow"]
    under = ["Asset No", "Property Ref", "Size", "Date fitted", "Type", "Date fitted", "Temp", "Date", "Temp"]
    grid: Grid = [["Valves"], groups, under, *rows("valves", plain, GROUPED)]
    merges = {"valves": ["A2:B2", "C2:D2", "E2:F2", "G2:H2"]}
    sheets = {"homes": headed("homes"), "valves": grid, "visits": headed("visits")}
    return Book([workbook(d / "book.xlsx", sheets, merges)], ALL | {"valves": GROUPED})


def grouped_text(d: Path) -> Book:
    """Two header rows in a text file, where nothing is merged."""
    groups = ["", "", "Body", "", "Head", "", "Ambient", "", "Flow"]
    under = ["Asset No", "Property Ref", "Size", "Date fitted", "Type", "Date fitted", "Temp", "Date", "Temp"]
    return Book(three(d, valves=[groups, under, *rows("valves", text, GROUPED)]), ALL | {"valves": GROUPED})


def header_on_two_lines(d: Path) -> Book:
    """One header broken over two rows."""
    only = ["visit_id", "home_id", "reported", "completed", "notes"]
    grid: Grid = [
        ["Works order", "Property", "Date", "Date", "Engineer"],
        ["No", "Ref", "raised", "completed", "comments"],
    ]
    return Book(three(d, visits=[*grid, *rows("visits", text, only)]), ALL | {"visits": only})


def line_breaks_in_headers(d: Path) -> Book:
    """Headers wrapped by hand inside their cell."""
    names = {c: w.replace(" ", "\n", 1) for c, w in TRADE["visits"].items()}
    return Book(
        [workbook(d / "b.xlsx", {"h": headed("homes"), "v": headed("valves"), "j": headed("visits", names)})], ALL
    )


def blank_rows(d: Path) -> Book:
    """A blank row after every third row."""
    return Book([workbook(d / "book.xlsx", {t: _gapped(headed(t), 3, 1) for t in ALL})], ALL)


def blank_rows_text(d: Path) -> Book:
    """Blank rows in text files: empty lines, and lines of delimiters alone."""
    grids = {t: _gapped(headed(t, show=text), 4, 1, filler="") for t in ALL}
    return Book(three(d, **grids), ALL)


def thirty_thousand_blank_rows(d: Path) -> Book:
    """Thirty thousand blank rows in the middle of a sheet."""
    grid = headed("visits")
    wide: Grid = [*grid[:40], *[[] for _ in range(30_000)], *grid[40:]]
    sheets = {"homes": headed("homes"), "valves": headed("valves"), "visits": wide}
    return Book([workbook(d / "book.xlsx", sheets)], ALL)


def _gapped(grid: Grid, every: int, blank: int, filler: Any = None) -> Grid:
    gapped: Grid = []
    for number, row in enumerate(grid):
        gapped.append(row)
        if number and number % every == 0:
            gapped += [[filler] * (len(row) if filler == "" and number % 2 else 0) for _ in range(blank)]
    return gapped


def totals_and_notes(d: Path) -> Book:
    """Totals, a note and a signature below the rows."""
    grid = headed("visits")
    cost = columns("visits").index("cost_gbp")
    total: Row_ = ["Grand Total", *[None] * (cost - 1), sum(row[cost] for row in grid[1:])]
    below: Grid = [[], total, [], ["Note: costs are without VAT and without the call-out."], ["* as read on the day"]]
    homes: Grid = [*headed("homes"), ["TOTAL", "4 homes"]]
    sheets = {"homes": homes, "valves": headed("valves"), "visits": [*grid, *below]}
    return Book([workbook(d / "book.xlsx", sheets)], ALL, says=["a total", "a note"])


Row_ = list[Any]


def stacked(d: Path) -> Book:
    """All three tables on one sheet, one below the other, each under its title."""
    grid: Grid = []
    for table in ALL:
        grid += [[f"{table.title()} of the contract"], *headed(table), [], []]
    return Book([workbook(d / "book.xlsx", {"All": grid})], ALL)


def stacked_text(d: Path) -> Book:
    """All three tables in one text file."""
    grid: Grid = []
    for table in ALL:
        grid += [*headed(table, show=text), []]
    return Book([delimited(d / "all.csv", grid)], ALL)


def beside_each_other(d: Path) -> Book:
    """Homes and valves beside each other with an empty column between."""
    homes, valves = headed("homes"), headed("valves")
    width = len(homes[0])
    sheet: Grid = [[*(homes[n] if n < len(homes) else [None] * width), None, *valves[n]] for n in range(len(valves))]
    return Book([workbook(d / "b.xlsx", {"Register": sheet, "Jobs": headed("visits")})], ALL)


def sheet_a_year(d: Path) -> Book:
    """One sheet of visits a year, the columns in another order on each."""
    frame = truth()["visits"]
    sheets: dict[str, Grid] = {"homes": headed("homes"), "valves": headed("valves")}
    for place, year in enumerate(sorted(frame["reported"].dt.year.unique())):
        names = columns("visits")[:: 1 if place % 2 else -1]
        part = frame[frame["reported"].dt.year == year]
        sheets[f"Jobs {year}"] = [names, *[[plain(v) for v in row] for row in part[names].itertuples(index=False)]]
    return Book([workbook(d / "book.xlsx", sheets)], ALL)


def hidden_sheet(d: Path) -> Book:
    """The homes on a hidden sheet."""
    book = workbook(d / "book.xlsx", {t: headed(t) for t in ALL}, hidden=["homes"])
    return Book([book], ALL, says=["'homes': hidden"])


def pivot_sheet(d: Path) -> Book:
    """A pivot and a chart's figures beside the tables."""
    pivot: Grid = [["Count of job", "Column Labels"], ["Row Labels", 2024, 2025, "Grand Total"],
                   ["Birch Court", 3, 4, 7], ["Elm Rise", 5, 1, 6], ["Grand Total", 8, 5, 13]]  # fmt: skip
    figures: Grid = [["Month", "Jobs", "Cost"], ["Jan", 3, 400.5], ["Feb", 5, 120]]
    sheets = {t: headed(t) for t in ALL} | {"Pivot": pivot, "Figures": figures}
    return Book([workbook(d / "b.xlsx", sheets)], ALL, says=["'Pivot': passed over", "'Figures': passed over"])


def header_on_every_page(d: Path) -> Book:
    """The header again after every twenty rows, as it prints."""
    head, *body = headed("visits", TRADE["visits"], text)
    grid: Grid = [head]
    for number, row in enumerate(body):
        if number and number % 20 == 0:
            grid.append(head)
        grid.append(row)
    return Book(three(d, visits=grid), ALL, says=["the header again"])


def remarks_to_the_right(d: Path) -> Book:
    """Remarks without a header in a column far to the right."""
    grid = [[*row, None, None, "ring first" if n % 9 == 5 else None] for n, row in enumerate(headed("valves"))]
    sheets = {"homes": headed("homes"), "valves": grid, "visits": headed("visits")}
    return Book([workbook(d / "book.xlsx", sheets)], ALL)


def sideways(d: Path) -> Book:
    """A register on its side."""
    turned: Grid = [list(column) for column in zip(*headed("valves", TRADE["valves"]), strict=True)]
    return Book([workbook(d / "book.xlsx", {"Register": turned})], ALL, asks="transpose")


def semicolons(d: Path) -> Book:
    """Semicolons between cells, as half of Europe exports."""
    return Book([delimited(d / f"{t}.csv", headed(t, show=text), ";") for t in ALL], ALL)


def tabs(d: Path) -> Book:
    """Tabs between cells."""
    return Book([delimited(d / f"{t}.txt", headed(t, show=text), "\t") for t in ALL], ALL)


def bars(d: Path) -> Book:
    """Upright bars between cells."""
    return Book([delimited(d / f"{t}.csv", headed(t, show=text), "|") for t in ALL], ALL)


def byte_order_mark(d: Path) -> Book:
    """UTF-8 with a byte-order mark."""
    return Book([delimited(d / f"{t}.csv", headed(t, show=text), bom=codecs.BOM_UTF8) for t in ALL], ALL)


def utf16(d: Path) -> Book:
    """UTF-16 with a byte-order mark and tabs, as spreadsheets save "Unicode text"."""
    files = [
        delimited(d / f"{t}.txt", headed(t, show=text), "\t", "\r\n", "utf-16-le", bom=codecs.BOM_UTF16_LE) for t in ALL
    ]
    return Book(files, ALL, says=["read as UTF-16"])


def utf16_without_mark(d: Path) -> Book:
    """UTF-16, the other way round, without a byte-order mark."""
    files = [delimited(d / f"{t}.csv", headed(t, show=text), encoding="utf-16-be") for t in ALL]
    return Book(files, ALL, says=["read as UTF-16"])


def windows(d: Path) -> Book:
    """Windows-1252 with pound signs and long dashes."""
    names = TRADE["visits"] | {"cost_gbp": "Invoice Value £"}
    grid = headed("visits", names, text, cost_gbp=lambda v: f"£{v:,.2f}")
    homes, valves, _ = three(d)
    file = delimited(d / "visits.csv", grid, encoding="cp1252", end="\r\n")
    return Book([homes, valves, file], ALL, says=["read as Windows-1252"])


def old_mac_lines(d: Path) -> Book:
    """Carriage returns between lines."""
    return Book([delimited(d / f"{t}.csv", headed(t, show=text), end="\r") for t in ALL], ALL)


def windows_lines(d: Path) -> Book:
    """Carriage return and line feed between lines."""
    return Book([delimited(d / f"{t}.csv", headed(t, show=text), end="\r\n") for t in ALL], ALL)


def returns_in_cells(d: Path) -> Book:
    """Carriage returns and line feeds inside quoted cells."""
    homes = truth()["homes"].assign(address=lambda h: h["address"].str.replace(", ", ",\r"))
    shown = headed("homes", show=text, address=lambda v: v.replace(", ", ",\r"))
    expected = homes.assign(address=homes["address"].str.replace("\r", "\n"))
    return Book(three(d, homes=shown), ALL, truth=truth() | {"homes": expected})


def single_quotes(d: Path) -> Book:
    """Single quotation marks around every cell."""
    files = []
    for table in ALL:
        lines = [",".join(f"'{cell}'" for cell in row) for row in headed(table, show=text)]
        path = d / f"{table}.csv"
        path.write_text("\n".join(lines), encoding="utf-8")
        files.append(path)
    return Book(files, ALL)


def says_its_delimiter(d: Path) -> Book:
    """A first line that names the delimiter, as a spreadsheet program reads it."""
    files = [delimited(d / f"{t}.csv", [["sep=;"], *headed(t, show=text)], ";") for t in ALL]
    return Book(files, ALL)


def ragged(d: Path) -> Book:
    """A title line, and rows with empty cells at their end left out or one too many."""
    grid: Grid = [["Job log"], []]
    for number, row in enumerate(headed("visits", show=text)):
        grid.append([*row, ""] if number % 5 == 1 else row)
    return Book(three(d, visits=grid), ALL)


def inch_marks(d: Path) -> Book:
    """Inch marks in cells that nothing quotes."""
    notes = truth()["visits"].assign(notes='1" pipe')
    lines = [",".join('1" pipe' if c == "notes" and n else str(v) for c, v in zip(columns("visits"), row, strict=True))
             for n, row in enumerate(headed("visits", show=text))]  # fmt: skip
    path = d / "visits.csv"
    files = three(d)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return Book(files, ALL, truth=truth() | {"visits": notes})


def fahrenheit(d: Path) -> Book:
    """Temperatures in °F, sizes in inches, distances in feet, depths in cm; the unit in the header."""
    names = {"location_temp_c": "Ambient (°F)", "flow_temp_c": "Flow temp °F", "pump_distance_m": "Pump distance (ft)",
             "insertion_mm": "Insertion (cm)"}  # fmt: skip
    grid = headed("valves", names, plain, location_temp_c=_f, flow_temp_c=_f, pump_distance_m=lambda v: v / 0.3048,
                  insertion_mm=lambda v: v / 10)  # fmt: skip
    sheets = {"homes": headed("homes"), "valves": grid, "visits": headed("visits")}
    return Book([workbook(d / "book.xlsx", sheets)], ALL, says=["°F"])


def _f(celsius: float) -> float:
    return celsius * 9 / 5 + 32


def units_in_cells(d: Path) -> Book:
    """The unit written behind every number."""
    grid = headed("valves", show=text, location_temp_c=lambda v: f"{v:g} °C", flow_temp_c=lambda v: f"{v:g}C",
                  body_size_mm=lambda v: f"{v:g}mm", switch_load_a=lambda v: f"{v:g} A",
                  insertion_mm=lambda v: f"{v:g} mm", pump_distance_m=lambda v: f"{v * 100:g} cm")  # fmt: skip
    return Book(three(d, valves=grid), ALL)


def pounds_and_minutes(d: Path) -> Book:
    """Costs in pounds with thousands commas, times in minutes."""
    names = {"cost_gbp": "Cost (£)", "hours": "Time on site (mins)"}
    grid = headed("visits", names, text, cost_gbp=lambda v: f"{v:,.2f}", hours=lambda v: f"{v * 60:.0f}")
    return Book(three(d, visits=grid), ALL, says=["minutes"])


def numbered_by_uprn(d: Path) -> Book:
    """No number of the landlord's own: the UPRN numbers the home everywhere."""
    uprn = truth()["homes"].set_index("home_id")["uprn"]
    told = {t: truth()[t].assign(home_id=truth()[t]["home_id"].map(uprn)) for t in ALL}
    names = {"home_id": "UPRN"}
    valves, visits = (headed(t, names, text, home_id=lambda v: uprn[v]) for t in ("valves", "visits"))
    carried = ALL | {"homes": [c for c in ALL["homes"] if c != "home_id"]}
    return Book(
        three(d, homes=headed("homes", {"home_id": ""}, text), valves=valves, visits=visits), carried, truth=told
    )


def uprn_in_the_log(d: Path) -> Book:
    """The log names homes by UPRN, the register by the landlord's number."""
    uprn = truth()["homes"].set_index("home_id")["uprn"]
    visits = headed("visits", TRADE["visits"] | {"home_id": "UPRN"}, text, home_id=lambda v: uprn[v])
    return Book(three(d, visits=visits), ALL, says=["given by UPRN"])


def register_with_addresses(d: Path) -> Book:
    """No table of homes: address, postcode and scheme stand beside the valves."""
    homes = truth()["homes"].set_index("home_id")
    extra = ["address", "postcode", "scheme"]
    grid = headed("valves", TRADE["valves"])
    place = grid[0].index("Property Ref")
    beside: Grid = [[*grid[0], "Address", "Post Code", "Estate"]]
    beside += [[*row, *homes.loc[row[place], extra]] for row in grid[1:]]
    files = [workbook(d / "reg.xlsx", {"Register": beside}), delimited(d / "jobs.csv", headed("visits", show=text))]
    return Book(files, ALL | {"homes": ["home_id", *extra]}, says=["No table of homes"])


def unknown_headers(d: Path) -> Book:
    """Headers that mean nothing where the cells speak for themselves: a postcode, a date, words of one column alone."""
    homes = headed("homes", {"postcode": "Field 4"}, text)
    visits = headed("visits", {"symptom": "Field 7"}, text)
    return Book(three(d, homes=homes, visits=visits), ALL)


def columns_of_no_use(d: Path) -> Book:
    """Columns that the audit has no use for."""
    grid = [
        [*row, "Ok" if n else "Checked by", n or "Line", "x" if n else ""] for n, row in enumerate(headed("valves"))
    ]
    sheets = {"homes": headed("homes"), "valves": grid, "visits": headed("visits")}
    return Book([workbook(d / "book.xlsx", sheets)], ALL)


def two_of_the_same(d: Path) -> Book:
    """Two columns that both say when the job was raised, and differ."""
    grid = headed("visits", TRADE["visits"], text)
    grid = [[*row, "Date Reported" if n == 0 else f"{n % 28 + 1:02d}/03/2023"] for n, row in enumerate(grid)]
    return Book(three(d, visits=grid), ALL, asks="equally well")


def two_of_the_same_alike(d: Path) -> Book:
    """The same column twice."""
    grid = headed("visits", TRADE["visits"], text)
    grid = [[*row, "Date Reported" if n == 0 else row[3]] for n, row in enumerate(grid)]
    return Book(three(d, visits=grid), ALL)


def no_job_number(d: Path) -> Book:
    """A log without a column for the job's number."""
    return Book(three(d, visits=headed("visits", TRADE["visits"] | {"visit_id": ""}, text)), ALL, asks="visit_id")


def dates_in_words(d: Path) -> Book:
    """Dates as people type them, several ways in one column."""
    ways = ["%d %B %Y", "%d-%b-%y", "%d.%m.%Y", "%Y-%m-%d", "%a %d %b %Y"]

    def show(day: Any) -> str:
        return f"{day:{ways[day.day % 5]}}"

    grid = headed("visits", show=text, reported=show, attended=show, completed=show)
    return Book(three(d, visits=grid), ALL)


def month_first(d: Path) -> Book:
    """Month before day, which the columns themselves prove."""
    grid = headed(
        "visits", show=text, **dict.fromkeys(("reported", "attended", "completed"), lambda v: f"{v:%m/%d/%Y}")
    )
    return Book(three(d, visits=grid), ALL, says=["month"])


def serial_numbers(d: Path) -> Book:
    """Dates shown as numbers: the format of the column was lost."""
    grid = headed("valves", body_fitted=_serial, head_fitted=_serial, location_temp_on=_serial)
    sheets = {"homes": headed("homes"), "valves": grid, "visits": headed("visits")}
    return Book([workbook(d / "book.xlsx", sheets)], ALL)


def _serial(day: Any) -> int:
    return int((day - pd.Timestamp("1899-12-30")).days)  # the 1900 system after its false leap day (ECMA-376)


def serials_of_1904(d: Path) -> Book:
    """Numbers for dates in a workbook that counts from 1904."""

    def show(day: Any) -> int:
        return _serial(day) - 1462

    grid = headed("valves", body_fitted=show, head_fitted=show, location_temp_on=show)
    sheets = {"homes": headed("homes"), "valves": grid, "visits": headed("visits")}
    return Book([workbook(d / "book.xlsx", sheets, epoch_1904=True)], ALL)


def dates_of_1904(d: Path) -> Book:
    """Real dates in a workbook that counts from 1904."""
    return Book([workbook(d / "book.xlsx", {t: headed(t) for t in ALL}, epoch_1904=True)], ALL)


def yes_in_many_ways(d: Path) -> Book:
    """Yes and no in every form, ticks and ones included."""
    ways = {"yes": ["Y", "Yes", "TRUE", "1", "✓", "y "], "no": ["N", "No", "FALSE", "0", "✗", " n"]}
    count = {"n": 0}

    def show(value: Any) -> str:
        count["n"] += 1
        return ways[value][count["n"] % 6]

    grid = headed("valves", show=text, earthed=show, isolation=show, head_detachable=show)
    return Book(three(d, valves=grid), ALL)


def zeros_lost(d: Path) -> Book:
    """Home numbers that kept their zeros in the asset list and lost them in the log."""
    visits = headed("visits", show=text, home_id=lambda v: str(int(v)))
    return Book(three(d, visits=visits), ALL, says=["leading zeros"])


def numbers_for_ids(d: Path) -> Book:
    """Home numbers that a spreadsheet made into numbers, in the register and the log."""
    grids = {t: headed(t, home_id=int) for t in ("valves", "visits")}
    return Book([workbook(d / "book.xlsx", {"homes": headed("homes"), **grids})], ALL, says=["leading zeros"])


def ids_with_stray_signs(d: Path) -> Book:
    """Ids with blanks that cannot be seen, other capitals, and .0 behind."""
    visits = headed("visits", show=text, valve_id=lambda v: f"{v.lower()} \u00a0", visit_id=lambda v: f" {v}")
    valves = headed("valves", show=text, home_id=lambda v: f"{v}.0")
    return Book(three(d, valves=valves, visits=visits), ALL)


def errors(d: Path) -> Book:
    """Formula errors in cells that may be empty, and in one that may not."""
    grid = headed("valves")
    place = {c: n for n, c in enumerate(grid[0])}
    for number, (column, error) in enumerate(
        [("make", "#N/A"), ("location_temp_c", "#REF!"), ("body_fitted", "#VALUE!"), ("lever", "#DIV/0!")], start=3
    ):
        grid[number][place[column]] = error
    grid[20][place["home_id"]] = "#N/A"
    sheets = {"homes": headed("homes"), "valves": grid, "visits": headed("visits")}
    return Book([workbook(d / "book.xlsx", sheets)], ALL, returned={"valves": 1})


def never_calculated(d: Path) -> Book:
    """Formulas that no program has calculated yet."""
    grid = headed("valves")
    place = grid[0].index("make")
    for row in grid[3:6]:
        row[place] = '="Make "&"A"'
    sheets = {"homes": headed("homes"), "valves": grid, "visits": headed("visits")}
    return Book([workbook(d / "book.xlsx", sheets)], ALL)


def not_known(d: Path) -> Book:
    """Every way to say that something is not known."""
    marks = ["NA", "n/a", "-", "TBC", "unknown", "?", ""]
    frame = truth()["valves"].copy()
    frame.loc[frame.index[:7], "location_temp_c"] = float("nan")
    frame.loc[frame.index[:7], "make"] = None
    grid = headed("valves", show=text)
    for row, mark in zip(grid[1:8], marks, strict=True):
        row[grid[0].index("location_temp_c")] = row[grid[0].index("make")] = mark
    return Book(three(d, valves=grid), ALL, truth=truth() | {"valves": frame})


def impossible_values(d: Path) -> Book:
    """A day that no calendar has, a temperature that no home has, a word that no list has."""
    grid = headed("valves", show=text)
    place = {c: n for n, c in enumerate(grid[0])}
    grid[4][place["body_fitted"]] = "31/02/2014"
    grid[5][place["location_temp_c"]] = "450"
    grid[6][place["lever"]] = "purple"
    visits = headed("visits", show=text)
    visits[7][visits[0].index("reported")] = "30/02/2024"
    return Book(three(d, valves=grid, visits=visits), ALL, returned={"visits": 1})


def exact_copies(d: Path) -> Book:
    """Rows twice, in one file and again in another."""
    grid = headed("visits", show=text)
    again = delimited(d / "again.csv", [grid[0], *grid[5:9]])
    return Book([*three(d, visits=[*grid, *grid[1:4]]), again], ALL, merged={"visits": 7})


def later_export(d: Path) -> Book:
    """An export with open jobs, and a later one in which they are done."""
    late = headed("visits", show=text)
    place = {c: n for n, c in enumerate(late[0])}
    early = [list(row) for row in late[:31]]
    for row in early[1:16]:
        for column in ("completed", "outcome", "action", "cause", "hours", "cost_gbp"):
            row[place[column]] = ""
    early[2][place["outcome"]] = "parts_needed"
    first = delimited(d / "a first.csv", early)
    return Book([*three(d, visits=late), first], ALL, merged={"visits": 30})


def open_then_done(d: Path) -> Book:
    """The same, the early export read first."""
    book = later_export(d)
    return Book([book.files[-1], *book.files[:-1]], book.carried, merged=book.merged)


def two_facts_one_number(d: Path) -> Book:
    """Two jobs under one number."""
    grid = headed("visits", show=text)
    other = list(grid[9])
    other[grid[0].index("home_id")], other[grid[0].index("reported")] = "00001", "01/02/2021"
    other[grid[0].index("valve_id")] = ""
    return Book(three(d, visits=[*grid, other]), ALL, returned={"visits": 2})


def unknown_homes(d: Path) -> Book:
    """Jobs at homes that no list has."""
    grid = headed("visits", show=text)
    more = [[f"X{n}", f"9{n}999", "", *grid[n][3:]] for n in (1, 2, 3)]
    return Book(three(d, visits=[*grid, *more]), ALL, returned={"visits": 3})


def contradictory_dates(d: Path) -> Book:
    """Jobs completed before they were reported, a head older than its body."""
    visits, valves = headed("visits", show=text), headed("valves", show=text)
    visits[3][visits[0].index("completed")] = "01/01/2019"
    valves[3][valves[0].index("head_fitted")] = "01/01/1999"
    return Book(three(d, visits=visits, valves=valves), ALL)


def text_like_formulas(d: Path) -> Book:
    """Notes that begin as formulas do."""
    frame = truth()["visits"].assign(notes="=1+1")
    visits = headed("visits", show=text, notes=lambda v: "=1+1")
    return Book(three(d, visits=visits), ALL, truth=truth() | {"visits": frame})


def open_document(d: Path) -> Book:
    """An .ods workbook."""
    path = d / "book.ods"
    with pd.ExcelWriter(path, engine="odf") as writer:
        for table, frame in truth().items():
            frame.to_excel(writer, sheet_name=table, index=False)
    return Book([path], ALL)


def parquet(d: Path) -> Book:
    """Parquet files with typed columns."""
    for table, frame in truth().items():
        frame.to_parquet(d / f"{table}.parquet")
    return Book([d / f"{t}.parquet" for t in ALL], ALL)


def parquet_categories(d: Path) -> Book:
    """Parquet files with coded text, whole numbers and calendar days."""
    for table, frame in truth().items():
        coded = frame.apply(lambda c: c.astype("category") if c.nunique() < 5 and c.dtype == "str" else c)
        days = {c: coded[c].dt.date for c in coded if coded[c].dtype.kind == "M"}
        coded.assign(**days).to_parquet(d / f"{table}.parquet")
    return Book([d / f"{t}.parquet" for t in ALL], ALL)


def wrong_dimension(d: Path) -> Book:
    """A workbook that says it holds one cell."""
    import zipfile

    whole = workbook(d / "whole.xlsx", {t: headed(t) for t in ALL})
    path = d / "book.xlsx"
    with zipfile.ZipFile(whole) as old, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for info in old.infolist():
            data = old.read(info)
            start = data.find(b'<dimension ref="')
            if start >= 0:
                data = data[:start] + b'<dimension ref="A1:A1"/>' + data[data.find(b"/>", start) + 2 :]
            new.writestr(info, data)
    return Book([path], ALL)


BOOKS: tuple[Maker, ...] = (
    canonical_csv, canonical_workbook, trade_words, shouted, camel, misspelt, other_order, title_rows, cover_sheet,
    header_in_row_30, starts_at_d5, grouped, grouped_text, header_on_two_lines, line_breaks_in_headers, blank_rows,
    blank_rows_text, thirty_thousand_blank_rows, totals_and_notes, stacked, stacked_text, beside_each_other,
    sheet_a_year, hidden_sheet, pivot_sheet, header_on_every_page, remarks_to_the_right, sideways, semicolons, tabs, bars,
    byte_order_mark, utf16, utf16_without_mark, windows, old_mac_lines, windows_lines, returns_in_cells, single_quotes,
    says_its_delimiter, ragged, inch_marks, fahrenheit, units_in_cells, pounds_and_minutes, numbered_by_uprn,
    uprn_in_the_log, register_with_addresses, unknown_headers, columns_of_no_use, two_of_the_same,
    two_of_the_same_alike, no_job_number, dates_in_words, month_first, serial_numbers, serials_of_1904, dates_of_1904, yes_in_many_ways,
    zeros_lost, numbers_for_ids, ids_with_stray_signs, errors, never_calculated, not_known, impossible_values,
    exact_copies, later_export, open_then_done, two_facts_one_number, unknown_homes, contradictory_dates,
    text_like_formulas, open_document, parquet, parquet_categories, wrong_dimension,
)  # fmt: skip
