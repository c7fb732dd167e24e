"""Live pieces of the work list: what to load and to order follows the sheet Visits.

The sheet Pieces holds one row a visit and part; it looks up whether the visit is included, its team and week.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from openpyxl.utils import get_column_letter

from reports.look import Field

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from reports.workbook import Book, Layout

FIRST: Final = 5  # row of the first record below a heading, a note, a warning and the header
PIECES: Final = (
    Field("rank", "Visit", "whole", 8),
    Field("include", "Include", "live", 9),
    Field("week_starting", "Week starting", "live_date", 14),
    Field("team", "Team", "live", 20),
    Field("part", "Part in the rates", width=22),
    Field("name", "Part, by what it must fit", "prose", 70),
    Field("voltage", "Voltage", width=14),
    Field("pieces", "Pieces", "whole", 9),
)
LIVE_COLUMNS: Final = ("needed", "shortage")


def live_fields(fields: Sequence[Field]) -> list[Field]:
    """The same columns, those that follow the visits as formulas."""
    return [replace(field, form="live") if field.name in (*LIVE_COLUMNS, "pieces") else field for field in fields]


def _range(column: str, rows: int) -> str:
    letter = get_column_letter([field.name for field in PIECES].index(column) + 1)
    return f"Pieces!${letter}${FIRST}:${letter}${FIRST + max(rows, 1) - 1}"


def add_pieces(book: Book, visits: Layout, pieces: pd.DataFrame, planned: pd.DataFrame) -> None:
    """Add the sheet that the others add up."""
    used = of_plan(pieces, planned)
    last = max(visits.last_row, visits.header_row + 1)

    def looked_up(column: str, row: int) -> str:
        ranks, values = (
            f"Visits!${letter}${visits.header_row + 1}:${letter}${last}"
            for letter in (get_column_letter(visits.columns[name]) for name in ("rank", column))
        )
        return f"=INDEX({values},MATCH($A{row},{ranks},0))"

    rows = range(FIRST, FIRST + len(used))
    table = used.assign(
        **{column: [looked_up(column, row) for row in rows] for column in ("include", "week_starting", "team")}
    )
    book.table(
        "Pieces", "Parts of every visit", table, PIECES, note="The sheets of parts add these up; nothing to fill in."
    )


def of_plan(pieces: pd.DataFrame, planned: pd.DataFrame) -> pd.DataFrame:
    """The pieces of planned visits."""
    return pieces.loc[pieces["rank"].isin(planned["rank"])].reset_index(drop=True)


def live_load(load: pd.DataFrame, pieces: pd.DataFrame) -> pd.DataFrame:
    """Pieces of a week, team (columns A and B) and part (C) as formulas."""
    if not len(load) or load["team"].isna().any():
        return load
    count = len(pieces)
    fixed = f'SUMIFS({_range("pieces", count)},{_range("include", count)},"yes"'
    tests = (("week_starting", "A"), ("team", "B"), ("name", "C"))
    return load.assign(
        pieces=[
            "=" + ",".join([fixed, *(f"{_range(column, count)},${letter}{row}" for column, letter in tests)]) + ")"
            for row in range(FIRST, FIRST + len(load))
        ]
    )


def live_order(order: pd.DataFrame, pieces: pd.DataFrame) -> pd.DataFrame:
    """Needed (column D) and short (E) as formulas; short stays empty where the stock (C), or its voltage, is not known.

    The voltage (B) is a number with its unit, or words of ours.
    """
    count = len(pieces)
    needs = f'=SUMIFS({_range("pieces", count)},{_range("include", count)},"yes",{_range("part", count)},"'
    rows = range(FIRST, FIRST + len(order))
    known = (order["on_hand"].isna() | order["shortage"].notna()).tolist()
    short: list[Any] = [
        f'=IF(C{row}="","",MAX(0,D{row}-C{row}))' if tells else None for row, tells in zip(rows, known, strict=True)
    ]
    return order.assign(
        needed=[
            f'{needs}{part}",{_range("voltage", count)},B{row})' if voltage else f'{needs}{part}")'
            for row, part, voltage in zip(rows, order["part"], order["voltage"], strict=True)
        ],
        shortage=short,
    )
