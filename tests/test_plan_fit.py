"""The fit: exact where it is small, close and bounded elsewhere; hours, windows and danger hold whatever comes."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.plan.exact import exact
from audit.plan.fit import fit
from audit.plan.knapsack import best_of, best_with_journeys
from audit.plan.place import place
from audit.plan.problem import CRUMB, NOWHERE, Placed, Problem, hours_used, spent, worth_of

NEVER = -np.inf


def quarter(
    visits: list[tuple[float, float, int, int, bool]], slots: list[tuple[int, int, float]], travel: float = 0.0
) -> Problem:
    """Visits as (GBP, hours, patch, first week, danger), slots as (week, patch or −1 for anywhere, hours).

    A visit loses a fiftieth of its worth each week.
    """
    weeks = 1 + max(week for week, _, _ in slots)
    week = np.arange(weeks)
    worth = np.array([[gbp * (1 - 0.02 * w) if w >= first else NEVER for w in week] for gbp, _, _, first, _ in visits])
    patches = sorted({patch for _, _, patch, _, _ in visits})
    line = np.array([patches.index(patch) for _, _, patch, _, _ in visits], dtype=np.int64)
    order = sorted(range(len(slots)), key=lambda slot: (slots[slot][0], slots[slot][1] < 0, slot))
    return Problem(
        worth=worth.reshape(len(visits), weeks),
        hours=np.repeat(np.array([[hours] for _, hours, _, _, _ in visits]), weeks, axis=1),
        urgent=np.array([danger for *_, danger in visits], dtype=bool),
        latest=np.zeros(len(visits), dtype=np.int64),
        line=line,
        area=line.copy(),
        open_to=tuple(
            np.array([slot for slot in order if slots[slot][1] in (patch, -1)], dtype=np.int64) for patch in patches
        ),
        week=np.array([w for w, _, _ in slots], dtype=np.int64),
        room=np.array([hours for _, _, hours in slots], dtype=np.float64),
        travel=travel,
    )


def holds(it: Problem, found: Placed) -> None:
    """Hours, windows and patches are kept, and the worth is what it is said to be."""
    assert (hours_used(it, found.slot) <= it.room + 1e-6).all()
    for visit, slot in enumerate(found.slot.tolist()):
        if slot != NOWHERE:
            assert slot in it.open_to[it.line[visit]]
            assert it.worth[visit, it.week[slot]] > NEVER
    assert found.worth == pytest.approx(worth_of(it, found.slot))
    assert found.bound >= found.worth - 0.01


def best_by_trying_all(it: Problem) -> tuple[int, int, float]:
    """Danger placed, danger in time, worth: of every placement there is, the best in this order."""
    best = (0, 0, 0.0)
    choices = [
        [NOWHERE, *(slot for slot in it.open_to[line].tolist() if it.worth[visit, it.week[slot]] > NEVER)]
        for visit, line in enumerate(it.line.tolist())
    ]
    for tried in itertools.product(*choices):
        slot = np.array(tried, dtype=np.int64)
        if (hours_used(it, slot) <= it.room + CRUMB).all() and spent(it, slot) <= it.budget:
            best = max(best, scored(it, slot))
    return best


def scored(it: Problem, slot: np.ndarray[tuple[int], np.dtype[np.int64]]) -> tuple[int, int, float]:
    there = slot != NOWHERE
    in_time = there & (it.week[np.maximum(slot, 0)] <= it.latest)
    return int((there & it.urgent).sum()), int((in_time & it.urgent).sum()), round(worth_of(it, slot), 6)


def random_quarter(
    seed: int, visits: int, slots: int, weeks: int, patches: int, travel: float, hours: float
) -> Problem:
    rng = np.random.default_rng(seed)
    made = [
        (
            float(np.round(rng.gamma(1.5, 60), 2)),
            float(rng.integers(7, 51) / 10),
            int(rng.integers(patches)),
            int(rng.integers(weeks)) if rng.random() < 0.3 else 0,
            bool(rng.random() < 0.1),
        )
        for _ in range(visits)
    ]
    there = [
        (place * weeks // slots, int(rng.integers(-1, patches)), float(np.round(hours, 1))) for place in range(slots)
    ]
    return quarter(made, there, travel)


@pytest.mark.parametrize("seed", range(1, 6))
def test_eight_visits_are_placed_as_well_as_by_trying_everything(seed: int) -> None:
    it = random_quarter(seed, 8, 3, 3, 2, travel=0.5 * (seed % 2), hours=6.0)
    found, said = fit(it, small=600, largest=600)
    holds(it, found)
    assert said == ()
    got, best = scored(it, found.slot), best_by_trying_all(it)
    assert got[:2] == best[:2]
    assert got[2] == pytest.approx(best[2], abs=0.01)
    assert found.bound == pytest.approx(found.worth, abs=0.05)


@pytest.mark.parametrize("seed", range(2))
def test_two_hundred_visits_come_within_half_a_percent_of_the_proven_best(seed: int) -> None:
    it = random_quarter(seed, 200, 3, 3, 1, travel=0.5, hours=24.0)
    it = replace(it, urgent=np.zeros(200, dtype=bool))
    found, best = place(it), exact(it)
    assert best is not None
    holds(it, found)
    holds(it, best)
    assert found.worth >= 0.995 * best.worth
    assert found.bound >= best.worth - 0.01  # weak duality
    assert best.bound <= 1.002 * best.worth


NONE = np.empty(0)
VISITS = st.lists(
    st.tuples(st.integers(0, 300), st.integers(1, 60), st.integers(0, 2), st.integers(0, 3), st.booleans()),
    min_size=1,
    max_size=30,
).map(lambda rows: [(float(gbp), tenths / 10, patch, first, danger) for gbp, tenths, patch, first, danger in rows])
SLOTS = st.lists(st.tuples(st.integers(0, 3), st.integers(-1, 2), st.integers(0, 80)), min_size=1, max_size=8).map(
    lambda rows: [(week, patch, tenths / 10) for week, patch, tenths in rows]
)


@settings(max_examples=25, deadline=None)
@given(VISITS, SLOTS, st.sampled_from([0.0, 0.5]))
def test_hours_windows_and_patches_hold(visits: list, slots: list, travel: float) -> None:  # type: ignore[type-arg]
    it = quarter(visits, slots, travel)
    holds(it, place(it))


@settings(max_examples=30, deadline=None)
@given(VISITS, SLOTS)
def test_danger_is_left_out_or_late_only_where_nothing_has_room(visits: list, slots: list) -> None:  # type: ignore[type-arg]
    it = quarter(visits, slots)
    only = replace(it, worth=np.where(it.urgent[:, None], it.worth, NEVER))
    found = place(it)
    free = it.room - hours_used(only, np.where(it.urgent, found.slot, NOWHERE))
    for visit in np.flatnonzero(it.urgent).tolist():
        now = it.week[found.slot[visit]] if found.slot[visit] != NOWHERE else 99
        sooner = [
            slot
            for slot in it.open_to[it.line[visit]]
            if it.week[slot] < now and it.worth[visit, it.week[slot]] > NEVER
        ]
        assert all(free[slot] < it.hours[visit, 0] + CRUMB for slot in sooner)


@settings(max_examples=15, deadline=None)
@given(VISITS.map(lambda rows: [(*row[:4], False) for row in rows[:6]]), SLOTS.map(lambda rows: rows[:4]), st.data())
def test_more_hours_never_lower_the_worth_of_a_small_quarter(visits: list, slots: list, data: st.DataObject) -> None:  # type: ignore[type-arg]
    it = quarter(visits, slots)
    more = data.draw(st.lists(st.integers(0, 30), min_size=len(slots), max_size=len(slots)))
    before, _ = fit(it, small=600, largest=600)
    after, _ = fit(replace(it, room=it.room + np.array(more) / 10), small=600, largest=600)
    assert after.worth >= before.worth - 0.01


def test_a_larger_quarter_than_the_solver_takes_is_said() -> None:
    it = random_quarter(1, 12, 3, 3, 1, travel=0.0, hours=6.0)
    found, said = fit(it, small=10, largest=20, asked=True)
    assert found.how == "priced"
    assert "--exact solves up to 20 pairs of visit and team's week" in said[0]


@settings(max_examples=40, deadline=None)
@given(VISITS, SLOTS, st.data())
def test_kept_visits_stay_and_the_budget_binds(visits: list, slots: list, data: st.DataObject) -> None:  # type: ignore[type-arg]
    """Hours, windows and patches hold beside them, and the bound; the budget is never passed."""
    it = quarter(visits, slots, data.draw(st.sampled_from([0.0, 0.5])))
    fixed = kept_where_they_fit(it, data.draw(st.sets(st.integers(0, len(visits) - 1), max_size=5)))
    cost = np.repeat(np.array([[20.0 + 40.0 * hours] for _, hours, *_ in visits]), it.worth.shape[1], axis=1)
    it = replace(it, fixed=fixed, cost=cost)
    budget = spent(it, fixed) + data.draw(st.integers(0, 2000))
    it = replace(it, budget=budget)
    found = place(it)
    holds(it, found)
    assert (found.slot[it.kept] == fixed[it.kept]).all()
    assert spent(it, found.slot) <= budget + CRUMB


def kept_where_they_fit(it: Problem, wanted: set[int]) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Put some visits, one by one, into the first slot that takes them."""
    fixed = np.full(len(it.worth), NOWHERE, dtype=np.int64)
    for visit in sorted(wanted):
        for slot in it.open_to[it.line[visit]].tolist():
            tried = fixed.copy()
            tried[visit] = slot
            if it.worth[visit, it.week[slot]] > NEVER and (hours_used(it, tried) <= it.room + CRUMB).all():
                fixed = tried
                break
    return fixed


