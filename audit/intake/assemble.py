"""Typed tables of many sheets to one clean table each: ids joined, copies merged, links checked, every row counted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from audit.intake.dangers import asks_for_earth, fill_dangers
from audit.intake.duplicates import settle
from audit.intake.headers import columns
from audit.intake.ids import join_ids
from audit.intake.notes import CodedNotes, code_notes
from audit.intake.problems import Table, listed
from audit.intake.typed import Typed, empty_table
from audit.intake.visits_of_lists import Lists, count_once, merge_logged, of_lists, return_undone
from schemas import checks
from schemas.sentences import ToDo
from schemas.tables import COLUMNS

TABLES = tuple(COLUMNS)


@dataclass(frozen=True)
class Assembled:
    """Clean tables, what was returned, repaired or merged, the counts, what is to be said, what the notes told."""

    tables: dict[str, pd.DataFrame]
    problems: pd.DataFrame
    counts: pd.DataFrame
    said: tuple[str, ...]
    notes: CodedNotes
    returned: dict[str, pd.DataFrame]  # rows of valves and visits
    done: pd.DataFrame  # the visits of work lists, those that the log has too among them


def assemble(
    parts: Mapping[str, Sequence[Typed]],
    *,
    homes_listed: bool = True,
    notes: bool = True,
    own: Lists | None = None,
) -> Assembled:
    """Make the clean tables.

    Args:
        parts: For each canonical table its typed pieces, in order of file, sheet and row.
        homes_listed: False where the homes are those that valves and visits name; all are known then.
        notes: Whether empty coded columns are filled from the notes of visits.
        own: Dates of the work lists that were read back, by file and sheet; the log counts before them.
    """
    own = own or {}
    said = [sentence for pieces in parts.values() for piece in pieces for sentence in piece.said]
    work = {name: _together(name, parts.get(name, ())) for name in TABLES}
    pieces = {name: len(table.headers) for name, table in work.items()}
    frames, told = join_ids({name: table.frame for name, table in work.items()}, pieces, homes_listed)
    for name, table in work.items():
        table.frame = frames[name]
        _return_without_required(table)
        if own and name == "visits":
            return_undone(table, own)
            count_once(table, own)
        settle(table)
        _blank_contradictions(table)
    if homes_listed:
        for name in ("valves", "visits"):
            _return_unknown_homes(work[name], work["homes"])
    ours = of_lists(work["visits"], own)
    asks = asks_for_earth(work["visits"], ours)
    done = work["visits"].frame.loc[ours & work["visits"].kept] if own else pd.DataFrame()
    if own:
        asks[merge_logged(work["visits"], ours)] = True
    _link(work["valves"], work["visits"])
    read = _read_notes(work["visits"], notes)
    coded, more = fill_dangers(work["visits"], asks, notes=notes)
    if len(coded):
        read = replace(read, coded=pd.concat([read.coded, coded], ignore_index=True))
    tables = {name: _checked(table) for name, table in work.items()}
    problems = listed(list(work.values()))
    returned = {name: work[name].frame[work[name].returned] for name in ("valves", "visits")}
    return Assembled(tables, problems, _counts(work), (*said, *told, *_told(read), *more), read, returned, done)


def _together(name: str, pieces: Sequence[Typed]) -> Table:
    """Put the pieces of one table one below the other, with what was said of their rows."""
    frames = [piece.frame for piece in pieces] or [empty_table(name)]
    frame = pd.concat(frames, ignore_index=True) if len(frames) > 1 else frames[0]
    sizes = [len(f) for f in frames]
    starts = np.cumsum([0, *sizes])
    table = Table(name, frame, np.repeat(np.arange(len(frames)), sizes), [p.headers for p in pieces])
    for start, piece in zip(starts, pieces, strict=False):
        for notes in piece.problems:
            placed = notes.assign(pos=notes["pos"] + start)
            table.problems.append(placed)
            table.returned[placed["pos"][placed["effect"].eq("returned")].to_numpy()] = True
    return table


def _return_without_required(table: Table) -> None:
    """Return rows that lack what every row needs; those whose cell could not be read are returned already."""
    for column in columns(table.name):
        if column.required:
            lacking = np.flatnonzero(table.frame[column.name].isna().to_numpy() & ~table.returned)
            reason = f"the cell is empty, and every row needs it ({_lower(column.meaning)})"
            table.tell(lacking, column.name, reason, "fill the cell in", "returned")


def _lower(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:].rstrip(".")


def _blank_contradictions(table: Table) -> None:
    """Take away dates that contradict others of their row."""
    faults = checks.order_faults(table.name, table.frame)
    _apply(table, faults[table.kept[faults["pos"].to_numpy()]])


def _apply(table: Table, faults: pd.DataFrame) -> None:
    """Blank the cells at fault, or return the row where it needs them."""
    required = {c.name for c in columns(table.name) if c.required}
    for name, part in faults.groupby("column", sort=False):
        column, pos = str(name), part["pos"].to_numpy()
        if column in required:
            table.tell(pos, column, part["reason"], part["mend"], "returned")
        else:
            table.blank(pos, column, part["reason"], part["mend"])


def _link(valves: Table, visits: Table) -> None:
    """Take away the valves of visits that the register does not have, or has elsewhere."""
    if not len(valves.frame) or not visits.frame["valve_id"].notna().any():
        return
    kept = valves.frame[valves.kept]
    named = visits.frame["valve_id"]
    place = checks.place_in(named, kept["valve_id"])
    stray = named.notna().to_numpy() & (place < 0) & visits.kept
    home = kept["home_id"].array.take(place, allow_fill=True)
    elsewhere = (place >= 0) & np.asarray(home != visits.frame["home_id"].array, dtype=bool) & visits.kept
    mend = "correct the valve's number"
    visits.blank(np.flatnonzero(stray), "valve_id", "no valve of that number is in the register", mend)
    visits.blank(np.flatnonzero(elsewhere), "valve_id", "the register has that valve in another home", mend)


def _return_unknown_homes(table: Table, homes: Table) -> None:
    ids = table.frame["home_id"]
    bad = np.flatnonzero(checks.unknown(ids, homes.frame["home_id"][homes.kept]) & table.kept)
    if len(bad):
        read = ~checks.unknown(ids.iloc[bad], homes.frame["home_id"])
        reason = np.where(read, "its home was itself returned", "no home of that number is in the table homes")
        table.tell(bad, "home_id", reason, "correct the home's number, or add the home", "returned")


def _read_notes(visits: Table, wanted: bool) -> CodedNotes:
    """Fill empty coded columns of the visits that stay from what their notes say."""
    kept = np.flatnonzero(visits.kept) if wanted else np.zeros(0, dtype=np.int64)
    whole = len(kept) == len(visits.frame)
    notes = code_notes(visits.frame if whole else visits.frame.iloc[kept].reset_index(drop=True))
    for name in notes.coded["column"].unique():
        pos = notes.coded["pos"][notes.coded["column"].eq(name)].to_numpy()
        visits.put(kept[pos], str(name), notes.visits[name].array[pos])
    coded, conflicts = notes.coded, notes.conflicts
    coded = coded.assign(visit_id=visits.frame["visit_id"].array[kept[coded["pos"]]])
    place = visits.frame.iloc[kept[conflicts["pos"]]]
    named = {"file": "source_file", "sheet": "source_sheet", "row": "source_row", "visit_id": "visit_id"}
    conflicts = conflicts.assign(**{name: place[source].array for name, source in named.items()})
    return replace(notes, visits=notes.visits.iloc[:0], coded=coded, conflicts=conflicts)


def _told(notes: CodedNotes) -> list[str]:
    """Say how much was read from notes, and how often a note contradicts a column."""
    said = list(notes.said)
    for found, words in (
        (notes.coded, "empty cells of visits were filled from their notes"),
        (
            notes.conflicts,
            "cells of visits say something else than the note beside them; they stand; see returned-rows.xlsx",
        ),
    ):
        if len(found):
            each = ", ".join(f"{name} {count:,}" for name, count in found["column"].value_counts(sort=False).items())
            told = f"{len(found):,} {words} ({each})."
            said.append(ToDo(told) if found is notes.conflicts else told)
    return said


def _checked(table: Table) -> pd.DataFrame:
    """Hold what is left against the model: the last net, in which nothing should be caught."""
    clean = table.clean()
    faults = checks.model_faults(table.name, clean, ids_single=True) if len(clean) else checks.no_faults()
    if faults.empty:
        return clean
    _apply(table, faults.assign(pos=np.flatnonzero(table.kept)[faults["pos"].to_numpy()]))
    return table.clean()


def _counts(work: Mapping[str, Table]) -> pd.DataFrame:
    rows = [
        (n, len(t.frame), int(t.kept.sum()), int((t.merged & ~t.returned).sum()), int(t.returned.sum()))
        for n, t in work.items()
    ]
    return pd.DataFrame(rows, columns=["table", "rows_in", "used", "merged", "returned"]).astype({"table": "str"})
