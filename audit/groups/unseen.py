"""The wear to expect of a head whose fitting date was overwritten when it was renewed.

The register keeps the last date only. Where a head was renewed in the log, how old it was when the log began is gone:
it may be the first on its body, or have begun at any of the renewals since. So its cumulative hazard over the span that
it was watched is averaged over its possible ages, each as likely as the stock's life and what was seen make it: with m
the renewal density since the body went in (Cox, Renewal Theory, 1962, chapter 4), f and S the life's density and
survival, a the origin's age when the log began and w the span watched, an age h weighs m(a - h) f(h + w) where the head
failed, m(a - h) S(h + w) where it did not; the first head weighs f(a + w) or S(a + w).
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

STEP: Final = 0.05  # of a scale
LONGEST: Final = 5.0  # scales; older origins are as good as forgotten
LONGEST_SPAN: Final = 3.0  # scales


def wear_unseen(origin: Floats, span: Floats, failed: Bools, shape: float, scale: float) -> Floats:
    """Return the cumulative hazard to expect over the span, given how it ended.

    Args:
        origin: Years from the first head of the place to the first watched day, shape (n,), at least 0.
        span: Years watched, shape (n,).
        failed: Whether the span ended in a failure, shape (n,).
        shape: Weibull shape of a head's life.
        scale: Its scale, in the unit of the years.
    """
    tables = _tables(round(shape, 4))
    row = np.clip(origin / scale, 0, LONGEST) / STEP
    column = np.clip(span / scale, 0, LONGEST_SPAN) / STEP
    return np.where(failed, _between(tables[0], row, column), _between(tables[1], row, column))


def _between(table: Floats, row: Floats, column: Floats) -> Floats:
    top, left = (np.minimum(x.astype(np.int64), n - 2) for x, n in zip((row, column), table.shape, strict=True))
    down, right = row - top, column - left
    upper = table[top, left] * (1 - right) + table[top, left + 1] * right
    lower = table[top + 1, left] * (1 - right) + table[top + 1, left + 1] * right
    return np.asarray(upper * (1 - down) + lower * down)


@lru_cache(maxsize=8)
def _tables(shape: float) -> tuple[Floats, Floats]:
    """The wear by origin and span, in scales: of heads that failed at the end of the span, and of those that held."""
    cells, spans = round(LONGEST / STEP), round(LONGEST_SPAN / STEP)
    middle = (np.arange(cells) + 0.5) * STEP  # ages of heads begun since the origin
    later = np.arange(spans + 1) * STEP
    begun = _begun(shape, cells)
    failed, held = np.zeros((cells + 1, spans + 1)), np.zeros((cells + 1, spans + 1))
    for origin in range(cells + 1):
        ages = np.append(middle[:origin], origin * STEP)
        weight = np.append(begun[:origin][::-1], 1.0)
        end = ages[:, None] + later
        wear = end**shape - ages[:, None] ** shape
        alive = weight[:, None] * np.exp(-(end**shape) + (later + STEP / 2) ** shape)  # scaled: ratios alone count
        dying = alive * np.maximum(end, STEP / 4) ** (shape - 1)
        failed[origin] = (wear * dying).sum(axis=0) / dying.sum(axis=0)
        held[origin] = (wear * alive).sum(axis=0) / alive.sum(axis=0)
    return failed, held


def _begun(shape: float, cells: int) -> Floats:
    """Heads expected to begin in each cell since the origin: the renewal equation, solved cell by cell."""
    edges = np.arange(cells + 1) * STEP
    ends = -np.diff(np.exp(-(edges**shape)))
    begun = np.zeros(cells)
    for cell in range(cells):
        begun[cell] = ends[cell] + begun[:cell] @ ends[:cell][::-1]
    return begun
