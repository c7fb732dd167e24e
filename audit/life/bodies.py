"""The likelihood of bodies, whose overwritten dates no earlier date of their own explains.

Heating is put in as a whole, so the bodies of a home began together on its first day, its origin. Between that day and
the log bodies were renewed, for whatever reason; works of the past have left no visits, so how often is fitted apart,
as a rate by age. With the origin a years back, p(x | a) the chance that a body is x years old when the log begins (from
that rate, by the renewal equation), and S, f of the life sought:

- still there, x old then:              p(x | a) S(x + w) / S(x), w the span watched;
- renewed after w, age not known:       sum over x of p(x | a) f(x + w) / S(x), or S if for another reason;
- fitted while watched:                 f or S of its age.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from audit.life.counting import later_blocks, made_of
from audit.life.grid import CELLS, NIL, Block, Floats, Grid, Ints, counted_pairs, doubled_start, flushed, logs, weigh
from audit.life.lifetimes import PartLives
from audit.life.renewal import renewals_of, toeplitz

BANDS = np.array([4.0, 8.0, 12.0, 16.0, 20.0])  # years of age, between the bands of the rate of renewal
USUAL_RATE = 0.015  # a year, where the search begins
SMOOTH = 0.7  # standard deviation between neighbouring bands, log scale


@dataclass(frozen=True)
class Past:
    """How often bodies of each band of age were renewed before the log, a year."""

    rates: Floats

    @classmethod
    def usual(cls) -> Past:
        """Return the rates to begin with."""
        return cls(np.full(len(BANDS) + 1, USUAL_RATE))

    @property
    def roughness(self) -> float:
        """Return the penalty on rates that jump from band to band, as a log-likelihood."""
        return float(-0.5 * (np.square(np.diff(np.log(self.rates))) / SMOOTH**2).sum())

    def ages(self, grid: Grid) -> Floats:
        """Return p(x | a): rows origin a, columns age x, (cells + 1, cells + 1); rows sum to 1."""
        rate = self.rates[np.searchsorted(BANDS, grid.step * np.arange(grid.cells + 1), side="right")] * grid.step
        edge = np.exp(-np.cumsum(rate) + rate[0] / 2)  # left half a cell beyond each age
        left = np.exp(-np.concatenate([[0.0], np.cumsum((rate[1:] + rate[:-1]) / 2)]))
        leaving = -np.diff(edge, prepend=1.0)
        spread = toeplitz(renewals_of(leaving)) * left
        spread[1:, 0] /= 2  # of the bodies fitted in the very cell of the log's start, half were fitted before it
        spread[0, 0] = 1.0
        return flushed(spread / spread.sum(axis=1, keepdims=True))


@dataclass(frozen=True)
class BodyCounts:
    """Every body's life as counts on a grid, each with its origin; `ages` as `Past.ages`."""

    grid: Grid
    blocks: tuple[Block, ...]
    groups: int
    ages: Floats

    def log_likelihoods(self, shape: float, scale: float) -> Floats:
        """Return the log-likelihood of each group (groups,) but for p(x | a), which the life does not touch."""
        return weigh(self.blocks, self._tables(shape, scale), self.groups)

    def __call__(self, log_shape: float, log_scale: float) -> float:
        """Return the same of all groups together."""
        return float(self.log_likelihoods(float(np.exp(log_shape)), float(np.exp(log_scale))).sum())

    def drawn_ages(self, opening: pd.DataFrame, shape: float, scale: float) -> pd.Series[float]:
        """Return an age on the first watched day for each opening of unknown age, by a fixed lot."""
        asked = opening.loc[opening["age"].isna()]
        origin = np.rint(self.grid.ages(asked["origin"].to_numpy())).astype(np.int64)
        span = np.rint(self.grid.spans(asked["span"].to_numpy())).astype(np.int64)
        ends = np.where(asked["failed"], 0, 1)
        kinds, place = np.unique(np.stack([origin, span, ends]), axis=1, return_inverse=True)
        tables = np.stack(ahead(self.grid, shape, scale))
        chance = np.cumsum(self.ages[kinds[0]] * tables[kinds[2], :, kinds[1]], axis=1)
        edges = (chance / np.maximum(chance[:, -1:], NIL) + np.arange(len(kinds.T))[:, None]).ravel()
        lot = np.random.default_rng(0).random(len(asked))
        cell = np.searchsorted(edges, place.ravel() + lot) - place.ravel() * (self.grid.cells + 1)
        return pd.Series(np.minimum(cell, self.grid.cells) * self.grid.step, index=asked.index)

    def _tables(self, shape: float, scale: float) -> dict[str, Floats]:
        """Return log tables fails, holds, entered by age, and opening_* by origin and span."""
        middle, edges = self.grid.hazard_sums(shape, scale)
        fails, holds = ahead(self.grid, shape, scale)
        return {
            "fails": logs(doubled_start(np.exp(-edges[:-1]) - np.exp(-edges[1:]))),
            "holds": -middle,
            "entered": middle,
            "opening_fails": logs(self.ages @ fails),
            "opening_holds": logs(self.ages @ holds),
        }


def ahead(grid: Grid, shape: float, scale: float) -> tuple[Floats, Floats]:
    """Return by age and span the chance to fail in that cell, and to hold that long, given life at the age."""
    middle, edges = grid.hazard_sums(shape, scale)
    start = middle[: grid.cells + 1, None]
    holds, lower, upper = (np.exp(start - np.maximum(grid.from_age(x), start)) for x in (middle, edges[:-1], edges[1:]))
    return flushed(lower - upper), flushed(holds)


def known_ages(opening: pd.DataFrame) -> pd.DataFrame:
    """Return openings of known age as lives watched from that age on."""
    return pd.DataFrame(
        {
            "valve": opening["valve"],
            "entered": opening["age"],
            "ended": opening["age"] + opening["span"],
            "failed": opening["failed"],
        }
    )


def count_bodies(lives: PartLives, past: Past, group: Ints, *, cells: int = CELLS) -> tuple[BodyCounts, pd.DataFrame]:
    """Count lives of bodies in calendar years, every opening with its origin; returns as `count_lives`."""
    groups = int(group.max(initial=0)) + 1
    opening = lives.openings
    longest = (opening["origin"] + opening["span"]).to_numpy().max(initial=0.0)
    grid = Grid.over(longest, opening["span"].to_numpy().max(initial=0.0), cells)
    dated = opening["age"].notna()
    blocks = later_blocks(
        grid, pd.concat([known_ages(opening.loc[dated]), lives.later]), np.ones(len(group)), group, groups
    )
    for name, rows in (("fails", ~dated & opening["failed"]), ("holds", ~dated & ~opening["failed"])):
        of = opening.loc[rows]
        start, span = grid.ages(of["origin"].to_numpy()), grid.spans(of["span"].to_numpy())
        blocks.append(counted_pairs(f"opening_{name}", start, span, grid.ahead + 1, group[of["valve"]], groups))
    counts = BodyCounts(grid, tuple(x for x in blocks if len(x.entry)), groups, past.ages(grid))
    return counts, made_of(opening, lives.later, group, groups)
