"""When the first bodies of a home went in, and what that tells of their lives, home by home.

The bodies of a home began together; those still there since show the day. But where all of them were renewed, or one
valve is all there is, the first day is gone. So a home's chance is summed over every possible origin a:

    sum over a of p(a) * product over the home's bodies of what `audit.life.bodies` says of each, given a,

with p(a) the spread of origins in the stock. Life, rate of renewal before the log and p are fitted together, p by EM
(Dempster, Laird and Rubin 1977) in turn with the others. Homes of which the same is known count together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.life.bodies import BANDS, Past, ahead, known_ages
from audit.life.counting import later_blocks
from audit.life.grid import NIL, TINY, Block, Floats, Grid, Ints, doubled_start, logs, weigh
from audit.life.groups import Prior
from audit.life.lifetimes import PartLives

if TYPE_CHECKING:
    from scipy.sparse import csr_array

Bools = npt.NDArray[np.bool_]

CELLS = 48  # of the grid of origins, less than a year each
LOG_SHAPES, LOG_SCALES = (-1.6, 2.7), (0.0, 6.0)  # where the search goes
LOG_RATES = (-9.0, -1.5)  # of renewals before the log, a year
KNOWN_SHARE = 0.2  # with fewer bodies of known age the others tell nothing
LEAST = float(np.log(TINY))  # log chance of an origin, relative to the likeliest
OLDER = 5.0  # years by which an origin may be older than the oldest body still there
LEAST_BEND = 0.1  # added, so that a rate of which nothing is known stays where it is
SLIGHT = 1e-4  # step of the first differences, log scale
BEND = 0.02  # step of the second differences, log scale
SAME = 0.02  # years; bodies of one home that differ by less went in together
ENOUGH = 3_000  # homes, to fit past and spread by
TURNS = 3  # of fitting life and past, then the spread
EM_STEPS = 25
FEW_STEPS = 8  # to follow a life that moves


@dataclass(frozen=True)
class HomeCounts:
    """What is known of homes, each kind of home once.

    `seen` (kinds, codes): how often each code of `_codes` occurs in such a home; `homes` (kinds,): how many there are;
    `blocks`: what does not depend on the origin; `spread` (cells + 1,): p(a). As life and past explain each other, the
    past moves with the life: its log rates by `drift` (bands, 2) times the step of both logarithms from `centre` (2,).
    """

    grid: Grid
    seen: csr_array
    homes: Floats
    blocks: tuple[Block, ...]
    past: Past
    spread: Floats
    centre: Floats = field(default_factory=lambda: np.zeros(2))
    drift: Floats = field(default_factory=lambda: np.zeros((len(BANDS) + 1, 2)))

    def __call__(self, log_shape: float, log_scale: float) -> float:
        """Return the log-likelihood of the life, past and spread of origins the best for it."""
        moved = np.log(self.past.rates) + self.drift @ (np.array([log_shape, log_scale]) - self.centre)
        return replace(self, past=Past(np.exp(moved))).height(log_shape, log_scale, FEW_STEPS)

    def height(self, log_shape: float, log_scale: float, steps: int = 0) -> float:
        """Return the log-likelihood of the life with this past, the spread refitted by so many steps."""
        shape, scale = float(np.exp(log_shape)), float(np.exp(log_scale))
        top, given = self._scaled(shape, scale)
        home = top + logs(given @ self._spread(given, steps))
        return float(self.homes @ home) + self._apart(shape, scale) + self.past.roughness

    def slopes(self, log_shape: float, log_scale: float) -> tuple[float, Floats]:
        """Return the height, and its slopes along log shape, log scale and the log rates of the past (2 + bands,).

        A mixture's slope is the mean slope over what is hidden, here the origins (Louis 1982), so that small steps
        along each need only the small tables.
        """
        life, rates = np.array([log_shape, log_scale]), np.log(self.past.rates)
        shape, scale = np.exp(life).tolist()
        top, given = self._scaled(shape, scale)
        chance = given @ self.spread
        weight = self.seen.T @ (given * self.spread * (self.homes / np.maximum(chance, NIL))[:, None])
        ages, tables = self.past.ages(self.grid), ahead(self.grid, shape, scale)

        def of_life(at: Floats) -> float:
            shape, scale = np.exp(at).tolist()
            told = _explained(ages, ahead(self.grid, shape, scale))
            return float((weight[: len(told)] * told).sum()) + self._apart(shape, scale)

        def of_past(at: Floats) -> float:
            past = Past(np.exp(at))
            told = _explained(past.ages(self.grid), tables)
            return float((weight[: len(told)] * told).sum()) + past.roughness

        height = float(self.homes @ (top + logs(chance))) + self._apart(shape, scale) + self.past.roughness
        return height, np.concatenate([_slopes(of_life, life), _slopes(of_past, rates)])

    def with_spread(self, shape: float, scale: float) -> HomeCounts:
        """Return the same with the spread of origins that fits best."""
        return replace(self, spread=self._spread(self._scaled(shape, scale)[1], EM_STEPS))

    def of_origins(self, shape: float, scale: float) -> Floats:
        """Return the log chance of what is known of each kind of home, given each origin (kinds, cells + 1)."""
        told = _explained(self.past.ages(self.grid), ahead(self.grid, shape, scale))
        return np.asarray(self.seen @ np.concatenate([told, logs(np.eye(self.grid.cells + 1))]))

    def _apart(self, shape: float, scale: float) -> float:
        """Return the log-likelihood of what no origin touches: lives of known age."""
        middle, edges = self.grid.hazard_sums(shape, scale)
        fails = logs(doubled_start(np.exp(-edges[:-1]) - np.exp(-edges[1:])))
        tables = {"fails": fails, "holds": -middle, "entered": middle}
        return float(weigh(self.blocks, tables, 1).sum())

    def _scaled(self, shape: float, scale: float) -> tuple[Floats, Floats]:
        """Return each kind's greatest log chance (kinds,), and its chances relative to that (kinds, cells + 1)."""
        given = self.of_origins(shape, scale)
        top = given.max(axis=1)
        given -= top[:, None]
        np.maximum(given, LEAST, out=given)  # vanishing ones would be slow to multiply
        return top, np.exp(given, out=given)

    def _spread(self, given: Floats, steps: int) -> Floats:
        spread = self.spread
        for _ in range(steps):
            spread = spread * (given.T @ (self.homes / (given @ spread))) / self.homes.sum()
        return spread


