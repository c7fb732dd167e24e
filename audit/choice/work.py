"""Which findings make work, and what work: the seam between what the rules say and what is chosen."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.calendar import months_between
from audit.lookup import places
from audit.model import Facts
from audit.policy import Policy
from audit.rules import RULES
from audit.rules.water import said_near_boiling
from schemas import words
from schemas.results import SEVERITY_ORDER

# done once for a home, whichever valve told
SYSTEM_TASKS: Final = ("near_boiling", "restore", "set_temperature", "diagnose", "water_quality")
RENEWALS: Final = ("renew", "renew_head", "renew_body", "change_head_kind")  # what brings the options into play
BINDING: Final = ("renew_head", "renew_body", "change_head_kind")  # what rules out leaving the valve as it is


def work(facts: Facts, findings: pd.DataFrame, policy: Policy) -> pd.DataFrame:
    """Return the findings that make work, most severe first, with `remedy` and `target`.

    Left out: records to mend, findings without a remedy or a home, and repeats whose visit was reported longer ago
    than `repeats.act_window` months. `target` names the valve, or the home where the work is on its system.
    A renewal that no valve is named for becomes `diagnose`; water near boiling is no matter of setting a temperature.
    """
    remedies = {rule.name: rule.remedy for rule in RULES}
    remedy = findings["rule"].map(remedies).fillna("").astype("str")
    found = findings.assign(remedy=remedy.mask(said_near_boiling(findings), "near_boiling"))
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


def needs(found: pd.DataFrame) -> pd.DataFrame:
    """Return one row a target of `work`, indexed by it: home_id, severity (the worst), bound_by, and a column a remedy.

    `bound_by` is the rule that rules out leaving, or empty; the column of a remedy (RENEWALS and TASK) tells whether
    a finding asks for it.
    """
    worst = found.drop_duplicates("target").set_index("target")
    remedies = list(dict.fromkeys((*RENEWALS, *words.TASK)))
    asks = np.zeros((len(worst), len(remedies)), dtype=bool)
    asks[pd.factorize(found["target"])[0], pd.Index(remedies).get_indexer(pd.Index(found["remedy"]))] = True
    binding = found.loc[found["remedy"].isin(BINDING)].drop_duplicates("target").set_index("target")["rule"]
    table = pd.DataFrame(asks, index=worst.index, columns=remedies)
    return table.assign(
        home_id=worst["home_id"],
        severity=worst["severity"],
        bound_by=binding.reindex(table.index).fillna("").astype("str"),
    )


def among(values: pd.Series, others: pd.Series) -> npt.NDArray[np.bool_]:
    """Return which `values` are among the `others`; as `isin`, and much faster on text."""
    return np.asarray(pd.Index(others.dropna().unique()).get_indexer(pd.Index(values)) >= 0)


def _old_repeat(facts: Facts, findings: pd.DataFrame, policy: Policy) -> pd.Series:
    repeats = findings["rule"].isin([rule.name for rule in RULES if rule.family == "repeats"])
    named = findings.loc[repeats & findings["visit_id"].notna(), "visit_id"]
    if named.empty:
        return pd.Series(False, index=findings.index)
    place = places(named, facts.visits["visit_id"])
    reported = facts.visits["reported"].take(place).set_axis(named.index).where(place >= 0)
    old = months_between(reported, facts.as_of).gt(policy.number("repeats.act_window"))
    return old.reindex(findings.index, fill_value=False)
