"""Repeats that need no work now: put right by the last visit, or on a system that is renewed soon."""

from __future__ import annotations

from typing import Final

import pandas as pd

from audit.model import Facts
from audit.policy import Policy
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
    return _ranked(found)


def renewed_soon(findings: pd.DataFrame, facts: Facts, policy: Policy) -> pd.DataFrame:
    """Turn renewals that only the history asks for into records, where the heating is renewed soon and the valve works.

    A valve works where the last visit to it left it fixed. It is then mended on failure until the renewal.
    """
    months = policy.number("money.renewal_soon")
    valves = facts.valves.set_index("valve_id")
    due = findings["valve_id"].map(valves["heating_renewal_due"])
    soon = due.ge(facts.as_of) & due.lt(facts.as_of + pd.DateOffset(months=round(months)))
    again = findings["rule"].eq("head-replaced-again") & findings["severity"].eq("fault")
    over = again & soon & findings["valve_id"].isin(_left_fixed(facts.visits))
    day = due.dt.day.astype("Int64").astype("str") + due.dt.strftime(" %B %Y")
    action = "None now: the heating is due for renewal on " + day + f", within {months:g} months, and the last visit "
    action += "left the valve fixed; mend it on failure until then."
    return _ranked(
        findings.assign(
            severity=findings["severity"].mask(over, "record"), action=findings["action"].mask(over, action)
        )
    )


def _left_fixed(visits: pd.DataFrame) -> pd.Series:
    """The ids of valves whose last call-out ended fixed."""
    told = visits.loc[visits["valve_id"].notna() & visits["is_call_out"]]
    last = told.sort_values(["valve_id", "reported", "visit_id"]).drop_duplicates("valve_id", keep="last")
    return last.loc[last["outcome"].eq("fixed"), "valve_id"]


def _ranked(found: pd.DataFrame) -> pd.DataFrame:
    order = found["severity"].map(SEVERITY_ORDER).astype("int64").sort_values(kind="stable").index
    return found.loc[order].assign(rank=range(1, len(found) + 1)).reset_index(drop=True)
