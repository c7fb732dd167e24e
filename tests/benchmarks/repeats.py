"""CPU of groups, chains and trends on 1,000,000 visits: `python -m tests.benchmarks.repeats [homes]`."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import TypeVar

from audit import sample
from audit.choice import prices
from audit.facts import facts
from audit.groups import groups, named_batches
from audit.life import life
from audit.policy import load_policy
from audit.repeats import followed
from audit.trends import trend_tables

T = TypeVar("T")


def main(homes: int = 130_000) -> None:
    """Print the CPU seconds of each step and of all three."""
    made, policy = sample.make(homes, 1), load_policy()
    known = facts(sample.portfolio(made), made.as_of, policy)
    fit, priced = life(known, policy), prices(made.tables["rates"], policy)
    print(f"{len(known.valves):,} valves, {len(known.visits):,} visits")
    spent: list[float] = []

    def timed(name: str, step: Callable[[], T]) -> T:
        start = time.process_time()
        found = step()
        spent.append(time.process_time() - start)
        print(f"{name}: {spent[-1]:.1f} s CPU")
        return found

    tried = timed("groups", lambda: groups(known, fit, priced, policy))
    timed("chains", lambda: followed(known, policy, named_batches(known, tried)))
    timed("trends", lambda: trend_tables(known, policy))
    print(f"all three: {sum(spent):.1f} s CPU")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
