"""What the audit wants to know of every row, how much of it is missing, and what each gap costs, with numbers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import pandas as pd

from audit.calendar import months_between
from audit.model import Facts
from audit.policy import Policy

GAP_COLUMNS: Final = ("table", "column", "missing", "of", "share", "cost")
NOUNS: Final = {"homes": "home", "valves": "valve", "visits": "visit"}
Rows = Callable[[pd.DataFrame], "pd.Series[bool]"]


def every(rows: pd.DataFrame) -> pd.Series[bool]:
    """All rows."""
    return pd.Series(True, index=rows.index)


def call_outs(visits: pd.DataFrame) -> pd.Series[bool]:
    """Visits that a fault caused, or of which no kind is recorded."""
    return visits["kind"].isna() | visits["kind"].eq("call_out")


def attended(visits: pd.DataFrame) -> pd.Series[bool]:
    """Visits with a date of attendance or completion."""
    return visits["attended"].notna() | visits["completed"].notna()


def worked(visits: pd.DataFrame) -> pd.Series[bool]:
    """Attended visits on which somebody was let in."""
    return attended(visits) & visits["outcome"].ne("no_access")


@dataclass(frozen=True, slots=True)
class Want:
    """A column wanted of some rows; the sentence where it is missing is "41 % of {lack}: 3,210 valves {cost}."."""

    lack: str
    cost: str
    of: Rows = every


WANTED: Final[Mapping[str, Mapping[str, Want]]] = {
    "homes": {
        "address": Want("homes have no address", "cannot be found from the work list alone"),
        "postcode": Want("homes have no postcode", "cannot be sorted by place on the work list"),
        "scheme": Want("homes have no scheme", "can only be counted under 'not recorded'"),
        "patch": Want("homes have no patch", "may be given to a team from far away"),
        "gas_check_due": Want("homes have no date of the gas check", "cannot be visited when a check is due anyway"),
    },
    "valves": {
        "circuit": Want("valves do not say what they feed", "cannot be named by circuit on the work list"),
        "ports": Want("bodies have no number of ports", "can only be priced by what head or layout suggests"),
        "body_size_mm": Want("bodies have no size", "can only be priced as 22 mm"),
        "head_kind": Want("heads have no kind", "can only be priced as the kind that suits the body"),
        "wires": Want("heads have no count of wires", "cannot be held against the wiring"),
        "head_fitted": Want("heads have no date", "cannot be aged from the register"),
        "body_fitted": Want("bodies have no date", "cannot be aged from the register"),
        "location": Want("valves have no location", "cannot be told to stand in a hot cupboard or not"),
        "location_temp_c": Want("heads have no air temperature that still counts", "cannot be judged for heat"),
        "isolation": Want("valves do not say whether they can be isolated", "must be reckoned with a drain-down"),
        "earthed": Want("heads do not say whether they are earthed", "cannot be called safe or unsafe"),
    },
    "visits": {
        "valve_id": Want("call-outs do not say which valve", "cannot be laid to any valve", call_outs),
        "symptom": Want("call-outs have no symptom", "cannot be told apart by what failed", call_outs),
        "outcome": Want("attended visits have no outcome", "may hide repeats without a fault found", attended),
        "cause": Want("visits with work have no cause", "cannot be told apart: valve, pump or control", worked),
        "action": Want("visits with work do not say what was done", "may have renewed a head still held old", worked),
        "cost_gbp": Want("attended visits have no cost", "cannot be counted in the cost of repeats", attended),
    },
}  # fmt: skip
AGES: Final = {"head_fitted": "head_age_years", "body_fitted": "body_age_years"}


def gaps(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Say what is missing and what that costs, the largest share first.

    Judged on the facts, that is, after everything else was tried: a home with one valve names it, notes have
    been read. Dates of heads and bodies are those of the register; how many a visit or the other part dates is said. An
    air temperature without a date, or older than place.reading_max_age, counts as missing.

    Args:
        facts: The stock on the as-of date.
        policy: The limits in force.

    Returns:
        One row a gap: table, column, missing, of (rows), share (0 to 1), cost (a sentence).
    """
    tables = {"homes": facts.homes, "valves": facts.valves, "visits": facts.visits}
    rows: list[tuple[Any, ...]] = []
    for table, wants in WANTED.items():
        frame = tables[table]
        for column, want in wants.items():
            wanted = want.of(frame)
            lacking = wanted & _missing(frame, column, facts.as_of, policy)
            missing, of = int(lacking.sum()), int(wanted.sum())
            if missing:
                cost = f"{_counted(missing, NOUNS[table])} {want.cost}{_otherwise(frame, column, lacking)}"
                rows.append(
                    (table, column, missing, of, missing / of, f"{percent(missing / of)} of {want.lack}: {cost}.")
                )
    rows += _old_log(facts, policy)
    found = pd.DataFrame(rows, columns=list(GAP_COLUMNS)).astype({"table": "str", "column": "str", "cost": "str"})
    return found.sort_values(["share", "table", "column"], ascending=[False, True, True], ignore_index=True)


def _missing(frame: pd.DataFrame, column: str, as_of: pd.Timestamp, policy: Policy) -> pd.Series[bool]:
    missing = frame[column].isna()
    if column == "location_temp_c":
        months = months_between(frame["location_temp_on"], as_of)
        missing |= ~months.le(policy.number("place.reading_max_age"))
    return missing


def _otherwise(frame: pd.DataFrame, column: str, lacking: pd.Series[bool]) -> str:
    """How many parts without a date of their own another record dates."""
    if column not in AGES:
        return ""
    dated = int(frame.loc[lacking, AGES[column]].notna().sum())
    return f"; a visit or the other part's date ages {f'{dated:,}' if dated else 'none'} of them"


def _counted(number: int, noun: str) -> str:
    return f"{number:,} {noun}{'' if number == 1 else 's'}"


def percent(share: float) -> str:
    """A share in whole per cent; what is neither none nor all is never rounded to it."""
    if 0.0 < share < 0.01:
        return "under 1 %"
    return "over 99 %" if 0.99 < share < 1.0 else f"{100 * share:.0f} %"


def _old_log(facts: Facts, policy: Policy) -> list[tuple[Any, ...]]:
    """A log that ends long before the as-of date hides what failed since."""
    newest = facts.visits["reported"].max()
    days = (facts.as_of - newest.normalize()).days if pd.notna(newest) else 0
    if days <= policy.number("quality.open_longest"):
        return []
    told = (
        f"The newest visit was reported on {newest.day} {newest:%B %Y}: what failed in {days:,} days since is unknown."
    )
    return [("visits", "reported", 0, len(facts.visits), 0.0, told)]
