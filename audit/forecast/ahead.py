"""The years ahead as numbers: what is expected of each policy in each year, and drawn with the lives and by chance."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from audit.forecast.doubt import by_chance
from audit.forecast.flow import EVENTS, Floats

SUMS: Final = (*EVENTS, "failing_gbp", "planned_gbp", "no_heat_gbp", "drain_downs", "present_value_gbp")
FAILED, PLANNED = slice(0, 3), slice(3, 6)  # of EVENTS


@dataclass(frozen=True)
class HeadsPay:
    """The age in years at which renewing heads pays (infinite: never), and what that follows from: GBP a head."""

    age: float
    wears: bool  # some heads fail the more the older they are
    planned: float
    failing: float


@dataclass(frozen=True)
class Ahead:
    """`expected` (policies, years, SUMS), and `drawn` (policies, draws, years, SUMS), one draw a set of lives."""

    expected: Floats
    drawn: Floats
    valves: int
    rate: float  # a year, of discounting

    def of(self, name: str, drawn: bool = False) -> Floats:
        """Return one of SUMS by (policies, [draws,] years)."""
        return (self.drawn if drawn else self.expected)[..., SUMS.index(name)]

    def failures(self, drawn: bool = False) -> Floats:
        """Return failures by (policies, [draws,] years)."""
        return np.asarray((self.drawn if drawn else self.expected)[..., FAILED].sum(axis=-1))

    def spend(self) -> Floats:
        """Return what is spent by (policies, years), GBP."""
        return self.of("failing_gbp") + self.of("planned_gbp")

    @cached_property
    def luck(self) -> Floats:
        """Failures drawn by chance over expected ones: (chances, policies, draws, years)."""
        return by_chance(self.failures(drawn=True), self.valves)

    def failures_drawn(self) -> Floats:
        """Return failures by (chances, policies, draws, years)."""
        return self.luck * self.failures(drawn=True)

    def spend_drawn(self) -> Floats:
        """Return spend by (chances, policies, draws, years), GBP."""
        return self.of("planned_gbp", drawn=True) + self.luck * self.of("failing_gbp", drawn=True)

    def present_drawn(self) -> Floats:
        """Return the present value of each year's cost by (chances, policies, draws, years), GBP."""
        failing = self.of("failing_gbp", drawn=True) + self.of("no_heat_gbp", drawn=True)
        middle = (1 + self.rate) ** -(np.arange(failing.shape[-1]) + 0.5)
        return self.of("present_value_gbp", drawn=True) + (self.luck - 1) * failing * middle

    def present_dearer(self, best: int) -> Floats:
        """Return how much dearer each policy is than the `best`, in today's worth, by (1, policies, draws), GBP.

        Chance is left out: luck strikes the same valves under either policy, and only blurs the difference.
        """
        worth = self.of("present_value_gbp", drawn=True).sum(axis=-1)
        return np.asarray(worth - worth[best])[None]
