"""The records that the engine passes along: portfolio, facts, rule. Imports no table library at run time."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import pandas as pd

    from audit.policy import Policy

Severity = Literal["danger", "fault", "money", "record"]


@dataclass(frozen=True)
class Portfolio:
    """The validated tables. Each has every canonical column of its model, plus source_file, source_sheet, source_row.

    `absent` names, for each table, the optional columns that no input file had; what needs them is switched off.
    """

    homes: pd.DataFrame
    valves: pd.DataFrame
    visits: pd.DataFrame
    rates: pd.DataFrame
    capacity: pd.DataFrame
    parts: pd.DataFrame
    absent: Mapping[str, frozenset[str]] = field(default_factory=dict)
    former: pd.DataFrame | None = None  # the last work list, as the planner left it; see `audit.plan.former`


@dataclass(frozen=True)
class Facts:
    """What was known on the as-of date, prepared for the rules; see `audit.facts` for every added column."""

    as_of: pd.Timestamp
    homes: pd.DataFrame
    valves: pd.DataFrame
    visits: pd.DataFrame


@dataclass(frozen=True, slots=True)
class Rule:
    """One statement that the audit can make, with everything a reader of the catalogue wants to know.

    `limits` are policy names; `needs` are columns as `table.column`. `remedy` says what work follows:
    `renew` (choose among the options, leaving included), `renew_head` (at least a motor or head), `renew_body`
    (the whole valve), a word of `schemas.words.TASK`, or empty for desk work. An entry of `needs` may name columns of
    which one is enough, joined by " or ". `source` says where the rule comes from if it has no limit, or besides it.
    `check(facts, policy)` returns one row a finding, made with `audit.rules.hits.hits`.
    """

    name: str
    family: str
    severity: Severity
    fires: str
    why: str
    action: str
    limits: tuple[str, ...]
    needs: tuple[str, ...]
    remedy: str
    check: Callable[[Facts, Policy], pd.DataFrame]
    source: str = ""
