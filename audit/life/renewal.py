"""The likelihood of heads whose fitting dates were overwritten: a renewal process since the body was fitted.

A register keeps only the last fitting date. Of a head that failed in the log the start is gone, because the new head's
date stands in its place; leaving such heads out keeps the survivors and stretches the fitted life threefold. So the
starts that cannot be seen are summed over. With f, S the life's density and survival, m the renewal density since the
body went in, a the body's age when the log began, and t the body's age at the first event in the log:

- first failure, start unseen:          f(t) + integral from 0 to a of m(s) f(t - s) ds   (forward recurrence);
- no failure, start unseen:             S(t) + integral from 0 to a of m(s) S(t - s) ds;
- head seen from its own date, age h:   m(h - b) f or S of its age; m drops out where the head is as old as the body;
- every later life in the log:          f or S of its age, given the age at which it began.

Cox, Renewal Theory (1962), chapters 4 and 5. Two things beside failing heads shape what cannot be seen: a share of
failures is mended with a motor, which leaves the head's date alone and takes off only part of its age (Kijima's type I:
an age of `kept` times the head's); and some heads are renewed for another reason, at a constant rate.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from audit.life.grid import NIL, Block, Floats, Grid, Ints, doubled_start, flushed, logs, weigh


@dataclass(frozen=True)
class Unseen:
    """What happened to heads before the log, taken from what happens in it."""

    motor_share: float = 0.0  # of failures, mended with a new motor
    kept: float = 0.0  # share of a head's age that stays after a new motor
    other_rate: float = 0.0  # heads renewed for another reason, a year
    whole_share: float = 0.0  # of failures, mended with a new body too, which gives the body a new date


@dataclass(frozen=True)
class Counts:
    """Every life of a part as counts on a grid.

    `mix` (cells + 1,) is the spread of origins, in years before the first watched day, for valves of unknown origin.
    """

    grid: Grid
    blocks: tuple[Block, ...]
    groups: int
    unseen: Unseen
    mix: Floats

    def log_likelihoods(self, shape: float, scale: float) -> Floats:
        """Return the log-likelihood of each group (groups,)."""
        wanted = {block.table for block in self.blocks}
        return weigh(self.blocks, log_tables(self, shape, scale, wanted), self.groups)

    def __call__(self, log_shape: float, log_scale: float) -> float:
        """Return the log-likelihood of all groups together."""
        return float(self.log_likelihoods(float(np.exp(log_shape)), float(np.exp(log_scale))).sum())


def log_tables(counts: Counts, shape: float, scale: float, wanted: set[str]) -> dict[str, Floats]:
    """Return the logarithms of the tables `wanted`.

    fails, holds, entered: by age. renewed, mixed_renewed: by age at the renewal. lasted: by origin. aged_*: by head age
    at the log's start and span. opening_*: by origin and span, head age unseen. mixed_*: by span alone.
    """
    grid = counts.grid
    alive, ends = grid.masses(shape, scale)
    stay = head_stay(grid, shape, scale, counts.unseen)
    renewals = renewals_of(stay.leaving)
    began = toeplitz(renewals)  # expected heads begun at each age, by body age now
    lasted = began @ _halved(stay.ahead(alive[: grid.cells + 1, None]))[:, 0]
    lasted[0] = 1.0
    began = began / lasted[:, None]  # given that no failure was mended with a whole valve, which dates the body anew
    mixed = counts.mix @ began
    tables = {
        "fails": doubled_start(ends),
        "holds": alive,
        "entered": 1 / np.maximum(alive, NIL),  # a life watched from an age on is divided by its chance to get there
        "renewed": renewals,
        "mixed_renewed": mixed,
        "lasted": 1 / lasted,
    }
    for name, row in (("fails", ends), ("holds", alive)):
        if not wanted & {f"aged_{name}", f"opening_{name}", f"mixed_{name}"}:
            continue
        known = flushed(stay.ahead(grid.from_age(row)))
        tables[f"aged_{name}"] = known
        halved = _halved(known)
        tables[f"mixed_{name}"] = mixed @ halved
        if f"opening_{name}" in wanted:
            tables[f"opening_{name}"] = lower_times(began, halved)
            tables[f"opening_{name}"][0] = known[0]  # body and head began together, right at the log's start
    return {name: logs(tables[name]) for name in wanted}


def _halved(known: Floats) -> Floats:
    """Halve the first row: of the heads begun in the very cell of the log's start, half were begun before it."""
    return np.concatenate([known[:1] / 2, known[1:]])


