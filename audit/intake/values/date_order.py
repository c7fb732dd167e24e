"""Which comes first, the day or the month: settled by the column itself wherever it proves it."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from audit.intake.values.date_text import Fields
from audit.intake.values.parsed import Asked, Bools, Ints, Times
from audit.intake.values.wording import WRITE_DATE, counted
from schemas.sentences import ToDo

NAT = np.datetime64("NaT", "D")
ENOUGH = 5  # proofs in both orders; with fewer the order of the country decides


def days(year: Ints, month: Ints, day: Ints) -> Times:
    """Calendar days (datetime64[D]); NaT where no such day exists."""
    fit = (month >= 1) & (month <= 12) & (day >= 1) & (day <= 31) & (year >= 1) & (year <= 9999)
    safe_year, safe_month = np.where(fit, year, 2000), np.where(fit, month, 1)
    months = ((safe_year - 1970) * 12 + safe_month - 1).astype("datetime64[M]")
    found = months.astype("datetime64[D]") + (np.where(fit, day, 1) - 1).astype("timedelta64[D]")
    return np.where(fit & (found.astype("datetime64[M]") == months), found, NAT)


@dataclass(frozen=True)
class Readings:
    """Both readings of the cells whose order is open, and what each cell proves by itself."""

    day_first: Times
    month_first: Times
    proves_day: Bools
    proves_month: Bools
    open: Bools


def settle(fields: Fields, count: Ints, asked: Asked) -> tuple[Times, list[str]]:
    """Decide the order of loose cells. Gives the days (NaT where none) and what must be said of the column.

    `count` is how many cells of the column hold each text. Cells that prove an order the column does not follow are
    noted in `fields`; open cells too where there are several such cells, for one may be a slip.
    """
    result = days(fields.year, fields.month, fields.day)
    loose = np.flatnonzero(fields.loose)
    if not len(loose):
        return result, []
    both = _readings(fields, loose)
    cells = count[loose]
    day_cells, month_cells = int(cells[both.proves_day].sum()), int(cells[both.proves_month].sum())
    month_first, said = _verdict(both, cells, day_cells, month_cells, asked)
    chosen = both.month_first if month_first else both.day_first
    chosen = np.where(both.proves_day, both.day_first, np.where(both.proves_month, both.month_first, chosen))
    if day_cells and month_cells:
        _note_both_orders(fields, loose, both, month_first, (day_cells, month_cells), asked)
    result[loose] = chosen
    return result, said


def _readings(fields: Fields, loose: Ints) -> Readings:
    day, month, year = fields.day[loose], fields.month[loose], fields.year[loose]
    day_first, month_first = days(year, month, day), days(year, day, month)
    can_day, can_month = ~np.isnat(day_first), ~np.isnat(month_first)
    named = fields.weekday[loose]
    fits_day, fits_month = (_weekday(d) == named for d in (day_first, month_first))
    told = (named >= 0) & can_day & can_month & (fits_day != fits_month)  # the weekday in the cell decides
    can_day, can_month = can_day & ~(told & fits_month), can_month & ~(told & fits_day)
    undecided = can_day & can_month & (day != month)
    return Readings(day_first, month_first, can_day & ~can_month, can_month & ~can_day, undecided)


def _weekday(day: Times) -> Ints:
    """Monday = 0; -2 where there is no day (1 January 1970 was a Thursday)."""
    number = np.where(np.isnat(day), np.datetime64(0, "D"), day).astype("datetime64[D]").astype(np.int64)
    return np.where(np.isnat(day), -2, (number + 3) % 7)


def _share(day_cells: int, month_cells: int) -> float:
    """Percent of the provable cells that follow the column's order, one odd cell let pass; 0 where it has none."""
    more, less = max(day_cells, month_cells), min(day_cells, month_cells)
    return 100 * more / (more + less - 1) if more > less else 0.0


def _verdict(both: Readings, cells: Ints, day_cells: int, month_cells: int, asked: Asked) -> tuple[bool, list[str]]:
    """Whether the month comes first in this column, and what to say of it."""
    name, still_open = asked.column.name, int(cells[both.open].sum())
    if day_cells and month_cells:
        few = _few(day_cells, month_cells)
        first, other = ("month", "day") if month_cells > day_cells and not few else ("day", "month")
        proofs = {"day": counted(day_cells, "cell"), "month": counted(month_cells, "cell")}
        alone = few or min(day_cells, month_cells) == 1
        rest = f"read {first} first" + ", the order of this country" * few if alone else "each listed"
        text = (
            f"{name}: dates in both orders: the {first} first by proof of {proofs[first]}, the {other} first by proof "
            f"of {proofs[other]}; each is read as it proves itself; {counted(still_open, 'date')} without proof, {rest}"
        )
        return first == "month", [_asking(text, still_open)]
    if month_cells == 1 and still_open and header_order(asked.header_unit) != "month":
        text = (
            f"{name}: one date has the month first, which may be a slip; {counted(still_open, 'date')} without proof "
            "read day first"
        )
        return False, [_asking(text, still_open)]
    if month_cells:
        text = (
            f"{name}: the month comes first (proved by {counted(month_cells, 'cell')}); "
            f"{counted(still_open, 'date')} without proof read that way too"
        )
        return True, [_asking(text, still_open)]
    if day_cells or not still_open:
        return False, []
    header = header_order(asked.header_unit)
    if header:
        return header == "month", [f"{name}: the {header} comes first, by the header; no cell proves it."]
    text = "no cell proves whether the day or the month comes first"
    return False, [f"{name}: {text}; {counted(still_open, 'date')} read day first."]


def _few(day_cells: int, month_cells: int) -> bool:
    """Whether the proofs of both orders are so few that the order of the country, day first, decides the rest."""
    return day_cells + month_cells < ENOUGH


def _asking(text: str, still_open: int) -> str:
    """A sentence that asks for a look where dates were read without proof; else it only tells."""
    return ToDo(f"{text}; check them against another record.") if still_open else f"{text}."


def header_order(unit: str) -> str:
    """Day or month, as a header such as "dd/mm/yyyy" says; empty if it says neither."""
    if re.fullmatch(r"\W*d{1,2}\W?m{1,4}\W?y{2,4}.*", unit.lower()):
        return "day"
    return "month" if re.fullmatch(r"\W*m{1,2}\W?d{1,2}\W?y{2,4}.*", unit.lower()) else ""


def _note_both_orders(
    fields: Fields, loose: Ints, both: Readings, month_first: bool, proofs: tuple[int, int], asked: Asked
) -> None:
    odd = both.proves_day if month_first else both.proves_month
    order, other = ("month", "day") if month_first else ("day", "month")
    fields.repaired.add(loose[odd], f"the {other} comes first here, unlike in the rest of the column", WRITE_DATE)
    if _few(*proofs):
        return
    if _share(*proofs) < asked.policy.number("intake.order_majority"):
        reason = "day and month cannot be told apart: the column has dates in both orders"
        fields.bad.add(loose[both.open], reason, WRITE_DATE)
    elif min(proofs) > 1:
        reason = f"read with the {order} first, as {max(proofs):,} of the column's {sum(proofs):,} provable dates are"
        fields.repaired.add(loose[both.open], reason, WRITE_DATE)
