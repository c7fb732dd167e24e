"""Sheets 'What if' and 'What-if working': change a price, a time, a life, and see what each option would cost.

Live formulas reckon what `audit.choice.what_if` reckoned; its values stand beside them. No text of a user is in one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from openpyxl.styles import Border, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from reports.look import FORMATS, Field, cell, header_height, header_look, height_of
from reports.work_list_quarter import formula
from reports.workbook import Book
from schemas import words as w
from schemas.results import Results

if TYPE_CHECKING:
    import pandas as pd

NAME, WORKING = "What if", "What-if working"
ASIDE: Final = f"'{NAME}'!"
YEARS: Final = 30
HEADER: Final = 5  # row of the results' header
FIELDS: Final = (
    Field("class", "Head, whole valve, age of the head", width=50),
    Field("valves", "Valves", "whole", 11),
    Field("head_age", "Head age, mean (years)", "number", 9),
    Field("body_age", "Body age, mean (years)", "number", 12),
    Field("motor_fits", "Motor can be renewed", "word", 12),
    Field("leave", "Leave (£)", "money", 11),
    Field("motor", "New motor (£)", "money", 11),
    Field("head", "New head (£)", "money", 11),
    Field("full", "Whole valve (£)", "money", 11),
    Field("cheapest", "Cheapest", "word", 12),
    Field("below", "A head beats leaving below (£ a head)", "money", 11),
    *(Field(f"tool_{option}", f"As audited: {option} (£)", "money", 11) for option in w.OPTION),
    Field("check", "Against the audit", "word", 14),
)
AT: Final = {field.name: get_column_letter(place) for place, field in enumerate(FIELDS, 1)}
YEARLY: Final = (
    Field("year", "Year", "whole", 50),
    Field("factor", "Discount factor", "fine", 13),
    Field("head_alive", "New head: works at the year's end", "share", 15),
    Field("head_fails", "New head: fails in the year", "share", 15),
    Field("head_worth", "Head: a failure then, with those after it", "fine", 15),
    Field("body_alive", "New body: works at the year's end", "share", 15),
    Field("body_fails", "New body: fails in the year", "share", 15),
    Field("body_worth", "Body: a failure then, with those after it", "fine", 15),
)
COUNTS: Final = (
    Field("class", "Failures to expect", width=30),
    Field("left", "Head left", "fine"),
    Field("moved", "Head with a new motor", "fine"),
    Field("new", "New head", "fine"),
    Field("body", "Body left", "fine"),
    Field("new_body", "New body", "fine"),
)
FIRST, LAST = 5, 4 + YEARS  # rows of the years
COUNTED: Final = LAST + 3  # header of the failures to expect
SIMPLE: Final = (
    "Costs over the years looked ahead, discounted, excluding VAT, a valve. A simple model in yearly steps: whatever "
    "is done now, later failures are mended as they come, and no isolating valves save a drain-down.",
    "Change the framed cells beneath the table (and 'Motor can be renewed'). Not to be compared with the options of "
    "single valves (options.csv): those take the best work at every later failure, a valve's own place and faults, and "
    "end where its heating is renewed, so that they mostly come out lower.",
)
FRAME: Final = Side(style="medium", color="8A3B00")
OPEN: Final = PatternFill("solid", fgColor="FFF6D6")


def add_what_if(book: Book, results: Results) -> None:
    """Add both sheets; nothing where no head's age is known."""
    classes, inputs = results.summaries["what_if"], results.summaries["what_if_inputs"]
    if classes.empty:
        return
    first = HEADER + len(classes) + 3
    places = {name: f"$B${first + row}" for row, name in enumerate(inputs["name"])}
    _sheet(book, classes, inputs, places, first)
    _working(book, classes, {name: ASIDE + place for name, place in places.items()})


