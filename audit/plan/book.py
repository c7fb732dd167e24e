"""The slots' hours while a plan is being made: what is free, and which areas each slot already travels to."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from audit.plan.problem import CRUMB, NOWHERE, Problem, Whole

NEW_AREA = 1e4  # more hours than a week has: a slot that travels there already comes first


class Book:
    """Keeps room and areas up to date; plain lists, since visits are placed one by one."""

    def __init__(self, it: Problem) -> None:
        """Start with every slot empty."""
        self.it = it
        self.room = it.room.tolist()
        self.areas: list[dict[int, int]] = [{} for _ in self.room]
        self.slot = [NOWHERE] * len(it.worth)
        self.held: list[set[int]] = [set() for _ in self.room]
        self.hours = it.hours.tolist()
        self.worth = it.worth.tolist()
        self.area = it.area.tolist()
        self.line = it.line.tolist()
        self.week = it.week.tolist()
        self.travel = it.travel
        self.cost = [] if it.spends is None else it.spends.tolist()
        self.money = it.budget
        weeks = it.worth.shape[1]
        self.by_week = [
            [[slot for slot in line.tolist() if self.week[slot] == week] for week in range(weeks)]
            for line in it.open_to
        ]

    def needs(self, visit: int, slot: int) -> float:
        """Hours that the visit would take of the slot."""
        new = self.travel if self.area[visit] not in self.areas[slot] else 0.0
        return float(self.hours[visit][self.week[slot]] + new)

    def fits(self, visit: int, slot: int) -> bool:
        """Whether it has room, and there is money for it."""
        return bool(self.needs(visit, slot) <= self.room[slot] + CRUMB) and self.pays(visit, self.week[slot])

    def pays(self, visit: int, week: int) -> bool:
        """Whether there is money left for the visit."""
        return not self.cost or self.cost[visit][week] <= self.money + CRUMB

    def put(self, visit: int, slot: int) -> None:
        """Place a visit."""
        self.room[slot] -= self.needs(visit, slot)
        areas = self.areas[slot]
        areas[self.area[visit]] = areas.get(self.area[visit], 0) + 1
        self.slot[visit] = slot
        self.held[slot].add(visit)
        if self.cost:
            self.money -= self.cost[visit][self.week[slot]]

    def take(self, visit: int) -> int:
        """Take a visit out again; returns the slot that it was in."""
        slot = self.slot[visit]
        areas, area = self.areas[slot], self.area[visit]
        areas[area] -= 1
        if not areas[area]:
            del areas[area]
        self.room[slot] += self.needs(visit, slot)
        self.slot[visit] = NOWHERE
        self.held[slot].discard(visit)
        if self.cost:
            self.money += self.cost[visit][self.week[slot]]
        return slot

    def best(self, visit: int, week: int, *, one_area: bool = False) -> int:
        """The slot of a week for a visit: one that needs no new travel, then the fullest; NOWHERE without room.

        With `one_area` a slot that works elsewhere already is passed over.
        """
        hours, area = self.hours[visit][week], self.area[visit]
        chosen, least = NOWHERE, np.inf
        if self.cost and not self.pays(visit, week):
            return chosen
        for slot in self.by_week[self.line[visit]][week]:
            left = self.room[slot] - hours
            if left < -CRUMB or left >= least:
                continue
            if self.travel and area not in self.areas[slot]:
                if left - self.travel < -CRUMB or (one_area and self.areas[slot]):
                    continue
                left += NEW_AREA
            if left < least:
                chosen, least = slot, left
        return chosen

    def first(self, visit: int, weeks: Sequence[int], *, one_area: bool = False) -> int:
        """The best slot of the first of these weeks with room."""
        for week in weeks:
            slot = self.best(visit, week, one_area=one_area)
            if slot != NOWHERE:
                return slot
        return NOWHERE

    @property
    def placement(self) -> Whole:
        """The slot of every visit."""
        return np.array(self.slot, dtype=np.int64)
