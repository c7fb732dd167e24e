"""Which parser judges which kind of column."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from audit.intake.values.cells import Cells
from audit.intake.values.dates import judge_dates
from audit.intake.values.numbers import judge_numbers
from audit.intake.values.parsed import Asked, Judged, Notes


def _text(cells: Cells, asked: Asked) -> Judged:
    return Judged(cells.text.str.strip(), Notes(len(cells)), Notes(len(cells)))


def _word(cells: Cells, asked: Asked) -> Judged:
    known = cells.text.str.strip().str.lower()
    good = known.isin(list(asked.column.words or {})).to_numpy()
    bad = Notes(len(cells))
    bad.add(~good, "not one of the column's words", "use one of: " + ", ".join(asked.column.words or {}))
    return Judged(known.where(good), bad, Notes(len(cells)))


KINDS: Final[Mapping[str, Callable[[Cells, Asked], Judged]]] = {
    "id": _text,
    "text": _text,
    "word": _word,
    "number": judge_numbers,
    "date": judge_dates,
    "time": judge_dates,
}