def _sheet(book: Book, classes: pd.DataFrame, inputs: pd.DataFrame, places: dict[str, str], first: int) -> None:
    widths = [field.width for field in FIELDS]
    last = HEADER + len(classes)
    sheet = book.sheet(NAME, widths, frozen=f"B{HEADER + 1}", header_row=HEADER)
    sheet.page_setup.fitToHeight = 1
    sheet.auto_filter.ref = f"A{HEADER}:{AT['check']}{last}"
    sheet.row_dimensions[HEADER].height = header_height(FIELDS, widths)
    sheet.append([cell(sheet, "What if: prices, times and lives of your own", "title")])
    for sentence in SIMPLE:
        sheet.append([cell(sheet, sentence, "note")])
    sheet.append([])
    sheet.append([cell(sheet, field.header, header_look(field)) for field in FIELDS])
    for at, row in enumerate(classes.to_dict("records")):
        sheet.append(_class_row(sheet, {str(name): value for name, value in row.items()}, at, places))
    words = DataValidation(type="list", formula1='"yes,no"', allow_blank=False)
    words.add(f"{AT['motor_fits']}{HEADER + 1}:{AT['motor_fits']}{last}")
    sheet.data_validations.append(words)
    sheet.append([])
    sheet.append(
        [cell(sheet, text, "header") for text in ("Input", "Value", "Unit", "", "", "Source")]
        + [cell(sheet, None, "header") for _ in FIELDS[6:]]
    )
    for at, row in enumerate(inputs.to_dict("records")):
        _input(sheet, {str(name): value for name, value in row.items()}, f"B{first + at}")


def _input(sheet: Any, row: dict[str, Any], place: str) -> None:
    money = str(row["unit"]).startswith("£")
    value = cell(sheet, float(row["value"]), "right", FORMATS["money"] if money else "#,##0.###")
    low, high = f"{row['low']:g}", f"{row['high']:g}"
    allowed = DataValidation(
        type="whole" if row["name"] == "horizon" else "decimal",
        operator="between",
        formula1=low,
        formula2=high,
        allow_blank=False,
        showErrorMessage=True,
        error=f"A number from {low} to {high}.",
    )
    allowed.add(place)
    sheet.data_validations.append(allowed)
    texts = (cell(sheet, f"  {row['unit']}", "note"), cell(sheet, "◀ change me", "note"), None)
    sheet.append([cell(sheet, row["label"], "label"), _framed(value), *texts, cell(sheet, row["source"], "note")])


def _framed(made: Any) -> Any:
    made.fill, made.border = OPEN, Border(left=FRAME, right=FRAME, top=FRAME, bottom=FRAME)
    return made


def _class_row(sheet: Any, row: dict[str, Any], at: int, places: dict[str, str]) -> list[Any]:
    kind = w.spoken(str(row["head_part"]).removeprefix("head_"))
    size = str(row["valve_part"]).removeprefix("valve_").replace("port_", " port, ")
    values = {
        "class": f"{kind}, {size} mm, {row['band']} years",
        "valves": int(row["valves"]),
        "head_age": row["head_age"],
        "body_age": row["body_age"],
        "motor_fits": row["motor_fits"],
        **{f"tool_{option}": round(float(row[option]), 6) for option in w.OPTION},
    }
    live = _formulas(str(row["head_part"]), str(row["valve_part"]), at, places)
    cells = []
    for field in FIELDS:
        look = "right" if field.form in ("whole", "number", "money") else "prose"
        made = (
            formula(sheet, live[field.name], field.form)
            if field.name in live
            else cell(sheet, values[field.name], look, FORMATS[field.form])
        )
        cells.append(_framed(made) if field.name == "motor_fits" else made)
    return cells


def _formulas(head_part: str, valve_part: str, at: int, p: dict[str, str]) -> dict[str, str]:
    """The live cells of one class, by field: costs now and later from prices, and failures of the working sheet."""
    row, counted = HEADER + 1 + at, COUNTED + 1 + at
    left, moved, new, body, new_body = (f"'{WORKING}'!{letter}{counted}" for letter in "BCDEF")
    rate, turn_up = p["labour_hour"], f"{p['attendance']}+{p['lost_heat']}"
    head = f"{p['hours_head']}*{rate}"
    whole = f"({p['hours_valve']}+{p['hours_drain']})*{rate}+{p['inhibitor']}+{p[valve_part]}"
    mend_head, mend_body = f"({turn_up}+{head}+{p[head_part]})", f"({turn_up}+{whole})"
    stays = f"{body}*{mend_body}"
    leave, motor, new_head, full = (f"{AT[option]}{row}" for option in w.OPTION)
    may = f'{AT["motor_fits"]}{row}="yes"'
    least = f"MIN({leave},IF({may},{motor},{leave}),{new_head},{full})"
    saved = f"({left}-{new})"
    price = f"({saved}*({turn_up}+{head})-({p['call_out']}+{head}))"
    same = ",".join(f"ABS({AT[option]}{row}-{AT[f'tool_{option}']}{row})<0.005" for option in w.OPTION)
    return {
        "leave": f"={left}*{mend_head}+{stays}",
        "motor": f"={p['call_out']}+{p['hours_motor']}*{rate}+{p['motor']}+{moved}*{mend_head}+{stays}",
        "head": f"={p['call_out']}+{head}+{p[head_part]}+{new}*{mend_head}+{stays}",
        "full": f"={p['call_out']}+{whole}+{new}*{mend_head}+{new_body}*{mend_body}",
        "cheapest": (
            f'=IF({leave}={least},"leave",IF(AND({may},{motor}={least}),"motor",IF({new_head}={least},"head","full")))'
        ),
        "below": f'=IF({saved}<1,IF({price}>0,{price}/(1-{saved}),"never"),"always")',
        "check": f'=IF(AND({same}),"as computed","changed")',
    }


