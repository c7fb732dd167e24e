"""An invented landlord of any size: its books, with ordinary mistakes, and the truth behind them.

Everything follows from the number of homes, the seed and the as-of date. Nothing in it is real: postcodes are ZZ99,
makers are Make A, Make B and Make C, and no person is named.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from audit.model import Portfolio
from audit.sample import truth as planted
from audit.sample.draw import day_number
from audit.sample.homes import build_homes
from audit.sample.jobs import build_jobs
from audit.sample.lives import live
from audit.sample.prices import build_capacity, build_parts, build_rates
from audit.sample.register import build_register, fitted
from audit.sample.stock import build_stock
from audit.sample.visits import build_visits
from audit.sample.world import World, plain
from audit.sample.write import write
from schemas.tables import COLUMNS

__all__ = ["Sample", "World", "make", "plain", "portfolio", "write", "write_small"]

SMALL_HOMES, SMALL_SEED = 240, 53  # the books in sample_data: every planted fault and every kind of chain is in them


@dataclass(frozen=True)
class Sample:
    """The six tables with canonical columns and no mistake in them, and the truth tables by name."""

    tables: Mapping[str, pd.DataFrame]
    truth: Mapping[str, pd.DataFrame]
    seed: int
    as_of: dt.date


def make(homes: int, seed: int, as_of: dt.date = dt.date(2026, 9, 30), world: World | None = None) -> Sample:
    """Invent a landlord.

    Args:
        homes: Number of homes, at least 1; about 2.5 valves and 7.7 visits follow for each.
        seed: Equal seeds give equal landlords.
        as_of: The last day that the books know of.
        world: The planted numbers; `World()` where not given.

    Returns:
        Tables as the audit uses them (dates datetime64, words str, missing is missing), before any mistake.
    """
    world = world or World()
    today = day_number(as_of)
    invented = build_homes(homes, seed, today, world)
    stock = build_stock(invented, seed, world)
    events, attempts, spells = live(stock, seed, today, world)
    body, head = fitted(stock, events, attempts, today)
    valves, faults = build_register(stock, body, head, seed, today)
    jobs = build_jobs(stock, events, attempts, seed, today, world)
    visits, about = build_visits(jobs, stock, seed, today)
    tables = {
        "homes": invented.table,
        "valves": valves,
        "visits": visits,
        "rates": build_rates(),
        "capacity": build_capacity(homes, as_of),
        "parts": build_parts(homes, seed),
    }
    truth = {
        "lives": planted.lives_table(spells, stock, body, head, world),
        "valves": planted.valves_table(spells, stock, body, head, today, world),
        "chains": planted.chains_table(events, attempts, stock, about),
        "visits": planted.visits_table(about, stock),
        "faults": planted.faults_table(faults, stock, visits),
        "planted": planted.planted_table(world, stock, seed, as_of),
    }
    return Sample({name: _canonical(name, table) for name, table in tables.items()}, truth, seed, as_of)


def _canonical(name: str, table: pd.DataFrame) -> pd.DataFrame:
    """The table with every canonical column, in order."""
    lacks = [column.name for column in COLUMNS[name] if column.name not in table]  # text that our own lists write
    table = table.assign(**{column: pd.Series(np.nan, index=table.index, dtype="str") for column in lacks})
    return table[[column.name for column in COLUMNS[name]]]


def portfolio(sample: Sample) -> Portfolio:
    """The tables as if just read from one file each, without a mistake."""
    sourced = {
        name: table.assign(
            source_file=f"{name}.csv", source_sheet="", source_row=np.arange(2, len(table) + 2, dtype=float)
        )
        for name, table in sample.tables.items()
    }
    return Portfolio(**sourced)  # type: ignore[arg-type]


def write_small(folder: Path) -> list[Path]:
    """Write the books that come with the tool, without their truth; returns the files."""
    return write(make(SMALL_HOMES, SMALL_SEED), folder, "xlsx", truth=False)
