"""The fit as plain arrays: visits that each want one slot, slots that hold hours, and what each pair is worth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Numbers = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

NOWHERE = -1
NEVER = -np.inf  # worth of a visit in a week outside its window
CRUMB = 1e-9  # hours: sums of decimal hours may miss by this much


@dataclass(frozen=True)
class Problem:
    """Visits (n), weeks (w), slots (s). A visit goes into one slot or nowhere; hours of a slot are never exceeded.

    Attributes:
        worth: GBP of each visit in each week, shape (n, w); −inf in weeks outside its window.
        hours: Hours that it takes there, shape (n, w), all above nought.
        urgent: Danger, and homes without heat: placed before anything else, shape (n,).
        latest: Last week in which these are in time, shape (n,).
        line: Which row of `open_to` holds, shape (n,).
        area: Number of the area it lies in, shape (n,).
        open_to: Slots that each kind of visit may use, the preferred first within a week; one array a kind.
        week: Week of each slot, shape (s,).
        room: Hours of each slot, shape (s,).
        travel: Hours that a slot spends for each area that it works in.
        fixed: Slot that the planner keeps a visit in, shape (n,); NOWHERE for the others. Those fit, all together.
        cost: GBP that each visit spends in each week, shape (n, w); needed with a budget only.
        budget: GBP that all visits may spend.
        danger: Those of the urgent that come before the others, shape (n,); all of them where None.
    """

    worth: Numbers
    hours: Numbers
    urgent: Flags
    latest: Whole
    line: Whole
    area: Whole
    open_to: tuple[Whole, ...]
    week: Whole
    room: Numbers
    travel: float = 0.0
    fixed: Whole | None = None
    cost: Numbers | None = None
    budget: float = np.inf
    danger: Flags | None = None

    @property
    def ranks(self) -> tuple[Flags, ...]:
        """The urgent, most urgent first; those that come first before the others."""
        first = self.urgent if self.danger is None else self.danger
        return first, self.urgent & ~first

    @property
    def kept(self) -> Flags:
        """Visits that the planner keeps in their slots, shape (n,)."""
        return np.zeros(len(self.worth), dtype=bool) if self.fixed is None else self.fixed != NOWHERE

    @property
    def settled(self) -> Flags:
        """Visits that are placed before the others compete, shape (n,)."""
        return np.asarray(self.urgent | self.kept)

    @property
    def spends(self) -> Numbers | None:
        """GBP of each visit in each week where a budget binds; else None."""
        return self.cost if np.isfinite(self.budget) else None

    @property
    def pairs(self) -> int:
        """Pairs of visit and slot that its window allows."""
        allowed = np.isfinite(self.worth)
        return int(
            sum(
                allowed[self.line == line][:, self.week[slots]].sum()
                for line, slots in enumerate(self.open_to)
                if len(slots)
            )
        )


@dataclass(frozen=True)
class Placed:
    """Where each visit goes: `slot` (NOWHERE where left out), what it is worth in sum, and a bound on any plan's.

    `bound` holds with the urgent placed as they are: no plan of the other visits, in the hours left, is worth more.
    """

    slot: Whole
    worth: float
    bound: float
    how: str


def worth_of(it: Problem, slot: Whole) -> float:
    """Return what a placement is worth, in GBP."""
    there = np.flatnonzero(slot != NOWHERE)
    return float(it.worth[there, it.week[slot[there]]].sum())


def spent(it: Problem, slot: Whole) -> float:
    """Return the GBP that a placement spends; nothing where the problem knows no costs."""
    there = np.flatnonzero(slot != NOWHERE)
    return 0.0 if it.cost is None else float(it.cost[there, it.week[slot[there]]].sum())


def hours_used(it: Problem, slot: Whole) -> Numbers:
    """Return the hours that a placement takes of each slot, travel included, shape (s,)."""
    there = np.flatnonzero(slot != NOWHERE)
    used = np.bincount(slot[there], weights=it.hours[there, it.week[slot[there]]], minlength=len(it.room))
    areas = np.unique(np.stack([slot[there], it.area[there]]), axis=1)[0] if len(there) else there
    return np.asarray(used + it.travel * np.bincount(areas, minlength=len(it.room)))


def possible(it: Problem) -> Flags:
    """Return the weeks in which each visit's window is open and one of its slots has the hours for it, were it empty.

    Shape (n, w).
    """
    most = np.zeros((len(it.open_to), it.worth.shape[1]))
    for line, slots in enumerate(it.open_to):
        np.maximum.at(most[line], it.week[slots], it.room[slots])
    return np.asarray(np.isfinite(it.worth) & (it.hours + it.travel <= most[it.line] + CRUMB))
