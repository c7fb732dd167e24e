"""From lives to counts: each opening and each later life finds its table and its entry in it."""

from __future__ import annotations

import numpy as np
import pandas as pd

from audit.life.grid import CELLS, LONGEST_YEARS, Block, Floats, Grid, Ints, counted, counted_pairs
from audit.life.lifetimes import PartLives
from audit.life.renewal import Counts

MIX_SHARE = 0.2  # share of valves of known origin that may stand for the others


def count_lives(lives: PartLives, pace: Floats, group: Ints, *, cells: int = CELLS) -> tuple[Counts, pd.DataFrame]:
    """Count the lives of one part in effective years.

    Args:
        lives: The lives, in calendar years.
        pace: (valves,) effective years a year.
        group: (valves,) each valve's group, 0..groups - 1.
        cells: Of the grid.

    Returns:
        The counts, and what went into them: one row a group with valves, failures, exposure_years (calendar) and
        clock, to be added to the log-likelihood where likelihoods at different paces are compared.
    """
    groups = int(group.max(initial=0)) + 1
    opening, later = lives.openings, lives.later
    own, of = opening["valve"].to_numpy(), later["valve"].to_numpy()
    mine = group[own]
    origin, age, span = (opening[name].to_numpy() * pace[own] for name in ("origin", "age", "span"))
    since, dated = ~np.isnan(origin), ~np.isnan(age)
    usable = since | (since.mean() >= MIX_SHARE if len(since) else False)
    longest = max(np.nan_to_num(x).max(initial=0.0) for x in (origin, age, later["ended"].to_numpy() * pace[of]))
    grid = Grid.over(longest, span.max(initial=0.0), cells)
    a, h, w = grid.ages(np.nan_to_num(origin)), grid.ages(np.nan_to_num(age)), grid.spans(span)
    failed = opening["failed"].to_numpy() & (span <= grid.longest_ahead)
    flat = grid.ahead + 1
    blocks = []
    for name, ends in (("fails", failed), ("holds", ~failed)):
        for table, who, start in (("opening", since & ~dated, a), ("aged", usable & dated, h)):
            rows = who & ends
            blocks.append(counted_pairs(f"{table}_{name}", start[rows], w[rows], flat, mine[rows], groups))
        rows = usable & ~since & ~dated & ends
        blocks.append(counted(f"mixed_{name}", w[rows], mine[rows], groups))
    apart = since & dated & (opening["age"] < opening["origin"]).to_numpy()
    alone = usable & ~since & dated
    blocks.append(counted("renewed", np.maximum(a - h, 1.0)[apart], mine[apart], groups))
    blocks.append(counted("mixed_renewed", h[alone], mine[alone], groups))
    blocks.append(counted("lasted", a[since & dated], mine[since & dated], groups))
    blocks += later_blocks(grid, later, pace, group, groups)
    cell = np.rint(a[since & (origin > 0)]).astype(np.int64)
    mix = np.bincount(cell, minlength=grid.cells + 1) / max(len(cell), 1)
    clock = np.log(pace / grid.step)  # of a dated event: a density in calendar years, not a chance in a cell
    events = np.concatenate([*(own[x] for x in (usable & failed, apart, alone)), of[later["failed"].to_numpy(bool)]])
    counts = Counts(grid, tuple(block for block in blocks if len(block.entry)), groups, lives.unseen, mix)
    made = made_of(opening.loc[usable], later, group, groups)
    return counts, made.assign(clock=np.bincount(group[events], weights=clock[events], minlength=groups))


def later_blocks(grid: Grid, lives: pd.DataFrame, pace: Floats, group: Ints, groups: int) -> list[Block]:
    """Count lives of known age: by age at their end, and by age when first watched where that is above 0."""
    of = lives["valve"].to_numpy()
    ended, entered = lives["ended"].to_numpy() * pace[of], lives["entered"].to_numpy() * pace[of]
    failed = lives["failed"].to_numpy(bool) & (ended <= LONGEST_YEARS)
    late = entered > 0
    return [
        counted("fails", grid.ages(ended[failed]), group[of[failed]], groups),
        counted("holds", grid.ages(ended[~failed]), group[of[~failed]], groups),
        counted("entered", grid.ages(entered[late]), group[of[late]], groups),
    ]


def made_of(openings: pd.DataFrame, later: pd.DataFrame, group: Ints, groups: int) -> pd.DataFrame:
    """Return valves, failures and years watched of each group."""
    of = np.concatenate([openings["valve"], later["valve"]]).astype(np.int64)
    watched = np.concatenate([openings["span"], later["ended"] - later["entered"]]).astype(float)
    failures = np.concatenate([openings["failed"], later["failed"]]).astype(float)
    watched, failures = (np.bincount(group[of], weights=each, minlength=groups) for each in (watched, failures))
    return pd.DataFrame(
        {"valves": np.bincount(group, minlength=groups), "failures": failures, "exposure_years": watched}
    )
