"""A raw table to typed columns: every value understood, every cell that was not, said."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
import pyarrow as pa

from audit.intake.columns import Choice
from audit.intake.headers import columns
from audit.intake.problems import joined, problems_at
from audit.intake.sheet import mapped_back
from audit.intake.tables import RawTable
from audit.intake.values import parse
from audit.policy import Policy
from schemas.column import Column

EMPTY = {"number": "float64", "date": "datetime64[us]", "time": "datetime64[us]"}


@dataclass(frozen=True)
class Typed:
    """One table of one sheet with typed columns and source columns, in the order of its rows."""

    frame: pd.DataFrame
    problems: pd.DataFrame
    said: tuple[str, ...]
    present: frozenset[str]


def typed(raw: RawTable, policy: Policy, as_of: dt.date | None = None) -> Typed:
    """Understand every mapped column of a raw table."""
    chosen = {choice.column: choice for choice in raw.map.chosen}
    source = _source(raw)
    frame, found, said = {}, [], []
    for column in columns(raw.map.table):
        if column.name not in chosen:
            frame[column.name] = empty(column, len(raw.rows))
            continue
        values, problems, told = _parsed(raw, column, chosen[column.name], source, policy, as_of)
        frame[column.name] = values
        found.append(problems)
        said += [f"{raw.sheet.place}: {sentence}" for sentence in told]
    whole = pd.concat([pd.DataFrame(frame), source], axis=1)
    return Typed(whole, joined(found), tuple(said), frozenset(chosen))


def _parsed(
    raw: RawTable, column: Column, choice: Choice, source: pd.DataFrame, policy: Policy, as_of: dt.date | None
) -> tuple[pd.Series, pd.DataFrame, Sequence[str]]:
    coded = raw.sheet.grid.column(choice.header.column, raw.rows)
    parsed = parse(
        coded.values,
        column,
        header_unit=choice.unit,
        epoch_1904=raw.sheet.epoch_1904,
        as_today=as_of,
        policy=policy,
    )
    found = []
    for notes, effect in ((parsed.bad, "returned" if column.required else "repaired"), (parsed.repaired, "repaired")):
        if len(notes):
            rows, which = _spread(notes["pos"].to_numpy(), coded.codes, len(coded.values))
            words = {name: notes[name].array.take(which) for name in ("value", "reason", "mend")}
            found.append(
                problems_at(raw.map.table, source.iloc[rows], column=choice.header.label, effect=effect, **words)
            )
    values = mapped_back(parsed.values.reset_index(drop=True), coded.codes)
    return values.reset_index(drop=True), joined(found), parsed.said


def _spread(positions: np.ndarray, codes: np.ndarray, count: int) -> tuple[np.ndarray, np.ndarray]:
    """From notes on distinct values to the rows that hold them: the rows, and which note each has."""
    note = np.full(count, -1, dtype=np.int64)
    note[positions] = np.arange(len(positions))
    each = note[codes]
    rows = np.flatnonzero(each >= 0)
    return rows, each[rows]


def empty(column: Column, rows: int) -> pd.Series:
    """Return a column without a value."""
    if column.kind in EMPTY:
        return pd.Series(np.full(rows, np.nan) if column.kind == "number" else np.full(rows, "NaT", "datetime64[us]"))
    return pd.Series(pd.array(pa.nulls(rows, pa.large_string()), dtype="str"))


def empty_table(table: str) -> pd.DataFrame:
    """Return a table without a row, with every canonical and source column."""
    frame = {c.name: empty(c, 0) for c in columns(table)}
    texts = {name: pd.Series(dtype="str") for name in ("source_file", "source_sheet")}
    return pd.DataFrame({**frame, **texts, "source_row": pd.Series(dtype="int64")})


def _source(raw: RawTable) -> pd.DataFrame:
    count = len(raw.rows)
    zeros = np.zeros(count, dtype=np.int64)
    return pd.DataFrame(
        {
            "source_file": pd.array([raw.sheet.file], dtype="str").take(zeros),
            "source_sheet": pd.array([raw.sheet.name], dtype="str").take(zeros),
            "source_row": (raw.rows + raw.sheet.first_row).astype("int64"),
        }
    )
