"""Which parser judges which kind of column."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from audit.intake.values.cells import Cells
from audit.intake.values.dates import judge_dates
from audit.intake.values.ids import judge_ids
from audit.intake.values.numbers import judge_numbers
from audit.intake.values.parsed import Asked, Judged
from audit.intake.values.text import judge_text
from audit.intake.values.words import judge_words

KINDS: Final[Mapping[str, Callable[[Cells, Asked], Judged]]] = {
    "id": judge_ids,
    "text": judge_text,
    "word": judge_words,
    "number": judge_numbers,
    "date": judge_dates,
    "time": judge_dates,
}