def _working(book: Book, classes: pd.DataFrame, p: dict[str, str]) -> None:
    widths = [field.width for field in YEARLY]
    sheet = book.sheet(WORKING, widths, frozen=f"B{FIRST}", header_row=FIRST - 1)
    sheet.page_setup.fitToHeight = 1
    sheet.auto_filter.ref = f"A{FIRST - 1}:{get_column_letter(len(YEARLY))}{LAST}"
    sheet.row_dimensions[FIRST - 1].height = header_height(YEARLY, widths)
    sheet.append([cell(sheet, "What-if working: failures to expect, each at today's worth", "title")])
    for sentence in (
        "A new part works t years with chance exp(-(t / scale)^shape). A failure counts in the middle of its year, "
        "past the years looked ahead not at all.",
        "'With those after it': 1 failure then, discounted, and the discounted failures of the new parts that follow.",
    ):
        sheet.append([cell(sheet, sentence, "note")])
    sheet.append([cell(sheet, field.header, header_look(field)) for field in YEARLY])
    for year in range(1, YEARS + 1):
        live = {
            "factor": f"=IF(A{FIRST - 1 + year}<={p['horizon']},(1+{p['discount_rate']})^(0.5-A{FIRST - 1 + year}),0)"
        }
        live |= _part(year, "head", "CDE", p) | _part(year, "body", "FGH", p)
        cells = [formula(sheet, live[field.name], field.form) for field in YEARLY[1:]]
        sheet.append([cell(sheet, year, "right"), *cells])
    sheet.append([])
    sheet.append([])
    sheet.row_dimensions[COUNTED].height = height_of(2)
    sheet.append([cell(sheet, field.header, header_look(field)) for field in COUNTS])
    for at in range(len(classes)):
        row = HEADER + 1 + at
        aged, body = f"{ASIDE}${AT['head_age']}${row}", f"{ASIDE}${AT['body_age']}${row}"
        texts = (
            _expected("head", "E", aged, p),
            _expected("head", "E", f"({aged}*(1-{p['motor_share']}))", p),
            _expected("head", "E", "0", p),
            _expected("body", "H", body, p),
            _expected("body", "H", "0", p),
        )
        label = cell(sheet, None, "prose")
        label.value, label.data_type = f"={ASIDE}${AT['class']}${row}", "f"
        sheet.append([label, *(formula(sheet, text, "fine") for text in texts)])


def _part(year: int, part: str, letters: str, p: dict[str, str]) -> dict[str, str]:
    """A year's cells for a new part. A minus sign binds closer than a power, so that it stands before a bracket."""
    alive, fails, worth = tuple(letters)
    row = FIRST - 1 + year
    before = f"{alive}{row - 1}" if year > 1 else "1"
    after = (
        f"+SUMPRODUCT(${fails}${FIRST}:{fails}${LAST - year},{worth}{row + 1}:{worth}${LAST})" if year < YEARS else ""
    )
    return {
        f"{part}_alive": f"=EXP(-((A{row}/{p[f'{part}_scale']})^{p[f'{part}_shape']}))",
        f"{part}_fails": f"={before}-{alive}{row}",
        f"{part}_worth": f"=$B{row}{after}",
    }


def _expected(part: str, worth: str, age: str, p: dict[str, str]) -> str:
    """Failures to expect of a part of an age: the chance of the first one in each year, times what it stands for."""
    scale, shape, years = p[f"{part}_scale"], p[f"{part}_shape"], f"$A${FIRST}:$A${LAST}"
    past = f"({age}/{scale})^{shape}"
    sooner, later = f"(({age}+{years}-1)/{scale})^{shape}", f"(({age}+{years})/{scale})^{shape}"
    return f"=SUMPRODUCT(EXP({past}-{sooner})-EXP({past}-{later}),${worth}${FIRST}:${worth}${LAST})"
