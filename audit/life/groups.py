"""Groups of valves, each a part of a greater one, and their lives drawn towards it.

A group's log shape and log scale get a normal prior around those of the group that holds it (the whole stock at the
top), with spreads from the policy: many failures speak for themselves, five do not shout. The weight shown is the
share of the prior's variance that the data left: 1 means the group says nothing, 0 that it needs no prior.

All groups share one set of log-likelihood tables: their log-likelihoods are computed together over a lattice of log
shape and log scale, and a spline through it stands for each group's own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from audit.life.grid import Floats, Ints
from audit.life.likelihood import Peak
from audit.life.surfaces import Surfaces

Leaves = Callable[[float, float], Floats]  # log-likelihood of each leaf group (groups,), of shape and scale

WHOLE = "all"
LATTICE = (9, 13)  # points in log shape and log scale
REACH = (0.9, 1.3)  # of the lattice, to either side of the whole stock's fit


@dataclass(frozen=True)
class Tree:
    """Groups as a tree: `names` and `parent` by group (the whole is group 0, its parent -1), `leaf` by valve."""

    names: tuple[str, ...]
    parent: Ints
    leaf: Ints


@dataclass(frozen=True)
class Prior:
    """Where a group is drawn to, on log scale, and how wide the spread around it."""

    log_shape: float
    log_scale: float
    shape_spread: float
    scale_spread: float

    def __call__(self, log_shape: float, log_scale: float) -> float:
        """Return the penalty, as a log-likelihood."""
        shape = (log_shape - self.log_shape) / self.shape_spread
        scale = (log_scale - self.log_scale) / self.scale_spread
        return -0.5 * (shape * shape + scale * scale)

    def slopes(self, log_shape: float, log_scale: float) -> Floats:
        """Return the penalty's slopes along log shape and log scale (2,)."""
        away = np.array([log_shape - self.log_shape, log_scale - self.log_scale])
        return np.asarray(-away / np.square([self.shape_spread, self.scale_spread]))

    def weight(self, peak: Peak) -> float:
        """Return the prior's weight in a fitted log scale, 0 to 1."""
        return float(min(peak.errors[1] / self.scale_spread, 1.0) ** 2)


def tree(valves: pd.DataFrame, levels: Sequence[Sequence[tuple[str, str]]], least: int) -> Tree:
    """Divide the valves level by level.

    Args:
        valves: One row a valve.
        levels: For each level the columns that divide it, each with the pattern that words its value.
        least: Groups with fewer valves stay undivided in the group that holds them.
    """
    leaf = np.zeros(len(valves), dtype=np.int64)
    names, parent = [WHOLE], [-1]
    for columns in levels:
        code, words = _words(valves, columns)
        pairs, place, size = np.unique(leaf * len(words) + code, return_inverse=True, return_counts=True)
        above, word = pairs // len(words), pairs % len(words)
        told = np.array([bool(words[each]) for each in word])
        new = np.flatnonzero((size >= least) & (size < np.bincount(leaf)[above]) & told)
        new = np.array(sorted(new, key=lambda pair: (above[pair], words[word[pair]])), dtype=np.int64)
        group = above.copy()
        group[new] = len(names) + np.arange(len(new))
        for holder, each in zip(above[new], word[new], strict=True):
            names.append(words[each] if holder == 0 else f"{names[holder]}, {words[each]}")
            parent.append(int(holder))
        leaf = group[place]
    return Tree(tuple(names), np.array(parent), leaf)


def _words(valves: pd.DataFrame, columns: Sequence[tuple[str, str]]) -> tuple[Ints, list[str]]:
    """Word the values of each row, parted by commas: (valves,) places in the list returned. Missing says nothing."""
    code = np.zeros(len(valves), dtype=np.int64)
    said = [""]
    for column, pattern in columns:
        own, values = pd.factorize(valves[column])
        each = ["", *(pattern.format(f"{x:g}" if isinstance(x, float) else x) for x in values)]
        pairs, code = np.unique(code * len(each) + own + 1, return_inverse=True)
        said = [", ".join(filter(None, (said[x // len(each)], each[x % len(each)]))) for x in pairs]
    return code, said


def within(of_group: Floats, parent: Ints) -> Floats:
    """Add each group's values (groups, ...) to the groups that hold it."""
    total = np.array(of_group, dtype=float)
    for group in range(len(parent) - 1, 0, -1):
        total[parent[group]] += total[group]
    return total


def drawn(
    heights: Leaves, parent: Ints, whole: Peak, spreads: tuple[float, float], level: float
) -> list[tuple[Peak, Floats, Prior]]:
    """Fit groups 1.. of a tree, each drawn to its parent.

    Args:
        heights: Log-likelihood of each leaf (groups,), of shape and scale.
        parent: The tree.
        whole: The fit of the whole, group 0.
        spreads: Of the prior, log shape and log scale.
        level: Of the limits.

    Returns:
        For each group from 1 on: its peak, the limits (2, 2) of log shape and log scale, its prior.
    """
    centre = whole.log_shape, whole.log_scale
    axes = [at + far * np.linspace(-1, 1, many) for at, far, many in zip(centre, REACH, LATTICE, strict=True)]
    lattice = np.array([[heights(*np.exp((x, y))) for y in axes[1]] for x in axes[0]])
    of_group = within(np.moveaxis(lattice, -1, 0), parent)
    fits: dict[int, tuple[Peak, Floats, Prior]] = {}
    for groups in generations(parent):
        above = [fits[at][0] if at else whole for at in parent[groups].tolist()]
        priors = [Prior(peak.log_shape, peak.log_scale, *spreads) for peak in above]
        towards = np.array([[prior.log_shape, prior.log_scale] for prior in priors])
        surfaces = Surfaces.through((axes[0], axes[1]), of_group[groups], towards, np.array(spreads))
        peaks = surfaces.peaks()
        fits |= zip(groups.tolist(), zip(peaks, surfaces.limits(peaks, level), priors, strict=True), strict=True)
    return [fits[group] for group in range(1, len(parent))]


def generations(parent: Ints) -> Iterator[Ints]:
    """Yield the groups of a tree below the whole: first its own parts, then theirs, and so on."""
    groups = np.flatnonzero(parent == 0)
    while len(groups):
        yield groups
        groups = np.flatnonzero(np.isin(parent, groups))
