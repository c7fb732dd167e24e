"""Tidy CSV files: UTF-8, one header line, LF, ISO dates, money to the penny, text that never becomes a formula.

The lines are joined column-wise in arrow memory, so that a million rows take seconds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import pyarrow as pa
import pyarrow.compute as pc

from reports.arrow_text import TEXT, array, as_bytes, join, swap, word
from schemas.column import Column

if TYPE_CHECKING:
    import pandas as pd

CHUNK: Final = 100_000  # rows joined at a time: bounds the memory
HUGE: Final = 1e15  # from here on a number has no digits to round
DECIMALS: Final = 6  # enough for shares and years; what lies below is noise of the arithmetic
# Apostrophes before the sign are escaped too, so that taking one apostrophe off always gives the text back.
RISKY: Final = r"^'*[=+\-@\t\r\n\x00]"
PLAIN_NUMBER: Final = r"^-[0-9]+(\.[0-9]+)?$"  # a negative number in a text cell is no formula


def write_csv(frame: pd.DataFrame, columns: Sequence[Column], path: Path, *, exact: bool = False) -> None:
    """Write one table.

    Args:
        frame: The table; columns beyond `columns` follow after them.
        columns: The columns that come first, in order; one that the frame lacks is written empty.
        path: The file.
        exact: Keep every digit of every number, so that reading the file gives the same table again; otherwise
            numbers are rounded to `DECIMALS` and money to the penny.
    """
    known = {column.name: column for column in columns}
    names = [*known, *(name for name in frame.columns if name not in known)]
    with path.open("wb") as file:
        file.write(_line_of(names))
        for start in range(0, len(frame), CHUNK):
            part = frame.iloc[start : start + CHUNK]
            cells = [_cells(part, name, known, exact) for name in names]
            file.write(as_bytes(join(join(*cells, between=","), "\n")))


def safe_text(text: str) -> str:
    """Put an apostrophe before text that a spreadsheet would take for a formula."""
    return str(_escape(pa.array([text], TEXT))[0].as_py())


def _line_of(names: Sequence[str]) -> bytes:
    quoted: list[str] = _safe(pa.array(list(names), TEXT)).to_pylist()
    return (",".join(quoted) + "\n").encode()


def _cells(part: pd.DataFrame, name: str, known: Mapping[str, Column], exact: bool) -> Any:
    """One column as text cells, missing ones empty."""
    if name not in part.columns:
        return pa.repeat(word(""), len(part))
    return pc.fill_null(_as_text(array(part[name]), _is_money(name, known), exact).cast(TEXT), word(""))


def _is_money(name: str, known: Mapping[str, Column]) -> bool:
    return name.endswith("_gbp") or (name in known and known[name].unit.startswith("GBP"))


def _as_text(values: Any, money: bool, exact: bool) -> Any:
    kind = values.type
    if pa.types.is_timestamp(kind) or pa.types.is_date(kind):
        return _dates(values)
    if pa.types.is_boolean(kind):
        return pc.if_else(values, word("yes"), word("no"))
    if pa.types.is_floating(kind):
        return _numbers(values, money, exact)
    if pa.types.is_integer(kind):
        return _numbers(values.cast(pa.float64()), money, exact) if money else values.cast(TEXT)
    return _safe(values.cast(TEXT))


def _numbers(values: Any, money: bool, exact: bool) -> Any:
    values = pc.if_else(pc.is_finite(values), values, None)
    as_is = values.cast(TEXT)
    if exact and not money:
        return as_is
    small = pc.less(pc.abs(values), HUGE)
    rounded = pc.round(pc.if_else(small, values, 0.0), 2 if money else DECIMALS)
    rounded = pc.add(rounded, 0.0)  # -0.0 becomes 0
    text = (rounded.cast(pa.decimal128(18, 2), safe=False) if money else rounded).cast(TEXT)
    return pc.if_else(pc.equal(rounded, values) if exact else small, text, as_is)


def _dates(values: Any) -> Any:
    """ISO dates; the time of day only where there is one."""
    seconds = values.cast(pa.timestamp("s"), safe=False)
    text = seconds.cast(TEXT)
    midnight = pc.equal(seconds, pc.floor_temporal(seconds, unit="day"))
    return pc.if_else(midnight, pc.utf8_slice_codeunits(text, 0, 10), swap(text, " ", "T"))


def _safe(text: Any) -> Any:
    """Escape and quote where needed; most columns need neither, and one look tells."""
    if not pc.any(pc.match_substring_regex(text, f'[",\r\n]|{RISKY}')).as_py():
        return text
    return _quote(_escape(text))


def _escape(text: Any) -> Any:
    risky = pc.and_(pc.match_substring_regex(text, RISKY), pc.invert(pc.match_substring_regex(text, PLAIN_NUMBER)))
    return pc.if_else(risky, join("'", text), text)


def _quote(text: Any) -> Any:
    needed = pc.match_substring_regex(text, '[",\r\n]')
    return pc.if_else(needed, join('"', swap(text, '"', '""'), '"'), text)
