"""The scenarios that a command names, understood: hours more or less, ceilings of money, other teams' hours."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import pandas as pd

from audit import intake
from audit.errors import CannotUse
from audit.plan import Scenarios
from audit.policy import Policy

NAMED: Final = 20  # rows named, for each file
EFFECT: Final = {"returned": "not used", "merged": "counted once", "repaired": "used as mended"}


def scenarios_of(hours: Sequence[str], budgets: Sequence[str], capacities: Sequence[Path], policy: Policy) -> Scenarios:
    """Understand the scenarios that the command names.

    Raises:
        CannotUse: hours are no share such as +10%, a budget is no sum of pounds, or a file holds no teams' hours.
    """
    tables: dict[str, pd.DataFrame] = {}
    said: list[str] = []
    for path in capacities:
        reading = intake.read([path], policy=policy, notes=False)
        table = reading.tables["capacity"]
        told = _problems(reading.problems)
        if table.empty:
            raise CannotUse(
                f"--capacity {path}: no usable row of teams' hours was found; see capacity.xlsx of template."
                + "".join(f" {sentence}" for sentence in told[:NAMED])
            )
        tables[path.name] = table
        said += told[:NAMED]
        if len(told) > NAMED:
            said.append(f"{path.name}: {len(told) - NAMED:,} more such rows; `check {path} --out DIR` lists them all.")
    return Scenarios(
        tuple(_share(text) for text in hours), tuple(_pounds(text) for text in budgets), tables, tuple(said)
    )


def _problems(problems: pd.DataFrame) -> list[str]:
    """Say each row of teams' hours that was returned, counted once or mended: where, why, and the mend."""
    rows = problems.loc[problems["table"].eq("capacity")].astype("object")
    return [
        f"{row['file']}{_sheet(row['sheet'])}, row {row['row']:.0f}{_column(row)}: {row['reason']}; "
        f"{EFFECT[row['effect']]}: {row['mend']}."
        for row in rows.where(rows.notna(), "").to_dict("records")
        if row["row"] != ""
    ]


def _sheet(name: str) -> str:
    return f", sheet '{name}'" if name else ""


def _column(row: dict[Any, Any]) -> str:
    return f", column {row['column']}" if row["column"] and row["effect"] != "merged" else ""


def _share(text: str) -> float:
    """The share that +10% or -10 means."""
    found = re.fullmatch(r"([+\-−–]?)\s*(\d{1,3}(?:\.\d+)?)\s*(%?)", text.strip())
    share = float(found.group(2)) / 100.0 if found else 0.0
    if found is None or (found.group(1) not in ("", "+") and share > 1.0):
        raise CannotUse(f"--hours {text}: give a share of the hours more or less, such as +10% or -10%.")
    if not found.group(3) and 0.0 < share < 0.01:
        sign = found.group(1) or "+"
        raise CannotUse(
            f"--hours {text}: is a share of {1e4 * share:g} % meant, or of {100 * share:g} %? Write "
            f"{sign}{1e4 * share:g}% or {sign}{100 * share:g}%."
        )
    return share if found.group(1) in ("", "+") else -share


def _pounds(text: str) -> float:
    """The pounds that 20000, 20,000 or £20,000.50 mean."""
    found = re.fullmatch(
        r"(?:£|GBP)?\s*(\d{1,3}(?:,\d{3})+|\d{1,9})(\.\d{1,2})?\s*(?:GBP)?", text.strip(), re.IGNORECASE
    )
    if found is None:
        raise CannotUse(f"--budget {text}: give pounds from 0 up, such as 20000 or £20,000.")
    return float(found.group(1).replace(",", "") + (found.group(2) or ""))
