"""What each header was understood as: the column map, written and read as columns.toml."""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from audit.errors import CannotUse
from audit.intake.headers import columns, key

OWN = "work list"  # in place of a fingerprint: a sheet of ours, which needs no line in the file
NO_TABLE = "none"  # a table that the user wants left out
NUMBERED = "numbered"  # in place of a header: the rows have no number, one is made from the home and their order
PREAMBLE = f"""\
# How every header was understood. Correct a line and give the file back with --columns: a header row that is found here
# again, in whatever order and in whatever file, is read as it says.
# Left: the audit's column. Right: the header in the file, as "Group / Header" where two rows head the column, or
# "column F" for one without words, or "{NUMBERED}" for an id that the file does not have.
# Set table = "{NO_TABLE}" to leave a table out.
"""


@dataclass(frozen=True, slots=True)
class Header:
    """One header cell: its words, the group cell above it, and the grid column that it heads."""

    text: str
    group: str = ""
    column: int = 0  # -1: there is no such column, the rows are numbered
    letter: str = "A"

    @property
    def label(self) -> str:
        """How the header is named to the user."""
        parts = [part.strip() for part in (self.group, self.text) if part.strip()]
        return re.sub(r"\s+", " ", " / ".join(parts)) or f"column {self.letter}"


@dataclass(frozen=True, slots=True)
class Choice:
    """One column found: its header, how sure that is and why, the unit in the header, and headers joined to it."""

    column: str
    header: Header
    sure: float
    reason: str
    unit: str = ""
    more: tuple[Header, ...] = ()  # the other parts of an address that stands in several columns


@dataclass(frozen=True)
class ColumnMap:
    """How one table of one file was understood.

    `chosen` are the columns found; `unused` the headers that mean nothing to the audit; `questions` what only the user
    can say, one sentence each.
    """

    file: str
    sheet: str
    row: int  # the header's row as the spreadsheet numbers it
    table: str
    fingerprint: str
    chosen: tuple[Choice, ...]
    unused: tuple[Header, ...] = ()
    questions: tuple[str, ...] = ()
    known: bool = False  # taken from a map that was given or kept

    @property
    def place(self) -> str:
        """How a sentence names it."""
        return f"{self.file}, sheet '{self.sheet}'" if self.sheet else self.file

    def header_of(self, column: str) -> str:
        """The header of a canonical column; the column's own name where the file has none."""
        return next((c.header.label for c in self.chosen if c.column == column), column)


@dataclass(frozen=True)
class Known:
    """One table of a columns.toml: which header means which column, by header words."""

    table: str
    columns: Mapping[str, str]  # canonical column → header label
    units: Mapping[str, str] = field(default_factory=dict)
    more: Mapping[str, Sequence[str]] = field(default_factory=dict)  # labels of headers joined to the column


class Unclear(CannotUse):
    """A table of ours whose columns only the user can name; `maps` is what was understood so far."""

    def __init__(self, sentence: str, maps: Sequence[ColumnMap]) -> None:
        super().__init__(sentence)
        self.maps = tuple(maps)


def fingerprint(headers: Iterable[Header]) -> str:
    """Name a header row by its words, whatever their order, so that it is recognised again."""
    told = sorted(key(h.label) for h in headers if h.text.strip() or h.group.strip())
    return hashlib.sha256("\n".join(told).encode()).hexdigest()[:16]


def map_text(maps: Sequence[ColumnMap]) -> str:
    """Write column maps as the text of a columns.toml."""
    lines = PREAMBLE.splitlines()
    for found in maps:
        if found.fingerprint == OWN:
            continue
        lines += ["", *_table_lines(found)]
    return "\n".join(lines) + "\n"


def _table_lines(found: ColumnMap) -> list[str]:
    lines = [
        "[[tables]]",
        f"file = {_quoted(found.file)}",
        f"sheet = {_quoted(found.sheet)}",
        f"row = {found.row}",
        f"fingerprint = {_quoted(found.fingerprint)}",
        f"table = {_quoted(found.table)}",
    ]
    lines += [f"# ? {sentence}" for sentence in found.questions]
    lines.append("[tables.columns]")
    for choice in found.chosen:
        value = _quoted(choice.header.label)
        if choice.unit:
            value = f"{{ header = {value}, unit = {_quoted(choice.unit)} }}"
        elif choice.more:
            value = f"{{ header = {value}, more = [{', '.join(_quoted(h.label) for h in choice.more)}] }}"
        told = f"column {choice.header.letter}, {choice.sure:.0%} sure: {choice.reason}"
        lines.append(f"{choice.column} = {value}  # {_one_line(told)}")
    have = {choice.column for choice in found.chosen}
    needed = () if found.table == NO_TABLE else columns(found.table)
    lines += [
        f'# {c.name} = ""  # needed, no header was found: name it here'
        for c in needed
        if c.required and c.name not in have
    ]
    lines += [f"# not used: {_one_line(h.label)} (column {h.letter})" for h in found.unused]
    return lines


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + re.sub(r"[\x00-\x1f\x7f]", lambda m: f"\\u{ord(m.group()):04x}", escaped) + '"'


def _one_line(text: str) -> str:
    return re.sub(r"[\x00-\x1f\x7f]+", " ", text)


def write_map(maps: Sequence[ColumnMap], path: Path) -> None:
    """Write column maps as a columns.toml."""
    path.write_text(map_text(maps), encoding="utf-8")


def read_map(path: Path) -> dict[str, Known]:
    """Read a columns.toml: what each header row, by its fingerprint, means.

    Raises:
        CannotUse: the file cannot be read or names a table or column that there is not.
    """
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        raise CannotUse(f"{path}: there is no such file of columns; `check` writes one.") from None
    except (OSError, UnicodeDecodeError) as error:
        raise CannotUse(f"{path}: the file of columns cannot be read ({error.__class__.__name__}).") from None
    except tomllib.TOMLDecodeError as error:
        raise CannotUse(f"{path.name}: the file of columns is not valid TOML: {error}.") from None
    tables = content.get("tables", [])
    if not isinstance(tables, list):
        raise CannotUse(f"{path.name}: each table must stand under a line [[tables]]; `check` writes an example.")
    return {str(entry.get("fingerprint", "")): _known(entry, path.name) for entry in tables}


def _known(entry: Mapping[str, object], file: str) -> Known:
    from schemas.tables import COLUMNS

    table = str(entry.get("table", ""))
    if table != NO_TABLE and table not in COLUMNS:
        raise CannotUse(f"{file}: there is no table {table!r}; it must be one of {', '.join(COLUMNS)}, or {NO_TABLE}.")
    listed = entry.get("columns", {})
    if table == NO_TABLE or not isinstance(listed, dict):
        return Known(table, {})
    names = [c.name for c in columns(table)]
    found: dict[str, str] = {}
    units: dict[str, str] = {}
    more: dict[str, list[str]] = {}
    for name, value in listed.items():
        if name not in names:
            raise CannotUse(f"{file}: the table {table} has no column {name!r}; it has {', '.join(names)}.")
        header = value.get("header", "") if isinstance(value, dict) else value
        found[name] = str(header)
        if isinstance(value, dict) and "unit" in value:
            units[name] = str(value["unit"])
        if isinstance(value, dict) and isinstance(value.get("more"), list):
            more[name] = [str(label) for label in value["more"]]
    return Known(table, found, units, more)
