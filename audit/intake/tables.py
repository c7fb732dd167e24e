"""Find the tables on a sheet: header rows, the rows of data below, and what is neither."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from audit.errors import CannotUse
from audit.intake.columns import NO_TABLE, ColumnMap, Header, Known, Unclear, fingerprint
from audit.intake.headers import key, matches
from audit.intake.matching import TABLES, by_name, understand
from audit.intake.sheet import Cells, Rows, Sheet, is_blank, shown

TOTAL = re.compile(r"^(grand |sub ?|overall )?(total|sum|count|average|avg|mean|subtotal)s?\b", re.I)
ENOUGH = 2.4  # score of header words that makes a row a header: a required column and another, or three others
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
    """The tables of a sheet, what was passed over, and tables that only the user can name."""

    tables: list[RawTable] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    unclear: list[ColumnMap] = field(default_factory=list)


@dataclass(frozen=True)
class Head:
    """A header found: its last grid row, how many rows it takes, and its cells."""

    row: int
    first: int
    headers: tuple[Header, ...]


def find_tables(sheet: Sheet, known: Mapping[str, Known], header_rows: int) -> Found:
    """Find every table of ours on one sheet.

    Args:
        sheet: The sheet as read.
        known: Header rows that a columns.toml explains, by fingerprint.
        header_rows: How many rows from the top a header is looked for.

    Raises:
        CannotUse: the table lies on its side.
    """
    found = Found()
    if not sheet.grid.height:
        return found
    filled = sheet.grid.filled()
    heads = _heads(sheet, filled, known, header_rows)
    if not heads:
        _refuse_sideways(sheet)
    for place, head in enumerate(heads):
        stop = heads[place + 1].first if place + 1 < len(heads) else sheet.grid.height
        for part in _side_by_side(head, sheet):
            _take(found, sheet, part, stop, filled, known)
    return found


def _take(found: Found, sheet: Sheet, head: Head, stop: int, filled: Rows, known: Mapping[str, Known]) -> None:
    """Read one table from its header down."""
    body = np.arange(head.row + 1, stop)
    body = body[filled[body] > 0]
    listed = known.get(fingerprint(head.headers))
    if listed and listed.table == NO_TABLE:
        found.said.append(f"{sheet.place}, row {sheet.row_number(head.row)}: left out, as the file of columns says.")
        return
    understood = understand(sheet, head.row, head.headers, body, listed)
    if not _is_ours(understood):
        return
    if understood.questions and _lacks(understood):
        found.unclear.append(understood)
        return
    if _lacks(understood):
        found.unclear.append(understood)
        return
    rows, told = _data_rows(sheet, understood, body, filled)
    found.said += told
    found.tables.append(RawTable(sheet, understood, rows))


def _lacks(found: ColumnMap) -> list[str]:
    from audit.intake.headers import columns

    have = {c.column for c in found.chosen}
    return [c.name for c in columns(found.table) if c.required and c.name not in have]


def _is_ours(found: ColumnMap) -> bool:
    """A table is ours when the required columns are there and not alone, or when much else is."""
    if found.known:
        return True
    sure = [c for c in found.chosen if c.sure >= SURE]
    width = len(found.chosen) + len(found.unused)
    if not _lacks(found):
        return len(sure) >= 3 or 2 * len(found.chosen) >= width
    return len(sure) >= 4 and 2 * len(found.chosen) >= width


def unclear_sentence(found: ColumnMap) -> str:
    """Say what only the user can tell of a table."""
    lacking = _lacks(found)
    asks = [f"no header was found for {', '.join(lacking)}"] if lacking else []
    asks += found.questions[:3]
    unused = ", ".join(f"“{h.label}”" for h in found.unused[:8] if h.text.strip())
    left = f" Headers not understood: {unused}." if unused else ""
    return (
        f"{found.place}, row {found.row}: this looks like the table {found.table}, but {'; '.join(asks)}.{left} "
        "Rename the header, or name it in columns.toml and give that with --columns."
    )


def _heads(sheet: Sheet, filled: Rows, known: Mapping[str, Known], header_rows: int) -> list[Head]:
    """Find header rows from the top down: near the top, and wherever a blank row stands before."""
    heads: list[Head] = []
    for row in _candidates(sheet, filled, header_rows):
        last = heads[-1] if heads else None
        if last and row <= last.row:
            continue
        head = _head_at(sheet, row, known, last)
        if head is None:
            continue
        if last and head.first <= last.row + 1:  # rows that touch are one header: the better one stands
            if _score(head.headers) > _score(last.headers):
                heads[-1] = head
            continue
        heads.append(head)
    return heads


def _candidates(sheet: Sheet, filled: Rows, header_rows: int) -> list[int]:
    """Rows that may be headers."""
    blank = filled == 0
    after_blank = np.flatnonzero(~blank[1:] & blank[:-1]) + 1
    top = np.arange(min(header_rows + 10, sheet.grid.height))
    rows = np.unique(np.concatenate([top, after_blank, after_blank + 1, after_blank + 2]))
    rows = rows[rows < sheet.grid.height]
    found: list[int] = rows[filled[rows] > 1].tolist()
    return found


def _head_at(sheet: Sheet, row: int, known: Mapping[str, Known], before: Head | None) -> Head | None:
    """Read a grid row as a header, alone or with the row above as its groups or the row below as its second line."""
    above, this, below = sheet.row(row - 1), sheet.row(row), sheet.row(row + 1)
    if not _wordy(this):
        return None
    tried = [Head(row, row, _headers(sheet, this, ()))]
    if above and not (before and before.row >= row - 1) and _wordy(above, least=1):
        tried.append(Head(row, row - 1, _headers(sheet, this, _spread(sheet, row - 1, above, this))))
    if below and _wordy(below):
        tried.append(Head(row + 1, row, _headers(sheet, below, _spread(sheet, row, this, below))))
    for head in tried:
        if fingerprint(head.headers) in known:
            return head
    tried = [head for head in tried if _is_header(head.headers)]
    return max(tried, key=lambda h: _score(h.headers)) if tried else None


def _is_header(headers: Sequence[Header]) -> bool:
    """A header names enough columns of one table, in at least two of five of its cells, and hardly repeats itself."""
    told = [(h.group, h.text) for h in headers if h.text or h.group]
    if len(set(told)) < 0.7 * len(told):
        return False
    table = max(TABLES, key=lambda t: by_name(t, headers))
    named = sum(bool(matches(table, h.text, h.group)) for h in headers)
    return by_name(table, headers) >= ENOUGH and named >= 0.4 * len(told)


def _score(headers: Sequence[Header]) -> float:
    return max(by_name(table, headers) for table in TABLES)


def _wordy(cells: Cells, least: int = 2) -> bool:
    """A header is made of words: at least two cells, nearly all of them text that is no number."""
    filled = [cell for cell in cells if not is_blank(cell)]
    texts = [
        c for c in filled if isinstance(c, str) and not re.fullmatch(r"[\d.,/\-: £%]+", c.strip()) and len(c) < 200
    ]
    return len(texts) >= least and len(texts) >= 0.7 * len(filled)


def _headers(sheet: Sheet, cells: Cells, groups: Sequence[str]) -> tuple[Header, ...]:
    padded = [*groups, *[""] * (len(cells) - len(groups))]
    return tuple(
        Header(_text(cell), group, place, sheet.letter(place))
        for place, (cell, group) in enumerate(zip(cells, padded, strict=False))
    )


def _text(cell: object) -> str:
    return re.sub(r"\s+", " ", shown(cell)).strip()


def _spread(sheet: Sheet, row: int, groups: Cells, below: Cells) -> list[str]:
    """Carry each group cell over the columns that it heads: as far as it is merged, else to the next filled one."""
    merged = {(r, c): last for r, c, _, last in sheet.merged if r == row}
    spread: list[str] = []
    current, until = "", -1
    for place, cell in enumerate(groups):
        if not is_blank(cell):
            current, until = _text(cell), merged.get((row, place), -1 if merged else len(groups))
            until = max(until, place)
        spread.append(current if place <= until and place < len(below) else "")
    return spread


def _side_by_side(head: Head, sheet: Sheet) -> list[Head]:
    """Split a header where blank headers part it into several tables of ours."""
    runs: list[list[Header]] = [[]]
    for header in head.headers:
        if header.text or header.group:
            runs[-1].append(header)
        elif runs[-1]:
            runs.append([])
    runs = [run for run in runs if run]
    if len(runs) < 2 or sum(_score(run) >= ENOUGH for run in runs) < 2:
        return [head]
    return [replace(head, headers=tuple(run)) for run in runs if _score(run) >= ENOUGH]


def _data_rows(sheet: Sheet, found: ColumnMap, body: Rows, filled: Rows) -> tuple[Rows, list[str]]:
    """Keep the rows of data; say which rows were totals, notes or the header again."""
    if not len(body):
        return body, []
    places = sorted(c.header.column for c in found.chosen)
    odd = _odd_rows(sheet, places, body, filled[body])
    drop: dict[int, str] = {}
    for row, cells in zip(odd.tolist(), sheet.grid.rows(odd), strict=True):
        if kind := _not_data(cells, places):
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


def _is_number(cell: object) -> bool:
    return isinstance(cell, int | float) or bool(re.fullmatch(r"[£\s]*[(-]?[\d,]+(\.\d+)?\)?\s*%?", str(cell).strip()))


def _not_data(cells: Cells, places: Sequence[int]) -> str:
    """Tell a total or a note from a row of data; empty where it is data."""
    filled = [place for place, cell in enumerate(cells) if not is_blank(cell)]
    if not filled:
        return "a blank row"
    first = _text(cells[filled[0]])
    if TOTAL.match(first) and all(_is_number(cells[place]) for place in filled[1:]):
        return f"a total (“{first[:60]}”)"
    if len(filled) == 1 and len(places) > 1 and len(first.split()) > 2 and re.search("[A-Za-z]", first):
        return f"a note (“{first[:60]}”)"
    return ""


def _odd_rows(sheet: Sheet, places: Sequence[int], body: Rows, filled: Rows) -> Rows:
    """Rows that may be totals or notes: nearly empty ones, the last ones, and those that begin with such a word."""
    alone = np.flatnonzero(filled == 1)
    alone = alone if len(alone) < 2 * LOOKED_AT else np.concatenate([alone[:LOOKED_AT], alone[-LOOKED_AT:]])
    last = np.arange(max(0, len(body) - 30), len(body))
    summed = [np.flatnonzero(_begins_as_total(sheet.grid.column(place, body))) for place in places[:2]]
    rows: Rows = body[np.unique(np.concatenate([alone, last, *summed]))]
    return rows


def _begins_as_total(cells: pd.Series[Any]) -> npt.NDArray[np.bool_]:
    if not isinstance(cells.dtype, pd.StringDtype):
        cells = cells.map(lambda cell: cell if isinstance(cell, str) else "").astype("str")
    hits = pc.match_substring_regex(pa.array(cells, from_pandas=True), TOTAL.pattern, ignore_case=True)
    return np.asarray(pc.fill_null(hits, False).to_numpy(zero_copy_only=False), dtype=bool)


def _header_again(sheet: Sheet, found: ColumnMap, body: Rows) -> list[int]:
    """Rows further down that repeat the header, as on every printed page."""
    again = np.ones(len(body), dtype=bool)
    for header in [c.header for c in found.chosen if c.header.text][:3]:
        again &= (sheet.grid.column(header.column, body) == header.text).fillna(False).to_numpy(dtype=bool)
        if not again.any():
            return []
    rows: list[int] = body[again].tolist()
    return rows


def _refuse_sideways(sheet: Sheet) -> None:
    """Refuse a table whose headers run down a column."""
    top = sheet.grid.rows(np.arange(min(80, sheet.grid.height)))
    for place in range(min(3, sheet.grid.width)):
        labels = [row[place] for row in top]
        if not _wordy(labels):
            continue
        headers = [Header(_text(label)) for label in labels if not is_blank(label)]
        named = {m.column for h in headers for t in TABLES for m in matches(t, h.text)[:1]}
        if (
            len(headers) >= 3
            and len({key(h.text) for h in headers}) == len(headers)
            and (_score(headers) >= ENOUGH or (len(named) >= 3 and sheet.grid.width > 3))
        ):
            raise CannotUse(
                f"{sheet.place}: the table lies on its side, its headers run down column {sheet.letter(place)}; copy it, "
                "paste it with 'transpose' so that the headers run along one row, and save."
            )


__all__ = ["Found", "RawTable", "Unclear", "find_tables", "unclear_sentence"]
