"""Reads tables of cells and what they mean, written as text: `cell -> value | note`, one a line.

The value is `-` where it is missing. The note says `bad:` or `repaired:` and some words of the reason; without a note
the cell must be read without one. A cell may be written in quotes, to show blanks and characters that cannot be seen.
"""

from __future__ import annotations

import ast
from typing import Any

import pandas as pd

from audit.intake.values import Parsed, parse
from schemas.column import Column
from schemas.tables import COLUMNS

BY_NAME = {(table, column.name): column for table, columns in COLUMNS.items() for column in columns}


def column(name: str) -> Column:
    table, _, own = name.partition(".")
    return BY_NAME[table, own]


def cells(*values: Any, kind: str = "object") -> pd.Series:
    return pd.Series(list(values), dtype=kind)


def read(name: str, *values: Any, **how: Any) -> Parsed:
    return parse(cells(*values), column(name), **how)


def shown(value: Any) -> str:
    """A parsed value as the tables write it."""
    if pd.isna(value):
        return "-"
    if isinstance(value, pd.Timestamp):
        return value.isoformat(" ").removesuffix(" 00:00:00")
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def table(text: str) -> list[tuple[str, str, str]]:
    """The lines of a table as (cell, value, note)."""
    rows = []
    for line in filter(str.strip, text.splitlines()):
        cell, _, rest = line.strip().partition(" -> ")
        value, _, note = rest.partition(" | ")
        cell = cell.strip()
        rows.append((ast.literal_eval(cell) if cell[0] == "'" == cell[-1] else cell, value.strip(), note.strip()))
    return rows


def notes(parsed: Parsed, length: int) -> list[str]:
    """For each cell its note as the tables write it, empty if it has none."""
    found = [""] * length
    for kind, rows in (("repaired", parsed.repaired), ("bad", parsed.bad)):
        for pos, reason in zip(rows["pos"], rows["reason"], strict=True):
            found[pos] = f"{kind}: {reason}"
    return found


def check(name: str, text: str, **how: Any) -> Parsed:
    """Read a whole table as one column and compare every cell; gives what was parsed."""
    rows = table(text)
    parsed = read(name, *(cell for cell, _, _ in rows), **how)
    found = [
        (cell, shown(value), note)
        for (cell, _, _), value, note in zip(rows, parsed.values, notes(parsed, len(rows)), strict=True)
    ]
    wrong = [(f, w) for f, w in zip(found, rows, strict=True) if f[1] != w[1] or not _agrees(f[2], w[2])]
    assert not wrong, "\n".join(f"{f}  instead of  {w}" for f, w in wrong)
    return parsed


def _agrees(found: str, wanted: str) -> bool:
    kind, _, words = wanted.partition(":")
    return found.startswith(kind) and words.strip() in found and bool(found) == bool(wanted)
