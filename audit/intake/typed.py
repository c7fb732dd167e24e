"""A raw table to typed columns: every value understood, every cell that was not, said."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa

from audit.intake.columns import Choice, Header
from audit.intake.headers import columns, key
from audit.intake.problems import notes_on
from audit.intake.sheet import shown
from audit.intake.side_by_side import each
from audit.intake.tables import RawTable
from audit.intake.values import Parsed, parse
from audit.policy import Policy
from schemas.column import Column


@dataclass(frozen=True)
class Typed:
    """One table of one sheet with typed columns and source columns, in the order of its rows.

    `problems` are as `notes_on` makes them, `headers` the file's own header of each column found.
    """

    frame: pd.DataFrame
    problems: tuple[pd.DataFrame, ...]
    said: tuple[str, ...]
    headers: dict[str, str]


GROUPED = 3  # one home in so many rows at least is blank where homes stand at the first of their rows only


def typed(raw: RawTable, policy: Policy, as_of: dt.date | None = None) -> Typed:
    """Understand every mapped column of a raw table."""
    chosen = {choice.column: choice for choice in raw.map.chosen}
    listed = columns(raw.map.table)

    def understood(column: Column) -> Parsed | None:
        choice = chosen.get(column.name)
        if choice is None or choice.header.column < 0:
            return None
        cells = raw.sheet.grid.column(choice.header.column, raw.rows, coded=column.words is None and not choice.more)
        return parse(
            _joined(cells, choice, raw) if choice.more else cells,
            column,
            header_unit=choice.unit,
            epoch_1904=raw.sheet.epoch_1904,
            as_today=as_of,
            policy=policy,
        )

    frame: dict[str, Any] = {}
    problems: list[pd.DataFrame] = []
    said: list[str] = []
    for column, parsed in zip(listed, each(understood, listed, len(raw.rows)), strict=True):
        frame[column.name] = empty(column, len(raw.rows)) if parsed is None else parsed.values
        if parsed is not None:
            problems += _problems(parsed, column, chosen[column.name].header.label)
            said += [type(sentence)(f"{raw.sheet.place}: {sentence}") for sentence in parsed.said]
    headers = {name: choice.header.label for name, choice in chosen.items()}
    below = _below_their_home(raw.map.table, frame)
    if below.any():
        frame["home_id"] = frame["home_id"].ffill()
        said.append(
            f"{raw.sheet.place}: {below.sum():,} rows without a home stand below the first row of one, each home being "
            "named once only; they were given that home."
        )
    whole = pd.DataFrame({**frame, **_source(raw)}, copy=False)
    for choice in chosen.values():
        if choice.header.column < 0:
            whole[choice.column] = _numbers(whole[[c.name for c in listed]], f"{raw.map.table[0].upper()}")
            said.append(f"{raw.sheet.place}: {choice.column}: made from the home and the order of its rows.")
    return Typed(whole, tuple(problems), tuple(said), headers)


def _joined(cells: pd.Series[Any], choice: Choice, raw: RawTable) -> pd.Series[Any]:
    """One text of an address that stands in several columns; a house number goes before its street without a comma."""
    whole = last = _part(cells, choice.header)
    for header in choice.more:
        part = _part(raw.sheet.grid.column(header.column, raw.rows), header)
        between = pd.Series(", ", index=whole.index, dtype="str").mask(last.str.fullmatch(r"\d+[A-Za-z]?"), " ")
        joined = (whole + between + part).where(whole.ne(""), part)
        whole, last = joined.where(part.ne(""), whole), part.where(part.ne(""), last)
    return whole.mask(whole.eq(""))


def _part(cells: pd.Series[Any], header: Header) -> pd.Series[Any]:
    """A column of address parts as text; a number under Flat is a flat's."""
    text = (cells.map(shown) if cells.dtype == object else cells).astype("str").fillna("").str.strip(" ,")
    if key(header.text).split()[:1] in (["flat"], ["apartment"]):
        text = text.mask(text.str.fullmatch(r"\d+[A-Za-z]?"), "Flat " + text)
    return text


def _below_their_home(table: str, frame: Mapping[str, Any]) -> npt.NDArray[np.bool_]:
    """Rows whose home is left blank because it stands in the first row of that home only.

    So it is where no home is named twice and a good share of the rows name none; jobs in the order of their days are
    a list in which homes were forgotten.
    """
    none = np.zeros(0, dtype=bool)
    if table not in ("valves", "visits"):
        return none
    home = frame["home_id"]
    blank = home.isna().to_numpy()
    if not blank.any() or blank[0] or GROUPED * blank.sum() < len(home) or home[~blank].duplicated().any():
        return none
    if table == "visits" and frame["reported"].dropna().is_monotonic_increasing:
        return none
    whole = np.all([frame[c.name].notna() for c in columns(table) if c.required and c.name != "home_id"], axis=0)
    return blank if bool(whole[blank].all()) else none


def _numbers(frame: pd.DataFrame, letter: str) -> pd.Series[Any]:
    """Number rows home by home, rows alike with one number: the third of home 0042 is 0042-V3."""
    alike = frame.groupby(list(frame.columns), dropna=False, sort=False).ngroup()
    first = ~alike.duplicated()
    number = (frame[first].groupby("home_id", sort=False).cumcount() + 1).set_axis(alike[first])
    return frame["home_id"] + f"-{letter}" + alike.map(number).astype("Int64").astype("str")


def _problems(parsed: Parsed, column: Column, header: str) -> list[pd.DataFrame]:
    """Cells not understood return the row where every row needs them; else the row goes on without them."""
    told = ((parsed.bad, "returned" if column.required else "repaired"), (parsed.repaired, "repaired"))
    return [
        notes_on(n["pos"].to_numpy(), header, n["value"], n["reason"], n["mend"], effect)  # type: ignore[arg-type]
        for n, effect in told
        if len(n)
    ]


def empty(column: Column, rows: int) -> pd.Series[Any]:
    """Return a column without a value."""
    if column.kind == "number":
        return pd.Series(np.full(rows, np.nan))
    if column.kind in ("date", "time"):
        return pd.Series(np.full(rows, "NaT", "datetime64[us]"))
    return pd.Series(pd.array(pa.nulls(rows, pa.large_string()), dtype="str"))


def empty_table(table: str, rows: int = 0) -> pd.DataFrame:
    """Return a table without a value, with every canonical and source column."""
    texts = {name: pd.Series(pd.array([""] * rows, dtype="str")) for name in ("source_file", "source_sheet")}
    row = pd.Series(np.zeros(rows, dtype=np.int64))
    return pd.DataFrame({**{c.name: empty(c, rows) for c in columns(table)}, **texts, "source_row": row})


def _source(raw: RawTable) -> dict[str, Any]:
    zeros = np.zeros(len(raw.rows), dtype=np.int64)
    return {
        "source_file": pd.array([raw.sheet.file], dtype="str").take(zeros),
        "source_sheet": pd.array([raw.sheet.name], dtype="str").take(zeros),
        "source_row": (raw.rows + raw.sheet.first_row).astype("int64"),
    }
