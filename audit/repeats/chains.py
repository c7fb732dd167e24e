"""Chains: faults of one home and heating system, each reported within the window after the last attempt."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from audit.calendar import months_between
from audit.model import Facts
from audit.policy import Policy
from audit.repeats.clues import HEADS, Clues, clues
from audit.repeats.hypotheses import ANY, HYPOTHESES, NOT_CLEAR, weighed, weights
from audit.repeats.spans import faults, members
from audit.repeats.text import chosen, joined, short_day
from audit.rules.hits import number_text, word_text
from schemas.results import RESULT_COLUMNS

SHORT, LONG = "repeats.short_window", "repeats.long_window"
RIGHT: Final = "put right by the last visit"
STATES: Final = ("to do", "open", RIGHT, "long ago")  # in the order that chains are shown
DID: Final = {"motor": "Motor renewed", "head": "Head renewed", "full": "Whole valve renewed",
              "wiring": "Wiring put right",
              "reset_lever": "Lever reset", "relocate": "Valve moved", "other_part": "Another part renewed",
              "earth": "Earth put right"}  # fmt: skip


def followed(facts: Facts, policy: Policy) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Find every chain of two or more faults, with its visits.

    A call-out belongs to a chain when it is reported within the long window after the last completed attempt in the
    same home and system. No-access and planned visits are shown, and are no faults.

    Args:
        facts: What was known on the as-of date.
        policy: The windows, and the limits behind the clues.

    Returns:
        The chains, columns of `RESULT_COLUMNS["chains"]`, by state, dearest first, then by days without heat; and their
        visits in date order: the columns of `facts.visits` with chain, wait_days (on the first call-out of each later
        fault: days since the attempt before) and shows (the clues that the visit gave).
    """
    long = policy.number(LONG)
    found = faults(facts.visits, long, facts.as_of)
    rows = members(facts.visits, found, long)
    seen = clues(rows, found, facts, policy)
    table = _counted(rows, found, policy)
    table = table.assign(**_concluded(seen, table, facts, policy))
    first = table.sort_values(["first", "home_id", "system"], kind="stable").index
    name = pd.Series(range(1, len(table) + 1), index=first).astype(str).str.zfill(6)
    table = table.assign(chain="C" + name, first=table["first"].dt.normalize(), last=table["last"].dt.normalize())
    visits = rows.assign(chain=table["chain"].reindex(rows["chain_no"]).set_axis(rows.index), shows=seen.shows)
    return _ranked(table)[[column.name for column in RESULT_COLUMNS["chains"]]], visits.drop(
        columns=["chain_no", "of_last"]
    )


def _counted(rows: pd.DataFrame, found: pd.DataFrame, policy: Policy) -> pd.DataFrame:
    """Dates, counts, days and money of each chain, numbered from 0."""
    of_fault = found.loc[found["chain_no"].ge(0)]
    wait = of_fault["wait_days"].where(of_fault.duplicated("chain_no"))
    close = wait.le(policy.number(SHORT))
    of_fault = of_fault.assign(wait=wait, close=close, cold=of_fault["open_days"].where(of_fault["lost"], 0))
    faulty = of_fault.groupby("chain_no")
    visited = rows.assign(refused=rows["outcome"].eq("no_access")).groupby("chain_no")
    table = faulty.agg(
        home_id=("home_id", "first"),
        system=("system", "first"),
        first=("first", "min"),
        last=("last", "max"),
        call_outs=("episode", "size"),
        days_open=("open_days", "sum"),
        days_without_heat=("cold", "sum"),
        repeats_short=("close", "sum"),
        longest=("wait", "max"),
    )
    table = table.join(
        visited.agg(visits=("visit_id", "size"), no_access=("refused", "sum"), cost_gbp=("cost_gbp", "sum"))
    )
    short = table["longest"].le(policy.number(SHORT))
    window = short.map({True: policy.number(SHORT), False: policy.number(LONG)}).astype("float64")
    following = of_fault.loc[of_fault["last_of_chain"]].set_index("chain_no")["following"]
    count = len(table)
    fitted = rows.loc[rows["action"].isin((*HEADS, "full")) & rows["done"].notna()]
    fitted = fitted.sort_values(["chain_no", "done", "reported", "visit_id"], kind="stable")
    named = rows.loc[rows["is_fault"] & rows["valve_id"].notna()].drop_duplicates(["chain_no", "valve_id"])
    told = rows.loc[rows["is_fault"] & rows["is_call_out"] & rows["symptom"].notna()]
    changed = told.loc[told["symptom"].ne(told.groupby("chain_no")["symptom"].shift())]
    return table.assign(
        window_days=window,
        following=following,
        parts_fitted=joined(fitted["chain_no"], fitted["action"], count, ", then "),
        valves=joined(named["chain_no"], named["valve_id"], count),
        symptoms=joined(changed["chain_no"], word_text(changed["symptom"]), count, ", then "),
    )


