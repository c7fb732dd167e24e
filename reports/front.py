"""The first sheet of a workbook: what it is, the numbers that matter, cautions, what was assumed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from reports.look import FORMATS, cell, height_of, lines_of
from reports.workbook import Book
from schemas.results import Results
from schemas.sentences import HOW_READ, TO_DO, parted

if TYPE_CHECKING:
    import pandas as pd

WIDTHS = (20.0, 112.0)


@dataclass(frozen=True)
class Section:
    """A heading and its rows: a short label, date or number on the left, words on the right."""

    heading: str
    rows: Sequence[tuple[object, str]]


def add_front(book: Book, name: str, title: str, sections: Sequence[Section]) -> None:
    """Add a sheet of prose and numbers that reads from top to bottom; empty sections are left out."""
    sheet = book.sheet(name, WIDTHS)
    sheet.append([cell(sheet, title, "title")])
    row = 1
    for section in sections:
        if not section.rows:
            continue
        row += 1
        sheet.row_dimensions[row].height = height_of(2)
        sheet.append([cell(sheet, section.heading, "heading"), cell(sheet, None, "heading")])
        for label, words in section.rows:
            row += 1
            sheet.row_dimensions[row].height = height_of(lines_of(len(words), WIDTHS[1]))
            sheet.append([_label(sheet, label), cell(sheet, words, "prose")])


def _label(sheet: object, label: object) -> object:
    if isinstance(label, str):
        return cell(sheet, label, "label")
    if isinstance(label, Money):
        return cell(sheet, label.pounds, "label", '"£"#,##0')
    return cell(sheet, label, "label", FORMATS["whole"])


@dataclass(frozen=True)
class Money:
    """An amount in GBP, shown in whole pounds."""

    pounds: float


def pounds(amount: float) -> str:
    """An amount in words: £1,234, or −£4."""
    return f"−£{-amount:,.0f}" if amount < 0 else f"£{amount:,.0f}"


def numbers(headline: pd.DataFrame, keys: Sequence[str]) -> list[tuple[object, str]]:
    """Rows of a section from the headline numbers: the value left, its name and unit right."""
    rows: list[tuple[object, str]] = []
    for row in headline.set_index("key").reindex(list(keys)).dropna(subset="value").to_dict("records"):
        if row["unit"] == "GBP":
            rows.append((Money(row["value"]), f"{row['name']}, excluding VAT"))
        else:
            rows.append((row["value"], f"{row['name']} (h)" if row["unit"] == "h" else row["name"]))
    return rows


def when(results: Results) -> list[tuple[object, str]]:
    """The as-of date and the quarter, in words."""
    return [
        ("As of", f"{long_date(results.as_of)}; nothing dated later was used."),
        ("Quarter from", f"{long_date(results.quarter_start)}."),
    ]


def long_date(day: dt.date) -> str:
    """A date with its weekday, as spoken."""
    return f"{day:%A} {day.day} {day:%B %Y}"


def to_do(results: Results, last: str = "") -> Section:
    """What the reader has to act on, numbered; sentences that begin with `last` at the end."""
    sentences = sorted(parted(results.said)[0], key=lambda text: bool(last) and text.startswith(last))
    return Section(TO_DO, [(f"To do {n}", sentence) for n, sentence in enumerate(sentences, 1)])


def how_read(results: Results) -> Section:
    """How the books were read, and what was assumed, numbered."""
    return Section(HOW_READ, [(f"Note {n}", sentence) for n, sentence in enumerate(parted(results.said)[1], 1)])
