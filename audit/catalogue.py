"""The catalogue of rules and the list of limits, as rows, as lines for the screen, and as a table for the README."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from audit.model import Rule
from audit.policy import Limit, Policy
from audit.rules import RULES

WIDTH = 110


def rule_rows(policy: Policy) -> list[dict[str, str]]:
    """One record a rule: rule, family, severity, fires, limit, source, needs, action, why."""
    return [
        {
            "rule": rule.name,
            "family": rule.family,
            "severity": rule.severity,
            "fires": rule.fires,
            "limit": "; ".join(limit_text(policy[name]) for name in rule.limits),
            "source": source_text(rule, policy),
            "needs": ", ".join(rule.needs),
            "action": rule.action,
            "why": rule.why,
        }
        for rule in RULES
    ]


def catalogue_lines(policy: Policy) -> list[str]:
    """Every rule for the screen: what it fires on, its limits with unit and source, what it needs, what to do."""
    lines: list[str] = []
    for row in rule_rows(policy):
        lines += [f"{row['rule']}  ({row['family']}, {row['severity']})"]
        for label, key in (("fires", "fires"), ("why", "why"), ("limit", "limit"), ("source", "source")):
            lines += _labelled(label, row[key])
        lines += [*_labelled("needs", row["needs"]), *_labelled("to do", row["action"]), ""]
    return lines[:-1]


def limit_lines(policy: Policy) -> list[str]:
    """Every limit of the policy for the screen: name, value with unit, allowed range, source, meaning."""
    lines: list[str] = []
    for limit in policy.values():
        lines += [f"{limit.name} = {_value(limit)}"]
        lines += [*_labelled("means", limit.meaning), *_labelled("source", limit.source)]
        if limit.low is not None and limit.high is not None:
            lines += _labelled("allowed", f"{limit.low:g} to {limit.high:g} {limit.unit}")
    return lines


def catalogue_markdown(policy: Policy) -> str:
    """The catalogue as a Markdown table."""
    heads = ("rule", "severity", "fires when", "limit", "source", "needs")
    rows = [
        (f"`{row['rule']}`", row["severity"], row["fires"], row["limit"] or "none", row["source"], row["needs"])
        for row in rule_rows(policy)
    ]
    return "\n".join([_table_row(heads), _table_row(["---"] * len(heads)), *map(_table_row, rows)])


def source_text(rule: Rule, policy: Policy) -> str:
    """Where a rule's limits come from, each source once, then the rule's own source."""
    sources = [*(policy[name].source for name in rule.limits), rule.source]
    return "; ".join(dict.fromkeys(source for source in sources if source))


def limit_text(limit: Limit) -> str:
    """A limit with its unit and the name by which the policy sets it: `12 years (age.head_service_life)`."""
    return f"{_value(limit)} ({limit.name})"


def _value(limit: Limit) -> str:
    if isinstance(limit.value, list):
        return f"[{', '.join(str(day) for day in limit.value)}] {limit.unit}"
    return f"{limit.number:g} {limit.unit}"


def _labelled(label: str, text: str) -> list[str]:
    if not text:
        return []
    return textwrap.wrap(text, WIDTH, initial_indent=f"  {label:<8}", subsequent_indent=" " * 10)


def _table_row(cells: Iterable[str]) -> str:
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"