def _concluded(seen: Clues, table: pd.DataFrame, facts: Facts, policy: Policy) -> dict[str, pd.Series]:
    """The likely root, for and against, and what to do next."""
    judged = weighed(seen.counts)
    by_name = {each.name: each for each in (*HYPOTHESES, NOT_CLEAR)}
    label = judged["top"].map({name: each.label for name, each in by_name.items()}).astype("str")
    state = _state(seen, judged["top"], table, facts, policy)
    points = weights().T.reindex(judged["top"]).set_axis(judged.index).fillna(0.0)
    speaks_for = chosen(seen.texts, points.gt(0))
    other = judged["next"].map({name: each.label for name, each in by_name.items()})
    return {
        "state": state,
        "likely_root": label.mask(state.eq(RIGHT), label + "; " + RIGHT),
        "hypothesis": judged["top"],
        "strength": judged["strength"],
        "points": judged["points"].where(judged["strength"].ne("")),
        "evidence": speaks_for.mask(judged["strength"].eq(""), _all_seen(seen)),
        "against": chosen(seen.texts, points.lt(0)),
        "runner_up": (other + " (" + number_text(judged["next_points"]) + " points)").fillna(""),
        "next_step": _next_step(seen, judged["top"], state, table["following"], facts.as_of)
        + _hot_too(seen, judged["top"], state),
    }


def _all_seen(seen: Clues) -> pd.Series:
    every = chosen(seen.texts, seen.texts != "")
    return every.mask(every.eq(""), "no fact in the log points anywhere")


def _state(seen: Clues, top: pd.Series, table: pd.DataFrame, facts: Facts, policy: Policy) -> pd.Series:
    """Whether anything is left to do: see `STATES`."""
    cures = {each.name: each.cures for each in (*HYPOTHESES, NOT_CLEAR)}
    cured = pd.Series(False, index=top.index)
    for name, actions in cures.items():
        if actions == ANY:
            cured |= top.eq(name) & seen.work["finished"]
        else:
            cured |= top.eq(name) & seen.work["ends_it"] & seen.work["action"].isin(actions)
    old = months_between(table["last"], facts.as_of).gt(policy.number("repeats.act_window"))
    state = np.select([cured, old, ~seen.work["finished"]], [RIGHT, "long ago", "open"], default="to do")
    return pd.Series(state, index=top.index, dtype="str")


def _next_step(seen: Clues, top: pd.Series, state: pd.Series, following: pd.Series, as_of: pd.Timestamp) -> pd.Series:
    valve = seen.valve.fillna("the valve concerned")
    step = pd.Series("", index=top.index, dtype="str")
    for each in (*HYPOTHESES, NOT_CLEAR):
        before, found, after = each.next_step.partition("{valve}")
        step = step.mask(top.eq(each.name), before + valve + after if found else before)
    work = seen.work
    held = (following.fillna(as_of).dt.normalize() - work["done"].dt.normalize()).dt.days
    did = (work["action"].map(DID) + " on " + short_day(work["done"]) + " (" + work["visit_id"] + "); ").fillna("")
    until = (" days, until the next call-out on " + short_day(following) + ".").fillna(" days up to now.")
    held_words = ("it held " + number_text(held) + until).fillna("nothing followed.")
    step = step.mask(state.eq(RIGHT), "Nothing: watch. " + did + held_words)
    return step.mask(state.eq("long ago"), "None now: too long ago to act on; kept for the pattern.")


def _hot_too(seen: Clues, top: pd.Series, state: pd.Series) -> pd.Series:
    """What to add where the place of the valve is too hot, though something else is likelier."""
    hot = seen.counts["hot"].gt(0) & ~top.isin(("hot", "access")) & state.ne("long ago")
    words = " The place is too hot as well: move the valve or cool the place, or the next head fails early too."
    return pd.Series("", index=top.index, dtype="str").mask(hot, words)


def _ranked(table: pd.DataFrame) -> pd.DataFrame:
    """What is to do first, then dearest first; `rank_by_cost` and `rank_by_days` (without heat) are 1 for the worst."""
    rank = {
        "rank_by_cost": ["cost_gbp", "days_without_heat", "days_open"],
        "rank_by_days": ["days_without_heat", "days_open", "cost_gbp"],
    }
    for name, keys in rank.items():
        order = table.sort_values([*keys, "chain"], ascending=[False, False, False, True]).index
        table[name] = pd.Series(range(1, len(table) + 1), index=order)
    place = table["state"].map({name: order for order, name in enumerate(STATES)}).astype("int64")
    return table.assign(place=place).sort_values(["place", "rank_by_cost"], ignore_index=True)
