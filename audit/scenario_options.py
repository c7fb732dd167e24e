"""The scenarios that a command names, understood: hours more or less, ceilings of money, other teams' hours."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import pandas as pd

from audit import intake
from audit.errors import CannotUse
from audit.plan import Scenarios
from audit.policy import Policy


def scenarios_of(
    hours: Sequence[str], budgets: Sequence[float], capacities: Sequence[Path], policy: Policy
) -> Scenarios:
    """Understand the scenarios that the command names.

    Raises:
        CannotUse: hours are no share such as +10%, a budget is below nought, or a file holds no teams' hours.
    """
    tables: dict[str, pd.DataFrame] = {}
    for path in capacities:
        table = intake.read([path], policy=policy, notes=False).tables["capacity"]
        if table.empty:
            raise CannotUse(
                f"--capacity {path}: no usable row of teams' hours was found; see capacity.xlsx of template."
            )
        tables[path.name] = table
    for budget in budgets:
        if not 0 <= budget < float("inf"):
            raise CannotUse(f"--budget {budget:g}: give pounds from 0 up, such as 20000.")
    return Scenarios(tuple(_share(text) for text in hours), tuple(budgets), tables)


def _share(text: str) -> float:
    """The share that +10% or -10 means."""
    found = re.fullmatch(r"([+\-−–]?)\s*(\d{1,3}(?:\.\d+)?)\s*%?", text.strip())
    share = float(found.group(2)) / 100.0 if found else 0.0
    if found is None or (found.group(1) not in ("", "+") and share > 1.0):
        raise CannotUse(f"--hours {text}: give a share of the hours more or less, such as +10% or -10%.")
    return share if found.group(1) in ("", "+") else -share
