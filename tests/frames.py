"""Small typed tables for tests, built from cells as text: every canonical column is there, missing unless given."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from functools import cache
from typing import Final

import pandas as pd

from audit.facts import facts
from audit.findings import findings
from audit.known import known_on
from audit.model import Facts, Portfolio
from audit.policy import Policy, load_policy
from schemas.tables import COLUMNS, SOURCE

AS_OF: Final = dt.date(2026, 11, 25)
IDS: Final = {"homes": ("home_id", "H1"), "valves": ("valve_id", "V1"), "visits": ("visit_id", "J1")}
Row = Mapping[str, str]


def frame(table: str, rows: Iterable[Row] = ()) -> pd.DataFrame:
    """One typed table from rows of text, as the reading step would give it.

    Args:
        table: Its name, a key of `schemas.tables.COLUMNS`.
        rows: Cells by column name; a column that is not given, or is empty, is missing.
    """
    cells = pd.DataFrame([dict(row) for row in rows], dtype="object")
    unknown = set(cells.columns) - {column.name for column in COLUMNS[table]}
    assert not unknown, f"{table} has no column {unknown}"
    typed = {}
    for column in COLUMNS[table]:
        text = cells[column.name] if column.name in cells else pd.Series(None, index=cells.index, dtype="object")
        text = text.where(text.notna() & text.ne(""), None)
        if column.kind == "number":
            typed[column.name] = pd.to_numeric(text).astype("float64")
        elif column.kind in ("date", "time"):
            typed[column.name] = pd.to_datetime(text, format="ISO8601").astype("datetime64[us]")
        else:
            typed[column.name] = text.astype("str")
    made = pd.DataFrame(typed, index=cells.index)
    where = (f"{table}.csv", "", pd.RangeIndex(2, len(made) + 2))
    return made.assign(**dict(zip(SOURCE, where, strict=True)))


def portfolio(homes: Iterable[Row] = (), valves: Iterable[Row] = (), visits: Iterable[Row] = ()) -> Portfolio:
    """A portfolio of typed tables; homes that valves or visits name need not be given."""
    given = {"homes": [*homes], "valves": [*valves], "visits": [*visits]}
    named = {row["home_id"] for table in ("valves", "visits") for row in given[table]}
    named -= {row["home_id"] for row in given["homes"]}
    given["homes"] += [{"home_id": home} for home in sorted(named)]
    return Portfolio(**{table: frame(table, given.get(table, ())) for table in COLUMNS})


@cache
def default_policy() -> Policy:
    """The policy as shipped, read once."""
    return load_policy()


def known_facts(book: Portfolio, as_of: dt.date = AS_OF, policy: Policy | None = None) -> Facts:
    """What the audit makes of a portfolio on the as-of date: later things dropped, state brought up to date."""
    tables, _ = known_on({table: getattr(book, table) for table in COLUMNS}, pd.Timestamp(as_of))
    return facts(Portfolio(**tables), as_of, policy or default_policy())


def found(book: Portfolio, as_of: dt.date = AS_OF, policy: Policy | None = None) -> pd.DataFrame:
    """The findings of a portfolio on the as-of date."""
    in_force = policy or default_policy()
    return findings(known_facts(book, as_of, in_force), in_force, book.absent)
