"""Many notes read at once: each distinct piece of text and each clause in its setting once, the rest as arrays.

Gives for every note what `Reader.read` gives for one; a test holds the two together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from typing import Any, Generic, NamedTuple, TypeVar

import numpy as np
import pandas as pd

from audit.intake.notes_meaning import CLAUSE, Clause, Meanings, Statement, Valves
from audit.intake.notes_phrases import BLAMED, Before
from audit.intake.notes_table import COLUMNS
from audit.intake.notes_words import LAST, PIECE_END, Lexicon, Tagged

T = TypeVar("T")
Numbers = np.ndarray[tuple[int, ...], np.dtype[np.int64]]
Texts = np.ndarray[tuple[int, ...], np.dtype[np.object_]]


class Told(NamedTuple):
    """What notes say in one column, or do not say: numbers of the notes, the values, and the words that say them."""

    notes: Numbers
    values: Texts
    phrases: Texts


class Many(NamedTuple):
    """What notes say by column, and the clauses that no phrase touched (values are empty)."""

    columns: dict[str, Told]
    untouched: Told


class _Terms(NamedTuple):
    """The terms of all notes in a row: note, place in the note's text, and what is the same wherever the words are."""

    note: Numbers
    start: Numbers
    end: Numbers
    piece: Numbers  # counted through all notes
    same: Numbers  # one number for each term of each distinct piece


class _Clauses(NamedTuple):
    """The clauses of all notes in a row: note, first term, number of the clause with those that follow."""

    note: Numbers
    begin: Numbers
    window: Numbers
    windows: list[tuple[str, str]]  # codes of a clause and of those that follow


class _Fold(NamedTuple):
    """Each clause read: which reading, and the terms where the only part and the part blamed before it stand."""

    reading: Numbers
    only: Numbers
    blamed: Numbers
    readings: list[Clause]
    together: Numbers  # by note
    togethers: list[tuple[tuple[Statement, ...], Valves, bool]]


def read_many(
    texts: Sequence[str], lexicon: Lexicon, meanings: Meanings, columns_read: Iterable[str] = tuple(COLUMNS)
) -> Many:
    """Read distinct notes, none longer than what is read of a note."""
    if not len(texts):
        nothing = Told(np.zeros(0, np.int64), np.zeros(0, object), np.zeros(0, object))
        return Many(dict.fromkeys(columns_read, nothing), nothing)
    terms, clauses = _cut(texts, lexicon, meanings.table.reach)
    fold = _fold(clauses, len(texts), meanings)
    spans, first = _spans(clauses, fold, len(texts))
    settled = [meanings.settled(*one) for one in fold.togethers]
    columns = {}
    for column in columns_read:
        said = [next(((value, by) for name, value, by in one if name == column), ("", ())) for one in settled]
        notes = np.flatnonzero(np.array([bool(by) for _, by in said])[fold.together])
        together = fold.together[notes]
        orders = _table([by for _, by in said])[together]
        places = [np.where(one >= 0, first[notes] + one, -1) for one in orders.T]
        columns[column] = Told(
            notes,
            np.array([value for value, _ in said], dtype=object)[together],
            _words(texts, terms, notes, [span for place in places for span in spans(place)]),
        )
    untouched, _ = _ragged([one.untouched for one in fold.readings], fold.reading, 2)
    left = np.array([bool(one.untouched) for one in fold.readings], dtype=bool)
    at = np.flatnonzero(left[fold.reading])
    low, high = (clauses.begin[at] + side for side in untouched.T)
    words = _words(texts, terms, clauses.note[at], [(low, high)])
    return Many(columns, Told(clauses.note[at], np.full(len(at), "", dtype=object), words))


def _cut(texts: Sequence[str], lexicon: Lexicon, reach: Callable[[str], int]) -> tuple[_Terms, _Clauses]:
    """Cut notes into pieces of text that no term reaches over, each distinct one tagged once."""
    plain = LAST.join(text.replace(LAST, " ") for text in texts) + LAST
    ends = [0, *[found.end() for found in PIECE_END.finditer(plain)]]
    pieces = [plain[begin:end] for begin, end in pairwise(ends)]
    piece, distinct = pd.factorize(np.array(pieces, dtype=object))
    last = np.array([text.endswith(LAST) for text in distinct])
    tagged = [lexicon.tag(text[:-1] if text.endswith(LAST) else text + " ") for text in distinct]
    note = np.cumsum(last[piece]) - last[piece]
    length = (np.array([len(text) for text in distinct]) - last)[piece]
    begins = np.cumsum(length) - length
    begins -= begins[np.flatnonzero(np.diff(note, prepend=-1))][note]
    return _terms(piece, note, begins, tagged), _clauses(piece, note, tagged, reach)


