"""Placing visits one by one: danger first, then by what they gain at the hours' prices; then swaps that gain more."""

from __future__ import annotations

from typing import Final

import numpy as np

from audit.plan import tighter
from audit.plan.book import Book
from audit.plan.core import settled_core
from audit.plan.knapsack import best_of
from audit.plan.price import Priced, priced
from audit.plan.problem import CRUMB, NEVER, NOWHERE, Numbers, Placed, Problem, Whole, worth_of
from audit.plan.trade import trade

ROUNDS: Final = 6  # of swaps, at most
NEAREST: Final = 150  # visits left out that each slot looks at, the nearest to being worth the price of their hours
ENOUGH: Final = 1e-4  # of the whole worth: a round that wins less is the last
REGRET: Final = -1.0  # in place of a power: by what is lost where the best week is full
SIZE_COUNTS: Final = (1.0, 0.75, 0.5, 0.25, 0.0, 1.25, REGRET)  # orders: by gain for each hour to this power
SEVERAL_ORDERS: Final = 2_000  # visits, up to which there is time for all of them
GAIN: Final = 0.005  # GBP: less is not worth a swap


def place(it: Problem) -> Placed:
    """Place every visit that finds room; the bound holds for the visits that are no danger, danger as placed.

    Small quarters are placed in several orders, and the best is kept.
    """
    book = Book(it)
    place_settled(it, book)
    others = np.flatnonzero(~it.settled & (it.worth.max(axis=1, initial=-np.inf) > 0))
    prices = priced(it, free_hours(it, book), others, book.money)
    fixed = worth_of(it, book.placement)
    gain = _gains(it, prices, others)
    best = _placed(it, book, others, gain, SIZE_COUNTS[0], prices.of_a_pound)
    for power in SIZE_COUNTS[1:] if len(others) <= SEVERAL_ORDERS else ():
        book = Book(it)
        place_settled(it, book)
        other = _placed(it, book, others, gain, power, prices.of_a_pound)
        best = max(best, other, key=lambda slot: worth_of(it, slot))
    if len(others) <= SEVERAL_ORDERS:
        best = _traded(it, best, others, gain)
        best = settled_core(it, best, gain)
    worth, most = worth_of(it, best), prices.bound
    if len(others) <= SEVERAL_ORDERS and it.spends is None:
        book = Book(it)
        place_settled(it, book)
        first = np.maximum(gain.max(axis=1, initial=-np.inf), 0.0)
        most = tighter.bound(it, book, others, first, worth - fixed, most)
    return Placed(best, worth, fixed + most, "priced")


def _placed(it: Problem, book: Book, visits: Whole, gain: Numbers, power: float, pound: float) -> Whole:
    _fill(it, book, visits, gain, power, one_area=True)
    for _ in range(ROUNDS):
        _earlier(it, book, visits)
        won = _repack(it, book, visits, gain, pound)
        _fill(it, book, visits[book.placement[visits] == NOWHERE], gain, power)
        if won < ENOUGH * worth_of(it, book.placement):
            break
    _earlier(it, book, visits)
    return book.placement


def _traded(it: Problem, slot: Whole, visits: Whole, gain: Numbers) -> Whole:
    """The placement after trades between its slots."""
    book = Book(it)
    for visit in np.flatnonzero(slot != NOWHERE).tolist():
        book.put(visit, int(slot[visit]))

    def settle() -> None:
        _fill(it, book, visits[book.placement[visits] == NOWHERE], gain, SIZE_COUNTS[0])
        _earlier(it, book, visits)

    trade(it, book, visits, gain, settle)
    return book.placement


def place_settled(it: Problem, book: Book) -> None:
    """Place what the planner keeps, then danger in the order given, each in its first week with room."""
    for visit in np.flatnonzero(it.kept).tolist():
        if it.fixed is not None and book.fits(visit, int(it.fixed[visit])):
            book.put(visit, int(it.fixed[visit]))
    for visit in np.flatnonzero(it.urgent & ~it.kept).tolist():
        weeks = [week for week, worth in enumerate(it.worth[visit].tolist()) if worth != -np.inf]
        slot = book.first(visit, weeks)
        if slot != NOWHERE:
            book.put(visit, slot)


def free_hours(it: Problem, book: Book) -> Numbers:
    """Hours left in each slot, less the one journey that a slot not yet in use needs."""
    unused = np.array([not areas for areas in book.areas], dtype=bool)
    return np.maximum(np.array(book.room, dtype=np.float64) - it.travel * unused, 0.0)


