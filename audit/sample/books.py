"""Workbooks as a contractor keeps them: headers in the trade's words, a title above one table, a total below it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from schemas.column import Column, Kind
from schemas.fixed_zip import save_workbook
from schemas.tables import COLUMNS

if TYPE_CHECKING:
    from openpyxl.cell import Cell
    from openpyxl.worksheet._write_only import WriteOnlyWorksheet

HEADERS: dict[str, dict[str, str]] = {
    "homes": {
        "home_id": "Property ref",
        "uprn": "UPRN",
        "address": "Address",
        "postcode": "Post code",
        "scheme": "Scheme",
        "patch": "Area",
        "easting": "Easting",
        "northing": "Northing",
        "priority_household": "Priority household",
        "gas_check_due": "Gas safety check due",
        "heating_renewal_due": "Heating renewal due",
        "access_note": "Access notes",
    },
    "valves": {
        "valve_id": "Asset no",
        "home_id": "Property ref",
        "system": "Heating system",
        "arrangement": "System type",
        "circuit": "Serves",
        "ports": "No of ports",
        "body_size_mm": "Valve size (mm)",
        "head_kind": "Head type",
        "wires": "No of wires",
        "voltage_v": "Voltage (V)",
        "make": "Make",
        "model": "Model",
        "batch": "Batch or date code",
        "body_fitted": "Date fitted (body)",
        "head_fitted": "Date fitted (head)",
        "head_detachable": "Detachable head",
        "motor_replaceable": "Motor replaceable",
        "isolation": "Isolation valves",
        "location": "Valve location",
        "location_temp_c": "Ambient temp (°C)",
        "location_temp_on": "Ambient temp date",
        "flow_temp_c": "Flow temp (°C)",
        "flow_temp_on": "Flow temp date",
        "switch_load_a": "End switch load (A)",
        "switch_load_kind": "Load type",
        "earthed": "Earthed",
        "changeover_in_use": "Changeover in use",
        "pump_distance_m": "Distance to pump (m)",
        "insertion_mm": "Pipe insertion (mm)",
        "flow_direction_ok": "Flow direction OK",
        "lever": "Manual lever",
    },
    "visits": {
        "visit_id": "Job no",
        "home_id": "Property ref",
        "valve_id": "Asset no",
        "system": "Heating system",
        "reported": "Date reported",
        "attended": "Date attended",
        "completed": "Date completed",
        "kind": "Job type",
        "outcome": "Outcome",
        "symptom": "Fault reported",
        "cause": "Cause found",
        "action": "Action taken",
        "parts": "Parts used",
        "hours": "Time on site (hrs)",
        "cost_gbp": "Cost (£)",
        "engineer": "Engineer no",
        "notes": "Engineer notes",
        "location_temp_c": "Ambient temp (°C)",
        "flow_temp_c": "Flow temp (°C)",
        "store_temp_c": "Cylinder temp (°C)",
        "tap_temp_c": "Hot tap temp (°C)",
        "bath_tap_temp_c": "Bath tap temp (°C)",
        "demand_heating": "Heating called for",
        "demand_hot_water": "Hot water called for",
        "brown_live": "Brown live",
        "white_live": "White live",
        "grey_live": "Grey live",
        "orange_live": "Orange live",
        "position": "Valve position found",
        "lever": "Manual lever",
    },
    "rates": {"item": "Item", "unit": "Unit", "cost_gbp": "Price (£)", "source": "Source"},
}
SHEETS = {"homes": "Asset list", "valves": "Valve register", "visits": "Job log", "rates": "Rates"}
TITLED = ("visits",)  # a title and an empty row stand above its header
FIRST_ROW = {name: 4 if name in TITLED else 2 for name in SHEETS}
FORMATS: dict[Kind, str] = {"date": "dd/mm/yyyy", "time": "dd/mm/yyyy hh:mm"}
WIDTHS: dict[Kind, float] = {"id": 13, "text": 18, "word": 18, "number": 10, "date": 12, "time": 17}
SPOKEN = {"homes", "valves", "visits"}  # tables whose words are written as people write them


def write_book(name: str, table: pd.DataFrame, folder: Path, on: dt.date, total: bool) -> Path:
    """Write one table, its cells Python objects, as `folder/<name>.xlsx`; dated with the as-of date."""
    from openpyxl import Workbook
    from openpyxl.utils import get_column_letter

    folder.mkdir(parents=True, exist_ok=True)
    book = Workbook(write_only=True)
    sheet = book.create_sheet(SHEETS[name])
    sheet.freeze_panes = f"C{FIRST_ROW[name]}"
    for place, column in enumerate(_kept(name), start=1):
        width = 60 if column.name == "notes" else WIDTHS[column.kind]
        sheet.column_dimensions[get_column_letter(place)].width = width
    for row in _rows(name, table, sheet, on, total):
        sheet.append(row)
    save_workbook(book, folder / f"{name}.xlsx", on)
    return folder / f"{name}.xlsx"


def _kept(name: str) -> list[Column]:
    """The columns that a book of this kind has: those with a header of its own."""
    return [column for column in COLUMNS[name] if column.name in HEADERS[name]]


def _rows(
    name: str, table: pd.DataFrame, sheet: WriteOnlyWorksheet, on: dt.date, total: bool
) -> Iterator[list[object]]:
    """Every row of the sheet, from the title to the total."""
    if name in TITLED:
        yield [_cell(sheet, f"{SHEETS[name]} to {on:%d/%m/%Y}", bold=True)]
        yield []
    yield [_cell(sheet, HEADERS[name][column.name], bold=True) for column in _kept(name)]
    columns = [_column(name, column.name, column.kind, table[column.name], sheet) for column in _kept(name)]
    yield from map(list, zip(*columns, strict=True))
    if name == "visits" and total:
        cost = [column.name for column in _kept(name)].index("cost_gbp")
        known = pd.to_numeric(table["cost_gbp"], errors="coerce").sum()
        yield [_cell(sheet, "Total"), *[None] * (cost - 1), round(float(known), 2)]


def _column(name: str, column: str, kind: Kind, cells: pd.Series[Any], sheet: WriteOnlyWorksheet) -> Iterator[object]:
    """The cells of one column, ready to append."""
    for value in cells:
        if value is None or value is pd.NaT or value != value:
            yield None
        elif isinstance(value, pd.Timestamp):
            yield _cell(sheet, value.to_pydatetime(), FORMATS.get(kind, FORMATS["date"]))
        elif isinstance(value, str):
            yield _cell(sheet, spoken(value) if kind == "word" and name in SPOKEN else value)
        else:
            yield value


def spoken(word: str) -> str:
    """A word as people write it in a cell: mid_position is Mid position."""
    return word[:1].upper() + word[1:].replace("_", " ") if word == word.lower() else word


def _cell(sheet: WriteOnlyWorksheet, value: Any, form: str = "", bold: bool = False) -> Cell:
    """A cell; text is always text, unless it is a spreadsheet's error."""
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font

    cell = WriteOnlyCell(sheet, value=value)
    if isinstance(value, str) and not value.startswith("#"):
        cell.data_type = "s"
    if form:
        cell.number_format = form
    if bold:
        cell.font = Font(bold=True)
    return cell