def _terms(piece: Numbers, note: Numbers, begins: Numbers, tagged: list[Tagged]) -> _Terms:
    places = [[(b + s, b + e) for b, s, e in zip(one.begins, one.starts, one.ends, strict=True)] for one in tagged]
    place, owner = _ragged(places, piece, 2)
    sizes = np.array([len(one.codes) for one in tagged])
    offsets = (np.cumsum(sizes) - sizes)[piece]
    counts = sizes[piece]
    within = np.arange(len(owner)) - (np.cumsum(counts) - counts)[owner]
    start, end = (begins[owner] + side for side in place.T)
    return _Terms(note[owner], start, end, owner, offsets[owner] + within)


def _clauses(piece: Numbers, note: Numbers, tagged: list[Tagged], reach: Callable[[str], int]) -> _Clauses:
    of_piece = [CLAUSE.findall(one.codes) for one in tagged]
    numbers: dict[str, int] = {}
    table = [[(numbers.setdefault(clause, len(numbers)),) for clause in found] for found in of_piece]
    flat, owner = _ragged(table, piece, 1)
    clause, names, of_note = flat[:, 0], list(numbers), note[owner]
    size = np.array([len(name) for name in names], dtype=np.int64)[clause]
    reaches = np.array([reach(name) for name in names], dtype=np.int64)
    sides = [clause]
    for step in range(1, reaches.max(initial=0) + 1):
        after, same = np.full(len(clause), -1), of_note[step:] == of_note[:-step]
        after[:-step] = np.where(same & (reaches[clause[:-step]] >= step), clause[step:], -1)
        sides.append(after)
    window, example = _numbered(sides)
    windows = [
        (names[own], "".join(names[one] for one in rest if one >= 0))
        for own, *rest in zip(*(side[example].tolist() for side in sides), strict=True)
    ]
    return _Clauses(of_note, np.cumsum(size) - size, window, windows)


def _fold(clauses: _Clauses, count: int, meanings: Meanings) -> _Fold:
    """Read the clauses of all notes: the first of each, the second of each, and so on."""
    states, readings, togethers = _Kept[Before](), _Kept[Clause](), _Kept[Any]()
    state = np.full(count, states.number(Before()))
    together = np.full(count, togethers.number(((), Valves(frozenset(), frozenset()), True)))
    reading, only, blamed = (np.zeros(len(clauses.note), np.int64) for _ in range(3))
    only_now, blamed_now = np.zeros(count, np.int64), np.zeros(count, np.int64)
    order = _within(clauses.note)
    by_order = np.argsort(order, kind="stable")
    for at in np.split(by_order, np.cumsum(np.bincount(order))[:-1]) if len(order) else []:
        note = clauses.note[at]
        pair, example = _numbered([state[note], clauses.window[at]])
        read = [
            meanings.clause(*clauses.windows[window], states.all[before])
            for before, window in zip(state[note][example].tolist(), clauses.window[at][example].tolist(), strict=True)
        ]
        reading[at] = np.array([readings.number(one) for one in read])[pair]
        state[note] = np.array([states.number(one.after) for one in read])[pair]
        pair, example = _numbered([together[note], reading[at]])
        joined = [
            togethers.number(_joined(togethers.all[so_far], readings.all[one]))
            for so_far, one in zip(together[note][example].tolist(), reading[at][example].tolist(), strict=True)
        ]
        together[note] = np.array(joined)[pair]
        only[at], blamed[at] = only_now[note], blamed_now[note]
        places = np.array([(one.only_at, one.blamed_at) for one in readings.all])[reading[at]]
        only_now[note], blamed_now[note] = (
            np.where(place >= 0, clauses.begin[at] + place, np.where(place == BLAMED, blamed[at], only[at]))
            for place in places.T
        )
    return _Fold(reading, only, blamed, readings.all, together, togethers.all)


def _joined(so_far: Any, clause: Clause) -> tuple[tuple[Statement, ...], Valves, bool]:
    statements, valves, understood = so_far
    both = Valves(valves.kinds | clause.valves.kinds, valves.sizes | clause.valves.sizes)
    return statements + clause.statements, both, understood and not clause.untouched


