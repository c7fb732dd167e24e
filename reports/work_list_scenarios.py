"""The sheet Scenarios of the work list: what each extra hour or pound buys, as a table and a chart."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from reports.look import Field
from reports.native_charts import bars, place
from schemas.sentences import AFTER_COST

if TYPE_CHECKING:
    import pandas as pd

    from reports.workbook import Book

SCENARIOS: Final = (
    Field("series", "What varies", "word", 10),
    Field("scenario", "Scenario", width=24),
    Field("hours_there", "Hours there (h)", "number", 9),
    Field("budget_gbp", "Budget (£)", "money", 12),
    Field("visits_planned", "Visits planned", "whole", 9),
    Field("danger_left_out", "Danger left out", "whole", 9),
    Field("faults_left_out", "Faults left out", "whole", 9),
    Field("hours_used", "Hours used (h)", "number", 9),
    Field("cost_gbp", "Cost (£)", "money", 12),
    Field("benefit_gbp", f"{AFTER_COST} (£)", "money", 12),
    Field("worth_gbp", "Worth (£)", "money", 12),
    Field("gap_percent", "Worth below the best, at most (%)", "number", 10),
    Field("extra_hours", "Extra hours (h)", "number", 9),
    Field("extra_cost_gbp", "Extra cost (£)", "money", 12),
    Field("extra_benefit_gbp", "Extra benefit (£)", "money", 12),
    Field("extra_worth_gbp", "Extra worth (£)", "money", 12),
    Field("per_extra_hour_gbp", "Worth for each extra hour (£)", "money", 12),
    Field("per_extra_pound", "Worth for each extra £ (£)", "money", 12),
)
BELOW: Final = 3  # rows between the table and its chart


def add_scenarios(book: Book, scenarios: pd.DataFrame, fault_worth: float) -> None:
    """Add the sheet; nothing where nothing was compared."""
    if scenarios.empty:
        return
    layout = book.table(
        "Scenarios", "What each extra hour or pound buys", scenarios, SCENARIOS, note=worth(fault_worth)
    )
    drawn = bars(
        layout,
        "Worth and benefit under each scenario",
        "scenario",
        ("worth_gbp", "benefit_gbp"),
        ("", "£, excluding VAT"),
        lying=True,
    )
    place(drawn, layout.sheet, f"A{layout.last_row + BELOW}", width=24.0)


def worth(fault_worth: float) -> str:
    """What worth means, and how the rows are read."""
    return (
        f"Worth is the benefit, and £{fault_worth:,.0f} for each fault put right (plan.fault_worth): what the plan is "
        "made to be best in; with danger first it never falls as hours or money rise. Extra is against the row above."
    )
