"""Work on columns side by side: the libraries underneath let several threads run at once."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

T = TypeVar("T")
R = TypeVar("R")
MOST = 4  # more threads than this only cost memory
FEW = 20_000  # rows below which threads cost more than they save


def each(work: Callable[[T], R], things: Iterable[T], rows: int) -> list[R]:
    """Do the same work on every thing; the results come in the order of the things, whatever finished first."""
    workers = min(MOST, os.cpu_count() or 1)
    if rows < FEW or workers == 1:
        return [work(thing) for thing in things]
    with ThreadPoolExecutor(workers) as pool:
        return list(pool.map(work, things))
