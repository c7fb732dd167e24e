"""Ages counted on a grid: hundreds of thousands of lives become a few thousand counts, weighed by small tables.

A life's log-likelihood is read from a table of logarithms, between its entries by straight line: a life of 7.3 cells
counts 0.7 at the seventh entry and 0.3 at the eighth. So equal ages share entries, and one table serves every group.
A failure in cell `i` is one between i - 1/2 and i + 1/2 cells.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

CELLS = 240  # of the longest age
LONGEST_YEARS = 60.0  # effective; a life that lasts longer is censored here
SHORTEST_YEARS = 15.0
TINY = 1e-150
MANY = 20  # places for each life counted: more are not laid out
GREATEST = 300.0  # logarithm of a cumulative hazard, far beyond any life
NIL = 1e-300  # keeps the logarithm of an impossible age finite


@dataclass(frozen=True)
class Grid:
    """Ages 0..cells, and years ahead 0..ahead, both in cells of `step` effective years."""

    step: float
    cells: int
    ahead: int

    @classmethod
    def over(cls, longest: float, ahead: float, cells: int = CELLS) -> Grid:
        """Lay a grid over ages up to `longest` and spans watched up to `ahead`, both in years."""
        top = float(np.clip(longest, SHORTEST_YEARS, LONGEST_YEARS))
        step = top / cells
        return cls(step, cells, int(np.clip(np.ceil(ahead / step), 1, cells)))

    @property
    def longest_ahead(self) -> float:
        """The longest span watched, in years; what lies beyond is censored there."""
        return self.ahead * self.step

    def ages(self, years: Floats) -> Floats:
        """Return ages in cells, the last cell for whatever lies beyond."""
        return np.clip(years / self.step, 0, self.cells)

    def spans(self, years: Floats) -> Floats:
        """Return spans watched in cells."""
        return np.clip(years / self.step, 0, self.ahead)

    def hazard_sums(self, shape: float, scale: float) -> tuple[Floats, Floats]:
        """Return the cumulative hazard at cells 0..cells+ahead (n,), and at the edges of those cells (n + 1,)."""
        halves = np.arange(2 * (self.cells + self.ahead) + 2) * (self.step / 2)
        with np.errstate(divide="ignore"):  # the logarithm of age 0
            total = np.exp(np.minimum(shape * np.log(halves / scale), GREATEST))
        return total[::2], np.concatenate([[0.0], total[1::2]])

    def masses(self, shape: float, scale: float) -> tuple[Floats, Floats]:
        """Return survival S at cells 0..cells+ahead, and the chance q that a life ends in each of them."""
        middle, edges = self.hazard_sums(shape, scale)
        alive_at = np.exp(-edges)
        return flushed(np.exp(-middle)), flushed(alive_at[:-1] - alive_at[1:])

    def from_age(self, values: Floats) -> Floats:
        """Lay a row (cells + ahead + 1) out as values[age + span]: (cells + 1, ahead + 1)."""
        laid = np.lib.stride_tricks.sliding_window_view(values, self.ahead + 1)
        return np.ascontiguousarray(laid)  # a copy: products of overlapping views are slow


@dataclass(frozen=True)
class Block:
    """How often each entry of one table was seen, by group: three arrays of equal length."""

    table: str
    entry: Ints
    group: Ints
    count: Floats


def counted(table: str, row: Floats, group: Ints, groups: int) -> Block:
    """Count entries of a table of one axis; `row` (n,) in cells, whole or not, each shared by its two neighbours."""
    low = row.astype(np.int64)
    part = row - low
    entry = np.concatenate([low, low + 1])
    return _summed(table, entry, np.tile(group, 2), np.concatenate([1 - part, part]), groups)


def counted_pairs(table: str, row: Floats, column: Floats, width: int, group: Ints, groups: int) -> Block:
    """Count entries of a table of two axes and `width` columns, each shared by its four neighbours."""
    low, left = row.astype(np.int64), column.astype(np.int64)
    down, right = row - low, column - left
    entry = (low * width + left) + np.array([[0], [1], [width], [width + 1]])
    share = np.stack([(1 - down) * (1 - right), (1 - down) * right, down * (1 - right), down * right])
    return _summed(table, entry.ravel(), np.tile(group, 4), share.ravel(), groups)


def _summed(table: str, entry: Ints, group: Ints, share: Floats, groups: int) -> Block:
    kept = share > 0
    pairs, share = entry[kept] * groups + group[kept], share[kept]
    if pairs.max(initial=0) < MANY * len(pairs):  # counted place by place, without sorting
        dense = np.bincount(pairs, weights=share).astype(float)
        pairs = np.flatnonzero(dense)
        return Block(table, pairs // groups, pairs % groups, dense[pairs])
    pairs, place = np.unique(pairs, return_inverse=True)
    count = np.bincount(place, weights=share, minlength=len(pairs)).astype(float)
    return Block(table, pairs // groups, pairs % groups, count)


def weigh(blocks: Iterable[Block], tables: Mapping[str, Floats], groups: int) -> Floats:
    """Return the log-likelihood of every group (groups,), given each table's logarithms."""
    total = np.zeros(groups)
    for block in blocks:
        logs = tables[block.table].ravel()[block.entry]
        total += np.bincount(block.group, weights=logs * block.count, minlength=groups)
    return total


def logs(values: Floats) -> Floats:
    """Return logarithms, of an impossible entry a very small one."""
    return np.log(np.maximum(values, NIL))


def flushed(values: Floats) -> Floats:
    """Return the values with the vanishing ones set to 0: products of denormal numbers are a hundred times slower."""
    return np.where(values < TINY, 0.0, values)


def doubled_start(ends: Floats) -> Floats:
    """Return the chances by cell as if the first cell, half as long, were a whole one: a density, to read between."""
    return np.concatenate([[2 * ends[0]], ends[1:]])
