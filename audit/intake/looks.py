"""What the cells under a header look like: how well they fit a column, and which columns they could be."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Collection

import numpy as np
import pandas as pd

from audit.intake.headers import columns
from audit.intake.sheet import Sheet, is_blank
from audit.intake.values import parse
from schemas.column import Column

SAMPLE = 300  # distinct cells of a column that are tried
SOME_DAY = dt.date(2020, 1, 1)  # ages count back from it where only their sense is asked


class Samples:
    """The cells under each header, tried on demand; answers are kept."""

    def __init__(self, sheet: Sheet, rows: np.ndarray) -> None:
        self.sheet, self.rows = sheet, rows[:: max(1, len(rows) // (4 * SAMPLE))][: 4 * SAMPLE]
        self._samples: dict[int, pd.Series] = {}
        self._fits: dict[tuple[int, object, str], float] = {}

    def sample(self, place: int) -> pd.Series:
        """Some distinct, filled cells of a grid column."""
        if place not in self._samples:
            values = pd.unique(self.sheet.grid.column(place, self.rows))
            self._samples[place] = pd.Series([v for v in values if not is_blank(v)][:SAMPLE], dtype=object)
        return self._samples[place]

    def fit(self, place: int, column: Column, unit: str) -> float:
        """Share of the sampled cells that make sense as `column`; 1 where there are none to say otherwise."""
        if column.kind in ("id", "text"):
            return self.single(place) if column.unique else 1.0
        listed = tuple(column.words) if column.words else (column.unit, column.low, column.high, column.whole)
        key = (place, (column.kind, listed), unit)
        if key not in self._fits:
            sample = self.sample(place)
            self._fits[key] = 1.0 if sample.empty else _fit(sample, column, unit, self.sheet.epoch_1904)
        return self._fits[key]

    def single(self, place: int) -> float:
        """Share of the filled cells that stand there only once, as the ids of a list should."""
        cells = self.sheet.grid.column(place, self.rows)
        filled = cells[~cells.map(is_blank).to_numpy(dtype=bool)]
        return filled.nunique() / len(filled) if len(filled) else 1.0

    def same(self, one: int, other: int) -> bool:
        """Tell whether two grid columns hold the same cells, as far as sampled."""
        return self.sample(one).tolist() == self.sample(other).tolist()


def _fit(sample: pd.Series, column: Column, unit: str, epoch_1904: bool) -> float:
    parsed = parse(sample, column, header_unit=unit, epoch_1904=epoch_1904, as_today=SOME_DAY)
    tried = len(sample) - int(parsed.values.isna().sum()) + len(parsed.bad)
    return 1.0 if tried == 0 else 1.0 - len(parsed.bad) / tried


def looks_like(table: str, given: Collection[str], cells: Samples, place: int, unit: str) -> list[str]:
    """Name the columns of a table, none of them `given`, whose kind is telling and which nearly all cells fit."""
    sample = cells.sample(place)
    texts = sample.astype(str).str.strip()
    looks = []
    for column in columns(table):
        if column.name in given or column.kind in ("id", "text"):
            continue
        if column.kind == "number" and not _telling_number(column, texts, unit):
            continue
        if column.kind in ("date", "time") and not _date_like(sample, texts):
            continue
        if cells.fit(place, column, unit) >= 0.95:
            looks.append(column.name)
    if "postcode" in {c.name for c in columns(table)} - set(given):
        pattern = r"(?i)[A-Z]{1,2}[0-9][A-Z0-9]?\s*[0-9][A-Z]{2}"  # British postcodes, BS 7666
        if texts.str.fullmatch(pattern).mean() > 0.9:
            looks.append("postcode")
    if "body_size_mm" in looks:  # all of them sizes of pipe: no other length is meant
        looks = [name for name in looks if name != "insertion_mm"]
    return looks


def only_a_length(table: str, name: str) -> bool:
    """Whether nothing but millimetres tells a column: lengths are too many to use one without a question."""
    column = next(c for c in columns(table) if c.name == name)
    return column.unit == "mm" and name not in USUAL


USUAL = {
    "ports": {"2", "3"},
    "wires": {"3", "5", "6"},
    "voltage_v": {"24", "230", "240"},
    "body_size_mm": {"15", "22", "28"},
}  # small sets of values that tell a number's column
COUNTED = {
    "ports": re.compile(r"\d\W*(?:ports?|ways?)", re.IGNORECASE),
    "wires": re.compile(r"\d\W*(?:wires?|cores?)", re.IGNORECASE),
}  # numbers that say what they count


def _telling_number(column: Column, texts: pd.Series, unit: str) -> bool:
    """A number tells its column only by a unit, or by a small set of usual values (ports, wires, voltages)."""
    if column.name in COUNTED and texts.str.fullmatch(COUNTED[column.name]).mean() > 0.9:
        return True
    numbers = set(texts.str.removesuffix(column.unit).str.strip().str.removesuffix(".0"))
    if column.name in USUAL:
        return len(numbers) > 1 and numbers <= USUAL[column.name]
    mark = {"°C": r"(?i)°\s*C\b|\bdeg", "GBP": "£", "mm": r"(?i)mm\b", "A": r"(?i)\d\s*a(?:mps?)?$"}.get(
        column.unit, ""
    )
    return bool(mark) and (
        texts.str.contains(mark).mean() > 0.9 or unit in (column.unit, {"GBP": "£"}.get(column.unit))
    )


def _date_like(sample: pd.Series, texts: pd.Series) -> bool:
    typed = sample.map(lambda v: hasattr(v, "year")).mean() > 0.9
    return bool(typed or texts.str.contains(r"\d[/\-. ](?:\d|[A-Za-z]{3})").mean() > 0.9)
