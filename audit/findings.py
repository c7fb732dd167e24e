"""Findings: every rule run on the facts, stamped with what its record says, ranked."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import pandas as pd

from audit.catalogue import source_text
from audit.model import Facts, Rule
from audit.policy import Policy
from audit.rules import RULES
from audit.rules.hits import no_hits
from schemas.results import RESULT_COLUMNS, SEVERITY_ORDER

Absent = Mapping[str, frozenset[str]]
COLUMNS: Final = [column.name for column in RESULT_COLUMNS["findings"]]


def findings(facts: Facts, policy: Policy, absent: Absent) -> pd.DataFrame:
    """Run every rule whose columns are there, and rank what they find.

    Args:
        facts: What was known on the as-of date.
        policy: The limits.
        absent: For each table, the optional columns that no input had.

    Returns:
        Columns of `RESULT_COLUMNS["findings"]`, one row a finding. Danger first, then fault, money, record; then by
        how far past the limit, as a share of it; then in the order of rules, homes, valves, visits. Row order of the
        input changes nothing.
    """
    checked = [(rule, rule.check(facts, policy)) for rule in RULES if not missing(rule, absent)]
    found = [_stamped(hits, rule, policy) for rule, hits in checked if len(hits)]
    table = pd.concat(found or [_stamped(no_hits(), RULES[0], policy)], ignore_index=True)
    order = table["severity"].map(SEVERITY_ORDER).astype("int64")
    far = -table["relative"].fillna(0.0)
    table = table.loc[pd.DataFrame({"order": order, "far": far}).sort_values(["order", "far"], kind="stable").index]
    scheme = facts.homes.set_index("home_id")["scheme"].reindex(table["home_id"]).set_axis(table.index)
    return table.assign(scheme=scheme, rank=range(1, len(table) + 1))[COLUMNS].reset_index(drop=True)


def missing(rule: Rule, absent: Absent) -> tuple[str, ...]:
    """What a rule needs and no input had; empty where the rule can run."""

    def gone(column: str) -> bool:
        table, name = column.split(".")
        return name in absent.get(table, frozenset())

    return tuple(need for need in rule.needs if all(gone(column) for column in need.split(" or ")))


def switched_off(absent: Absent) -> tuple[str, ...]:
    """Say which rules could not run and what each lacked, one sentence a lack, in the order of the catalogue."""
    by_lack: dict[tuple[str, ...], list[str]] = {}
    for rule in RULES:
        lack = missing(rule, absent)
        if lack:
            by_lack.setdefault(lack, []).append(rule.name)
    return tuple(
        f"Not judged, because no file has {' and '.join(lack)}: {', '.join(names)}." for lack, names in by_lack.items()
    )


def _stamped(hits: pd.DataFrame, rule: Rule, policy: Policy) -> pd.DataFrame:
    return hits.assign(
        rule=pd.Series(rule.name, index=hits.index, dtype="str"),
        severity=hits["severity"].fillna(rule.severity),
        action=hits["action"].fillna(rule.action),
        limit_source=hits["limit_source"].fillna(source_text(rule, policy)),
    )
