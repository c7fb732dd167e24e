"""Books as contractors keep them, made by code around one small truth; each book is messy in its own way."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pandas as pd
from openpyxl.utils import get_column_letter

Row = list[Any]
Grid = list[Row]
ID = {"homes": "home_id", "valves": "valve_id", "visits": "visit_id"}


@dataclass
class Book:
    """What one maker wrote: the files, and for each table the columns that they carry.

    `returned` and `merged` are how many rows must be; `asks` is a word of the sentence where the book must be refused.
    """

    files: list[Path]
    carried: dict[str, list[str]]
    returned: dict[str, int] = field(default_factory=dict)
    merged: dict[str, int] = field(default_factory=dict)
    says: Sequence[str] = ()
    asks: str = ""
    truth: Mapping[str, pd.DataFrame] | None = None


@cache
def truth() -> dict[str, pd.DataFrame]:
    """Twenty homes, forty valves, ninety visits, every cell filled; typed as the reading gives them."""
    rng = np.random.default_rng(7)
    homes = pd.DataFrame(
        {
            "home_id": [f"{n:05d}" for n in range(1, 21)],
            "uprn": [f"{100_000_000_000 + 37 * n:012d}" for n in range(20)],
            "address": [f"{n} Example Road, Flat {n % 3 + 1}" for n in range(1, 21)],
            "postcode": [f"ZZ99 {n % 9}{'AB'[n % 2]}{'CD'[n % 2]}" for n in range(20)],
            "scheme": _pick(rng, 20, "Birch Court", "Elm Rise", "Ash Close"),
            "patch": _pick(rng, 20, "North", "South"),
            "priority_household": _pick(rng, 20, "yes", "no"),
            "gas_check_due": _days(rng, 20, "2026-01-13", 300),
        }
    )
    body = _days(rng, 40, "2004-02-13", 3000)
    valves = pd.DataFrame(
        {
            "valve_id": [f"V{n // 2 + 1:05d}-{n % 2 + 1}" for n in range(40)],
            "home_id": [f"{n // 2 + 1:05d}" for n in range(40)],
            "arrangement": ["two_port_zones"] * 40,
            "circuit": ["heating", "hot_water"] * 20,
            "ports": [2.0] * 40,
            "body_size_mm": rng.choice([22.0, 28.0], 40),
            "head_kind": _pick(rng, 40, "zone", "zone_changeover"),
            "wires": rng.choice([5.0, 6.0], 40),
            "make": _pick(rng, 40, "Make A", "Make B"),
            "body_fitted": body,
            "head_fitted": body + pd.to_timedelta(rng.integers(100, 4000, 40), unit="D"),
            "head_detachable": _pick(rng, 40, "yes", "no"),
            "isolation": _pick(rng, 40, "yes", "no"),
            "location": _pick(rng, 40, "airing_cupboard", "kitchen", "loft"),
            "location_temp_c": rng.integers(300, 600, 40) / 10.0,
            "location_temp_on": _days(rng, 40, "2025-03-14", 300),
            "flow_temp_c": rng.integers(500, 800, 40) / 10.0,
            "switch_load_a": rng.integers(1, 30, 40) / 10.0,
            "earthed": _pick(rng, 40, "yes", "no"),
            "pump_distance_m": rng.integers(5, 60, 40) / 10.0,
            "insertion_mm": rng.integers(8, 26, 40).astype("float64"),
            "lever": _pick(rng, 40, "free", "stiff", "latched"),
        }
    )
    place = rng.integers(0, 40, 90)
    reported = _days(rng, 90, "2024-01-13", 700)
    visits = pd.DataFrame(
        {
            "visit_id": [f"J{n:05d}" for n in range(1, 91)],
            "home_id": valves["home_id"].to_numpy()[place],
            "valve_id": valves["valve_id"].to_numpy()[place],
            "reported": reported,
            "attended": reported + pd.to_timedelta(rng.integers(0, 3, 90), unit="D"),
            "completed": reported + pd.to_timedelta(rng.integers(3, 9, 90), unit="D"),
            "kind": _pick(rng, 90, "call_out", "planned", "follow_on"),
            "outcome": _pick(rng, 90, "fixed", "temporary", "no_fault_found"),
            "symptom": _pick(rng, 90, "no_heating", "no_hot_water", "leak"),
            "cause": _pick(rng, 90, "head", "wiring", "body"),
            "action": _pick(rng, 90, "head", "full", "wiring"),
            "hours": rng.integers(1, 16, 90) / 4.0,
            "cost_gbp": rng.integers(2000, 90000, 90) / 100.0,
            "engineer": _pick(rng, 90, "E01", "E02"),
            "notes": _pick(rng, 90, "seen to", "left as found, tested", "called, then went"),
            "store_temp_c": rng.integers(500, 700, 90) / 10.0,
        }
    )
    return {"homes": _typed(homes), "valves": _typed(valves), "visits": _typed(visits)}


def _pick(rng: np.random.Generator, count: int, *words: str) -> Any:
    return rng.choice(words, count)


def _days(rng: np.random.Generator, count: int, first: str, span: int) -> Any:
    return pd.to_datetime(first) + pd.to_timedelta(rng.integers(0, span, count), unit="D")


def _typed(frame: pd.DataFrame) -> pd.DataFrame:
    return frame.apply(lambda c: c.astype("datetime64[us]" if c.dtype.kind == "M" else c.dtype))


def columns(table: str) -> list[str]:
    """All columns of the truth of one table."""
    return list(truth()[table].columns)


ALL = {table: list(frame.columns) for table, frame in truth().items()}

# ---------------------------------------------------------------- cells

Show = Callable[[Any], Any]


def iso(day: Any) -> str:
    """A date as ISO text."""
    return f"{day:%Y-%m-%d}"


def slashed(day: Any) -> str:
    """A date as day/month/year."""
    return f"{day:%d/%m/%Y}"


def plain(value: Any) -> Any:
    """A value as a spreadsheet cell holds it: dates as dates, whole numbers as whole numbers."""
    if isinstance(value, pd.Timestamp):
        return value.to_pydatetime().date()
    return float(value) if isinstance(value, float | np.floating) else str(value)


def text(value: Any) -> str:
    """A value as text, dates day first."""
    if isinstance(value, pd.Timestamp):
        return slashed(value)
    return f"{value:g}" if isinstance(value, float) else str(value)


def rows(table: str, show: Show = plain, only: Sequence[str] | None = None, **shown: Show) -> Grid:
    """The rows of the truth without a header; a column may be shown in its own way."""
    frame = truth()[table]
    names = list(only or frame.columns)
    return [[shown.get(n, show)(v) for n, v in zip(names, row, strict=True)] for row in _tuples(frame[names])]


def _tuples(frame: pd.DataFrame) -> list[tuple[Any, ...]]:
    return list(frame.itertuples(index=False, name=None))


def headed(table: str, names: Mapping[str, str] | None = None, show: Show = plain, **shown: Show) -> Grid:
    """The truth of a table with a header; `names` renames headers, and leaves out what it names by an empty text."""
    names = dict(names or {})
    kept = [c for c in columns(table) if names.get(c, c)]
    return [[names.get(c, c) for c in kept], *rows(table, show, kept, **shown)]


# ---------------------------------------------------------------- files


def workbook(
    path: Path,
    sheets: Mapping[str, Grid],
    merges: Mapping[str, Sequence[str]] | None = None,
    hidden: Sequence[str] = (),
    epoch_1904: bool = False,
) -> Path:
    """Write a workbook; a cell that begins with # is written as an error, one that begins with = as a formula."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    if epoch_1904:
        book.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904
    for name, grid in sheets.items():
        sheet = book.create_sheet(name)
        for number, row in enumerate(grid, start=1):
            for place, value in enumerate(row, start=1):
                if value is not None and value != "":
                    _put(sheet.cell(number, place), value)
        for area in (merges or {}).get(name, ()):
            sheet.merge_cells(area)
        if name in hidden:
            sheet.sheet_state = "hidden"
    book.save(path)
    return path


def _put(cell: Any, value: Any) -> None:
    cell.value = value
    if isinstance(value, str) and value.startswith("#"):
        cell.data_type = "e"
    if isinstance(value, dt.date):
        cell.number_format = "dd/mm/yyyy"


def delimited(
    path: Path,
    grid: Grid,
    delimiter: str = ",",
    end: str = "\n",
    encoding: str = "utf-8",
    quote: str = '"',
    bom: bytes = b"",
) -> Path:
    """Write a text file."""
    stream = io.StringIO()
    csv.writer(stream, delimiter=delimiter, quotechar=quote, lineterminator=end).writerows(grid)
    path.write_bytes(bom + stream.getvalue().encode(encoding))
    return path


def three(folder: Path, **grids: Grid) -> list[Path]:
    """The three tables as three text files, one or more of them given."""
    given = {t: grids.get(t) or headed(t, show=text) for t in ALL}
    return [delimited(folder / f"{t}.csv", grid) for t, grid in given.items()]


def column_area(first: int, last: int, row: int = 1) -> str:
    """An area of one row, such as A1:C1, columns from 1."""
    return f"{get_column_letter(first)}{row}:{get_column_letter(last)}{row}"
