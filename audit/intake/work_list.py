"""Workbooks and tables that this program wrote: a work list is read back, all else is passed over.

The teams' sheets give visits, one for each piece of work; the sheets Visits and Left out say what the planner settled.
Whatever else stands in our files are results, which are never read as data.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import pandas as pd

from audit.intake.columns import OWN, Choice, ColumnMap, Header
from audit.intake.former_plan import joined, read_plan
from audit.intake.heads import words_of
from audit.intake.own_cells import TOP, column, own_date
from audit.intake.own_cells import cells as cells_of
from audit.intake.own_cells import columns as columns_of
from audit.intake.sheet import ObjectGrid, Rows, Sheet
from audit.intake.tables import RawTable
from audit.intake.values import parse
from audit.policy import Policy
from schemas import work_list as words
from schemas.column import Column
from schemas.results import RESULT_COLUMNS
from schemas.sentences import ToDo
from schemas.tables import COLUMNS

ENDED: Final = ("fixed", "temporary", "no_fault_found")  # outcomes after which nobody has to come again
TEAM_KNOWN: Final = ("visit_number", "work", "outcome", "done_on")  # headers that make a sheet a team's
PLANNER_KNOWN: Final = ("visit_number", "include", "home_id", "why")  # and the planner's
KNOWN_COLUMNS: Final = 5  # columns by which a table of results is known
Piece = tuple[str | None, str | None, str | None]  # valve, action, rules whose findings it puts right
STAYS: Final = re.compile(
    r"\b(?:(?:fault|problem|defect|leak|danger|it) (?:still )?(?:stays|remains|persists|is still there|still there)"
    r"|still (?:faulty|there|not|no (?:heat|hot)|leak\w*|pass\w*|stick\w*|stuck|to (?:be )?do(?:ne)?|wrong|too)"
    r"|not (?:yet )?(?:done|fixed|cured|mended|put right|re-?made|finished|completed?|changed|moved|fitted|replaced)"
    r"|(?:could|did) ?n[o']t|un(?:able|finished|resolved)|to be done|left (?:as is|as it (?:is|was)|undone)"
    r"|nothing (?:was )?done|return visit|needs? (?:another|a return|a second|follow))\b",
    re.I,
)
READING: Final = re.compile(r"\b(" + "|".join(words.READINGS) + r")\b[\s:=]*", re.I)


@dataclass
class Own:
    """What was read of a file of ours: visits, the last plan, and what has to be said."""

    tables: list[RawTable] = field(default_factory=list)
    former: list[pd.DataFrame] = field(default_factory=list)
    as_of: pd.Timestamp | None = None  # the list's own date, where its first sheet says so
    said: list[str] = field(default_factory=list)


def own(sheets: Sequence[Sheet], policy: Policy) -> Own | None:
    """Read a file of ours; None where somebody else wrote it."""
    if not sheets:
        return None
    found = Own()
    place = sheets[0].file
    teams = [(sheet, at) for sheet in sheets if (at := _header(sheet, words.TEAM, TEAM_KNOWN)) is not None]
    plans = [(sheet, at) for sheet in sheets if (at := _header(sheet, words.PLANNER, PLANNER_KNOWN)) is not None]
    if not teams and not plans:
        title = _title(sheets)
        found.said = [f"{place}: passed over, {title}; only a work list that was filled in is read back."]
        return found if title else None
    found.as_of = own_date(sheets)
    outcomes = [_read_team(found, sheet, at, policy) for sheet, at in teams]
    former = [read_plan(found.said, sheet, at, policy) for sheet, at in plans]
    found.former = [plan.assign(as_of=found.as_of) for plan in joined(former, outcomes)]
    before = [(sheet, at) for sheet in sheets if (at := _done_header(sheet)) is not None]
    found.tables += [_read_done(sheet, at) for sheet, at in before]
    read = ", ".join(f"'{sheet.name}'" for sheet, _ in (*plans, *teams, *before))
    more = len(sheets) > len(plans) + len(teams) + len(before)
    rest = "; its other sheets are results and were not read" if more else ""
    said = f"{place}: a work list of ours: outcomes and the planner's choices were read from {read}{rest}."
    found.said.insert(0, said)
    return found


def _done_header(sheet: Sheet) -> int | None:
    """The grid row with the headers of what was done before; None on any other sheet."""
    if sheet.name != words.DONE_BEFORE or not isinstance(sheet.grid, ObjectGrid):
        return None
    rows = range(min(TOP, sheet.grid.height))
    return next((r for r in rows if set(words.DONE_KNOWN) <= {words_of(cell) for cell in sheet.row(r)}), None)


def _read_done(sheet: Sheet, header: int) -> RawTable:
    """The visits of earlier lists, read as any log is."""
    labels = [words_of(cell) for cell in sheet.row(header)]
    headers = {words.done_header(column.name): column.name for column in COLUMNS["visits"]}
    chosen = tuple(
        Choice(headers[label], Header(label, "", at, sheet.letter(at)), 1.0, "a sheet of ours")
        for at, label in enumerate(labels)
        if label in headers and label not in labels[:at]
    )
    rows: Rows = np.arange(header + 1, sheet.grid.height)
    homes = cells_of(sheet, labels.index(words.done_header("home_id")), rows)
    rows = rows[np.array([home is not None for home in homes], dtype=bool)]
    return RawTable(sheet, ColumnMap(sheet.file, sheet.name, sheet.row_number(header), "visits", OWN, chosen), rows)


def _title(sheets: Sequence[Sheet]) -> str:
    """What a file of results is; empty where it is none of ours."""
    first = sheets[0]
    top = [words_of(cell) for cell in first.row(0)] if first.grid.height else []
    for name, title in words.TITLES.items():
        if first.name in words.FRONT and top[:1] == [title]:
            return f"it is the {name} of an earlier audit"
    for name, columns in RESULT_COLUMNS.items():
        known = [column.name for column in columns[:KNOWN_COLUMNS]]
        if not first.name and top[: len(known)] == known:
            return f"it is the table {name} of an earlier audit"
    return ""


def _header(sheet: Sheet, names: Mapping[str, str], wanted: Sequence[str]) -> int | None:
    """The grid row that has all the headers wanted."""
    if not isinstance(sheet.grid, ObjectGrid):
        return None
    headers = {names[name] for name in wanted}
    for row in range(min(TOP, sheet.grid.height)):
        if headers <= {words_of(cell) for cell in sheet.row(row)}:
            return row
    return None


def _parsed(cells: Any, column: Column, policy: Policy, sheet: Sheet) -> pd.Series[Any]:
    return parse(pd.Series(cells, dtype=object), column, epoch_1904=sheet.epoch_1904, policy=policy).values


def _read_team(found: Own, sheet: Sheet, header: int, policy: Policy) -> pd.DataFrame:
    """Add a team's rows that were filled in as visits; returns number, outcome and day of each."""
    at = columns_of(sheet, header, words.TEAM)
    rows: Rows = np.arange(header + 1, sheet.grid.height)
    nothing = np.full(len(rows), None, dtype=object)
    cells = {name: cells_of(sheet, at[name], rows) if name in at else nothing for name in words.TEAM}
    at = dict.fromkeys(words.TEAM, at["visit_number"]) | at
    readings = [_readings(cell) for cell in cells["readings"]]
    ticked = np.array([cell is not None and words_of(cell) != words.BOX for cell in cells["done"]], dtype=bool)
    told = np.array([bool(reading) for reading in readings], dtype=bool)
    for name in ("outcome", "done_on", "earthed", "notes"):
        told |= np.array([cell is not None for cell in cells[name]], dtype=bool)
    used = np.flatnonzero((told | ticked) & np.array([cell is not None for cell in cells["visit_number"]], dtype=bool))
    lost = int((told | ticked).sum()) - len(used)
    if lost:
        found.said.append(
            ToDo(f"{sheet.place}: filled in but without a visit number, so not read: {lost:,} of its rows.")
        )
    outcome = _parsed(cells["outcome"], column("visits", "outcome"), policy, sheet)
    day = _parsed(cells["done_on"], column("homes", "gas_check_due"), policy, sheet)
    open_ended = int((ticked[used] & outcome.isna().to_numpy()[used]).sum())
    if open_ended:
        found.said.append(
            ToDo(
                f"{sheet.place}: ticked as done but without an outcome: {open_ended:,} of its rows; their work is not "
                "taken as done: write the outcome."
            )
        )
    filled = _Filled(sheet, header, at, rows[used], {name: cell[used] for name, cell in cells.items()})
    seen = (outcome.iloc[used].reset_index(drop=True), day.iloc[used].reset_index(drop=True))
    found.tables += filled.tables(*seen, [readings[row] for row in used])
    numbers = [words_of(cell) for cell in cells["visit_number"][used]]
    found_there = {
        "visit_number": numbers,
        "outcome": outcome.array[used],
        "done_on": day.array[used],
        "unused": _unused(cells["done_on"][used], day.iloc[used], found.as_of),
        "puts_right": [None if cell is None else words_of(cell) for cell in cells["puts_right"][used]],
        "denied": ["yes" if stays(cell) else None for cell in cells["notes"][used]],
    }
    return pd.DataFrame(found_there)


