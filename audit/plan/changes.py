"""What changed since the last plan, and why; and what became of visits that were planned before."""

from __future__ import annotations

from typing import Final

import pandas as pd

from audit.plan.former import became, used
from audit.repeats.text import short_day
from schemas.results import CHANGE

COLUMNS: Final = (
    *("change", "home_id", "visit_number", "severity", "was_week", "was_team", "week_starting", "team", "reason"),
)
OVER: Final = ("fixed", "temporary", "no_fault_found")  # outcomes that end a visit


def with_history(table: pd.DataFrame, former: pd.DataFrame, begins: pd.Timestamp, as_of: pd.Timestamp) -> pd.DataFrame:
    """Fill `history`: what was written before, and what became of the visit in the last plan.

    Args:
        table: The visits of the new plan.
        former: The last plan, one row a visit.
        begins: First day of the new quarter.
        as_of: Today.
    """
    by = former.set_index("visit_number").reindex(table["visit_number"]).set_axis(table.index)
    fate = became(by, begins, as_of)
    again = pd.Series("left out now", index=table.index, dtype="str").mask(
        table["status"].eq("planned"), "planned again"
    )
    told = "planned for w/c " + short_day(by["week_starting"]) + ", " + fate + ", " + again
    told = told.where(fate.ne("") & by["status"].eq("planned"))
    before = by["history"].astype("str")
    whole = before.where(told.isna(), told.where(before.isna(), before + "; " + told))
    return table.assign(history=whole.astype("str"))


def changes(table: pd.DataFrame, former: pd.DataFrame, begins: pd.Timestamp, as_of: pd.Timestamp) -> pd.DataFrame:
    """Return one row a visit that is in either plan, in the order of CHANGE and of the ranking; see COLUMNS.

    Empty where there was no plan before.
    """
    if former.empty:
        return pd.DataFrame(columns=list(COLUMNS))
    both = table.merge(former.add_prefix("was_"), how="outer", left_on="visit_number", right_on="was_visit_number")
    both = both.sort_values(["rank", "was_home_id", "was_visit_number"], kind="stable", ignore_index=True)
    was, now = both["was_status"].eq("planned"), both["status"].eq("planned")
    both = both.loc[was | now].reset_index(drop=True)
    was, now = both["was_status"].eq("planned"), both["status"].eq("planned")
    same = both["week_starting"].eq(both["was_week_starting"]) & both["team"].eq(both["was_team"])
    same |= both["team"].isna() & both["was_team"].isna() & both["was_week_starting"].isna()
    former_rows = _former(both)
    there = used(former_rows, as_of)
    over = both["was_outcome"].isin(OVER) & there & both["status"].isna()
    unused = (former_rows["unused"].notna() | former_rows["done_on"].notna()) & ~there
    kind = pd.Series("new", index=both.index, dtype="str").mask(was & now, "moved").mask(was & now & same, "kept")
    kind = kind.mask(was & ~now, "dropped").mask(was & ~now & over, "done")
    kind = kind.mask(unused, "not used")
    made = pd.DataFrame(
        {
            "change": kind,
            "home_id": both["home_id"].fillna(both["was_home_id"]),
            "visit_number": both["visit_number"].fillna(both["was_visit_number"]),
            "severity": both["severity"],
            "was_week": both["was_week_starting"].where(was),
            "was_team": both["was_team"].where(was),
            "week_starting": both["week_starting"].where(now),
            "team": both["team"].where(now),
            "reason": _why(both, kind, begins, as_of),
        }
    )
    order = made["change"].map({name: place for place, name in enumerate(CHANGE)})
    return made.loc[order.sort_values(kind="stable").index, list(COLUMNS)].reset_index(drop=True)


def _why(both: pd.DataFrame, kind: pd.Series, begins: pd.Timestamp, as_of: pd.Timestamp) -> pd.Series:
    former = _former(both)
    fate = became(former, begins, as_of)
    reason = both["reason"].astype("str")
    over = both["was_outcome"].isin(OVER) & used(former, as_of)
    again, now = _rules_in(both)
    found_still = (fate + ", but found there still: " + again).mask(again.eq(""), fate + "; found there since: " + now)
    still = fate.mask(over, found_still)
    why = reason.fillna("").where(fate.eq(""), still + "; now " + reason)
    found = "found since: " + both["why"].astype("str").fillna("see the sheet Visits")
    found = found.mask(both["was_status"].eq("left_out"), "left out before; now " + reason)
    why = why.mask(kind.eq("new"), found)
    gone = pd.Series("nothing to do is found there any more", index=both.index, dtype="str")
    gone = gone.where(fate.eq(""), fate + "; nothing to do is found there any more")
    why = why.mask(kind.isin(["dropped", "done"]) & both["status"].isna(), gone)
    return why.mask(kind.eq("done") & both["status"].isna(), fate).astype("str")


def _former(both: pd.DataFrame) -> pd.DataFrame:
    """The former plan's part of the rows, by its own names."""
    return both[[name for name in both if str(name).startswith("was_")]].rename(columns=lambda name: name[4:])


def _rules_in(both: pd.DataFrame) -> tuple[pd.Series, pd.Series]:
    """The rules of each visit now: those of them that the former visit was to put right, and all."""
    here, before = ([_pairs(text) for text in both[name].fillna("")] for name in ("puts_right", "was_puts_right"))
    again = [[pair for pair in now if pair in was] for now, was in zip(here, before, strict=True)]
    told = [pd.Series([", ".join(pairs) for pairs in each], both.index, dtype="str") for each in (again, here)]
    return told[0], told[1]


def _pairs(text: str) -> list[str]:
    """Each valve with each of its rules, of 'valve = rule, rule; …'."""
    parts = [part.partition(" = ") for part in text.split("; ") if part]
    return [f"{valve} {rule}" for valve, _, rules in parts for rule in rules.split(", ")]
