"""Response: heating or hot water not known to be restored, or later than the repair periods of SI 1994/133."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from audit.model import Facts, Rule
from audit.rules.hits import count_text, day_text, hits, number_text, word_text

if TYPE_CHECKING:
    import pandas as pd

    from audit.policy import Policy

NAME: Final = "heating-not-restored"
LOSS: Final = ("no_heating", "no_hot_water", "no_heating_or_hot_water")  # total or partial loss of heating or hot water
WINDOW: Final = "response.open_window"
NOT_RIGHT: Final = ("temporary", "no_access", "parts_needed")
APPLIES: Final = "Applies to secure tenants of English local authorities; the landlord must check that it applies here."


def not_restored(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Return the last call-out for lost heating or hot water of each home and system, where nothing put it right since.

    Put right is what a visit reported no earlier, or completed later, left working; a return visit for it; or a visit
    to the home that says so. One reported longer ago than `response.open_window` days counts as over.

    Returns:
        Rows of `facts.visits`, with `days` since the report, and `outcome`, `attended` of the last visit for it.
    """
    import pandas as pd

    from audit.repeats.events import completion

    visits = facts.visits
    window = pd.Timedelta(days=policy.number(WINDOW))
    ended = completion(visits).where(~visits["outcome"].isin(NOT_RIGHT))
    first = facts.as_of - window
    visits = visits.assign(ended=ended).loc[visits["reported"].ge(first) | ended.ge(first)]
    lost = visits.loc[visits["is_call_out"] & visits["symptom"].isin(LOSS) & visits["reported"].ge(first)]
    lost = lost.drop_duplicates(["home_id", "system"], keep="last")
    of = lost[["home_id", "system", "reported", "episode", "visit_id"]]
    pairs = visits.merge(of, on="home_id", suffixes=("", "_lost"))
    back = pairs["kind"].eq("follow_on") & pairs["episode"].eq(pairs["episode_lost"])
    later = pairs["reported"].ge(pairs["reported_lost"]) | pairs["ended"].gt(pairs["reported_lost"]) | back
    ours = pairs["system"].eq(pairs["system_lost"]) | pairs["rules_put_right"].str.contains(NAME, regex=False, na=False)
    over = pairs.loc[ours & later & pairs["ended"].notna(), "visit_id_lost"]
    lost = lost.loc[~lost["visit_id"].isin(over)]
    told = visits.loc[visits["episode"].isin(lost["episode"])].drop_duplicates("episode", keep="last")
    last = told.set_index("episode")[["outcome", "attended"]].reindex(lost["episode"]).set_axis(lost.index)
    return lost.assign(**last, days=(facts.as_of - lost["reported"].dt.normalize()).dt.days.astype("float64"))


def heating_not_restored(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Call-outs for lost heating or hot water that nothing is known to have put right."""
    rows = not_restored(facts, policy)
    window = policy.number(WINDOW)
    seen = ("attended " + day_text(rows["attended"])).fillna("not attended")
    how = (", last outcome: " + word_text(rows["outcome"])).fillna(", not completed")
    how = how.mask(rows["outcome"].eq("temporary"), ", left working for now only")
    lost_what = word_text(rows["symptom"]).str.capitalize()
    statement = (
        lost_what + " reported " + day_text(rows["reported"]) + ", " + count_text(rows["days"], "day") + " ago, and "
        "not known to be put right: " + seen + how + "."
    )  # fmt: skip
    return hits(
        rows,
        statement=statement,
        observed=number_text(rows["days"]),
        limit=window,
        unit="days",
        margin=window - rows["days"],
    )


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
        name=NAME,
        family="response",
        severity="fault",
        fires="The last call-out for lost heating or hot water of a home and system was reported within this window, "
        "and no visit since put it right: not attended, not completed, no access, parts needed or a temporary repair.",
        why="The household may be cold now, or washing cold.",
        action="Find out today whether heating and hot water are back; if not, attend and restore them. If they are, "
        "complete the record.",
        limits=(WINDOW,),
        needs=("visits.symptom", "visits.completed or visits.outcome"),
        remedy="restore",
        check=heating_not_restored,
    ),
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
