"""Valves of like lives and prices as one class, so that the work does not grow with the portfolio."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.choice.assumed_life import QUARTER
from audit.choice.programme import Costs, Grid, Lives
from audit.forecast.flow import Band, Chances, Floats, Ints
from audit.forecast.valves import MONEY
from audit.life import chance_fail
from audit.life.weibull import hazard_sum

ALIKE: Final = 1e-9  # lives that differ by no more than this, squared and summed, are one class
HALVINGS: Final = 40  # of the range in which a class's scale lies
PARTS: Final = ("head", "body")


@dataclass(frozen=True)
class Coarseness:
    """How finely to reckon: the grid, and the most classes, and bands of heating renewal in each."""

    grid: Grid
    classes: int
    bands: int

    def steps(self, years: int) -> int:
        """The number of steps in so many years."""
        return round(years / self.grid.step)


@dataclass(frozen=True)
class StockClass:
    """Valves of one class; `costs` as of sound ones, motor infinite where it cannot be renewed on its own."""

    lives: Lives
    costs: Costs
    drains: float  # share that needs a drain-down for a whole valve
    weak: bool
    bands: tuple[Band, ...]

    @property
    def valves(self) -> float:
        """How many there are."""
        return float(sum(band.counts.sum() for band in self.bands))

    def chances(self, grid: Grid, doubt: Floats) -> Chances:
        """Chances to fail with the lives off by `doubt` (draws, 4): log shape and log scale of head, then body."""
        off = np.exp(doubt)
        head, body = np.arange(grid.head_steps) * grid.step, np.arange(grid.body_steps) * grid.step
        return Chances(
            chance_fail(head, grid.step, self.lives.head_shape * off[:, :1], self.lives.head_scale * off[:, 1:2]),
            chance_fail(body, grid.step, self.lives.body_shape * off[:, 2:3], self.lives.body_scale * off[:, 3:]),
            self.lives.motor_factor,
        )


def stock_classes(valves: pd.DataFrame, how: Coarseness, years: int, motor_keeps: float) -> tuple[StockClass, ...]:
    """Divide the rows of `audit.forecast.valves.priced_valves` into classes; all valves of a class share its means."""
    return tuple(_class(valves.iloc[rows], how, how.steps(years), motor_keeps) for rows in classed(valves, how.classes))


def _class(valves: pd.DataFrame, how: Coarseness, steps: int, motor_keeps: float) -> StockClass:
    lives = Lives(*_life(valves, "head"), *_life(valves, "body"), motor_keeps)
    money = {name: float(valves[name].mean()) for name in MONEY}
    if not valves["has_motor"].iloc[0]:
        money["motor"] = np.inf
    due = np.maximum(np.rint(valves["due"].to_numpy() * QUARTER / how.grid.step), 1).astype(np.int64)
    return StockClass(
        lives=lives,
        costs=Costs(money["motor"], money["head"], money["full"], money["head_failure"], money["body_failure"]),
        drains=float(valves["drains"].mean()),
        weak=bool(valves["weak"].iloc[0]),
        bands=tuple(_bands(_Ages(valves, lives, how.grid), np.minimum(due, steps), steps, how.bands)),
    )


def classed(valves: pd.DataFrame, most: int) -> list[Ints]:
    """Return the places of the valves of each class: `most` classes, fewer where lives are alike, at least one a kind.

    Kinds are told apart by `weak` and `has_motor`. The class whose logarithms of shapes and scales differ most is
    halved at the mean of the one that differs most, and so on.
    """
    logs = np.log(valves[[f"{part}_{name}" for part in PARTS for name in ("shape", "scale")]].to_numpy())
    kind = 2 * valves["weak"].to_numpy().astype(np.int64) + valves["has_motor"].to_numpy()
    found = [np.flatnonzero(kind == each) for each in np.unique(kind)]
    spreads = [_spread(logs[rows]) for rows in found]
    while len(found) < most:
        worst = int(np.argmax([spread.max() for spread in spreads]))
        rows, spread = found[worst], spreads[worst]
        if spread.max() < ALIKE:
            break
        column = logs[rows, int(spread.argmax())]
        low = column < column.mean()
        for place, part in ((worst, rows[low]), (len(found), rows[~low])):
            found[place : place + 1], spreads[place : place + 1] = [part], [_spread(logs[part])]
    return found


def _spread(logs: Floats) -> Floats:
    """Sum of squares about the mean of each column."""
    return np.asarray(np.square(logs - logs.mean(axis=0)).sum(axis=0))


def _life(valves: pd.DataFrame, part: str) -> tuple[float, float]:
    """The mean shape, and the scale by which as many of the class fail in the next year as by their own lives."""
    shapes, scales = valves[f"{part}_shape"].to_numpy(), valves[f"{part}_scale"].to_numpy()
    known = valves[f"{part}_age"].notna().to_numpy()
    shape, low, high = float(shapes.mean()), float(np.log(scales.min())), float(np.log(scales.max()))
    if high - low < ALIKE or not known.any():
        return shape, float(np.exp(np.log(scales).mean()))
    steps = np.rint(np.maximum(valves[f"{part}_age"].to_numpy()[known], 0.0) / QUARTER)
    wanted = chance_fail(steps * QUARTER, 1.0, shapes[known], scales[known]).sum()
    counts = np.bincount(steps.astype(np.int64))
    ages = np.arange(len(counts)) * QUARTER
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        fail_more = counts @ chance_fail(ages, 1.0, shape, np.exp(middle)) > wanted
        low, high = (middle, high) if fail_more else (low, middle)
    return shape, float(np.exp(low))


class _Ages:
    """Counts valves of a class by age; one whose age is not known counts as the ages of a stock long renewed do."""

    def __init__(self, valves: pd.DataFrame, lives: Lives, grid: Grid) -> None:
        self.step = np.stack([_age_steps(valves[f"{part}_age"], most, grid.step) for part, most in _sizes(grid)])
        self.most = np.array([most for _, most in _sizes(grid)])
        self.usual = [
            _usual(shape, scale, most, grid.step)
            for (_, most), shape, scale in zip(
                _sizes(grid),
                (lives.head_shape, lives.body_shape),
                (lives.head_scale, lives.body_scale),
                strict=True,
            )
        ]

    def count(self, inside: npt.NDArray[np.bool_]) -> Floats:
        """Return how many of the valves `inside` are of each age of head and body; the last cell is not known."""
        head, body = self.step[:, inside]
        size = self.most + 1
        table = np.bincount(head * size[1] + body, minlength=int(size.prod())).reshape(size).astype(np.float64)
        table[:-1] += np.outer(self.usual[0], table[-1])
        table[:, :-1] += np.outer(table[:, -1], self.usual[1])
        return np.ascontiguousarray(table[:-1, :-1])


def _sizes(grid: Grid) -> tuple[tuple[str, int], tuple[str, int]]:
    return ("head", grid.head_steps), ("body", grid.body_steps)


def _age_steps(age: pd.Series, most: int, step: float) -> Ints:
    """Ages on the grid; `most` where not known."""
    steps = np.minimum(np.rint(np.maximum(age.to_numpy(float), 0.0) / step), most - 1)
    return np.where(np.isnan(steps), most, steps).astype(np.int64)


def _usual(shape: float, scale: float, most: int, step: float) -> Floats:
    """The ages of a stock that has long been renewed as it fails, as shares."""
    lives = np.exp(-hazard_sum(np.arange(most) * step, shape, scale))
    return np.asarray(lives / lives.sum())


def _bands(ages: _Ages, due: Ints, steps: int, most: int) -> Iterator[Band]:
    """Divide a class by when its heating is renewed; the valves whose heating is not come last."""
    soon = due < steps
    edges = np.unique(np.quantile(due[soon], np.linspace(0, 1, most + 1)[1:], method="higher")) if soon.any() else ()
    low = 0
    for edge in edges:
        inside = soon & (due > low) & (due <= edge)
        low = edge
        at = np.bincount(due[inside], minlength=steps + 1)[1:].astype(np.float64)
        left = np.cumsum(at[::-1])[::-1]
        mean = np.cumsum((at * np.arange(1, steps + 1))[::-1])[::-1] / np.maximum(left, 1)
        to_go = np.maximum(np.rint(mean).astype(np.int64) - np.arange(steps), 1)
        yield Band(ages.count(inside), at / np.maximum(left, 1), to_go)
    yield Band(ages.count(~soon), np.zeros(steps), steps - np.arange(steps))
