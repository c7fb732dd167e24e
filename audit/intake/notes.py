"""Free-text notes of visits: symptom, cause, action, outcome, parts, lever and position read from them.

Only empty columns are filled; where a column and a note disagree the column wins and the conflict is listed.
The words come from `phrases.toml`: common practice of the trade, no source.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from audit.intake.notes_many import Texts, Told, read_many
from audit.intake.notes_meaning import Meanings
from audit.intake.notes_table import COLUMNS, PhraseTable, default_table

DIGITS: Final = re.compile(r"\d+")
Codes = np.ndarray[tuple[int, ...], np.dtype[np.intp]]
Words = pd.Series  # of words or phrases, missing is NaN
PIECE_LETTERS: Final = 3  # a clause of fewer letters is no text worth listing


@dataclass(frozen=True)
class CodedNotes:
    """Visits with their empty coded columns filled from `notes`, and the record of it.

    `coded`: pos (row number in `visits`, from 0), column, value, phrase (the words of the note).
    `conflicts`: pos, column, column_value, note_value, phrase. `uncoded`: text, count (visits), most frequent first.
    `said`: what the reader must know, in sentences.
    """

    visits: pd.DataFrame
    coded: pd.DataFrame
    conflicts: pd.DataFrame
    uncoded: pd.DataFrame
    said: tuple[str, ...]


class Phrased(NamedTuple):
    """One value and the words of the note that say it."""

    value: str
    phrase: str


class Reading(NamedTuple):
    """What a note says by column, and its clauses that no phrase touched."""

    coded: Mapping[str, Phrased]
    untouched: tuple[str, ...]


class Reader:
    """Reads notes by one phrase table; what was worked out for a clause is kept."""

    def __init__(self, table: PhraseTable) -> None:
        self.table = table
        self.meanings = Meanings(table)

    def read(self, text: str) -> Reading:
        """Read one note; only its first `characters_read` characters count."""
        text = text[: self.table.characters_read]
        tagged = self.table.lexicon.tag(text)
        values, untouched = self.meanings.meaning(tagged.codes)
        coded = {
            column: Phrased(value, " … ".join(" ".join(tagged.words(text, span).split()) for span in spans))
            for column, (value, spans) in values.items()
        }
        return Reading(coded, tuple(tagged.words(text, span) for span in untouched))


@cache
def default_reader() -> Reader:
    """Return the reader of `phrases.toml`."""
    return Reader(default_table())


def explain_note(text: str) -> list[tuple[str, str, str]]:
    """Return (column, value, words of the note) for all that the note says, in the order of the columns."""
    coded = default_reader().read(text).coded
    return [(column, *coded[column]) for column in COLUMNS if column in coded]


def code_notes(visits: pd.DataFrame) -> CodedNotes:
    """Read the notes of all visits and fill the empty coded columns from them.

    Args:
        visits: has `notes` and the seven coded columns, text with missing values as NaN.
    """
    reader = default_reader()
    limit = reader.table.characters_read
    notes = visits["notes"]
    long = int((notes.str.len() > limit).sum())
    of_row, unique = pd.factorize(notes.str.slice(0, limit))
    told = read_many(np.asarray(unique, dtype=object).tolist(), reader.table.lexicon, reader.meanings)
    filled, coded, conflicts = visits.copy(deep=False), [], []
    for column in COLUMNS:
        ours, said = visits[column], told.columns[column]
        noted, phrase = (_by_row(words, said.notes, of_row, visits.index) for words in (said.values, said.phrases))
        fill = ours.isna() & noted.notna()
        if fill.any():
            filled[column] = ours.mask(fill, noted)
        coded.append(_rows(column, fill, value=noted, phrase=phrase))
        differ = ours.notna() & noted.notna()
        differ[differ] = _differ(column, ours[differ], noted[differ])
        conflicts.append(_rows(column, differ, column_value=ours, note_value=noted, phrase=phrase))
    visits_of = np.bincount(of_row[of_row >= 0], minlength=len(unique))
    return CodedNotes(
        visits=filled,
        coded=_sorted(coded),
        conflicts=_sorted(conflicts),
        uncoded=_uncoded(told.untouched, visits_of),
        said=_said(long, limit),
    )


def _by_row(words: Texts, notes: Codes, of_row: Codes, index: pd.Index) -> Words:
    """Return the words of each visit's note; missing where it does not say, or where there is no note."""
    place = np.full(int(of_row.max(initial=-1)) + 2, -1)  # one more for visits without a note, -1
    place[notes] = np.arange(len(notes))
    return pd.Series(pd.array(words, dtype="str").take(place[of_row], allow_fill=True), index=index)


def _rows(column: str, mask: pd.Series[bool], **parts: Words) -> pd.DataFrame:
    """Return one row a visit of `mask`: pos, column, then the parts."""
    pos = np.flatnonzero(mask.to_numpy())
    names = pd.Series([column], dtype="str").repeat(len(pos))
    return pd.DataFrame({"pos": pos, "column": names.array} | {name: part.array[pos] for name, part in parts.items()})


def _differ(column: str, ours: Words, noted: Words) -> pd.Series[bool]:
    """Whether column and note disagree; lists of parts do where neither holds all of the other."""
    if column != "parts":
        return ours != noted
    pairs, unique = pd.factorize(pd.MultiIndex.from_arrays([ours, noted]))
    differ = np.array([_parts_differ(*pair) for pair in unique], dtype=bool)
    return pd.Series(differ[pairs], index=ours.index)


def _parts_differ(ours: str, noted: str) -> bool:
    one, other = ({part.strip() for part in text.replace(";", ",").split(",")} for text in (ours, noted))
    return one <= set(COLUMNS["parts"]) and not (one <= other or other <= one)


def _sorted(frames: list[pd.DataFrame]) -> pd.DataFrame:
    """Join the frames of all columns, by visit, then in the order of the columns."""
    return pd.concat(frames, ignore_index=True).sort_values("pos", kind="stable", ignore_index=True)


def _uncoded(untouched: Told, visits: Codes) -> pd.DataFrame:
    """Count the clauses that no phrase touched, over visits; case, spaces and numbers apart."""
    piece, pieces = pd.factorize(untouched.phrases)
    texts = pd.Series([DIGITS.sub("#", text.casefold()) for text in pieces], dtype="str")
    texts = texts[texts.str.count("[a-z]") >= PIECE_LETTERS]
    counts = pd.Series(visits[untouched.notes]).groupby(piece).sum()
    total = counts.groupby(texts).sum()
    frame = pd.DataFrame({"text": total.index.array, "count": total.array.astype("int64")})
    return frame.sort_values(["count", "text"], ascending=[False, True], kind="stable", ignore_index=True)


def _said(long: int, limit: int) -> tuple[str, ...]:
    if not long:
        return ()
    notes = "1 note is" if long == 1 else f"{long:,} notes are"
    return (f"{notes} longer than {limit:,} characters; only the first {limit:,} were read.",)
