"""Files to clean tables: what was read, understood, returned and said."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd
import pyarrow as pa

from audit.errors import CannotUse
from audit.intake.assemble import TABLES, assemble
from audit.intake.beside import homes_beside
from audit.intake.columns import OWN, ColumnMap, Known, Unclear, read_map
from audit.intake.dangers import returned_dangers
from audit.intake.files import Source, sources
from audit.intake.former_plan import last_plan
from audit.intake.headers import columns as columns_of
from audit.intake.headers import nearest_columns
from audit.intake.heads import likely_head, words_of
from audit.intake.proved import valves_proved
from audit.intake.sheet import Sheet
from audit.intake.sheets import read_parquet, read_workbook
from audit.intake.tables import SURE, Found, RawTable, find_tables, nearest, unclear_sentence, unrecognised
from audit.intake.text import read_text
from audit.intake.typed import Typed, typed
from audit.intake.work_list import own
from audit.policy import Policy, load_policy
from schemas.sentences import ToDo

NO_HOMES = ToDo(
    "No table of homes was given: the homes are those that valves and visits name, and homes are not checked."
)
WORKBOOKS = (".xlsx", ".xlsm", ".ods")
Progress = Callable[[str, float], None]  # what is being done, and the share that is done


@dataclass(frozen=True)
class Reading:
    """Everything that came out of the files.

    `tables`: clean tables, every canonical column and source_file, source_sheet, source_row. `problems`: one row a cell
    or row that was returned, repaired or merged. `counts`: rows_in = used + merged + returned for each table. `inputs`:
    name, sha256, rows of each file. `absent`: optional columns that no file had. `said`: what the reader must know.
    `maps`: how every header was understood. `coded`: values read from notes (visit_id, column, value, phrase);
    `conflicts`: notes that say something else than a column (file, sheet, row, visit_id, column, column_value,
    note_value, phrase); `uncoded`: what was not understood in notes, by frequency. `former`: the plan of the last work
    list that was given, one row a visit; None where there was none. `dangers`: what returned rows record of danger, see
    `audit.intake.dangers.returned_dangers`.
    """

    tables: dict[str, pd.DataFrame]
    problems: pd.DataFrame
    counts: pd.DataFrame
    inputs: pd.DataFrame
    absent: dict[str, frozenset[str]]
    said: tuple[str, ...]
    maps: tuple[ColumnMap, ...] = ()
    coded: pd.DataFrame = field(default_factory=pd.DataFrame)
    conflicts: pd.DataFrame = field(default_factory=pd.DataFrame)
    uncoded: pd.DataFrame = field(default_factory=pd.DataFrame)
    former: pd.DataFrame | None = None
    dangers: pd.DataFrame = field(default_factory=pd.DataFrame)
    done: pd.DataFrame = field(default_factory=pd.DataFrame)  # visits of work lists, to be carried on in the next one


def read(
    paths: Sequence[Path],
    *,
    columns: Path | None = None,
    policy: Policy | None = None,
    as_of: dt.date | None = None,
    progress: Progress | None = None,
    notes: bool = True,
) -> Reading:
    """Read files and folders into clean tables.

    Args:
        paths: Files or folders.
        columns: A columns.toml, as `check` writes it and the user corrected it.
        policy: The limits in force; the default ones if None.
        as_of: The day that ages in years count back from.
        progress: Told of each file and table.
        notes: False where free-text notes need not be read; empty coded columns of visits stay empty then.

    Raises:
        CannotUse: a file cannot be used, or no table of ours is in any of them.
        Unclear: a table is ours but only the user can name its columns.
    """
    pa.set_memory_pool(pa.system_memory_pool())  # large columns come and go: half the time in the kernel, measured
    policy = policy or load_policy()
    tell = progress or _silent
    listed, said = sources([Path(p) for p in paths])
    raw, inputs, told, former, dates = _gathered(listed, read_map(columns) if columns else {}, policy, tell)
    raw = valves_proved(raw)
    maps = tuple(table.map for table in raw)
    said += [*told, *(sentence for found in maps for sentence in _doubts(found))]
    pieces: list[Typed] = []
    for place, table in enumerate(raw):
        tell(f"understanding {table.map.place}", 0.4 + 0.4 * place / len(raw))
        pieces.append(typed(table, policy, as_of))
    parts = {name: [p for r, p in zip(raw, pieces, strict=True) if r.map.table == name] for name in TABLES}
    homes_listed = bool(parts["homes"])
    if not homes_listed:
        parts["homes"], more = homes_beside(raw, pieces, policy, as_of)
        maps += tuple(more)
        said.append(NO_HOMES)
    del raw
    tell("putting the tables together", 0.8)
    own_sheets = {(m.file, m.sheet): dates.get(m.file, pd.NaT) for m in maps if m.fingerprint == OWN}
    done = assemble(parts, homes_listed=homes_listed, notes=notes, own=own_sheets)
    said = list(dict.fromkeys([*said, *done.said]))
    return Reading(
        tables=done.tables,
        problems=done.problems,
        counts=done.counts,
        inputs=inputs,
        absent=_absent(parts, done.notes.coded["column"]),
        said=tuple(said),
        maps=maps,
        coded=done.notes.coded,
        conflicts=done.notes.conflicts,
        uncoded=done.notes.uncoded,
        former=former,
        dangers=returned_dangers(done.returned, policy),
        done=done.done,
    )


def _silent(what: str, share: float) -> None:
    """Progress that nobody watches."""


def _gathered(
    listed: Sequence[Source], known: Mapping[str, Known], policy: Policy, tell: Progress
) -> tuple[list[RawTable], pd.DataFrame, list[str], pd.DataFrame | None, dict[str, pd.Timestamp]]:
    """Find the tables of every file; returns them, the files, what is to be said, the last plan, the lists' dates."""
    dates: dict[str, pd.Timestamp] = {}
    raw: list[RawTable] = []
    inputs: list[tuple[str, str, int]] = []
    said: list[str] = []
    unclear: list[ColumnMap] = []
    plans: list[pd.DataFrame] = []
    for place, source in enumerate(listed):
        tell(f"reading {source.name}", 0.4 * place / len(listed))
        found = _tables_of(source, known, policy)
        raw += found.tables
        said += found.said
        unclear += found.unclear
        plans += found.former
        if found.as_of is not None:
            dates[source.name] = found.as_of
        inputs.append((source.name, _digest(source), sum(len(table.rows) for table in found.tables)))
    if unclear:
        raise Unclear(_asked(unclear), [*(table.map for table in raw), *unclear])
    if not raw:
        raise CannotUse(_nothing_found(listed))
    files = pd.DataFrame(inputs, columns=["name", "sha256", "rows"]).astype({"name": "str", "sha256": "str"})
    former, told = last_plan(plans)
    return raw, files, [*said, *told], former, dates


