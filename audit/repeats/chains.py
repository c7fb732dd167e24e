"""Chains: faults of one home and heating system, each reported within the window after the last attempt."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.calendar import months_between
from audit.model import Facts
from audit.policy import Policy
from audit.repeats.clues import HEADS, ORDER, Clues, clues, in_time
from audit.repeats.hypotheses import ANY, HYPOTHESES, MEASURE_FIRST, NOT_CLEAR, weighed, weights
from audit.repeats.spans import OWN, faults, members
from audit.repeats.text import joined, short_day
from audit.rules.hits import count_text, number_text, word_text
from schemas.results import RESULT_COLUMNS

SHORT, LONG = "repeats.short_window", "repeats.long_window"
RIGHT: Final = "put right by the last visit"
STATES: Final = ("to do", "open", RIGHT, "long ago")  # in the order that chains are shown
NO_BATCHES: Final = pd.DataFrame({"valve_id": [], "batch": [], "group": [], "observed": [], "expected": []}).astype(
    {"valve_id": "str", "batch": "str", "group": "str", "observed": "float64", "expected": "float64"}
)
DID: Final = {"motor": "Motor renewed", "head": "Head renewed", "full": "Whole valve renewed",
              "wiring": "Wiring put right",
              "reset_lever": "Lever reset", "relocate": "Valve moved", "other_part": "Another part renewed",
              "earth": "Earth put right"}  # fmt: skip


def followed(facts: Facts, policy: Policy, batches: pd.DataFrame | None = None) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Find every chain of two or more faults, with its visits.

    A call-out belongs to a chain when it is reported within the long window after the last completed attempt in the
    same home and system. No-access and planned visits are shown, and are no faults.

    Args:
        facts: What was known on the as-of date.
        policy: The windows, and the limits behind the clues.
        batches: Valves of batches that fail too often, as `audit.groups.named_batches` gives them; None for none.

    Returns:
        The chains, columns of `RESULT_COLUMNS["chains"]`, by state, dearest first, then by days without heat; and their
        visits in date order: the columns of `facts.visits` with chain, wait_days (on the first call-out of each later
        fault: days since the attempt before) and shows (the clues that the visit gave).
    """
    long = policy.number(LONG)
    found = faults(facts.visits, long, facts.as_of)
    rows = members(facts.visits, found, long)
    seen = clues(rows, found, facts, policy, NO_BATCHES if batches is None else batches)
    table = _counted(rows, found, policy)
    table = table.assign(**_concluded(seen, table, facts, policy))
    number = table["first"].argsort(kind="stable").argsort() + 1  # homes and systems are in order already
    table = table.assign(chain="C" + number.astype("str").str.zfill(6), number=number)
    table = table.assign(first=table["first"].dt.normalize(), last=table["last"].dt.normalize())
    visits = rows.assign(chain=table["chain"].array.take(rows["chain_no"].to_numpy()), shows=seen.shows)
    return _ranked(table)[[column.name for column in RESULT_COLUMNS["chains"]]], visits.drop(columns=OWN)


def _counted(rows: pd.DataFrame, found: pd.DataFrame, policy: Policy) -> pd.DataFrame:
    """Dates, counts, days and money of each chain, numbered from 0."""
    of_fault = found.loc[found["chain_no"].ge(0)]
    first = ~of_fault.duplicated("chain_no")
    wait = of_fault["wait_days"].where(~first)
    close = wait.le(policy.number(SHORT))
    numbers = of_fault[["chain_no", "first", "last", "open_days"]].assign(
        wait=wait, close=close, cold=of_fault["open_days"].where(of_fault["lost"], 0)
    )
    faulty = numbers.groupby("chain_no")
    visited = rows[["chain_no", "cost_gbp"]].assign(refused=rows["outcome"].eq("no_access")).groupby("chain_no")
    table = of_fault[["chain_no", "home_id", "system"]].loc[first].set_index("chain_no")
    table = table.join(
        faulty.agg(
            first=("first", "min"),
            last=("last", "max"),
            call_outs=("wait", "size"),
            days_open=("open_days", "sum"),
            days_without_heat=("cold", "sum"),
            repeats_short=("close", "sum"),
            longest=("wait", "max"),
        )
    )
    table = table.join(
        visited.agg(visits=("refused", "size"), no_access=("refused", "sum"), cost_gbp=("cost_gbp", "sum"))
    )
    short = table["longest"].le(policy.number(SHORT))
    window = short.map({True: policy.number(SHORT), False: policy.number(LONG)}).astype("float64")
    held = of_fault.assign(wait=wait).loc[~first]
    following = of_fault[["chain_no", "following"]].loc[of_fault["last_of_chain"]].set_index("chain_no")["following"]
    count = len(table)
    fitted = rows[["chain_no", "action", "done"]].loc[rows["action"].isin((*HEADS, "full")) & rows["done"].notna()]
    fitted = fitted.iloc[in_time(fitted)]
    named = rows[["chain_no", "valve_no", "valve_id"]].loc[rows["is_fault"] & rows["valve_no"].ge(0)]
    named = named.loc[~named.duplicated(["chain_no", "valve_no"])]
    told = rows[["chain_no", "symptom"]]
    told = told.loc[rows["is_fault"] & rows["is_call_out"] & rows["symptom"].notna()]
    again = told["symptom"].eq(told["symptom"].shift()) & told["chain_no"].eq(told["chain_no"].shift())
    changed = told.loc[~again]
    return table.assign(
        window_days=window,
        following=following,
        earlier_held=joined(held["chain_no"], number_text(held["wait"]), count, ", "),
        parts_fitted=joined(fitted["chain_no"], fitted["action"].replace("full", "whole valve"), count, ", then "),
        valves=joined(named["chain_no"], named["valve_id"], count),
        symptoms=joined(changed["chain_no"], word_text(changed["symptom"]), count, ", then "),
    )


