"""Rows that hold several valves or visits side by side: recognised, and refused with how to lay them out."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from typing import Final

from audit.errors import CannotUse
from audit.intake.headers import columns, key, matches
from audit.intake.heads import words_of
from audit.intake.sheet import Sheet, is_blank

TELLING: Final = {  # columns of which two, repeated in one row, say as much as the number itself
    "valves": {"head_kind", "arrangement", "body_fitted", "head_fitted", "make", "body_size_mm"},
    "visits": {"reported", "attended", "completed", "outcome", "action", "notes"},
}
OF_WHICH: Final = re.compile(r"\b(heating|hot water|hw|dhw|hot|cylinder|zone|[1-9]|1st|2nd|3rd|first|second|third)\b")
DATA: Final = re.compile(r"\d\d")  # what no header has that counts valves or visits
LOOKED_AT: Final = 10  # rows from the top


def refuse_abreast(sheet: Sheet, found: Sequence[int]) -> None:
    """Refuse a table whose headers repeat themselves for each valve or visit of a home.

    Args:
        sheet: The sheet as read.
        found: The rows found to be headers; the first rows are looked at where none was.

    Raises:
        CannotUse: there is such a table; the sentence says how to lay it out.
    """
    for row in found or range(min(LOOKED_AT, sheet.grid.height)):
        above, headers = (
            [words_of(cell) for cell in sheet.row(place) if not is_blank(cell)] for place in (row - 1, row)
        )
        if any(DATA.search(text) for text in headers):
            continue
        thing = _repeated(headers, [*headers, *above])
        if thing:
            named = ", ".join(f"“{text[:30]}”" for text in headers[:6])
            raise CannotUse(
                f"{sheet.place}, row {sheet.row_number(row)}: several {thing} of a home stand side by side in each row "
                f"({named}); give each of the {thing} a row of its own, with its home's number beside it, and save."
            )


def _repeated(headers: Sequence[str], with_above: Sequence[str]) -> str:
    """The table whose columns are there several times in one row of headers; empty where there is none."""
    homes = [_names("homes", text, "home_id") for text in headers]
    if len(headers) < 3 or sum(homes) > 1:  # two homes: two tables side by side, which are read as such
        return ""
    if not any(homes) and not any(_names("homes", text, "home_id", "uprn", "address") for text in with_above):
        return ""
    plain = [OF_WHICH.sub(" ", key(text)).strip() for text in headers]
    numbers = {table: next(c.name for c in columns(table) if c.unique) for table in TELLING}
    if any(sum(_names(table, text, number) for text in plain) == 1 for table, number in numbers.items()):
        return ""  # each row is one valve or one visit, whatever else it has several of
    again = [text for text, count in Counter(plain).items() if text and count > 1]
    for table, number in numbers.items():
        several = {match.column for text in again for match in matches(table, text)[:1]}
        if number in several or len(several & TELLING[table]) > 1:
            return table
    return ""


def _names(table: str, header: str, *wanted: str) -> bool:
    return any(match.column in wanted for match in matches(table, header)[:1])
