"""The fit at full size: `python -m tests.benchmarks.plan` plans 20,000 visits into 13 weeks of 20 teams.

Prints the CPU seconds, the certified gap, and the gain over the first form on the same hours: visits in the order of
what they save an hour, each into the earliest week with room. With `sample` behind it, it plans a sample portfolio.
"""

from __future__ import annotations

import datetime as dt
import sys
import tempfile
import time
from pathlib import Path
from unittest import mock

import numpy as np

from audit import pipeline, writing
from audit.plan.book import Book
from audit.plan.fit import fit
from audit.plan.place import place
from audit.plan.problem import NEVER, NOWHERE, Placed, Problem, worth_of
from audit.policy import load_policy
from audit.progress import Progress

VISITS, WEEKS, TEAMS, PATCHES = 20_000, 13, 20, 4
ANYWHERE = 5  # every fifth team


def quarter(hours: float, travel: float, danger: float, seed: int = 1) -> Problem:
    """Invented visits: 0.7 to 5 h, a skewed benefit that a hundredth is lost of each week, one in five not at once."""
    rng = np.random.default_rng(seed)
    week = np.arange(WEEKS)
    takes = np.round(rng.uniform(0.7, 5.0, VISITS), 1)
    worth = rng.gamma(1.5, 60.0, VISITS)[:, None] * (1.0 - 0.01 * week)
    first = rng.integers(0, WEEKS // 3, VISITS) * (rng.random(VISITS) < 0.2)
    line = rng.integers(0, PATCHES, VISITS)
    patch = np.tile([-1 if team % ANYWHERE == ANYWHERE - 1 else team % PATCHES for team in range(TEAMS)], WEEKS)
    return Problem(
        worth=np.where(week >= first[:, None], worth, NEVER),
        hours=np.repeat(takes[:, None], WEEKS, axis=1),
        urgent=rng.random(VISITS) < danger,
        latest=np.ones(VISITS, dtype=np.int64),
        line=line,
        area=line.copy(),
        open_to=tuple(np.flatnonzero((patch == one) | (patch == -1)) for one in range(PATCHES)),
        week=np.repeat(week, TEAMS),
        room=np.full(WEEKS * TEAMS, hours),
        travel=travel,
    )


def first_form(it: Problem) -> float:
    """What the first form of the plan is worth: danger, then by worth an hour, into the earliest week with room."""
    book = Book(it)
    best = it.worth.max(axis=1)
    order = np.lexsort((-best / it.hours[:, 0], ~it.urgent))
    for visit in order.tolist():
        slot = book.first(visit, [week for week in range(it.worth.shape[1]) if it.worth[visit, week] > NEVER])
        if slot != NOWHERE:
            book.put(visit, slot)
    return worth_of(it, book.placement)


def of_sample(homes: int = 2_000, seed: int = 1) -> Problem:
    """The quarter of a sample portfolio, as the whole audit lays it out."""
    laid: list[Problem] = []

    def kept(it: Problem, *limits: float, **asked: bool) -> tuple[Placed, tuple[str, ...]]:
        laid.append(it)
        return fit(it, *limits, **asked)

    with tempfile.TemporaryDirectory() as folder, mock.patch("audit.plan.fitted.fit", kept):
        writing.write_sample(Path(folder), homes, seed, "csv")
        pipeline.audit([Path(folder)], dt.date(2026, 9, 30), load_policy(), None, Progress(pipeline.STEPS))
    return laid[-1]


def against_first_form(it: Problem) -> str:
    """One line: benefit and gap of the plan, and what it is worth more than the first form of it."""
    began = time.process_time()
    found, _ = fit(it, small=400, largest=400)
    spent = time.process_time() - began
    first = first_form(it)
    return (
        f"sample: {len(it.worth):,} visits, {it.room.sum():,.0f} h: {spent:.1f} s CPU, worth £{found.worth:,.0f}, "
        f"{100.0 * (found.worth / first - 1.0):.2f} % more than the first form's £{first:,.0f}, at most "
        f"{100.0 * (found.bound / found.worth - 1.0):.2f} % below the best"
    )


def main() -> None:
    """Print one line a case."""
    if "sample" in sys.argv[1:]:
        print(against_first_form(of_sample()))
        return
    for hours, travel, danger in ((30.0, 0.5, 0.02), (100.0, 0.5, 0.02), (130.0, 0.0, 0.0)):
        it = quarter(hours, travel, danger)
        began = time.process_time()
        found = place(it)
        spent = time.process_time() - began
        gap = 100.0 * (found.bound - found.worth) / found.bound
        gain = 100.0 * (found.worth / first_form(it) - 1.0)
        print(
            f"{VISITS:,} visits, {TEAMS} teams of {hours:g} h, travel {travel:g} h, danger {danger:.0%}: {spent:.1f} s "
            f"CPU, gap {gap:.3f} %, {gain:.2f} % more than the first form"
        )


if __name__ == "__main__":
    main()
