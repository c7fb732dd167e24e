"""Chains: call-outs of one home and heating system that follow each other within the repeat window."""

from __future__ import annotations

import pandas as pd

from audit.model import Facts
from audit.policy import Policy
from schemas.results import RESULT_COLUMNS

WINDOWS = ("repeats.short_window", "repeats.long_window")
RENEWALS = ("motor", "head", "full")
KEY = ["home_id", "system"]


def chains(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Find every chain of two or more call-out events, once for each window.

    Args:
        facts: `facts.visits` sorted by home, system, report and visit number, with `event` and `gap_days`.
        policy: The windows in days, and the limits behind the likely root.

    Returns:
        One row a chain and window, columns of `RESULT_COLUMNS["chains"]`, in date order.
    """
    found = [_chains(facts, policy, policy.number(name)) for name in WINDOWS]
    table = pd.concat(found, ignore_index=True)
    table = table.sort_values(["first", "home_id", "system", "window_days"], kind="stable", ignore_index=True)
    return table[[column.name for column in RESULT_COLUMNS["chains"]]]


def members(visits: pd.DataFrame, window_days: float) -> pd.DataFrame:
    """Give each visit of a chain its chain's number.

    Args:
        visits: `facts.visits`.
        window_days: Longest gap, in days, between two call-outs of one chain.

    Returns:
        The visits that belong to a chain of two or more events, with `chain_no`; visits that are not call-outs belong
        where they fall between the chain's first report and its last report or completion.
    """
    calls = visits.loc[visits["is_call_out"]]
    starts = calls["gap_days"].isna() | (calls["gap_days"] > window_days)
    first_of_event = calls["event"].ne(calls["event"].shift())
    number = (starts & first_of_event).cumsum()
    events = calls.groupby(number)["event"].nunique()
    calls = calls.assign(chain_no=number).loc[number.map(events).ge(2)]
    if calls.empty:
        return visits.iloc[:0].assign(chain_no=pd.Series(dtype="int64"))
    spans = calls.groupby("chain_no").agg(
        home_id=("home_id", "first"),
        system=("system", "first"),
        first=("reported", "min"),
        last=("reported", "max"),
        closed=("completed", "max"),
    )
    spans = spans.assign(end=spans[["last", "closed"]].max(axis=1)).reset_index()
    others = visits.loc[~visits["is_call_out"]]
    joined = pd.merge_asof(
        others.sort_values(["reported", "visit_id"], kind="stable"),
        spans[["chain_no", *KEY, "first", "end"]].sort_values("first", kind="stable"),
        left_on="reported",
        right_on="first",
        by=KEY,
    )
    inside = joined.loc[joined["reported"] <= joined["end"]].drop(columns=["first", "end"])
    both = pd.concat([calls, inside.astype({"chain_no": "int64"})])
    return both.sort_values(["chain_no", "reported", "visit_id"], kind="stable", ignore_index=True)


def _chains(facts: Facts, policy: Policy, window_days: float) -> pd.DataFrame:
    rows = members(facts.visits, window_days)
    if rows.empty:
        return pd.DataFrame({column.name: [] for column in RESULT_COLUMNS["chains"]})
    rows = rows.assign(
        open_days=(rows["completed"].dt.normalize() - rows["reported"].dt.normalize()).dt.days,
        renewed=rows["action"].isin(RENEWALS) & rows["completed"].notna(),
        nothing=rows["outcome"].eq("no_fault_found"),
        refused=rows["outcome"].eq("no_access"),
        latched=rows["lever"].eq("latched"),
        stiff=rows["lever"].eq("stiff"),
        call_event=rows["event"].where(rows["is_call_out"]),
    )
    grouped = rows.groupby("chain_no")
    table = grouped.agg(
        home_id=("home_id", "first"),
        system=("system", "first"),
        first=("reported", "min"),
        last=("reported", "max"),
        call_outs=("call_event", "nunique"),
        visits=("visit_id", "size"),
        no_access=("refused", "sum"),
        days_open=("open_days", "sum"),
        cost_gbp=("cost_gbp", "sum"),
        renewals=("renewed", "sum"),
        nothing=("nothing", "sum"),
        latched=("latched", "sum"),
        stiff=("stiff", "sum"),
        valves=("valve_id", "nunique"),
    )
    parts = rows.loc[rows["renewed"]].groupby("chain_no")["action"].agg(", then ".join)
    table = table.assign(parts_fitted=parts).fillna({"parts_fitted": ""})
    hottest = facts.valves.groupby("home_id")["location_temp_c"].max()
    table = table.assign(hot=table["home_id"].map(hottest).gt(policy.number("place.location_limit")))
    table = _with_root(table)
    number = pd.Series(range(1, len(table) + 1), index=table.index).astype(str).str.zfill(6)
    return table.assign(
        chain=f"C{window_days:g}-" + number,
        window_days=window_days,
        first=table["first"].dt.normalize(),
        last=table["last"].dt.normalize(),
    )


_ROOTS = (
    # condition column, least count, root, next step; the first that holds is shown, weakest last
    ("stiff", 1, "body seized or stiff", "Renew the whole valve; another head will not cure it."),
    ("renewals", 2, "body, not the head", "Renew the whole valve; heads were renewed again and again."),
    (
        "valves",
        2,
        "water quality, wiring centre or pump",
        "Test the system water and the wiring centre before any valve.",
    ),
    ("latched", 1, "lever left latched", "Take the lever out of its filling position; show the household."),
    ("nothing", 2, "wiring or a control upstream", "Measure the drive wire with demand present before fitting parts."),
    ("hot", 1, "hot location", "Move the valve or cool its place; the next head will fail early too."),
    ("no_access", 2, "access, not heating", "Arrange an appointment before another attempt."),
)
_FACTS = {
    "stiff": "visits found the lever stiff",
    "renewals": "motors, heads or valves renewed",
    "valves": "different valves named",
    "latched": "visits found the lever latched",
    "nothing": "visits found no fault",
    "hot": "valve in a place above the temperature limit",
    "no_access": "attempts without access",
}


def _with_root(table: pd.DataFrame) -> pd.DataFrame:
    """Add likely_root, evidence (every fact counted, for and against) and next_step."""
    root = pd.Series("not clear from the log", index=table.index, dtype="str")
    step = pd.Series(
        "Send one engineer with this history; measure before fitting parts.", index=table.index, dtype="str"
    )
    for column, least, name, then in reversed(_ROOTS):
        holds = table[column].ge(least)
        root = root.mask(holds, name)
        step = step.mask(holds, then)
    evidence = pd.Series("", index=table.index, dtype="str")
    for column, words in _FACTS.items():
        count = table[column].astype("int64")
        evidence = evidence.mask(count.gt(0), evidence + count.astype(str) + " " + words + "; ")
    evidence = evidence.str.removesuffix("; ").replace("", "no fact in the log points anywhere")
    return table.assign(likely_root=root, evidence=evidence, next_step=step)