def _unused(cells: Any, day: pd.Series, as_of: pd.Timestamp | None) -> list[str | None]:
    """Why a row that was filled in cannot be used, for its day; None where it can."""
    told: list[str | None] = []
    for cell, on in zip(cells, day, strict=True):
        if cell is None:
            told.append("no day was written")
        elif on is pd.NaT:
            told.append(f"its day, “{words_of(cell)}”, cannot be read")
        elif as_of is not None and on < as_of:
            told.append(f"its day, {on.day} {on:%b %Y}, is before the list's own date, {as_of.day} {as_of:%b %Y}")
        else:
            told.append(None)
    return told


def _readings(cell: object) -> dict[str, str]:
    """What stands behind each word in the cell of readings, by column of visits; a bare number is asked about."""
    pieces = READING.split("" if cell is None else str(cell))
    found = {words.READINGS[word.lower()]: _plain(text) for word, text in zip(pieces[1::2], pieces[2::2], strict=True)}
    read = {name: text for name, text in found.items() if text}
    if stray := _plain(pieces[0]):
        read.setdefault("location_temp_c", f"{stray}: air, flow, store or tap?")
    return read


def _plain(text: str) -> str:
    """A reading without the line it was written on and the marks around it."""
    return re.sub(r"[_\s]+", " ", text).strip(" ,;./")