def _explained(ages: Floats, tables: Iterable[Floats]) -> Floats:
    """Return the log chance of each code that is not sure, given each origin (codes, cells + 1); see `_codes`."""
    return logs(np.concatenate([ages.T, *((ages @ table).T for table in tables)]))


def _slopes(value: Callable[[Floats], float], at: Floats) -> list[float]:
    """Return the slopes of a value along each of its numbers, by central differences."""
    return [(value(at + step) - value(at - step)) / (2 * SLIGHT) for step in SLIGHT * np.eye(len(at))]


def fit_homes(bodies: PartLives, home: Ints, prior: Prior) -> tuple[HomeCounts, PartLives]:
    """Fit past and spread, and draw an origin for every opening from its probability, by a fixed lot.

    Args:
        bodies: Lives of bodies; an opening of origin 0 began when it was first watched and is left alone.
        home: (valves,) the home of each, 0..homes - 1.
        prior: The assumed life, where the search begins and to which it is drawn.

    Returns:
        All homes counted, with past and spread as fitted, for the fit of the life; and the lives with their origins.
    """
    opening = bodies.openings
    if opening["age"].notna().mean() < KNOWN_SHARE:
        bodies = replace(bodies, openings=opening.loc[opening["origin"].eq(0)])
    counts, kind = count_homes(bodies, home)
    every = -(-len(kind) // ENOUGH)
    sample = count_homes(_every(bodies, home, every), home)[0] if every > 1 else counts
    life = prior.log_shape, prior.log_scale
    for _ in range(TURNS if len(sample.homes) else 0):
        sample = sample.with_spread(float(np.exp(life[0])), float(np.exp(life[1])))
        life, past = _life_and_past(sample, life, prior)
        sample = replace(sample, past=past)
    drift = _drift(sample, life) if len(sample.homes) else counts.drift
    counts = replace(counts, past=sample.past, spread=sample.spread, centre=np.array(life), drift=drift)
    return counts, replace(bodies, openings=_with_origins(counts, bodies, home, kind, life))


def count_homes(bodies: PartLives, home: Ints) -> tuple[HomeCounts, Ints]:
    """Count homes of which the same is known; returns also the kind of each home that was there before the log.

    Past and spread are where a search may begin.
    """
    from scipy.sparse import csr_array

    opening = bodies.openings
    there = opening.loc[opening["origin"].ne(0)]
    longest = np.nan_to_num((opening["age"] + opening["span"]).to_numpy()).max(initial=0.0) + OLDER
    grid = Grid.over(longest, opening["span"].to_numpy().max(initial=0.0), CELLS)
    numbers, own = np.unique(home[there["valve"]], return_inverse=True)
    oldest, together = _oldest(there["age"].to_numpy(), own, len(numbers))
    sure = 2 * (grid.ahead + 1) + grid.cells + 1 + _cell(grid, oldest[together])
    codes, homes = np.concatenate([_codes(grid, there), sure]), np.concatenate([own, np.flatnonzero(together)])
    shape = len(numbers), 2 * (grid.ahead + 1) + 2 * (grid.cells + 1)
    known = csr_array((np.ones(len(codes)), (homes, codes)), shape=shape)
    mark = known @ np.random.default_rng(0).random(shape[1])  # equal for equal homes, and for no others
    _, first, kind, many = np.unique(mark, return_index=True, return_inverse=True, return_counts=True)
    dated = opening.loc[opening["age"].notna()]
    blocks = later_blocks(
        grid, pd.concat([known_ages(dated), bodies.later]), np.ones(len(home)), np.zeros_like(home), 1
    )
    spread = np.bincount(_cell(grid, oldest), minlength=grid.cells + 1) + 0.1
    kept = tuple(block for block in blocks if len(block.entry))
    return HomeCounts(grid, known[first], many.astype(float), kept, Past.usual(), spread / spread.sum()), kind


def _every(bodies: PartLives, home: Ints, every: int) -> PartLives:
    """Return the lives in every so-manieth home."""
    openings, later = (x.loc[home[x["valve"]] % every == 0] for x in (bodies.openings, bodies.later))
    return replace(bodies, openings=openings, later=later)


def _oldest(age: Floats, own: Ints, homes: int) -> tuple[Floats, Bools]:
    """Return the age of each home's oldest body, 0 where none is known, and whether another is as old to the day.

    Two bodies of one day are those that the home began with: later renewals do not fall together.
    """
    oldest = np.zeros(homes)
    np.maximum.at(oldest, own, np.nan_to_num(age))
    return oldest, np.bincount(own[age > oldest[own] - SAME], minlength=homes) > 1


def _cell(grid: Grid, age: Floats) -> Ints:
    return np.rint(grid.ages(age)).astype(np.int64)


def _codes(grid: Grid, opening: pd.DataFrame) -> Ints:
    """Return what is known of each body as a row of `HomeCounts.of_origins`: age, or how the span ended and when."""
    age, span = opening["age"].to_numpy(), np.rint(grid.spans(opening["span"].to_numpy())).astype(np.int64)
    after = grid.cells + 1 + span + np.where(opening["failed"], 0, grid.ahead + 1)
    return np.where(np.isnan(age), after, _cell(grid, np.nan_to_num(age)))


def _life_and_past(counts: HomeCounts, life: tuple[float, float], prior: Prior) -> tuple[tuple[float, float], Past]:
    """Fit log shape, log scale and the rates of the past together."""
    from scipy.optimize import minimize

    def short(values: Floats) -> tuple[float, Floats]:
        height, slopes = replace(counts, past=Past(np.exp(values[2:]))).slopes(*values[:2].tolist())
        slopes[:2] += prior.slopes(*values[:2].tolist())
        return -(height + prior(values[0], values[1])), -slopes

    start = np.concatenate([life, np.log(counts.past.rates)])
    bounds = [LOG_SHAPES, LOG_SCALES] + [LOG_RATES] * len(counts.past.rates)
    found = minimize(short, start, method="L-BFGS-B", jac=True, bounds=bounds).x
    return (float(found[0]), float(found[1])), Past(np.exp(found[2:]))


def _height(counts: HomeCounts, values: Floats) -> float:
    """Return the log-likelihood of log shape, log scale and the log rates of the past."""
    return replace(counts, past=Past(np.exp(values[2:]))).height(float(values[0]), float(values[1]))


def _drift(counts: HomeCounts, life: tuple[float, float]) -> Floats:
    """Return how the best log rates of the past move with log shape and log scale: (bands, 2), from the curvature."""
    at = np.concatenate([life, np.log(counts.past.rates)])
    steps, bands = BEND * np.eye(len(at)), range(2, len(at))
    own = np.array([[_bend(counts, at, steps[i], steps[j]) if j <= i else 0.0 for j in bands] for i in bands])
    own = own + np.tril(own, -1).T - LEAST_BEND * np.eye(len(own))
    across = np.array([[_bend(counts, at, steps[i], steps[j]) for j in (0, 1)] for i in bands])
    return np.asarray(-np.linalg.solve(own, across))


def _bend(counts: HomeCounts, at: Floats, one: Floats, other: Floats) -> float:
    """Return the mixed second difference of the log-likelihood."""
    heights = [_height(counts, at + i * one + j * other) for i in (1, -1) for j in (1, -1)]
    return (heights[0] - heights[1] - heights[2] + heights[3]) / (4 * BEND**2)


def _with_origins(
    counts: HomeCounts, bodies: PartLives, home: Ints, kind: Ints, life: tuple[float, float]
) -> pd.DataFrame:
    """Give each opening its home's drawn origin, to the day where the oldest body known is one of the first."""
    opening, grid = bodies.openings, counts.grid
    there = opening["origin"].ne(0).to_numpy()
    numbers, own = np.unique(home[opening["valve"]][there], return_inverse=True)
    joint = counts.of_origins(float(np.exp(life[0])), float(np.exp(life[1]))) + logs(counts.spread)
    chance = np.cumsum(np.exp(joint - joint.max(axis=1, keepdims=True)), axis=1)
    edges = (chance / chance[:, -1:] + np.arange(len(chance))[:, None]).ravel()
    lot = np.random.default_rng(0).random(len(numbers))
    drawn = np.minimum(np.searchsorted(edges, kind + lot) - kind * (grid.cells + 1), grid.cells)[own]
    age = opening["age"].to_numpy()[there]
    oldest = _oldest(age, own, len(numbers))[0][own]
    years = opening["origin"].to_numpy().copy()
    years[there] = np.where((_cell(grid, oldest) == drawn) & (oldest > 0), oldest, np.fmax(drawn * grid.step, oldest))
    return opening.assign(origin=years)
