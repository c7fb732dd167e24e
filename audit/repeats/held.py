"""Fixes that held: how long after each kind of work no further fault was reported."""

from __future__ import annotations

import pandas as pd

from audit.model import Facts
from audit.policy import Policy
from audit.repeats.events import completion
from audit.repeats.spans import faults
from audit.statistics.survival import kaplan_meier
from schemas.words import ACTION

YEAR = 365  # days
ALL = "all"


def fixes_held(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Estimate the share of completed call-outs after which nothing came back within so many days, by what was done.

    A fix is the last completed attempt at a fault. It failed when the next fault of the same home and system was
    reported, whatever that was; until then, or the as-of date, it held (Kaplan-Meier: recent fixes count as long as
    they     were watched). Which work was chosen depends on the fault, so that the rows say nothing of who did it.

    Returns:
        One row an action, `all` first, then in the order of `schemas.words.ACTION`: action, fixes, came_back, and for
        each of the short window, the long window and a year: days_1..3, held_1..3, low_1..3, high_1..3 (shares with
        95 % limits; missing where not known yet).
    """
    days = [policy.number("repeats.short_window"), policy.number("repeats.long_window"), float(YEAR)]
    found = faults(facts.visits, days[1], facts.as_of)
    fixes = found.loc[found["done"].notna()].set_index("episode")
    visits = facts.visits[["episode", "visit_id", "reported", "attended", "completed", "outcome", "action"]]
    visits = visits.loc[facts.visits["is_fault"]]
    visits = visits.assign(done=completion(visits)).loc[lambda rows: rows["done"].notna()]
    latest = visits.groupby("episode")["done"].transform("max")
    visits = visits.loc[visits["done"].eq(latest)].sort_values(["episode", "visit_id"], kind="stable")
    visits = visits.drop_duplicates("episode", keep="last")
    action = visits.set_index("episode")["action"].fillna("none").reindex(fixes.index)
    held = (fixes["following"].fillna(facts.as_of).dt.normalize() - fixes["done"].dt.normalize()).dt.days.clip(lower=0)
    back = fixes["following"].notna()
    rows = []
    for name in (ALL, *ACTION):
        own = action.eq(name) | (name == ALL)
        if not own.any():
            continue
        row: dict[str, object] = {"action": name, "fixes": float(own.sum()), "came_back": float(back[own].sum())}
        for place, values in enumerate(zip(days, *kaplan_meier(held[own], back[own], days), strict=True), 1):
            row |= {f"{key}_{place}": value for key, value in zip(("days", "held", "low", "high"), values, strict=True)}
        rows.append(row)
    columns = ["action", "fixes", "came_back"]
    columns += [f"{key}_{place}" for place in (1, 2, 3) for key in ("days", "held", "low", "high")]
    return pd.DataFrame(rows, columns=columns)
