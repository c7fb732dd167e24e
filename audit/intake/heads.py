"""Find the header rows of a sheet: one or two rows of words that name columns of ours, wherever they stand."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from audit.errors import CannotUse
from audit.intake.columns import Header, Known, fingerprint
from audit.intake.headers import address_part, key, matches
from audit.intake.matching import TABLES, by_name
from audit.intake.sheet import Cells, Rows, Sheet, is_blank, shown

ENOUGH = 2.4  # score of header words that makes a row a header: a required column and another, or three others
SHARE_NAMED = 0.4  # of a header's cells, this many name columns; data rows hit a header word now and then
SHARE_DISTINCT = 0.7
LONGEST, USUAL = 200, 40  # characters; no header is longer, few are
NUMBER = re.compile(r"[\d.,/\-: £%]+")


@dataclass(frozen=True)
class Head:
    """A header found: its first and last grid row, and its cells."""

    first: int
    row: int
    headers: tuple[Header, ...]

    @property
    def score(self) -> float:
        """How well its words name the columns of the table that they fit best."""
        return max(by_name(table, self.headers) for table in TABLES)

    @property
    def columns(self) -> list[int]:
        """The grid columns that it heads."""
        return [header.column for header in self.headers]


def find_heads(sheet: Sheet, filled: Rows, known: Mapping[str, Known], header_rows: int) -> list[Head]:
    """Find header rows from the top down: near the top, and wherever a blank row stands before.

    Args:
        sheet: The sheet as read.
        filled: How many cells of each grid row are filled.
        known: Header rows that a columns.toml explains, by fingerprint.
        header_rows: How many rows from the top a header is looked for.
    """
    heads: list[Head] = []
    seen: dict[str, bool] = {}
    rows = _candidates(filled, header_rows)
    for row, cells in zip(rows.tolist(), sheet.grid.rows(rows), strict=True):
        last = heads[-1] if heads else None
        if (last and row <= last.row) or (row > header_rows and not known and not _has_header_words(cells, seen)):
            continue
        head = _head_at(sheet, row, known, last)
        if head is None:
            continue
        if last and head.first <= last.row + 1:  # rows that touch are one header: the better one stands
            if head.score > last.score:
                heads[-1] = head
            continue
        heads.append(head)
    return heads


def likely_head(sheet: Sheet) -> Head | None:
    """The first row that looks like a header of whatever: several different words over a row as full."""
    filled = sheet.grid.filled()
    for row in range(min(30, sheet.grid.height - 1)):
        cells = sheet.row(row)
        texts = [words_of(cell) for cell in cells if not is_blank(cell)]
        if _wordy(cells) and len(set(texts)) == len(texts) and 2 * filled[row + 1] >= filled[row]:
            return Head(row, row, headers_of(sheet, cells, ()))
    return None


def _candidates(filled: Rows, header_rows: int) -> Rows:
    """Rows that may be headers: the top ones, those after a blank row, and those below a title after a blank row."""
    blank = filled == 0
    after = np.flatnonzero(~blank[1:] & blank[:-1]) + 1
    rows = [np.arange(min(header_rows + 1, len(filled))), after]
    for _ in range(3):
        title = rows[-1][filled[rows[-1]] <= 2]
        rows.append(title[title + 1 < len(filled)] + 1)
    every = np.unique(np.concatenate(rows))
    found: Rows = every[filled[every] > 1]
    return found


def _has_header_words(cells: Cells, seen: dict[str, bool]) -> bool:
    """Tell whether two cells at least are usual headers; quick, for any blank row may hide a header after it.

    `seen` keeps the answer for each text; a text that begins or ends with a digit is data.
    """
    hits = 0
    for cell in cells:
        if not isinstance(cell, str) or not cell or cell[0].isdigit() or cell[-1].isdigit() or len(cell) > USUAL:
            continue
        if cell not in seen:
            seen[cell] = any(matches(table, cell) for table in TABLES)
        hits += seen[cell]
        if hits == 2:
            return True
    return False


def _head_at(sheet: Sheet, row: int, known: Mapping[str, Known], before: Head | None) -> Head | None:
    """Read a grid row as a header, alone or with the row above as its groups or the row below as its second line."""
    above, this, below = sheet.row(row - 1), sheet.row(row), sheet.row(row + 1)
    if not _wordy(this):
        return None
    tried = [Head(row, row, headers_of(sheet, this, ()))]
    if _wordy(above, least=1) and not (before and before.row >= row - 1):
        tried.append(Head(row - 1, row, headers_of(sheet, this, _spread(sheet, row - 1, above, this))))
    if _wordy(below):
        tried.append(Head(row, row + 1, headers_of(sheet, below, _spread(sheet, row, this, below))))
    for head in tried:
        if fingerprint(head.headers) in known:
            return head
    tried = [head for head in tried if _is_header(head)]
    return max(tried, key=lambda head: head.score) if tried else None


def _is_header(head: Head) -> bool:
    """A header names enough columns of one table, in at least two of five of its cells, and hardly repeats itself."""
    told = [(h.group, h.text) for h in head.headers if h.text or h.group]
    if len(set(told)) < SHARE_DISTINCT * len(told):
        return False
    table = max(TABLES, key=lambda t: by_name(t, head.headers))
    named = sum(bool(matches(table, h.text, h.group)) or address_part(h.text) for h in head.headers)
    return by_name(table, head.headers) >= ENOUGH and named >= SHARE_NAMED * len(told)


def _wordy(cells: Cells, least: int = 2) -> bool:
    """A header is made of words: at least two cells, nearly all of them text that is no number."""
    filled = [cell for cell in cells if not is_blank(cell)]
    texts = [c for c in filled if isinstance(c, str) and len(c) < LONGEST and not NUMBER.fullmatch(c.strip())]
    return len(texts) >= least and len(texts) >= 0.7 * len(filled)


def headers_of(sheet: Sheet, cells: Cells, groups: Sequence[str]) -> tuple[Header, ...]:
    """Name the cells of a header row, each with the group cell above it."""
    padded = [*groups, *[""] * (len(cells) - len(groups))]
    return tuple(
        Header(words_of(cell), group, place, sheet.letter(place))
        for place, (cell, group) in enumerate(zip(cells, padded, strict=False))
    )


def words_of(cell: object) -> str:
    """The words of a cell on one line."""
    return re.sub(r"\s+", " ", shown(cell)).strip()


def _spread(sheet: Sheet, row: int, groups: Cells, below: Cells) -> list[str]:
    """Carry each group cell over the columns that it heads: as far as it is merged, else to the next filled one."""
    merged = {column: last for first, column, end, last in sheet.merged if first <= row <= end}
    spread: list[str] = []
    current, until = "", -1
    for place, cell in enumerate(groups):
        if not is_blank(cell):
            current, until = words_of(cell), merged.get(place, place if merged else len(groups))
        spread.append(current if place <= until and place < len(below) else "")
    return spread


def side_by_side(head: Head) -> list[Head]:
    """Split a header where columns without a header part it into several tables of ours."""
    runs = [run for run in _runs(head.headers) if run]
    parts = [replace(head, headers=tuple(run)) for run in runs]
    several = [part for part in parts if _is_header(part)]
    return several if len(several) > 1 else [head]


def _runs(headers: Sequence[Header]) -> Iterator[list[Header]]:
    run: list[Header] = []
    for header in headers:
        if header.text or header.group:
            run.append(header)
        else:
            yield run
            run = []
    yield run


def refuse_sideways(sheet: Sheet) -> None:
    """Refuse a table whose headers run down a column.

    Raises:
        CannotUse: there is such a table; the sentence says how to turn it.
    """
    top = sheet.grid.rows(np.arange(min(80, sheet.grid.height)))
    for place in range(min(3, sheet.grid.width)):
        labels = [row[place] for row in top if not is_blank(row[place])]
        if _runs_down(labels, [row[place + 1 :] for row in top if not is_blank(row[place])]):
            raise CannotUse(
                f"{sheet.place}: the table lies on its side, its headers run down column {sheet.letter(place)}; copy "
                "it, paste it with 'transpose' so that the headers run along one row, and save."
            )


def _runs_down(labels: Cells, rows: Sequence[Cells]) -> bool:
    """Headers run down where a column's words name columns of ours, or where rows are of one kind and columns not."""
    if not _wordy(labels) or len({key(words_of(label)) for label in labels}) < SHARE_DISTINCT * len(labels):
        return False
    told = [words_of(label) for label in labels]
    head = Head(0, 0, tuple(Header(text) for text in told if len(text) > 1))  # x and y are names of columns, and data
    if _is_header(head):
        return True
    if len(rows) < 4 or max(map(len, rows)) < 3:
        return False
    named = {m.column for h in head.headers for t in TABLES for m in matches(t, h.text)[:1]}
    down = list(zip(*rows[1:], strict=False))  # without the first row, which may be a header after all
    return len(named) >= 3 and _one_kind(rows) > 0.9 > 0.7 > _one_kind(down)


def _one_kind(lines: Sequence[Cells]) -> float:
    """The share of lines whose filled cells are all of one kind: number, date or word."""
    kinds = [{_kind(cell) for cell in line if not is_blank(cell)} for line in lines]
    kinds = [kind for kind in kinds if kind]
    return sum(len(kind) == 1 for kind in kinds) / len(kinds) if kinds else 0.0


def _kind(cell: object) -> str:
    text = words_of(cell)
    if re.fullmatch(r"[-+£]?[\d,]+(\.\d+)?", text):
        return "number"
    return "date" if re.match(r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}", text) else "word"
