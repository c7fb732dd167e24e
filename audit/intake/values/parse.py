"""From raw cells to one typed column, with every cell that was refused or put right."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache
from typing import Any, Final

import numpy as np
import pandas as pd

from audit.intake.cells import UNCOMPUTED
from audit.intake.values import arrow, missing
from audit.intake.values.cells import Cells, distinct
from audit.intake.values.kinds import KINDS
from audit.intake.values.names import key, names_of
from audit.intake.values.odd_numbers import WORDS
from audit.intake.values.parsed import NOTE_COLUMNS, Asked, Bools, Ints, Judged, Notes, Parsed
from audit.intake.values.plain import read_plain
from audit.policy import Policy, load_policy
from schemas.column import Column

SHOWN: Final = 250  # characters of a cell that a note shows
_NOTE_TYPES: Final = {"pos": "int64", "value": "str", "reason": "str", "mend": "str"}


def parse(
    raw: pd.Series[Any],
    column: Column,
    *,
    header_unit: str = "",
    epoch_1904: bool = False,
    as_today: dt.date | None = None,
    policy: Policy | None = None,
) -> Parsed:
    """Understand the cells of one column as `column` says they should be.

    Args:
        raw: cells as read: text, numbers, booleans, dates, times, nothing; errors as text such as "#N/A".
        column: what the column should hold: kind, unit, words, bounds.
        header_unit: the unit written in the header, if any ("°F", "inches", "years"); a unit in a cell comes first.
        epoch_1904: True where the workbook counts days from 1904.
        as_today: the day that ages in years count back from.
        policy: the limits in force; the default policy if None.
    """
    asked = Asked(column, policy or _default_policy(), header_unit.strip(), epoch_1904, as_today)
    plain = read_plain(raw, asked)
    if plain is None or plain.suspects.all():
        return _parse_all(raw, asked)
    values: Any = pd.array(plain.values, dtype=_dtype(column))
    if not plain.suspects.any():
        return Parsed(_column(values, raw), _no_rows(), _no_rows(), tuple(plain.said))
    at = np.flatnonzero(plain.suspects)
    rest = _parse_all(raw[plain.suspects], asked)
    values[at] = rest.values.array
    bad, repaired = (rows.assign(pos=at[rows["pos"].to_numpy()]) for rows in (rest.bad, rest.repaired))
    return Parsed(_column(values, raw), bad, repaired, (*plain.said, *rest.said))


def _parse_all(raw: pd.Series[Any], asked: Asked) -> Parsed:
    """Judge every distinct cell, then lay the judgements back on the rows."""
    codes, cells = distinct(raw)
    judged = _judge(cells, asked)
    judged.repaired.mask &= ~judged.bad.mask  # a cell that was refused was not put right
    values = _spread(judged.values, codes, asked.column)
    bad, repaired = _rows(judged.bad, codes, cells), _rows(judged.repaired, codes, cells)
    return Parsed(_column(values, raw), bad, repaired, tuple(judged.said))


def _column(values: Any, raw: pd.Series[Any]) -> pd.Series[Any]:
    return pd.Series(values, index=raw.index, name=raw.name)


@lru_cache(maxsize=1)
def _default_policy() -> Policy:
    return load_policy()


def _judge(cells: Cells, asked: Asked) -> Judged:
    """Set aside what says nothing and what is an error; let the kind's own parser judge the rest."""
    array = arrow.texts(cells.text)
    nothing = missing.says_nothing(array, _known(asked.column))
    unsaved = arrow.among(array, [UNCOMPUTED])
    error = missing.is_error(array) & ~unsaved
    narrow = missing.is_too_narrow(array)
    rest = ~(nothing | error | unsaved | narrow)
    judged = _placed(KINDS[asked.column.kind](cells.take(rest), asked), rest, asked.column)
    judged.said += _said_missing(cells, nothing, asked.name)
    shown = cells.text[error].to_numpy()
    judged.bad.add(
        error, [f"the cell holds the spreadsheet error {s}" for s in shown], "mend the formula, or type the value"
    )
    judged.bad.add(
        unsaved,
        "the cell holds a formula whose value the file does not hold",
        "open the file in a spreadsheet program, save it, and give it again",
    )
    judged.bad.add(
        narrow, "the column was too narrow to show the value when the file was saved", "widen the column and save again"
    )
    return judged


def _said_missing(cells: Cells, nothing: Bools, name: str) -> list[str]:
    """Name the marks, other than an empty cell, that were read as "nothing known"."""
    pairs = zip(cells.text[nothing], cells.count[nothing], strict=True)
    listed = ", ".join(f"{text.strip()!r} ({count})" for text, count in sorted(pairs) if text.strip())
    return [f"{name}: counted as missing: {listed}."] if listed else []


def _known(column: Column) -> frozenset[str]:
    """What elsewhere says "nothing known" but has a meaning in this column, such as the action "none"."""
    if column.kind == "number":
        return frozenset(WORDS[""]) | frozenset(WORDS.get(column.name, ()))
    if column.kind != "word":
        return frozenset()
    names = names_of(column).words
    return frozenset(word for word in missing.MISSING if key(word) in names)


def _placed(part: Judged, where: Bools, column: Column) -> Judged:
    """Lay the judgement of some cells into one of all cells."""
    length = len(where)
    codes = np.full(length, -1)
    codes[where] = np.arange(int(where.sum()))
    whole = Judged(_spread(part.values, codes, column), Notes(length), Notes(length), part.said)
    whole.bad.lay(part.bad, where)
    whole.repaired.lay(part.repaired, where)
    return whole


def _dtype(column: Column) -> str:
    return {"number": "float64", "date": "datetime64[us]", "time": "datetime64[us]"}.get(column.kind, "str")


def _spread(values: Any, codes: Ints, column: Column) -> Any:
    """Each row's value, missing where the code is -1, in the column's type."""
    return pd.array(values, dtype=_dtype(column)).take(codes, allow_fill=True)


def _rows(notes: Notes, codes: Ints, cells: Cells) -> pd.DataFrame:
    """One row for each cell of the column that has a note."""
    if not notes.mask.any():
        return _no_rows()
    noted = np.append(notes.mask, False)  # the last place answers for -1, the empty cells
    pos = np.flatnonzero(noted[codes])
    which = codes[pos]
    value = cells.text.str.slice(0, SHOWN).to_numpy()[which]
    found = {"pos": pos, "value": value, "reason": notes.reason[which], "mend": notes.mend[which]}
    return pd.DataFrame(found, columns=list(NOTE_COLUMNS)).astype(_NOTE_TYPES)


def _no_rows() -> pd.DataFrame:
    return _nothing_noted().copy(deep=False)


@lru_cache(maxsize=1)
def _nothing_noted() -> pd.DataFrame:
    """An empty table of notes; made once, for most columns need one and making it costs more than reading them."""
    return pd.DataFrame(columns=list(NOTE_COLUMNS)).astype(_NOTE_TYPES)
