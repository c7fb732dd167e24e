"""Repeats: faults that come back, visits that lead nowhere, and homes where several valves fail."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from audit.model import Facts, Rule
from audit.rules.hits import count_text, day_text, hits, no_hits, number_text

if TYPE_CHECKING:
    import pandas as pd

    from audit.policy import Policy

SHORT, LONG = "repeats.short_window", "repeats.long_window"
NOT_THE_VALVE: Final = ("wiring", "control", "lever", "pump", "boiler", "none_found")  # causes outside the valve
NOTHING_MENDED: Final = ("no_fault_found", "no_access")
NOT_RIGHT: Final = ("temporary", "no_access", "parts_needed")
AT_THE_NEXT: Final = (
    "None now: the last head or motor holds. At the next failure renew the whole valve rather than another head; "
    "measure the air at the head on the next visit."
)


def repeat_call_out(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Call-out events within a window of days after the one before, in one home and system; both by day of report."""
    from audit.calendar import months_between

    short, long = policy.number(SHORT), policy.number(LONG)
    rows = facts.visits[facts.visits["gap_days"] <= max(short, long)]
    gap = rows["gap_days"]
    window = gap.le(short).map({True: short, False: long}).astype("float64")
    name = gap.le(short).map({True: "short", False: "long"}).astype("str")
    recent = months_between(rows["reported"], facts.as_of).le(policy.number("repeats.act_window"))
    statement = (
        "Call-out reported " + day_text(rows["reported"]) + ", " + count_text(gap, "day") + " after the one before "
        "in this home and system: inside the " + name + " window of " + number_text(window) + " days."
    )  # fmt: skip
    return hits(
        rows,
        statement=statement,
        observed=number_text(gap),
        limit=window,
        unit="days",
        margin=window - gap,
        severity=recent.map({True: "fault", False: "record"}),
        action=recent.map({True: None, False: "None now: too long ago to act on; kept for the pattern."}),
        limit_source=gap.le(short).map({True: policy[SHORT].source, False: policy[LONG].source}),
    )