def _asked(unclear: Sequence[ColumnMap]) -> str:
    more = f" ({len(unclear) - 1} more of the tables have open questions.)" if len(unclear) > 1 else ""
    return unclear_sentence(unclear[0]) + more


def _digest(source: Source) -> str:
    try:
        return source.sha256()
    except OSError as error:
        raise CannotUse(
            f"{source.name}: the file cannot be opened ({error.strerror}); check who may read it."
        ) from None


def _tables_of(source: Source, known: Mapping[str, Known], policy: Policy) -> Found:
    """Read one file and find its tables."""
    whole = Found()
    sheets = _sheets_of(source, policy)
    if mine := own(sheets, policy):
        return Found(mine.tables, mine.said, ours=True, former=mine.former, as_of=mine.as_of)
    for sheet in sheets:
        found = find_tables(sheet, known, int(policy.number("reading.header_rows")))
        whole.tables += found.tables
        whole.unclear += found.unclear
        whole.said += [*sheet.said, *found.said]
        if found.tables or found.unclear:
            whole.said += [ToDo(f"{sheet.place}: hidden, but read; delete it if it should not count.")] * sheet.hidden
        elif sheet.grid.height:
            told = any(" passed over, " in sentence for sentence in found.said)
            whole.said.append(f"{sheet.place}: passed over, {_no_table(sheet, told)}.")
    if source.named and not (whole.tables or whole.unclear):
        if not any(sheet.grid.height for sheet in sheets):
            raise CannotUse(f"{source.name}: there is nothing in it; save or export it again.")
        maps = [m for sheet in sheets for m in unrecognised(sheet)]
        raise Unclear(_nothing_found([source], *(nearest(m.unused) for m in maps[:1])), maps)
    return whole