@dataclass(frozen=True)
class HeadStay:
    """A head on its body, from its own fitting on: by cell of the head's age.

    `leaving` (n,): the chance that it is taken off. `left` (n,): the chance that no other reason took it off.
    `ages` (n, n): the spread of its motor's age, over the chance to reach that age; None where motors are not renewed.
    """

    leaving: Floats
    left: Floats
    ages: Floats | None

    def ahead(self, values: Floats) -> Floats:
        """Return values (age, span) as seen from the head's age instead of its motor's."""
        return np.asarray(self.left[:, None] * (values if self.ages is None else lower_times(self.ages, values)))


def head_stay(grid: Grid, shape: float, scale: float, unseen: Unseen) -> HeadStay:
    """Follow one head from its fitting: failures mended by a motor, failures that end it, other reasons to renew it."""
    n = grid.cells + 1
    alive, ends = (values[:n] for values in grid.masses(shape, scale))
    left = np.exp(-unseen.other_rate * grid.step * np.arange(n))
    if unseen.motor_share == 0:
        working, failing, ages = alive, ends, None
    else:
        failing, ages = _with_motors(grid, ends, shape, scale, unseen)
        working = ages @ alive
    renewed = unseen.other_rate * grid.step * working
    renewed[0] /= 2  # the first cell is half as long
    leaving = left * ((1 - unseen.motor_share - unseen.whole_share) * failing + renewed)
    return HeadStay(leaving, left, ages)


def _with_motors(grid: Grid, ends: Floats, shape: float, scale: float, unseen: Unseen) -> tuple[Floats, Floats]:
    """Return failures (n,) by head age, and the spread of motor ages (n, n) as `HeadStay.ages`.

    A motor fitted at head age r has age kept * r, and at head age j the age j - (1 - kept) * r.
    """
    from scipy.linalg import solve_triangular

    n = grid.cells + 1
    row, fitted, age, log_before, log_after, log_new = _motor_ages(grid.cells, unseen.kept)
    unit = np.log(grid.step / scale)
    gone = np.exp(shape * (log_new + unit))  # cumulative hazard at the motor's first age
    start = gone[fitted]
    chance = np.exp(start - np.exp(shape * (log_before + unit))) - np.exp(start - np.exp(shape * (log_after + unit)))
    again = np.zeros((n, n))
    again[row, fitted] = flushed(unseen.motor_share * chance)
    failing = solve_triangular(np.eye(n) - again, ends, lower=True, check_finite=False)
    weight = unseen.motor_share * failing[fitted] * np.exp(np.minimum(start, 600.0))
    weight = np.where(row == fitted, weight / 2, weight)  # fitted in this very cell: half of them before its middle
    cell = age.astype(np.int64)
    part = age - cell
    ages = np.bincount(row * n + cell, weights=weight * (1 - part), minlength=n * n)
    ages += np.bincount(row * n + np.minimum(cell + 1, n - 1), weights=weight * part, minlength=n * n)
    return failing, flushed(ages.reshape(n, n).astype(float)) + np.eye(n)


@lru_cache(maxsize=8)
def _motor_ages(cells: int, kept: float) -> tuple[Ints, Ints, Floats, Floats, Floats, Floats]:
    """Return what every pair of a head's age and its age when its motor was fitted gives, in cells.

    Both ages, the motor's age, the logarithms of that half a cell before and after, and (by head age) of a new motor's.
    """
    row, fitted = np.tril_indices(cells + 1)
    age = row - (1 - kept) * fitted
    with np.errstate(divide="ignore"):
        before = np.log(np.maximum(age - 0.5, kept * fitted))
        new = np.log(kept * np.arange(cells + 1))
    return row, fitted, age, before, np.log(age + 0.5), new


def lower_times(lower: Floats, other: Floats) -> Floats:
    """Multiply a matrix with zeros above its diagonal by another, at half the cost of a full product."""
    from scipy.linalg.blas import dtrmm

    return np.asarray(dtrmm(1.0, lower.T, other.T, side=1).T)  # in their order, rows first, both are seen transposed


def toeplitz(values: Floats) -> Floats:
    """Return values[row - column] for columns up to the row, 0 beyond."""
    n = len(values)
    padded = np.concatenate([values[::-1], np.zeros(n - 1)])
    return flushed(np.ascontiguousarray(np.lib.stride_tricks.sliding_window_view(padded, n)[::-1]))


def renewals_of(leaving: Floats) -> Floats:
    """Return the expected number of renewals in each cell of the body's age; the first entry is the body's own head.

    As power series in the cells the answer is 1 / (1 - leaving); Newton's steps r (2 - r (1 - leaving)) towards it
    double the cells known (Brent and Kung 1978, J. ACM 25).
    """
    left = -leaving
    left[0] += 1.0  # a head that goes within half a cell is renewed in the same cell
    found = 1 / left[:1]
    while len(found) < len(left):
        known, wanted = len(found), min(2 * len(found), len(left))
        further = np.convolve(found, np.convolve(found, left[:wanted])[known:wanted])[: wanted - known]
        found = np.concatenate([found, -further])
    return found