@dataclass(frozen=True)
class _Filled:
    """The filled-in rows of a team's sheet: grid rows, and the cells of each column of ours."""

    sheet: Sheet
    header: int
    at: Mapping[str, int]
    rows: Rows
    cells: Mapping[str, Any]

    def tables(self, outcome: pd.Series, day: pd.Series, readings: Sequence[Mapping[str, str]]) -> list[RawTable]:
        """Make tables of visits: the first has each row's first piece of work, the next its second, and so on."""
        if not len(self.rows):
            return []
        cells = zip(self.cells["work"], self.cells["puts_right"], strict=True)
        work = [_pieces(done, rules) for done, rules in cells]
        return [self._table(turn, work, outcome, day, readings) for turn in range(max(len(pieces) for pieces in work))]

    def _table(
        self,
        turn: int,
        every: Sequence[Sequence[Piece]],
        outcome: pd.Series,
        day: pd.Series,
        readings: Sequence[Mapping[str, str]],
    ) -> RawTable:
        work = [pieces[turn : turn + 1] for pieces in every]
        has = np.array([bool(piece) for piece in work], dtype=bool)
        dates = day.dt.strftime("%Y%m%d").fillna("UNDATED")
        ended, fixed = outcome.isin(ENDED), outcome.eq("fixed")
        right = fixed & ~np.array([stays(note) for note in self.cells["notes"]], dtype=bool)
        number = pd.Series([words_of(cell) for cell in self.cells["visit_number"]])
        home = number.str.replace(r"-P\d+$", "", regex=True)
        pieces = [piece[0] if piece else (None, None, None) for piece in work]
        action = pd.Series([what for _, what, _ in pieces], dtype=object).where(fixed, None)
        action = action.mask(outcome.eq("no_fault_found"), "none")
        proofs = [proof if _asks(row, turn) else None for proof, row in zip(self.cells["earthed"], every, strict=True)]
        values: dict[str, tuple[str, Any]] = {  # column of visits: header of the sheet, cells
            "visit_id": ("visit_number", number + "-" + dates + (f"-{turn + 1}" if turn else "")),
            "home_id": ("visit_number", home),
            "valve_id": ("work", [valve for valve, _, _ in pieces]),
            "reported": ("done_on", self.cells["done_on"]),
            "attended": ("done_on", day),
            "completed": ("done_on", day.where(ended)),
            "kind": ("outcome", ["planned"] * len(has)),
            "outcome": ("outcome", self.cells["outcome"]),
            "action": ("work", action),
            "rules_put_right": (
                "puts_right",
                pd.Series([rules for *_, rules in pieces], dtype=object).where(right, None),
            ),
            "earthed": ("earthed", proofs),
        }
        told = [_told_at(pieces) == turn for pieces in every]  # what is told of the home is told once
        notes = [note if here else None for note, here in zip(self.cells["notes"], told, strict=True)]
        values["notes"] = ("notes", notes)
        if not turn:
            for name in words.READINGS.values():
                values[name] = ("readings", [reading.get(name) for reading in readings])
        grid = np.full((self.sheet.grid.height, len(values)), "", dtype=object)
        for place, (_, cells) in enumerate(values.values()):
            grid[self.rows, place] = ["" if _missing(cell) else cell for cell in _objects(cells)]
        return RawTable(self._sheet(grid), self._map({name: of for name, (of, _) in values.items()}), self.rows[has])

    def _sheet(self, grid: Any) -> Sheet:
        return Sheet(
            self.sheet.file, self.sheet.name, ObjectGrid(grid), self.sheet.first_row, epoch_1904=self.sheet.epoch_1904
        )

    def _map(self, headers: Mapping[str, str]) -> ColumnMap:
        chosen = tuple(
            Choice(name, Header(words.TEAM[of], "", place, self.sheet.letter(self.at[of])), 1.0, "a sheet of ours")
            for place, (name, of) in enumerate(headers.items())
        )
        row = self.sheet.row_number(self.header)
        return ColumnMap(self.sheet.file, self.sheet.name, row, "visits", OWN, chosen)


