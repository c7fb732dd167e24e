"""Messy books around a planted truth: every cell is as planted, returned, or said; no row is lost."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from audit import intake
from audit.errors import CannotUse
from audit.intake import Reading
from tests.messy import ID, Book, truth
from tests.messy_books import BOOKS, Maker

READ = [maker for maker in BOOKS if maker.__name__ not in ("sideways", "two_of_the_same", "no_job_number")]
REFUSED = [maker for maker in BOOKS if maker not in READ]
LEAST_AS_PLANTED = 0.995  # share of cells over all books


@dataclass
class Compared:
    """Cells of one table of one book: as planted, said to differ, and differing without a word."""

    cells: int
    as_planted: int
    silent: list[str]


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Callable[[Maker], tuple[Book, Reading]]:
    @cache
    def open_book(maker: Maker) -> tuple[Book, Reading]:
        book = maker(tmp_path_factory.mktemp(maker.__name__))
        return book, intake.read(book.files)

    return open_book


def named(maker: Maker) -> str:
    return maker.__name__


@pytest.mark.parametrize("maker", READ, ids=named)
def test_no_cell_changes_without_a_word(maker: Maker, opened: Callable[[Maker], tuple[Book, Reading]]) -> None:
    book, reading = opened(maker)
    for table in book.carried:
        assert compared(book, reading, table).silent == []


@pytest.mark.parametrize("maker", READ, ids=named)
def test_every_row_is_counted_once(maker: Maker, opened: Callable[[Maker], tuple[Book, Reading]]) -> None:
    book, reading = opened(maker)
    counts = reading.counts.set_index("table")
    assert (counts["rows_in"] == counts["used"] + counts["merged"] + counts["returned"]).all()
    assert counts["used"].to_dict() == {table: len(frame) for table, frame in reading.tables.items()}
    for table in book.carried:
        assert counts.loc[table, "returned"] == book.returned.get(table, 0), table
        assert counts.loc[table, "merged"] == book.merged.get(table, 0), table
    lines = reading.problems.query("effect == 'returned'").groupby("table").size()
    assert lines.to_dict() == {t: n for t, n in counts["returned"].items() if n}


@pytest.mark.parametrize("maker", READ, ids=named)
def test_what_was_understood_is_said(maker: Maker, opened: Callable[[Maker], tuple[Book, Reading]]) -> None:
    book, reading = opened(maker)
    told = "\n".join(reading.said)
    for words in book.says:
        assert words in told
    assert {m.table for m in reading.maps} >= set(book.carried) - {"homes"}
    assert all(0 < c.sure <= 1 and c.reason for m in reading.maps for c in m.chosen)


@pytest.mark.parametrize("maker", REFUSED, ids=named)
def test_what_only_the_user_can_say_is_asked(maker: Maker, tmp_path: Path) -> None:
    book = maker(tmp_path)
    with pytest.raises(CannotUse, match=book.asks) as caught:
        intake.read(book.files)
    assert "\n" not in str(caught.value)


def test_nearly_all_cells_of_all_books_are_as_planted(opened: Callable[[Maker], tuple[Book, Reading]]) -> None:
    every = [compared(*opened(maker), table) for maker in READ for table in opened(maker)[0].carried]
    cells, right = sum(c.cells for c in every), sum(c.as_planted for c in every)
    silent = sum(len(c.silent) for c in every)
    print(f"{len(READ)} books, {cells:,} cells: {right / cells:.3%} as planted, the rest said, {silent} silent changes")
    assert right / cells >= LEAST_AS_PLANTED


def compared(book: Book, reading: Reading, table: str) -> Compared:
    """Hold the rows read against the planted ones; a row that is missing must have been returned."""
    planted = (book.truth or truth())[table]
    key = ID[table] if ID[table] in book.carried[table] else "uprn"
    names = book.carried[table]
    got = reading.tables[table].set_index(key)
    told = said_cells(reading, table)
    result = Compared(0, 0, [])
    problems = reading.problems[reading.problems["table"].eq(table)]
    for row in planted.to_dict("records"):
        result.cells += len(names)
        if row[key] not in got.index:
            if not (problems["effect"].eq("returned")).any():
                result.silent.append(f"{row[key]}: the row is gone")
            continue
        read = got.loc[row[key]]
        for name in names:
            if name == key or same(read[name], row[name]):
                result.as_planted += 1
            elif (int(read["source_row"]), name) not in told:
                result.silent.append(f"{row[key]} {name}: {row[name]!r} was read as {read[name]!r}")
    return result


def said_cells(reading: Reading, table: str) -> set[tuple[int, str]]:
    """Row and column of every cell that the problems speak of."""
    told = set()
    for found in reading.maps:
        if found.table == table:
            names = {c.header.label: c.column for c in found.chosen}
            part = reading.problems[reading.problems["table"].eq(table)]
            told |= {(int(r), names.get(c, c)) for r, c in zip(part["row"], part["column"], strict=True)}
    return told


def same(read: object, planted: object) -> bool:
    if pd.isna(planted):  # type: ignore[call-overload]
        return bool(pd.isna(read))  # type: ignore[call-overload]
    if isinstance(planted, float):
        return bool(np.isclose(read, planted, rtol=1e-9, atol=1e-9))  # type: ignore[arg-type]
    return bool(read == planted)
