"""Which findings make work, and what work: the seam between what the rules say and what is chosen."""

from __future__ import annotations

from typing import Final

import pandas as pd

from audit.calendar import months_between
from audit.model import Facts
from audit.policy import Policy
from audit.rules import RULES
from schemas import words
from schemas.results import SEVERITY_ORDER

SYSTEM_TASKS: Final = ("set_temperature", "diagnose", "water_quality")  # done once for a home, whichever valve told
RENEWALS: Final = ("renew", "renew_head", "renew_body", "change_head_kind")  # what brings the options into play
BINDING: Final = ("renew_head", "renew_body", "change_head_kind")  # what rules out leaving the valve as it is


def work(facts: Facts, findings: pd.DataFrame, policy: Policy) -> pd.DataFrame:
    """Return the findings that make work, most severe first, with `remedy` and `target`.

    Left out: records to mend, findings without a remedy or a home, and repeats whose visit was reported longer ago
    than `repeats.act_window` months. `target` names the valve, or the home where the work is on its system.
    A renewal that no valve is named for becomes `diagnose`.
    """
    remedies = {rule.name: rule.remedy for rule in RULES}
    found = findings.assign(remedy=findings["rule"].map(remedies).fillna("").astype("str"))
    makes = found["remedy"].ne("") & found["severity"].ne("record") & found["home_id"].notna()
    found = found.loc[makes & ~_old_repeat(facts, findings, policy)]
    no_valve = found["valve_id"].isna()
    found = found.assign(remedy=found["remedy"].mask(no_valve & found["remedy"].isin(RENEWALS), "diagnose"))
    of_home = no_valve | found["remedy"].isin(SYSTEM_TASKS)
    found = found.assign(
        target=("valve " + found["valve_id"]).mask(of_home, "home " + found["home_id"]),
        worst=found["severity"].map(SEVERITY_ORDER).astype("int64"),
    )
    return found.sort_values(["worst", "rule", "target", "statement"], kind="stable").reset_index(drop=True)


def with_remedy(targets: pd.Series, found: pd.DataFrame, remedy: str) -> pd.Series:
    """Return for each target whether a finding of `work` asks for this remedy on it."""
    return targets.isin(found.loc[found["remedy"].eq(remedy), "target"])


def tasks(targets: pd.Series, found: pd.DataFrame) -> pd.DataFrame:
    """Return one yes/no column for each word of `schemas.words.TASK`, one row a target."""
    return pd.DataFrame({task: with_remedy(targets, found, task) for task in words.TASK}, index=targets.index)


def first_of(targets: pd.Series, found: pd.DataFrame, column: str) -> pd.Series:
    """Return `column` of the most severe finding of each target; missing where it has none."""
    return targets.map(found.drop_duplicates("target").set_index("target")[column])


def _old_repeat(facts: Facts, findings: pd.DataFrame, policy: Policy) -> pd.Series:
    repeats = findings["rule"].isin([rule.name for rule in RULES if rule.family == "repeats"])
    named = facts.visits.loc[facts.visits["visit_id"].isin(findings.loc[repeats, "visit_id"].dropna())]
    recent = months_between(named["reported"], facts.as_of).le(policy.number("repeats.act_window"))
    return repeats & findings["visit_id"].isin(named.loc[~recent, "visit_id"])