def _no_table(sheet: Sheet, told: bool) -> str:
    """Why nothing of a sheet was read; what it comes nearest to is left out where it was `told` of its parts."""
    if sheet.grid.width == 1:
        text = words_of(sheet.row(0)[0])
        return f"it has one column only, “{text[:60]}”; a table of ours needs at least one more beside it"
    head = None if told else likely_head(sheet)
    return f"no table of {_listed(TABLES)} is in it" + (f": {nearest(head.headers)}" if head else "")


def _sheets_of(source: Source, policy: Policy) -> list[Sheet]:
    if source.kind in WORKBOOKS:
        return read_workbook(source.path, source.name, policy)
    if source.kind == ".parquet":
        return read_parquet(source.path, source.name)
    return read_text(source.path, source.name, policy)


def _nothing_found(listed: Sequence[Source], *why: str) -> str:
    names = ", ".join(s.name for s in listed[:3])
    told = "".join(f" ({reason})" for reason in why)
    return (
        f"{names}: no table of {_listed(TABLES)} was recognised{told}; the headers must stand in one row, with at "
        "least a column for the home's number (and the valve's or the job's); `valve-audit template` writes examples."
    )


def _listed(words: Sequence[str]) -> str:
    return f"{', '.join(words[:-1])} or {words[-1]}"


def _doubts(found: ColumnMap) -> list[str]:
    """Say which columns were taken with less than the usual sureness, what was left open, and what was not used."""
    place = f"{found.place}, row {found.row}"
    taken = [c for c in found.chosen if c.sure < SURE]
    said: list[str] = [
        ToDo(
            f"{place}: “{c.header.label}” was taken for {c.column} ({c.sure:.0%} sure: {c.reason}); "
            "correct it in columns.toml if that is wrong."
        )
        for c in taken
    ]
    if found.questions:
        said.append(ToDo(f"{place}: {'; '.join(found.questions)}; not used unless named in columns.toml."))
    asked = " ".join(found.questions)
    unread = [h for h in found.unused if f"“{h.label}”" not in asked and f"“{h.text.strip()}”" not in asked]
    given = frozenset(c.column for c in found.chosen)
    near = {h.label: close for h in unread if (close := nearest_columns(found.table, h.label, given))}
    if near:
        listed = "; ".join(f"“{label}” (nearest: {', '.join(names)})" for label, names in near.items())
        said.append(ToDo(f"{place}: not read: {listed}; if one is meant, name the header in columns.toml."))
    if rest := ", ".join(f"“{h.label}”" for h in unread if h.label not in near):
        said.append(f"{place}: not read, for the audit has no column for it: {rest}.")
    return said


def _absent(parts: Mapping[str, Sequence[Typed]], coded: pd.Series) -> dict[str, frozenset[str]]:
    """Optional columns that no file had and no note told."""
    absent = {}
    for table in TABLES:
        have = frozenset(coded.unique() if table == "visits" else ()).union(*(p.headers for p in parts.get(table, ())))
        absent[table] = frozenset(c.name for c in columns_of(table) if not c.required and c.name not in have)
    return absent
