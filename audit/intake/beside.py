"""Homes that no table lists: known from the registers and logs that name them, with what stands beside."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from audit.intake.columns import Choice, ColumnMap, Header
from audit.intake.headers import WORDS, matches, unit_of
from audit.intake.looks import Samples
from audit.intake.matching import FITS, column_of
from audit.intake.sheet import Rows
from audit.intake.tables import RawTable
from audit.intake.typed import Typed, empty_table, typed
from audit.policy import Policy
from schemas.checks import unknown
from schemas.tables import COLUMNS, SOURCE

NAMING = ("valves", "visits")  # tables that name homes, the one that is believed first


def homes_beside(
    raw: Sequence[RawTable], pieces: Sequence[Typed], policy: Policy, as_of: dt.date | None
) -> tuple[list[Typed], list[ColumnMap]]:
    """Make homes of the rows of valves and visits, one a home; for use where no table of homes was given.

    Args:
        raw: The tables as found.
        pieces: The same tables with typed columns.
        policy: The limits in force.
        as_of: The day that ages in years count back from.

    Returns:
        Typed pieces of the table `homes`, and how the headers of those with more than a number were understood.
    """
    found: list[Typed] = []
    maps: list[ColumnMap] = []
    seen = pd.Series(dtype="str")
    order = [(r, p) for name in NAMING for r, p in zip(raw, pieces, strict=True) if r.map.table == name]
    for table, piece in order:
        beside = _home_map(table)
        needed = [c.name for c in COLUMNS[table.map.table] if c.required]
        whole = piece.frame[needed].notna().all(axis=1)
        named = piece.frame.assign(home_id=piece.frame["home_id"].where(whole))  # a row that is returned makes no home
        if beside.chosen:
            homes = typed(replace(table, map=beside), policy, as_of)
            homes = replace(homes, frame=homes.frame.assign(home_id=named["home_id"].array))
            number = next(c for c in table.map.chosen if c.column == "home_id")
            maps.append(replace(beside, chosen=(number, *beside.chosen)))
            found.append(_one_a_home(homes, seen))
        else:
            found.append(_numbers_only(named, seen))
        seen = pd.concat([seen, found[-1].frame["home_id"]])
    return found, maps


def _home_map(raw: RawTable) -> ColumnMap:
    """The headers that the table has no use for and that tell something of the home."""
    found: list[Choice] = []
    samples = Samples(raw.sheet, raw.rows)
    for header in raw.map.unused:
        choice = _choice(header, samples)
        if choice and choice.column not in {c.column for c in found}:
            found.append(choice)
    return replace(raw.map, table="homes", chosen=tuple(found), unused=(), questions=())


def _choice(header: Header, samples: Samples) -> Choice | None:
    unit = unit_of(header.text)[1]
    for match in matches("homes", header.text, header.group)[:1]:
        fits = samples.fit(header.column, column_of("homes", match.column), unit) >= FITS
        if match.column != "home_id" and match.sure >= WORDS - 0.02 and fits:
            return Choice(match.column, header, match.sure, match.reason, unit)
    return None


def _numbers_only(frame: pd.DataFrame, seen: pd.Series) -> Typed:
    """Homes of which nothing but the number is known."""
    named = frame[["home_id", *SOURCE]].drop_duplicates("home_id")
    named = named[unknown(named["home_id"], seen)]
    homes = empty_table("homes", len(named))
    return Typed(homes.assign(**{name: named[name].array for name in ("home_id", *SOURCE)}), (), (), {})


def _one_a_home(piece: Typed, seen: pd.Series) -> Typed:
    """Keep one row a home not seen before, each value the first that is there; say where a home has several."""
    frame = piece.frame
    new = pd.Series(unknown(frame["home_id"], seen))
    told = list(piece.headers)
    rows: Rows = np.flatnonzero(new & ~frame["home_id"].duplicated())
    kept = frame.iloc[rows].reset_index(drop=True)
    said: list[str] = list(piece.said)
    if len(rows):
        by = frame[new].groupby("home_id", sort=False)[told]
        first, several = by.first(), by.nunique().gt(1).sum()
        kept = kept.assign(**{name: first[name].array for name in told})
        place = kept["source_file"].iloc[0]
        said += [
            f"{place}: {count:,} homes have more than one {name} in its rows; the first was taken for each."
            for name, count in several.items()
            if count
        ]
    return replace(piece, frame=kept, problems=_moved(piece, frame, rows), said=tuple(said))


def _moved(piece: Typed, frame: pd.DataFrame, rows: Rows) -> tuple[pd.DataFrame, ...]:
    """What was said of cells of a home in any of its rows, now said of the home's one row."""
    place = pd.Series(np.arange(len(rows)), index=pd.Index(frame["home_id"].iloc[rows]))
    moved = []
    for notes in piece.problems:
        at = frame["home_id"].iloc[notes["pos"].to_numpy()].map(place).to_numpy(dtype="float64")
        there = ~np.isnan(at)
        if there.any():
            moved.append(notes[there].assign(pos=at[there].astype(np.int64)))
    return tuple(moved)