@settings(max_examples=15, deadline=None)
@given(VISITS.map(lambda rows: rows[:7]), SLOTS.map(lambda rows: rows[:4]), st.data())
def test_without_a_visit_the_others_plan_still_holds(visits: list, slots: list, data: st.DataObject) -> None:  # type: ignore[type-arg]
    """What is placed without it fits, and is worth at least what the others were worth beside it."""
    it = quarter(visits, slots)
    before, _ = fit(it, small=600, largest=600)
    gone = data.draw(st.integers(0, len(visits) - 1))
    out = np.arange(len(visits)) == gone
    less = replace(it, worth=np.where(out[:, None], NEVER, it.worth), urgent=it.urgent & ~out)
    after, _ = fit(less, small=600, largest=600)
    holds(less, after)
    stays = np.where(out, NOWHERE, before.slot)
    assert scored(less, after.slot)[:2] >= scored(less, stays)[:2]
    if not it.urgent.any():
        assert after.worth >= worth_of(it, stays) - 0.01


@pytest.mark.parametrize("seed", range(1, 4))
def test_a_budget_is_spent_as_well_as_by_trying_everything(seed: int) -> None:
    it = random_quarter(seed, 7, 3, 3, 1, travel=0.0, hours=6.0)
    it = replace(it, urgent=np.zeros(7, dtype=bool), cost=20.0 + 40.0 * it.hours, budget=400.0)
    found, said = fit(it, small=600, largest=600)
    assert said == ()
    assert spent(it, found.slot) <= 400.0
    assert found.worth == pytest.approx(best_by_trying_all(it)[2], abs=0.01)
    by_prices = place(it)
    holds(it, by_prices)
    assert by_prices.bound >= found.worth - 0.01


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 50), st.integers(1, 30)), max_size=9), st.integers(0, 60))
def test_one_slot_is_filled_as_well_as_by_trying_everything(visits: list[tuple[int, int]], room: int) -> None:
    worth, hours = np.array([v for v, _ in visits], dtype=float), np.array([h for _, h in visits]) / 10
    chosen = best_of(worth, hours, room / 10)
    assert hours[chosen].sum() <= room / 10 + 1e-9
    every = itertools.chain.from_iterable(itertools.combinations(visits, size) for size in range(len(visits) + 1))
    best = max(sum(v for v, _ in some) for some in every if sum(h for _, h in some) <= room)
    assert worth[chosen].sum() == best


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 50), st.integers(1, 30), st.integers(0, 2)), max_size=8),
    st.integers(0, 60),
    st.tuples(st.integers(0, 9), st.integers(0, 9), st.integers(0, 9)),
)
def test_a_slot_with_journeys_is_filled_as_well_as_by_trying_everything(
    visits: list[tuple[int, int, int]], room: int, trips: tuple[int, int, int]
) -> None:
    visits = sorted(visits, key=lambda visit: visit[2])
    worth, hours, area = (np.array([visit[place] for visit in visits]) for place in range(3)) if visits else [NONE] * 3
    journey = {at: trips[at] / 10 for at in range(3)}
    best, chosen = best_with_journeys(worth.astype(float), hours / 10, area.astype(np.int64), journey, room / 10)

    def takes(some: tuple[tuple[int, int, int], ...]) -> int:
        return sum(h for _, h, _ in some) + sum(trips[at] for at in {at for _, _, at in some})

    every = itertools.chain.from_iterable(itertools.combinations(visits, size) for size in range(len(visits) + 1))
    assert best == max(sum(v for v, _, _ in some) for some in every if takes(some) <= room)
    taken = tuple(visits[at] for at in chosen)
    assert sum(v for v, _, _ in taken) == best
    assert takes(taken) <= room


@settings(max_examples=8, deadline=None)
@given(VISITS.map(lambda rows: [(*row[:4], False) for row in rows[:7]]), SLOTS.map(lambda rows: rows[:4]))
def test_the_closer_bound_is_never_below_the_best_plan(visits: list, slots: list) -> None:  # type: ignore[type-arg]
    it = quarter(visits, slots, 0.5)
    best = exact(it)
    assert best is not None
    assert place(it).bound >= best.worth - 0.01
