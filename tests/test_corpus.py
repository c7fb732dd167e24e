"""Differently messy books with planted truth: how much is read as it was meant, and nothing is lost or changed unsaid.

The books of `tests.corpus` were written apart from the reader, after the ways in which people keep such records.
"""

from __future__ import annotations

import datetime as dt
import re
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path
from types import ModuleType

import pytest

from audit import intake
from audit.errors import CannotUse
from tests.corpus import contractors, delimited, exports, free_text, headings, layouts, oddities, values
from tests.corpus.compare import Tally, compared, totals
from tests.corpus.plant import Book

AS_OF = dt.date(2026, 9, 30)
KINDS = (layouts, delimited, headings, values, exports, oddities, contractors, free_text)
LEAST_AS_PLANTED = 0.995
LEAST_BOOKS = 40
EACH = 9  # of so many books one is read in every run of the tests; all of them by hand
Maker = Callable[[Path], Book]


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__.rpartition(".")[2])
def test_books_are_read_as_they_were_meant(kind: ModuleType, tmp_path: Path) -> None:
    held, asked = read_all(chosen(kind), tmp_path)
    whole = totals(held)
    print("\n" + figures(whole, len(held), asked))
    assert whole.lost == []
    assert whole.silent == []
    assert whole.as_planted >= LEAST_AS_PLANTED * whole.cells


def test_there_are_books_enough() -> None:
    assert sum(len(kind.BOOKS) for kind in KINDS) >= LEAST_BOOKS


def chosen(kind: ModuleType) -> list[Maker]:
    """The books of a kind that are read each time; `python -m tests.test_corpus` reads the others too."""
    return list(kind.BOOKS[::EACH])


def read_all(makers: Iterable[Maker], folder: Path) -> tuple[list[Tally], int]:
    """Read books and compare; returns how each came out, and how many were refused with their question."""
    held, asked = [], 0
    for maker in makers:
        place = folder / maker.__name__
        place.mkdir()
        tally = _read(maker(place), maker.__name__)
        held += [tally] if tally else []
        asked += tally is None
    return held, asked


def figures(whole: Tally, books: int, asked: int) -> str:
    """The figures in one sentence, and each cell that is not as planted on a line."""
    told = (
        f"{books} books read and {asked} refused with the question that only the user can answer; {whole.cells:,} "
        f"cells, {whole.as_planted / whole.cells:.3%} as planted ({whole.planted_faults:,} of them faults, returned or "
        f"said); {len(whole.differ):,} other cells, all returned or said; {len(whole.lost)} rows lost; "
        f"{len(whole.silent)} silent changes"
    )
    return "\n".join([told, *whole.differ, *whole.lost, *whole.silent])


def _read(book: Book, name: str) -> Tally | None:
    """Read one book and compare; None where it had to be refused, and was, with the sentence that asks."""
    if book.asks:
        with pytest.raises(CannotUse, match=book.asks) as refused:
            intake.read(book.files, as_of=AS_OF)
        assert "\n" not in str(refused.value), name
        return None
    reading = intake.read(book.files, as_of=AS_OF)
    counts = reading.counts
    assert (counts["rows_in"] == counts["used"] + counts["merged"] + counts["returned"]).all(), name
    told = "\n".join([*reading.said, *reading.problems["reason"], *_lines(reading)])
    assert [words for words in book.says if not re.search(words, told)] == [], name
    return compared(book, reading)


def _lines(reading: intake.Reading) -> list[str]:
    """Where a note says something else than a column: one line each."""
    listed = reading.conflicts[["visit_id", "column", "column_value", "note_value", "phrase"]]
    return [" ".join(map(str, row)) for row in listed.itertuples(index=False)]


def test_every_value_read_from_a_note_keeps_the_words_it_came_from(tmp_path: Path) -> None:
    reading = intake.read(free_text.nothing_but_notes(tmp_path).files, as_of=AS_OF)
    notes = reading.tables["visits"].set_index("visit_id")["notes"]
    assert len(reading.coded) > len(notes)
    for row in reading.coded.to_dict("records"):
        assert all(piece in notes[row["visit_id"]] for piece in row["phrase"].split(" … ")), row


def test_clauses_that_nobody_could_code_are_listed_by_how_often_they_occur(tmp_path: Path) -> None:
    reading = intake.read(free_text.notes_of_nothing(tmp_path).files, as_of=AS_OF)
    often, seldom = free_text.UNREAD
    jobs = len(reading.tables["visits"])
    assert jobs == 48
    assert reading.uncoded.to_dict("list") == {"text": [often, seldom], "count": [32, 16]}


def main() -> None:
    """Read every book and print the figures of all."""
    with tempfile.TemporaryDirectory() as folder:
        held, asked = read_all((maker for kind in KINDS for maker in kind.BOOKS), Path(folder))
        print(figures(totals(held), len(held), asked))


if __name__ == "__main__":
    main()
