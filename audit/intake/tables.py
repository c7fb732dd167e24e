"""Find the tables on a sheet: header rows, the rows of data below, and what is neither."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from audit.intake.abreast import refuse_abreast
from audit.intake.columns import NO_TABLE, NUMBERED, ColumnMap, Header, Known, fingerprint
from audit.intake.headers import columns, matches
from audit.intake.heads import Head, find_heads, likely_head, refuse_sideways, side_by_side, words_of
from audit.intake.matching import TABLES, by_name, understand
from audit.intake.sheet import Cells, Rows, Sheet, filled_down, is_blank

TOTAL = re.compile(
    r"^(grand |sub[- ]?|overall )?(total|sum|count|average|avg|mean|subtotal)s?\b"
    r"|^\S.{0,80}?[\s:–-](sub[- ]?)?totals?\W*$"  # Elm Court sub-total
    r"|^(no\.?|nr\.?|number) of \w+\W*$",
    re.I,
)
AMOUNT = re.compile(r"[£\s]*[(-]?[\d,]+(\.\d+)?\)?\s*(%|[a-z]{1,12})?", re.I)  # 1,240.50; 12 %; 4 homes
HEADING = re.compile(r"[^\W\d]{3}\D*")  # a name without a digit
SURE = 0.85
LOOKED_AT = 2000  # nearly empty rows at either end of a table that are looked at one by one


@dataclass(frozen=True)
class RawTable:
    """One table on a sheet: what its headers mean, and the grid rows of its data in order."""

    sheet: Sheet
    map: ColumnMap
    rows: Rows


@dataclass
class Found:
    """The tables of a sheet, what was passed over, and tables that only the user can name.

    `ours` where the file was written by this program; `former` is the plan that was read back from it.
    """

    tables: list[RawTable] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    unclear: list[ColumnMap] = field(default_factory=list)
    ours: bool = False
    former: list[pd.DataFrame] = field(default_factory=list)
    as_of: pd.Timestamp | None = None


def find_tables(sheet: Sheet, known: Mapping[str, Known], header_rows: int) -> Found:
    """Find every table of ours on one sheet.

    Args:
        sheet: The sheet as read.
        known: Header rows that a columns.toml explains, by fingerprint.
        header_rows: How many rows from the top a header is looked for.

    Raises:
        CannotUse: the table lies on its side, or has several valves or visits in each row.
    """
    found = Found()
    if not sheet.grid.height:
        return found
    filled = sheet.grid.filled()
    heads = find_heads(sheet, filled, known, header_rows)
    if not heads:
        refuse_sideways(sheet)
    if not known:
        refuse_abreast(sheet, [head.row for head in heads])
    for place, head in enumerate(heads):
        stop = heads[place + 1].first if place + 1 < len(heads) else sheet.grid.height
        parts = side_by_side(head)
        for part in parts:
            mine = filled if len(parts) == 1 else sheet.grid.filled(part.columns)
            _take(found, sheet, part, stop, mine, known)
    return found


def _take(found: Found, sheet: Sheet, head: Head, stop: int, filled: Rows, known: Mapping[str, Known]) -> None:
    """Read one table from its header down."""
    found.said += filled_down(sheet, head.row + 1, stop)
    body = np.arange(head.row + 1, stop)
    body = body[filled[body] > 0]
    listed = known.get(fingerprint(head.headers))
    if listed and listed.table == NO_TABLE:
        found.said.append(f"{sheet.place}, row {sheet.row_number(head.row)}: left out, as the file of columns says.")
        return
    understood = understand(sheet, head.row, head.headers, body, listed)
    if not _is_ours(understood):
        first, last = sheet.row_number(head.first), sheet.row_number(stop - 1)
        why = nearest(head.headers)
        found.said.append(f"{sheet.place}, rows {first} to {last}: passed over, this is no table of ours: {why}.")
        return
    if lacks(understood):
        found.unclear.append(understood)
        return
    rows, told = _data_rows(sheet, understood, body, filled)
    found.said += told
    found.tables.append(RawTable(sheet, understood, rows))


def unrecognised(sheet: Sheet) -> list[ColumnMap]:
    """The map of a sheet in which nothing was recognised: its likely header, for the user to name the columns."""
    head = likely_head(sheet)
    if head is None:
        return []
    headers = tuple(h for h in head.headers if h.text)
    row, mark = sheet.row_number(head.row), fingerprint(head.headers)
    return [ColumnMap(sheet.file, sheet.name, row, NO_TABLE, mark, (), headers)]


def nearest(headers: Sequence[Header]) -> str:
    """Say what headers that make no table of ours come nearest to, and what is lacking for it."""
    named = [h for h in headers if h.label and h.text]
    table = max(TABLES, key=lambda name: by_name(name, named))
    known = {h.label: matches(table, h.text, h.group)[0].column for h in named if matches(table, h.text, h.group)}
    if not known:
        return "none of its headers is known: " + ", ".join(f"“{h.label[:40]}”" for h in named[:4])
    told = ", ".join(f"“{label[:40]}”" for label in list(known)[:4])
    lacking = [c for c in columns(table) if c.required and c.name not in known.values()]
    if lacking:
        needs = " and none ".join(f"is {c.name} ({c.meaning.rstrip('.')})" for c in lacking)
        return f"of its headers {told} could belong to the table {table}, but none {needs}"
    return f"of its {len(named)} headers only {told} could belong to the table {table}"


def lacks(found: ColumnMap) -> list[str]:
    """Required columns that no header was found for."""
    have = {c.column for c in found.chosen}
    return [c.name for c in columns(found.table) if c.required and c.name not in have]


def _is_ours(found: ColumnMap) -> bool:
    """A table is ours when the required columns are there and not alone, or when much else is."""
    if found.known:
        return True
    sure = [c for c in found.chosen if c.sure >= SURE]
    width = len(found.chosen) + len(found.unused)
    if not lacks(found):
        return len(sure) >= 3 or 2 * len(found.chosen) >= width
    if len(sure) >= min(4, len(columns(found.table)) - 1) and 2 * len(found.chosen) >= width:
        return True
    claimed = {m.column for h in found.unused for m in matches(found.table, h.text, h.group)[:1] if m.sure >= SURE}
    return bool(sure) and claimed.issuperset(lacks(found))  # its headers are there, but their cells make no sense


def unclear_sentence(found: ColumnMap) -> str:
    """Say what only the user can tell of a table."""
    lacking = lacks(found)
    asks = [f"no header was found for {', '.join(lacking)}"] if lacking else []
    asks += found.questions[:3]
    unused = ", ".join(f"“{h.label}”" for h in found.unused[:8] if h.text.strip())
    left = f" Headers not understood: {unused}." if unused else ""
    ids = any(c.unique for c in columns(found.table) if c.name in lacking)
    made = f' (or write "{NUMBERED}" there, where the rows have no number)' if ids else ""
    return (
        f"{found.place}, row {found.row}: this looks like the table {found.table}, but {'; '.join(asks)}.{left} "
        f"Rename the header, or name it in columns.toml{made} and give that with --columns."
    )


def _data_rows(sheet: Sheet, found: ColumnMap, body: Rows, filled: Rows) -> tuple[Rows, list[str]]:
    """Keep the rows of data; say which rows were totals, notes or the header again."""
    if not len(body):
        return body, []
    places = sorted(c.header.column for c in found.chosen if c.header.column >= 0)
    odd = _odd_rows(sheet, places, body, filled[body])
    drop: dict[int, str] = {}
    numbered = any(c.kind == "id" and c.unique for c in columns(found.table))
    for row, cells in zip(odd.tolist(), sheet.grid.rows(odd), strict=True):
        if kind := _not_data(cells, places, numbered):
            drop[row] = kind
    for row in _header_again(sheet, found, body):
        drop[row] = "the header again"
    said = [
        f"{sheet.place}, row {sheet.row_number(row)}: {kind}, not counted as a row."
        for row, kind in sorted(drop.items())[:20]
    ]
    if len(drop) > 20:
        said.append(f"{sheet.place}: {len(drop) - 20} more rows are totals, notes or the header again; not counted.")
    return body[~np.isin(body, list(drop))], said


def _is_amount(cell: object) -> bool:
    return isinstance(cell, int | float) or bool(AMOUNT.fullmatch(str(cell).strip()))


def _not_data(cells: Cells, places: Sequence[int], numbered: bool) -> str:
    """Tell a total, a note or a heading from a row of data; empty where it is data.

    Args:
        cells: The row.
        places: Grid columns of the table's headers.
        numbered: The rows of this table go by a number, so that a name alone is no row.
    """
    filled = [place for place, cell in enumerate(cells) if not is_blank(cell)]
    if not filled:
        return "a blank row"
    first = words_of(cells[filled[0]])
    if TOTAL.match(first) and all(_is_amount(cells[place]) for place in filled[1:]):
        return f"a total (“{first[:60]}”)"
    if len(filled) == 1 and len(places) > 1 and len(first.split()) > 2 and re.search("[A-Za-z]", first):
        return f"a note (“{first[:60]}”)"
    if len(filled) == 1 and len(places) > 3 and filled[0] <= places[0] and numbered and HEADING.fullmatch(first):
        return f"a heading of the rows below (“{first[:60]}”)"
    return ""


def _odd_rows(sheet: Sheet, places: Sequence[int], body: Rows, filled: Rows) -> Rows:
    """Rows that may be totals or notes: nearly empty ones, the last ones, and those that begin with such a word."""
    alone = np.flatnonzero(filled == 1)
    alone = alone if len(alone) < 2 * LOOKED_AT else np.concatenate([alone[:LOOKED_AT], alone[-LOOKED_AT:]])
    last = np.arange(max(0, len(body) - 30), len(body))
    summed = [np.flatnonzero(_says_total(sheet.grid.column(place, body))) for place in places[:4]]
    rows: Rows = body[np.unique(np.concatenate([alone, last, *summed]))]
    return rows


def _says_total(cells: pd.Series[Any]) -> npt.NDArray[np.bool_]:
    """Where a cell speaks of a total; two plain searches, for a pattern would cost as much as reading the column."""
    if cells.dtype == object:
        cells = cells.map(lambda cell: cell if isinstance(cell, str) else "")
    texts = pa.array(cells.astype("str"), from_pandas=True)
    found = pc.or_(pc.match_substring(texts, "otal"), pc.match_substring(texts, "OTAL"))
    return np.asarray(pc.fill_null(found, False).to_numpy(zero_copy_only=False), dtype=bool)


def _header_again(sheet: Sheet, found: ColumnMap, body: Rows) -> list[int]:
    """Rows further down that repeat the header, as on every printed page."""
    again = np.ones(len(body), dtype=bool)
    for header in [c.header for c in found.chosen if c.header.text and c.header.column >= 0][:3]:
        again &= np.asarray(sheet.grid.column(header.column, body) == header.text, dtype=bool)
        if not again.any():
            return []
    rows: list[int] = body[again].tolist()
    return rows
