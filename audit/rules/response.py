"""Response: heating or hot water restored later than the repair periods of SI 1994/133."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from audit.model import Facts, Rule
from audit.rules.hits import count_text, day_text, hits, number_text, word_text

if TYPE_CHECKING:
    import pandas as pd

    from audit.policy import Policy

LOSS: Final = ("no_heating", "no_hot_water", "no_heating_or_hot_water")  # total or partial loss of heating or hot water
APPLIES: Final = "Applies to secure tenants of English local authorities; the landlord must check that it applies here."


def heating_restored_late(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Completed call-outs for lost heating or hot water that took more working days than the season's limit."""
    from audit.calendar import deadline, repair_days, working_days

    visits = facts.visits
    lost = visits[visits["is_call_out"] & visits["completed"].notna() & visits["symptom"].isin(LOSS)]
    extra = policy["response.extra_holidays"].value
    taken = working_days(lost["reported"], lost["completed"], extra)
    allowed = repair_days(lost["reported"], policy)
    late = taken > allowed
    rows, taken, allowed = lost[late], taken[late], allowed[late]
    due = deadline(rows["reported"], allowed, extra)
    lost_what = word_text(rows["symptom"]).str.capitalize()
    statement = (
        lost_what + " reported " + day_text(rows["reported"]) + ", completed " + day_text(rows["completed"])
        + ", after the end of working day " + number_text(taken - 1) + "; due by " + day_text(due)
        + " (" + count_text(allowed, "working day") + "). " + APPLIES
    )  # fmt: skip
    return hits(
        rows,
        statement=statement,
        observed=number_text(taken),
        limit=allowed,
        unit="working days",
        margin=taken - allowed,
    )


RULES: Final = (
    Rule(
        name="heating-restored-late",
        family="response",
        severity="record",
        fires="A call-out for lost heating or hot water was completed after more working days than this, the day after "
        "the report being day 1; the season is that of the report.",
        why="Secure tenants of English local authorities can claim under the right to repair; the landlord must check "
        "that it applies.",
        action="Check whether the right to repair applies, what the tenant was told, and why it took so long.",
        limits=("response.winter_working_days", "response.summer_working_days"),
        needs=("visits.completed", "visits.symptom"),
        remedy="",
        check=heating_restored_late,
    ),
)
