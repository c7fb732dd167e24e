"""CPU of chains, groups and trends on 1,000,000 visits: `python -m tests.benchmarks.repeats [homes]`."""

from __future__ import annotations

import sys
import time

from audit import sample
from audit.choice import prices
from audit.facts import facts
from audit.groups import groups
from audit.life import life
from audit.policy import load_policy
from audit.repeats import followed
from audit.trends import trend_tables


def main(homes: int = 130_000) -> None:
    """Print the CPU seconds of each step and of all three."""
    made, policy = sample.make(homes, 1), load_policy()
    known = facts(sample.portfolio(made), made.as_of, policy)
    fit, priced = life(known, policy), prices(made.tables["rates"], policy)
    print(f"{len(known.valves):,} valves, {len(known.visits):,} visits")
    spent = 0.0
    for name, step in (
        ("chains", lambda: followed(known, policy)),
        ("groups", lambda: groups(known, fit, priced, policy)),
        ("trends", lambda: trend_tables(known, policy)),
    ):
        start = time.process_time()
        step()
        took = time.process_time() - start
        spent += took
        print(f"{name}: {took:.1f} s CPU")
    print(f"all three: {spent:.1f} s CPU")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
