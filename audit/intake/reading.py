"""Files to clean tables: what was read, understood, returned and said."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from audit.errors import CannotUse
from audit.intake.assemble import assemble
from audit.intake.columns import ColumnMap, Known, Unclear, read_map
from audit.intake.files import Source, sources
from audit.intake.headers import columns as columns_of
from audit.intake.matching import TABLES
from audit.intake.sheet import Sheet
from audit.intake.sheets import read_parquet, read_workbook
from audit.intake.tables import RawTable, find_tables, unclear_sentence
from audit.intake.text import read_text
from audit.intake.typed import Typed, typed
from audit.policy import Policy, load_policy

WORKBOOKS = (".xlsx", ".xlsm", ".ods")
Progress = Callable[[str, int, int], None]  # what is being done, how much is done, of how much


@dataclass(frozen=True)
class Reading:
    """Everything that came out of the files.

    `tables`: clean tables, every canonical column and source_file, source_sheet, source_row. `problems`: one row a cell
    or row that was returned, repaired or merged. `counts`: rows_in = used + merged + returned for each table. `inputs`:
    name, sha256, rows of each file. `absent`: optional columns that no file had. `said`: what the reader must know.
    `maps`: how every header was understood.
    """

    tables: dict[str, pd.DataFrame]
    problems: pd.DataFrame
    counts: pd.DataFrame
    inputs: pd.DataFrame
    absent: dict[str, frozenset[str]]
    said: tuple[str, ...]
    maps: tuple[ColumnMap, ...] = ()


def read(
    paths: Sequence[Path],
    *,
    columns: Path | None = None,
    policy: Policy | None = None,
    as_of: dt.date | None = None,
    progress: Progress | None = None,
) -> Reading:
    """Read files and folders into clean tables.

    Args:
        paths: Files or folders.
        columns: A columns.toml, as `check` writes it and the user corrected it.
        policy: The limits in force; the default ones if None.
        as_of: The day that ages in years count back from.
        progress: Told of each file and table.

    Raises:
        CannotUse: a file cannot be used, or no table of ours is in any of them.
        Unclear: a table is ours but only the user can name its columns.
    """
    policy = policy or load_policy()
    known = read_map(columns) if columns else {}
    listed, said = sources([Path(p) for p in paths])
    tell = progress or (lambda what, done, of: None)
    raw: list[RawTable] = []
    inputs = []
    for place, source in enumerate(listed):
        tell(f"reading {source.name}", place, 2 * len(listed))
        found, told = _tables_of(source, known, policy)
        raw += found
        said += told
        inputs.append((source.name, _digest(source), sum(len(r.rows) for r in found)))
    if not raw:
        raise CannotUse(_nothing_found(listed))
    parts: defaultdict[str, list[Typed]] = defaultdict(list)
    for place, table in enumerate(raw):
        tell(f"understanding {table.map.place}", len(raw) + place, 2 * len(raw))
        parts[table.map.table].append(typed(table, policy, as_of))
    said += [_question(table.map) for table in raw if table.map.questions]
    absent = _absent(parts)
    maps = tuple(table.map for table in raw)
    del raw
    done = assemble(parts)
    rows = pd.DataFrame(inputs, columns=["name", "sha256", "rows"]).astype({"name": "str", "sha256": "str"})
    said = list(dict.fromkeys([*said, *done.said]))
    return Reading(done.tables, done.problems, done.counts, rows, absent, tuple(said), maps)


def _digest(source: Source) -> str:
    try:
        return source.sha256()
    except OSError as error:
        raise CannotUse(
            f"{source.name}: the file cannot be opened ({error.strerror}); check who may read it."
        ) from None


def _tables_of(source: Source, known: Mapping[str, Known], policy: Policy) -> tuple[list[RawTable], list[str]]:
    """Read one file and find its tables."""
    raw: list[RawTable] = []
    said: list[str] = []
    unclear: list[ColumnMap] = []
    sheets = _sheets_of(source, policy)
    for sheet in sheets:
        said += sheet.said
        found = find_tables(sheet, known, int(policy.number("reading.header_rows")))
        raw += found.tables
        said += found.said
        unclear += found.unclear
        if sheet.hidden and (found.tables or found.unclear):
            said.append(f"{sheet.place}: the sheet is hidden, and was read; delete it if it should not count.")
        elif not found.tables and not found.unclear and sheet.grid.height:
            said.append(f"{sheet.place}: passed over, no table of {_listed(TABLES)} is in it.")
    if unclear:
        raise Unclear(unclear_sentence(unclear[0]), [*(t.map for t in raw), *unclear])
    if source.named and not raw:
        if not any(sheet.grid.height for sheet in sheets):
            raise CannotUse(f"{source.name}: there is nothing in it; save or export it again.")
        raise CannotUse(_nothing_found([source]))
    return raw, said


def _sheets_of(source: Source, policy: Policy) -> list[Sheet]:
    if source.kind in WORKBOOKS:
        return read_workbook(source.path, source.name, policy)
    if source.kind == ".parquet":
        return read_parquet(source.path, source.name)
    return read_text(source.path, source.name, policy)


def _nothing_found(listed: Sequence[Source]) -> str:
    names = ", ".join(s.name for s in listed[:3])
    return (
        f"{names}: no table of {_listed(TABLES)} was recognised; the headers must stand in one row, with at least a column "
        "for the home's number (and the valve's or the job's); `valve-audit template` writes examples."
    )


def _listed(words: Sequence[str]) -> str:
    return f"{', '.join(words[:-1])} or {words[-1]}"


def _question(found: ColumnMap) -> str:
    return f"{found.place}, row {found.row}: {'; '.join(found.questions)}; not used, name it in columns.toml if it should be."


def _absent(parts: Mapping[str, Sequence[Typed]]) -> dict[str, frozenset[str]]:
    absent = {}
    for table in TABLES:
        have = frozenset().union(*(p.headers for p in parts.get(table, ())))
        absent[table] = frozenset(c.name for c in columns_of(table) if not c.required and c.name not in have)
    return absent