def _concluded(seen: Clues, table: pd.DataFrame, facts: Facts, policy: Policy) -> dict[str, pd.Series]:
    """The likely root, for and against, and what to do next."""
    judged = weighed(seen.counts)
    by_name = {each.name: each for each in (*HYPOTHESES, NOT_CLEAR)}
    label = judged["top"].map({name: each.label for name, each in by_name.items()}).astype("str")
    state = _state(seen, judged["top"], table, facts, policy)
    texts, count = seen.texts, len(judged)
    unsure = judged["strength"].eq("")
    points = weights().reindex(index=ORDER, columns=[*by_name]).fillna(0.0).to_numpy()
    top = pd.Index([*by_name]).get_indexer(pd.Index(judged["top"]))
    speaks = points[texts["clue"], top[texts["chain"]]]

    def told(picked: NDArray[np.bool_]) -> pd.Series:
        return joined(texts["chain"][picked], texts["text"][picked], count, "; ").set_axis(judged.index)

    vague = unsure.to_numpy()[texts["chain"]]
    evidence = told(vague | (speaks > 0))
    other = judged["next"].map({name: each.label for name, each in by_name.items()})
    return {
        "state": state,
        "likely_root": label.mask(state.eq(RIGHT), label + "; " + RIGHT),
        "hypothesis": judged["top"],
        "strength": judged["strength"],
        "points": judged["points"].where(judged["strength"].ne("")),
        "evidence": evidence.mask(unsure & evidence.eq(""), "no fact in the log points anywhere"),
        "against": told(speaks < 0),
        "runner_up": (other + " (" + number_text(judged["next_points"]) + " points)").fillna(""),
        "next_step": _next_step(seen, judged["top"], state, table, facts.as_of, policy.number(LONG))
        + _hot_too(seen, judged["top"], state),
    }


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


def _next_step(
    seen: Clues, top: pd.Series, state: pd.Series, table: pd.DataFrame, as_of: pd.Timestamp, long: float
) -> pd.Series:
    step = pd.Series("None now: too long ago to act on; kept for the pattern.", index=top.index, dtype="str")
    asked = ~state.isin((RIGHT, "long ago"))
    steps = [(top.eq(each.name), each.next_step) for each in (*HYPOTHESES, NOT_CLEAR)]
    steps += [(top.eq("hot") & seen.counts["hot"].eq(0), MEASURE_FIRST)]
    for named, words in steps:
        own = named & asked
        before, found, after = words.partition("{valve}")
        step.loc[own] = before + seen.valve[own].fillna("the valve concerned") + after if found else before
    right = state.eq(RIGHT)
    step.loc[right] = _held(seen.work.loc[right], table.loc[right], as_of, long)
    return step


def _held(work: pd.DataFrame, table: pd.DataFrame, as_of: pd.Timestamp, long: float) -> pd.Series:
    """How long the work that put a chain right has held.

    It counts as held when that is longer than `long` days, so longer than every fix before it in the chain.
    """
    following = table["following"]
    held = (following.fillna(as_of).dt.normalize() - work["done"].dt.normalize()).dt.days
    did = (work["action"].map(DID) + " on " + short_day(work["done"]) + " (" + work["visit_id"] + "); ").fillna("")
    until = (" days, until the next call-out on " + short_day(following) + ".").fillna(" days up to now.")
    told = "Nothing: watch. " + did + ("it held " + number_text(held) + until).fillna("nothing followed.")
    so_far = count_text(held, "day") + " so far; earlier fixes held " + table["earlier_held"] + " days."
    return told.mask(following.isna() & held.le(long), "Watch: " + did + so_far).astype("str")


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
        order = table.sort_values([*keys, "number"], ascending=[False, False, False, True]).index
        table[name] = pd.Series(range(1, len(table) + 1), index=order)
    place = table["state"].map({name: order for order, name in enumerate(STATES)}).astype("int64")
    return table.assign(place=place).sort_values(["place", "rank_by_cost"], ignore_index=True)