def _gains(it: Problem, prices: Priced, visits: Whole) -> Numbers:
    """Worth less the price of its hours, of every visit in every week, shape (n, w); −inf where it may not be."""
    gain = np.full(it.worth.shape, -np.inf)
    price = prices.price[it.line[visits]]
    known = np.isfinite(price)
    cost = it.hours[visits] * np.where(known, price, 0.0)
    if it.spends is not None:
        cost += it.spends[visits] * prices.of_a_pound
    gain[visits] = np.where(known & (it.worth[visits] > 0), it.worth[visits] - cost, -np.inf)
    return gain


def _fill(it: Problem, book: Book, visits: Whole, gain: Numbers, power: float, *, one_area: bool = False) -> None:
    """Those that gain most first, by hours to this power, each in the week where it gains most that has room."""
    best = gain[visits].max(axis=1, initial=-np.inf)
    hours = it.hours[visits].min(axis=1)
    first = -best / hours**power if power != REGRET else _regret(gain[visits])
    order = visits[np.lexsort((visits, first))]
    weeks = np.argsort(-gain[order], axis=1, kind="stable").tolist()
    counts = np.isfinite(gain[order]).sum(axis=1).tolist()
    for visit, ranked, count in zip(order.tolist(), weeks, counts, strict=True):
        slot = book.first(visit, ranked[:count], one_area=one_area)
        if slot != NOWHERE:
            book.put(visit, slot)


def _regret(gain: Numbers) -> Numbers:
    """Less is more: what each visit loses, taken negative, if its best week is full and it takes the next or none."""
    ranked = -np.sort(-np.where(np.isfinite(gain), gain, NEVER), axis=1)
    second = ranked[:, 1] if ranked.shape[1] > 1 else np.zeros(len(ranked))
    return np.asarray(np.maximum(second, 0.0) - ranked[:, 0])


def _earlier(it: Problem, book: Book, visits: Whole) -> int:
    """Move visits to a week that is worth more, where there is room; returns how many moved."""
    moved = 0
    for visit in [visit for visit in visits.tolist() if book.slot[visit] != NOWHERE]:
        worth = book.worth[visit]
        now = worth[book.week[book.slot[visit]]]
        better = sorted((week for week in range(len(worth)) if worth[week] > now + GAIN), key=lambda w: -worth[w])
        if not better:
            continue
        old = book.take(visit)
        slot = book.first(visit, better)
        book.put(visit, old if slot == NOWHERE else slot)
        moved += slot != NOWHERE
    return moved


def _repack(it: Problem, book: Book, visits: Whole, gain: Numbers, pound: float) -> float:
    """Fill every slot anew with the best of its own visits and of those left out; returns the GBP won.

    Looked at are those of the visits left out that are nearest to being worth the price of their hours.
    """
    won, settled = 0.0, it.settled
    left = np.array([slot == NOWHERE for slot in book.slot])
    for slot in range(len(book.room)):
        week = book.week[slot]
        lines = [line for line, slots in enumerate(book.by_week) if slot in slots[week]]
        near = visits[left[visits] & np.isin(it.line[visits], lines)]
        near = near[gain[near, week] > -np.inf]
        near = near[np.argsort(-gain[near, week], kind="stable")[:NEAREST]]
        if not len(near):
            continue
        held = np.array(sorted(visit for visit in book.held[slot] if not settled[visit]), dtype=np.int64)
        known = [book.travel if book.area[visit] not in book.areas[slot] else 0.0 for visit in near.tolist()]
        both = np.concatenate([held, near])
        hours = it.hours[both, week] + np.concatenate([np.zeros(len(held)), known])
        net = it.worth[both, week] if it.spends is None else it.worth[both, week] - pound * it.spends[both, week]
        chosen = both[best_of(net, hours, book.room[slot] + float(it.hours[held, week].sum()))]
        better = float(it.worth[chosen, week].sum() - it.worth[held, week].sum())
        if better > GAIN and _paid(it, book, held, chosen, week):
            won += better
            _change(book, slot, held, chosen)
            left[held], left[chosen] = True, False
    return won


def _paid(it: Problem, book: Book, held: Whole, chosen: Whole, week: int) -> bool:
    """Whether there is money for the change."""
    if it.spends is None:
        return True
    more = float(it.spends[chosen, week].sum() - it.spends[held, week].sum())
    return more <= book.money + CRUMB


def _change(book: Book, slot: int, held: Whole, chosen: Whole) -> None:
    for visit in np.setdiff1d(held, chosen).tolist():
        book.take(visit)
    for visit in np.setdiff1d(chosen, held).tolist():
        book.put(visit, slot)