def _asks(pieces: Sequence[Piece], turn: int) -> bool:
    """Whether the box for the earth speaks of this piece of work: of the work on an earth, else of all of it."""
    earth = [what == "earth" for _, what, _ in pieces]
    return turn < len(pieces) and (earth[turn] or not any(earth))


def _told_at(pieces: Sequence[Piece]) -> int:
    """The piece of work that the notes of a row stand with: the first on an earth, since a danger is never lost."""
    return next((turn for turn, (_, what, _) in enumerate(pieces) if what == "earth"), 0)


def _objects(cells: Any) -> list[Any]:
    return list(pd.Series(cells).astype(object))


def _missing(cell: object) -> bool:
    return cell is None or cell is pd.NaT or cell != cell


def _pieces(work: object, rules: object) -> list[Piece]:
    """The texts 'valve = action, action; …' and 'valve = rule, rule; …' as pieces of work; one of nothing at least.

    The rules stand with the first piece of their valve.
    """
    right = {of: text for of, text in _by_valve(rules) if text}
    found: list[Piece] = []
    for of, actions in _by_valve(work):
        found += [
            (of, None if action == words.OTHER else action, right.pop(of, None)) for action in actions.split(", ")
        ]
    return found or [(None, None, None)]


def _by_valve(cell: object) -> list[tuple[str | None, str]]:
    """The text 'valve = told; …' as pairs; None in place of a valve where it is the home's system."""
    parts = [part.rpartition(" = ") for part in words_of(cell).split("; ")] if cell is not None else []
    return [(None if valve in ("", words.HOME) else valve, told) for valve, _, told in parts]


def stays(note: object) -> bool:
    """Whether a note says that a fault stays, or that something was not done: "not" and "no" elsewhere do not tell."""
    return note is not None and STAYS.search(words_of(note)) is not None
