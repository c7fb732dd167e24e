"""Sentences that the screen, the workbooks and the page share, made from the record of a run."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    import pandas as pd

    from schemas.results import Results

AFTER_COST: Final = "Benefit after cost"  # how the columns of benefit are headed
AFTER_COST_SAID: Final = (
    "Benefit after cost is what acting now saves against waiting, with the cost of acting already taken off: beside a "
    "cost of £200, a benefit of £12 means that waiting costs £212."
)
TO_DO: Final = "To do"
HOW_READ: Final = "How the books were read, and what was assumed"
SAFE_FIRST: Final = "make it safe today, then mend the row"
SAFE_NOW: Final = "have these homes made safe today, do not wait for the visit"


class ToDo(str):
    """A sentence that asks its reader to act; every other one tells how the books were read."""

    __slots__ = ()


def parted(said: Sequence[str]) -> tuple[list[str], list[str]]:
    """The sentences to act on, and the others."""
    return [text for text in said if isinstance(text, ToDo)], [text for text in said if not isinstance(text, ToDo)]


def how_good(plan: Mapping[str, Any]) -> str:
    """Tell what the plan brings, and how far it may be from the best possible; empty where there is no plan by weeks.

    What is made best is worth, so the limit holds for worth alone.
    """
    if "bound_gbp" not in plan:
        return ""
    within = "these hours" if "budget_gbp" not in plan else f"these hours and a budget of £{plan['budget_gbp']:,.0f}"
    if plan["bound_gbp"] <= 0:
        return f"Within {within} no visit that is worth anything can be planned."
    return (
        f"The plan's benefit is £{plan['benefit_gbp']:,.0f}. Danger and homes without heat go first, then the plan is "
        f"made for worth: the benefit, and what each fault mended counts besides, the more the sooner. Its worth is "
        f"£{plan['worth_gbp']:,.0f}, at most {plan['gap_percent']:.1f} % below the best possible in {within} "
        f"(£{plan['bound_gbp']:,.0f}); another plan may bring more benefit by mending faults later."
    )


def returned_dangers(results: Results) -> pd.DataFrame:
    """The dangers that stand on returned rows: table, file, sheet, row, thing, what; none where nothing was read."""
    rows = results.summaries.get("returned_dangers")
    return results.problems.iloc[:0] if rows is None else rows


def returned_danger(row: Mapping[Any, Any]) -> str:
    """Tell of a danger that stands on a returned row, and what comes first."""
    sheet = f"sheet '{row['sheet']}', " if row["sheet"] == row["sheet"] and row["sheet"] else ""
    place = f"{row['file']}, {sheet}row {row['row']}"
    return f"DANGER ON A RETURNED ROW: {row['thing']} ({place}) {row['what']}: {SAFE_FIRST}."


def danger_of(visits: pd.DataFrame) -> list[tuple[str, str]]:
    """Tell of each visit for danger its home, and when it is planned or why it is not."""
    return [
        (str(row["home_id"]), _planned(row) if row["status"] == "planned" else str(row["reason"]))
        for row in visits.to_dict("records")
    ]


def _planned(visit: Mapping[Any, Any]) -> str:
    week = visit["week_starting"]
    when = f"visit in the week of {week.day} {week:%B %Y}, " if week == week else ""  # NaT is not itself
    return f"{when}{str(visit['jobs']).replace(chr(10), ' ')}".rstrip(".")
