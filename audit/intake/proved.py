"""A visit's valve by proof: the cells under a header that was not understood are numbers of valves on the register."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pandas as pd

from audit.intake.columns import Choice, ColumnMap, Header
from audit.intake.headers import WORDS, columns
from audit.intake.looks import Samples
from audit.intake.sheet import shown
from audit.intake.tables import RawTable

MOST = 0.8  # share of the distinct cells that must be known numbers
FEWEST = 2  # distinct cells; one alone may be chance
REASON = "its cells are numbers of valves on the register"


def valves_proved(raw: Sequence[RawTable]) -> list[RawTable]:
    """Give visits without a column for the valve the one whose cells the register's numbers prove."""
    if not any(_open(table.map) for table in raw):
        return list(raw)
    known = _known(raw)
    return [_proved(table, known) if known and _open(table.map) else table for table in raw]


def _open(found: ColumnMap) -> bool:
    have = {choice.column for choice in found.chosen}
    return found.table == "visits" and not found.known and "valve_id" not in have and bool(found.unused)


def _known(raw: Sequence[RawTable]) -> frozenset[str]:
    """The numbers of all valves, as written, without a difference of capitals or blanks."""
    known: set[str] = set()
    for table in raw:
        for choice in table.map.chosen if table.map.table == "valves" else ():
            if choice.column == "valve_id" and choice.header.column >= 0:
                known.update(_alike(pd.unique(table.sheet.grid.column(choice.header.column, table.rows)).tolist()))
    return frozenset(known - {""})


def _alike(cells: Sequence[object]) -> list[str]:
    return [shown(cell).strip().upper() for cell in cells]


def _proved(table: RawTable, known: frozenset[str]) -> RawTable:
    samples = Samples(table.sheet, table.rows)
    shares = {h: _share(samples, h, known) for h in table.map.unused}
    best = max(shares, key=lambda header: shares[header])
    if shares[best] < MOST:
        return table
    chosen = [*table.map.chosen, Choice("valve_id", best, WORDS, REASON)]
    order = {c.name: place for place, c in enumerate(columns("visits"))}
    answered = replace(
        table.map,
        chosen=tuple(sorted(chosen, key=lambda c: order[c.column])),
        unused=tuple(h for h in table.map.unused if h != best),
        questions=tuple(q for q in table.map.questions if "valve_id" not in q),
    )
    return replace(table, map=answered)


def _share(samples: Samples, header: Header, known: frozenset[str]) -> float:
    cells = _alike(samples.sample(header.column).tolist())
    return sum(cell in known for cell in cells) / len(cells) if len(cells) >= FEWEST else 0.0