def head_replaced_again(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Bodies on which at least so many heads or motors were renewed within the window before the as-of date.

    A fault where the valve failed again since and is not put right. What works is no ground for a new valve now: while
    the last head or motor holds it is a record, for the next failure. See `audit.repeats.rooted` for what chains add.
    """
    count, months = policy.number("repeats.head_again_count"), policy.number("repeats.head_again_window")
    rows = facts.valves[facts.valves["heads_renewed_recently"] >= count]
    if rows.empty:
        return no_hits()
    seen = rows["heads_renewed_recently"].astype("float64")
    since = _failed_since(rows, facts, policy)
    last = count_text((facts.as_of - rows["heads_renewed_last"]).dt.days, "day")
    now = ("; it failed again, reported " + day_text(since) + ", and that is not put right").fillna(
        "; the last was renewed " + last + " ago, and no later fault of it is open"
    )
    statement = number_text(seen) + f" heads or motors renewed on this body within {months:g} months: "
    return hits(
        rows,
        statement=statement + rows["heads_renewed_on"] + now + ".",
        observed=number_text(seen),
        limit=count,
        unit="heads or motors",
        margin=seen - count,
        severity=since.notna().map({True: "fault", False: "record"}),
        action=since.notna().map({True: None, False: AT_THE_NEXT}),
    )


def _failed_since(valves: pd.DataFrame, facts: Facts, policy: Policy) -> pd.Series:
    """When the last fault of each valve was reported, where that came after its last renewal and is not put right."""
    from audit.calendar import months_between
    from audit.repeats.events import completion

    visits = facts.visits[facts.visits["is_fault"]]
    own = visits.loc[visits["valve_id"].isin(valves["valve_id"])].groupby("valve_id")["episode"].max()
    visits = visits.loc[visits["episode"].isin(own)]
    right = completion(visits).where(~visits["outcome"].isin(NOT_RIGHT)).groupby(visits["episode"]).max()
    told = visits.groupby("episode")["reported"].max()
    told = told.where(right.isna() & months_between(told, facts.as_of).le(policy.number("repeats.act_window")))
    since: pd.Series = told.reindex(own.reindex(valves["valve_id"]).to_numpy()).set_axis(valves.index).dt.normalize()
    return since.where(since >= valves["heads_renewed_last"])


def no_fault_found_again(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Homes with at least so many visits that found no fault within the window before the as-of date.

    See `audit.repeats.found_since` for those whose chain was put right since.
    """
    return _left_again(facts, policy, "no_fault_found", "no_fault", "that found no fault")


def no_access_again(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Homes with at least so many visits without access within the window before the as-of date."""
    return _left_again(facts, policy, "no_access", "no_access", "without access")


def _left_again(facts: Facts, policy: Policy, outcome: str, key: str, how: str) -> pd.DataFrame:
    visits = facts.visits[facts.visits["outcome"].eq(outcome)]
    return _homes_with(
        _within(visits, "at", policy.number(f"repeats.{key}_window"), facts).groupby("home_id")["visit_id"].nunique(),
        policy,
        key,
        "visits",
        how,
    )


def valve_failures(visits: pd.DataFrame) -> pd.Series:
    """Whether each visit tells of a failed valve.

    That is a call-out or a return visit that names the valve, unless it found no fault or no access, or a cause outside
    the valve.
    """
    failed: pd.Series = visits["is_fault"] & visits["episode"].ge(0) & visits["valve_id"].notna()
    return failed & ~visits["outcome"].isin(NOTHING_MENDED) & ~visits["cause"].isin(NOT_THE_VALVE)


def several_valves_one_home(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Homes in which at least so many different valves failed within the window before the as-of date.

    See `audit.repeats.found_since` for those whose chains were put right since.
    """
    failed = valve_failures(facts.visits)
    recent = _within(facts.visits[failed], "reported", policy.number("repeats.several_valves_window"), facts)
    valves = recent[["home_id", "valve_id"]].drop_duplicates().sort_values(["home_id", "valve_id"]).groupby("home_id")
    found = _homes_with(valves["valve_id"].size(), policy, "several_valves", "valves", "of this home failed")
    names = valves["valve_id"].agg(", ".join).reindex(found["home_id"]).set_axis(found.index)
    return found.assign(statement=found["statement"].str.removesuffix(".") + ": " + names + ".")


def _within(visits: pd.DataFrame, column: str, months: float, facts: Facts) -> pd.DataFrame:
    from audit.calendar import months_between

    return visits[months_between(visits[column], facts.as_of) <= months]


def _homes_with(counted: pd.Series, policy: Policy, key: str, unit: str, how: str) -> pd.DataFrame:
    """Findings on the homes whose count reaches the limit; `counted` by home_id, sorted."""
    count, months = policy.number(f"repeats.{key}_count"), policy.number(f"repeats.{key}_window")
    rows = counted[counted >= count].astype("float64").rename("seen").reset_index()
    seen = number_text(rows["seen"])
    statement = seen + f" {unit} {how} within {months:g} months."
    return hits(rows, statement=statement, observed=seen, limit=count, unit=unit, margin=rows["seen"] - count)


RULES: Final = (
    Rule(
        name="repeat-call-out",
        family="repeats",
        severity="fault",
        fires="A call-out is reported within one of these windows after another of the same home and system. Several "
        "on one day, or one that arrives before the earlier visit is completed, are one.",
        why="The fault was not found: what was renewed was not what failed.",
        action="Read the history before going, and find the one cause behind both call-outs.",
        limits=(SHORT, LONG, "repeats.act_window"),
        needs=("visits.kind or visits.symptom",),
        remedy="diagnose",
        check=repeat_call_out,
    ),
    Rule(
        name="head-replaced-again",
        family="repeats",
        severity="fault",
        fires="At least this many heads or motors were renewed on one body within the window; planned ones do not "
        "count; a head soon after a motor ends the same repair and counts once with it. A fault where the valve failed "
        "again since, a record while the last one holds. Where a chain of repeats is still to do, its root decides.",
        why="Heads do not fail so fast by themselves: a stiff body or a hot place wears them out. A valve that works "
        "is no ground for a new one.",
        action="Renew the whole valve rather than another head; measure the air at the head.",
        limits=("repeats.head_again_count", "repeats.head_again_window", LONG, "repeats.act_window"),
        needs=("visits.action",),
        remedy="renew_body",
        check=head_replaced_again,
    ),
    Rule(
        name="no-fault-found-again",
        family="repeats",
        severity="fault",
        fires="At least this many visits to one home found no fault within the window.",
        why="A fault that comes and goes is there; each visit that misses it costs as much as one that does not.",
        action="Send one engineer with the history and time to find the fault; measure while heat is called for.",
        limits=("repeats.no_fault_count", "repeats.no_fault_window"),
        needs=("visits.outcome",),
        remedy="diagnose",
        check=no_fault_found_again,
    ),
    Rule(
        name="no-access-again",
        family="repeats",
        severity="record",
        fires="At least this many visits to one home had no access within the window.",
        why="Each attempt costs an attendance, and the household may be without heat.",
        action="Agree a time with the household before the next attempt, or pair it with the gas safety visit.",
        limits=("repeats.no_access_count", "repeats.no_access_window"),
        needs=("visits.outcome",),
        remedy="",
        check=no_access_again,
    ),
    Rule(
        name="several-valves-one-home",
        family="repeats",
        severity="fault",
        fires="At least this many different valves of one home failed within the window.",
        why="What the valves share is likelier at fault: water quality, wiring centre or pump.",
        action="Test the system water, wiring centre and pump before changing valves.",
        limits=("repeats.several_valves_count", "repeats.several_valves_window"),
        needs=("visits.valve_id", "visits.kind or visits.symptom"),
        remedy="water_quality",
        check=several_valves_one_home,
    ),
)
