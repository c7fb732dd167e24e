"""Visits: all the jobs of a home in one, with one call-out, hours and parts summed, ranked."""

from __future__ import annotations

import numpy as np
import pandas as pd

from audit.choice.jobs import rank_keys
from audit.choice.prices import Prices
from audit.choice.texts import joined, written
from audit.model import Facts
from audit.policy import Policy
from schemas import words
from schemas.results import SEVERITY_ORDER

OF_HOME = ["postcode", "scheme", "patch", "address", "access_note", "gas_check_due", "priority_household"]


def visits(facts: Facts, jobs: pd.DataFrame, prices: Prices, policy: Policy) -> pd.DataFrame:
    """Return one row a home with a job, most urgent first (`audit.choice.jobs.rank_keys`), rank from 1.

    Hours are those of its jobs and, once, `hours.visit`; cost is that of its jobs and one call-out.
    """
    work = jobs.assign(
        worst=jobs["severity"].map(SEVERITY_ORDER).astype("int64"), drains=jobs["drain_down"].eq("yes")
    ).sort_values(["home_id", "worst", "valve_id"], kind="stable", na_position="first")  # the first drains for all
    by_home = work.groupby("home_id", sort=True)
    made = by_home.agg(
        severity=("severity", "first"),
        hours=("hours", "sum"),
        cost_gbp=("cost_gbp", "sum"),
        benefit_gbp=("benefit_gbp", "sum"),
        drains=("drains", "any"),
    )
    made = made.assign(
        jobs=joined(work["home_id"], work["what"], " "),
        why=joined(work["home_id"], work["reason"], "; "),
        parts=_parts(work),
        hours=(made["hours"] + policy.number("hours.visit")).round(4),  # no crumbs of decimal sums
        cost_gbp=(made["cost_gbp"] + prices.cost["call_out"]).round(2),
        benefit_gbp=made["benefit_gbp"].round(2),
        drain_down=pd.Series(np.where(made["drains"], "yes", "no"), dtype="str", index=made.index),
    )
    homes = facts.homes.drop_duplicates("home_id").set_index("home_id")[OF_HOME]
    made = made.join(homes, how="left").rename_axis("home_id").reset_index()
    order = rank_keys(made).sort_values(["worst", "short", "waits", "gain", "home"], kind="stable").index
    made = made.loc[order].reset_index(drop=True)
    return made.assign(rank=np.arange(1, len(made) + 1))


def _parts(work: pd.DataFrame) -> pd.Series:
    """Sum the parts of each home: 'head_zone × 2; inhibitor × 1', in the order of the rates."""
    counts = pd.DataFrame({item: work["parts"].map(_counts(work["parts"], item)) for item in words.RATE_ITEM})
    used = counts.loc[:, counts.gt(0).any()]
    sums = used.groupby(work["home_id"], sort=True).sum()
    texts = written(sums, lambda row: "; ".join(f"{item} × {pieces:g}" for item, pieces in row.items() if pieces))
    return texts if len(sums.columns) else pd.Series("", index=work["home_id"].unique(), dtype="str")


def _counts(parts: pd.Series, item: str) -> dict[str, float]:
    """Pieces of `item` in each distinct parts text."""
    return {
        text: sum(float(piece.rpartition(" × ")[2]) for piece in text.split("; ") if piece.startswith(f"{item} × "))
        for text in parts.unique()
    }
