"""The costing of a large stock: `python -m tests.benchmarks.choice [HOMES]` (default 130000) times each part by CPU.

Reads an invented portfolio, then prints the CPU seconds of the life fit, of the options and of the jobs.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import pandas as pd

from audit import intake
from audit.choice import fitted, jobs, options, prices
from audit.facts import facts
from audit.findings import findings
from audit.known import known_on
from audit.life import life
from audit.model import Facts, Portfolio
from audit.policy import load_policy
from audit.repeats import followed, settled

T = TypeVar("T")
AS_OF = pd.Timestamp("2026-09-30")


def judged(homes: int) -> tuple[Portfolio, Facts, pd.DataFrame]:
    """Invented homes: the tables, what is known of them, and what the rules find."""
    with tempfile.TemporaryDirectory() as folder:
        books = Path(folder) / "books"
        sample = [sys.executable, "-m", "audit", "sample", str(books), "--form", "csv", "--homes", str(homes)]
        subprocess.run(sample, check=True, capture_output=True)
        reading = intake.read([books])
    policy = load_policy()
    portfolio = Portfolio(**known_on(reading.tables, AS_OF)[0], absent=reading.absent)
    known = facts(portfolio, AS_OF, policy)
    return portfolio, known, settled(findings(known, policy, portfolio.absent), *followed(known, policy))


def main(homes: int) -> None:
    """Print one line a part, and their sum."""
    portfolio, known, found = judged(homes)
    policy = load_policy()
    priced = prices(portfolio.rates, policy)
    spent: dict[str, float] = {}
    fit = _timed(spent, "life", lambda: life(known, policy))
    lived = _timed(spent, "lives of each valve", lambda: fitted(fit, known, policy))
    choices = _timed(spent, "options", lambda: options(known, found, lived, priced, policy))
    _timed(spent, "jobs", lambda: jobs(known, found, choices, lived, priced, policy))
    print(f"{homes:,} homes, {len(known.valves):,} valves, {len(choices) // 4:,} of them costed; CPU seconds")
    for name, seconds in {**spent, "all": sum(spent.values())}.items():
        print(f"{name:20} {seconds:6.1f}")


def _timed(spent: dict[str, float], name: str, work: Callable[[], T]) -> T:
    began = time.process_time()
    made = work()
    spent[name] = time.process_time() - began
    return made


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 130_000)
