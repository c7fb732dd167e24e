"""Repeats that the last visit put right: their findings stay for the pattern and ask for no work."""

from __future__ import annotations

from typing import Final

import pandas as pd

from audit.repeats.chains import RIGHT
from schemas.results import SEVERITY_ORDER

WATCH: Final = "None now: the last visit of this chain put the cause right, and nothing followed; watch."


def settled(findings: pd.DataFrame, chains: pd.DataFrame, steps: pd.DataFrame) -> pd.DataFrame:
    """Turn repeat call-outs of chains that are put right into records, and rank the findings anew.

    Args:
        findings: The ranked `findings` table.
        chains: The `chains` table.
        steps: The chains' visits, with chain and visit_id; see `audit.repeats.followed`.
    """
    over = steps.loc[steps["chain"].isin(chains.loc[chains["state"].eq(RIGHT), "chain"]), "visit_id"]
    done = findings["rule"].eq("repeat-call-out") & findings["visit_id"].isin(over) & findings["severity"].eq("fault")
    found = findings.assign(
        severity=findings["severity"].mask(done, "record"), action=findings["action"].mask(done, WATCH)
    )
    order = found["severity"].map(SEVERITY_ORDER).astype("int64").sort_values(kind="stable").index
    return found.loc[order].assign(rank=range(1, len(found) + 1)).reset_index(drop=True)
