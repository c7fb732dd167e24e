"""Trading visits between slots: a slot takes what it can use best, wherever that stands, and the rest is placed anew.

A visit that stands elsewhere gives up what it is worth there, and the hours that it frees count at their price. What a
trade wins is known when the visits it displaced have found their new places; one that wins nothing is undone.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from audit.plan.book import Book
from audit.plan.knapsack import best_of
from audit.plan.problem import NOWHERE, Numbers, Problem, Whole, worth_of

ROUNDS: Final = 4  # over all slots, at most
LOOKED_AT: Final = 120  # visits from elsewhere that a slot looks at: those it could use best
GAIN: Final = 0.005  # GBP: less is not worth a trade


def trade(it: Problem, book: Book, visits: Whole, gain: Numbers, settle: Callable[[], None]) -> None:
    """Improve a placement in place.

    Args:
        it: The problem.
        book: The placement; changed.
        visits: Visits that compete.
        gain: Worth of each visit in each week less the price of its hours, shape (n, w); −inf where it may not be.
        settle: Places whatever is left out, as well as the room allows.
    """
    for _ in range(ROUNDS):
        before = worth_of(it, book.placement)
        for slot in range(len(book.room)):
            _try(it, book, visits, gain, slot, settle)
        if worth_of(it, book.placement) < before + GAIN:
            break


def _try(it: Problem, book: Book, visits: Whole, gain: Numbers, slot: int, settle: Callable[[], None]) -> None:
    was = book.placement
    chosen = _wanted(it, book, visits, gain, slot)
    held = [visit for visit in sorted(book.held[slot]) if not it.settled[visit]]
    if set(chosen) == set(held):
        return
    for visit in held:
        if visit not in chosen:
            book.take(visit)
    for visit in chosen:
        if book.slot[visit] != slot:
            if book.slot[visit] != NOWHERE:
                book.take(visit)
            if book.fits(visit, slot):
                book.put(visit, slot)
    settle()
    if worth_of(it, book.placement) < worth_of(it, was) + GAIN:
        _back(book, was)


def _wanted(it: Problem, book: Book, visits: Whole, gain: Numbers, slot: int) -> list[int]:
    """What the slot would hold at best: its own visits and those of elsewhere, each less what it gives up for it."""
    week = book.week[slot]
    lines = [line for line, slots in enumerate(book.by_week) if slot in slots[week]]
    mine = visits[np.isin(it.line[visits], lines) & (it.worth[visits, week] > 0)]
    at = np.array([book.slot[visit] for visit in mine.tolist()], dtype=np.int64)
    here, out = at == slot, at == NOWHERE
    others = gain[mine].copy()
    others[:, week] = -np.inf
    stands = gain[mine, it.week[np.where(out, 0, at)]]
    gives = np.where(here, np.maximum(others.max(axis=1), 0.0), np.where(out, 0.0, stands))
    value = it.worth[mine, week] - gives
    hours = it.hours[mine, week] + np.array(
        [0.0 if book.area[visit] in book.areas[slot] else book.travel for visit in mine.tolist()]
    )
    rank = np.where(here, np.inf, gain[mine, week] - np.where(out, 0.0, stands))
    order = np.argsort(-rank, kind="stable")[: int(here.sum()) + LOOKED_AT]
    order = np.sort(order[np.isfinite(value[order]) & (value[order] > 0)])
    room = book.room[slot] + float(it.hours[mine[here], week].sum())
    found: list[int] = mine[order][best_of(value[order], hours[order], room)].tolist()
    return found


def _back(book: Book, was: Whole) -> None:
    """Put every visit where it was."""
    moved = [visit for visit, slot in enumerate(was.tolist()) if book.slot[visit] != slot]
    for visit in moved:
        if book.slot[visit] != NOWHERE:
            book.take(visit)
    for visit in moved:
        if was[visit] != NOWHERE:
            book.put(visit, int(was[visit]))