def _spans(
    clauses: _Clauses, fold: _Fold, count: int
) -> tuple[Callable[[Numbers], list[tuple[Numbers, Numbers]]], Numbers]:
    """Return what gives the terms of statements, by their number through all notes; and each note's first number."""
    place, owner = _ragged([one.places for one in fold.readings], fold.reading, 3)
    begin = clauses.begin[owner]
    part, first, last = place.T
    earlier = np.where(part == BLAMED, fold.blamed[owner], fold.only[owner])
    part_at = np.where(part < first, np.where(part >= 0, begin + part, earlier), -1)
    counts = np.bincount(clauses.note[owner], minlength=count)

    def spans(numbers: Numbers) -> list[tuple[Numbers, Numbers]]:
        """Return the first and last term of the part, where it stands before, and of the phrase; -1: none."""
        if not len(begin):
            return []
        part, low, high = (np.where(numbers >= 0, side[numbers], -1) for side in (part_at, begin + first, begin + last))
        return [(part, part), (low, high)]

    return spans, np.cumsum(counts) - counts


def _words(texts: Sequence[str], terms: _Terms, notes: Numbers, spans: list[tuple[Numbers, Numbers]]) -> Texts:
    """Return the words of the notes from the first to the last term of each span; the same pieces are cut once."""
    if not len(notes):
        return np.zeros(0, object)
    keys = []
    for low, high in spans:
        crosses = terms.piece[low] != terms.piece[high]
        keys += [np.where(low < 0, -1, terms.same[low]), np.where(crosses, -2 - notes, terms.same[high])]
    word, example = _numbered(keys)
    chosen = zip(*(side[example].tolist() for span in spans for side in span), strict=True)
    found = []
    for note, sides in zip(notes[example].tolist(), chosen, strict=True):
        pairs = dict.fromkeys(zip(sides[::2], sides[1::2], strict=True))
        text = texts[note]
        cut = (text[terms.start[low] : terms.end[high]] for low, high in pairs if low >= 0)
        found.append(" … ".join(" ".join(piece.split()) for piece in cut))
    return np.array(found, dtype=object)[word]


class _Kept(Generic[T]):
    """Distinct things in the order met, each with its number."""

    def __init__(self) -> None:
        self.all: list[T] = []
        self._numbers: dict[T, int] = {}

    def number(self, one: T) -> int:
        number = self._numbers.setdefault(one, len(self.all))
        if number == len(self.all):
            self.all.append(one)
        return number


def _numbered(sides: Iterable[Numbers]) -> tuple[Numbers, Numbers]:
    """Number the distinct rows of columns; return the number of each row, and a row of each number."""
    number: Numbers | None = None
    for side in sides:
        codes, distinct = pd.factorize(side)
        number = codes if number is None else pd.factorize(number * len(distinct) + codes)[0]
    assert number is not None
    example = np.zeros(int(number.max(initial=-1)) + 1, np.int64)
    example[number[::-1]] = np.arange(len(number))[::-1]
    return number, example


def _ragged(table: Sequence[Sequence[Sequence[int]]], rows: Numbers, width: int) -> tuple[Numbers, Numbers]:
    """Return the entries of the table's rows, one below the other, and for each which of `rows` it is of."""
    flat = np.array([entry for row in table for entry in row], dtype=np.int64).reshape(-1, width)
    sizes = np.array([len(row) for row in table], dtype=np.int64)
    counts = sizes[rows]
    owner = np.repeat(np.arange(len(rows)), counts)
    within = np.arange(len(owner)) - (np.cumsum(counts) - counts)[owner]
    return flat[(np.cumsum(sizes) - sizes)[rows][owner] + within], owner


def _within(groups: Numbers) -> Numbers:
    """Return the place of each row in its group; groups follow one another."""
    if not len(groups):
        return groups
    starts = np.flatnonzero(np.diff(groups, prepend=-1))
    return np.arange(len(groups)) - np.repeat(starts, np.diff(starts, append=len(groups)))


def _table(rows: Sequence[Sequence[int]]) -> Numbers:
    """Return rows of unequal length as a table, filled up with -1."""
    wide = max(map(len, rows), default=0)
    return np.array([[*row, *[-1] * (wide - len(row))] for row in rows], dtype=np.int64).reshape(len(rows), wide)
