"""The clues of each chain: how often each was seen, where and when, and what each visit showed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.model import Facts
from audit.policy import Policy
from audit.readings import verdicts
from audit.readings.seen import with_readings
from audit.repeats.circumstances import Said, of_batches, of_chains, of_places, renewed_again
from audit.repeats.hypotheses import CLUES
from audit.repeats.spans import WORK
from audit.repeats.text import MOST, chosen, joined, short_day
from audit.rules.hits import count_text

HEADS = ("motor", "head")
OF_ALL = (
    "cause_wiring",
    "read_wiring",
    "cause_water",
    "cause_elsewhere",
    "no_access",
)  # whichever valve; others of one
LAST = {  # what the chain's last work tells where nothing followed it
    "last_full": ("full",),
    "last_head": HEADS,
    "last_wiring": ("wiring",),
    "last_moved": ("relocate",),
    "last_lever": ("reset_lever",),
}
READ = {  # clue by the part that readings name
    "read_wiring": "controls_or_wiring",
    "read_body": "body",
    "read_motor": "motor",
    "read_switch": "end_switch",
    "read_spring": "spring_or_body",
}
if TYPE_CHECKING:
    from numpy.typing import NDArray

LABEL = {clue.name: clue.label for clue in CLUES}


@dataclass(frozen=True)
class Clues:
    """What was found. All but `shows` have one row a chain, numbered from 0."""

    counts: pd.DataFrame  # columns CLUES: how often seen
    texts: pd.DataFrame  # columns CLUES: the clue with its dates and visits; empty where not seen
    shows: pd.Series  # one text a visit: the clues that it gave
    valve: pd.Series  # the valve concerned; missing where no visit names one
    work: pd.DataFrame  # the last visit that did something: see `last_work`


def clues(rows: pd.DataFrame, found: pd.DataFrame, facts: Facts, policy: Policy) -> Clues:
    """Look for every clue in the visits of the chains.

    What points at a part of a valve counts for the valve concerned alone, so that two valves are never blamed as one;
    what all valves share (`OF_ALL`) counts wherever it was seen.

    Args:
        rows: What `spans.members` gives.
        found: What `spans.faults` gives.
        facts: For the state of the valves, and renewals before the chains.
        policy: Limits and windows.
    """
    count = int(found["chain_no"].max()) + 1 if len(found) else 0
    work = last_work(rows, found, count)
    again = renewed_again(facts, policy).reindex(pd.Index(rows["visit_id"])).set_axis(rows.index)
    flags = {
        **_of_parts(rows),
        **_of_words(rows),
        **_of_readings(rows, facts),
        **_of_the_end(rows, work, facts.as_of, policy.number("repeats.short_window")),
        "again": again.notna(),
    }
    mention = short_day(rows["reported"]) + " (" + rows["visit_id"] + ")"
    valve = _valve(rows, count)
    concerned = rows["valve_id"].isna() | rows["valve_id"].eq(valve.reindex(rows["chain_no"]).set_axis(rows.index))
    said = {}
    for name, flag in flags.items():
        counted = flag if name in OF_ALL else flag & concerned
        words = again.fillna("") if name == "again" else mention
        said[name] = Said(rows["chain_no"][counted], words[counted])
    said |= of_places(rows, facts, policy) | of_batches(rows, facts, policy) | of_chains(rows, policy)
    texts = {name: _text(name, each, count) for name, each in said.items()}
    counts = {name: _count(each, count) for name, each in said.items()}
    order = [clue.name for clue in CLUES]
    return Clues(
        counts=pd.DataFrame(counts, index=range(count))[order],
        texts=pd.DataFrame(texts, index=range(count))[order],
        shows=_shows(rows, flags),
        valve=valve,
        work=work,
    )


def last_work(rows: pd.DataFrame, found: pd.DataFrame, count: int) -> pd.DataFrame:
    """The last completed visit of each chain that did something.

    Returns:
        One row a chain: row (place in `rows`, -1 where none), action, done, visit_id, valve_id, finished (bool: the
        chain's last fault was completed), ends_it (bool: besides, that visit belongs to or follows the last fault).
    """
    last = found.loc[found["last_of_chain"]].set_index("chain_no")[["first", "done"]]
    did = rows.loc[rows["action"].isin(WORK) & rows["done"].notna()]
    did = did.sort_values(["chain_no", "done", "reported", "visit_id"], kind="stable").drop_duplicates(
        "chain_no", keep="last"
    )
    table = did.assign(row=did.index).set_index("chain_no")
    table = table[["row", "action", "done", "visit_id", "valve_id", "reported", "of_last"]].reindex(range(count))
    finished = last["done"].notna().reindex(range(count), fill_value=False)
    after = table["reported"].ge(last["first"].reindex(range(count)))
    ends_it = finished & (table["of_last"].eq(True) | after)  # missing is no
    row = table["row"].fillna(-1).astype("int64")
    return table.assign(row=row, finished=finished, ends_it=ends_it).drop(columns=["reported", "of_last"])


def _of_parts(rows: pd.DataFrame) -> dict[str, pd.Series]:
    """What was found at fault, and what was renewed in vain."""
    cause, action = rows["cause"], rows["action"]
    renewed = rows["is_fault"] & rows["done"].notna()
    key = [rows["chain_no"], rows["valve_id"].fillna("")]
    came_back = rows["episode"].lt(rows["episode"].where(rows["is_fault"]).groupby(key).transform("max"))
    return {
        "in_vain": renewed & came_back & action.isin(HEADS),
        "full_in_vain": renewed & came_back & action.eq("full"),
        "cause_body": cause.eq("body"),
        "cause_wiring": cause.isin(("wiring", "control")) | (action.eq("wiring") & cause.isna()),
        "cause_switch": cause.eq("end_switch"),
        "cause_spring": cause.eq("spring"),
        "cause_water": cause.eq("water_quality"),
        "cause_elsewhere": cause.isin(("pump", "boiler")),
        "latched": rows["lever"].eq("latched") | cause.eq("lever") | action.eq("reset_lever"),
    }


def _of_words(rows: pd.DataFrame) -> dict[str, pd.Series]:
    """What the household reported, and how visits were left."""
    symptom = rows["symptom"].where(rows["is_call_out"] & rows["is_fault"])
    nothing = rows["is_fault"] & (rows["outcome"].eq("no_fault_found") | rows["cause"].eq("none_found"))
    first = rows["symptom"].groupby(rows["episode"].where(rows["is_fault"])).transform("first")
    following = first.where(symptom.notna()).groupby(rows["chain_no"]).bfill().groupby(rows["chain_no"]).shift(-1)
    lever = rows["lever"].mask(rows["action"].isin(("full", "reset_lever")))
    return {
        "stiff": lever.eq("stiff"),
        "free": lever.eq("free"),
        "no_fault": nothing,
        "same_again": nothing & first.eq(following),
        "by_hot_water": symptom.eq("heating_with_hot_water_only"),
        "stays_on": symptom.isin(("heating_stays_on", "hot_water_stays_on")),
        "no_access": rows["outcome"].eq("no_access"),
    }


def _of_readings(rows: pd.DataFrame, facts: Facts) -> dict[str, pd.Series]:
    """The part that each visit's readings name, or the two that they leave."""
    told = verdicts(with_readings(rows), facts.valves)[["part", "left"]].reindex(rows.index)
    found = {clue: told["part"].eq(part) for clue, part in READ.items()}
    return found | {"read_motor_or_body": told["part"].isna() & told["left"].eq("body motor")}


def _of_the_end(rows: pd.DataFrame, work: pd.DataFrame, as_of: pd.Timestamp, days: float) -> dict[str, pd.Series]:
    """What put the chain right, where nothing followed for longer than the short window."""
    quiet = work["ends_it"] & (as_of - work["done"].dt.normalize()).dt.days.gt(days)
    is_last = pd.Series(False, index=rows.index)
    is_last.loc[work.loc[quiet, "row"]] = True
    found = {name: is_last & rows["action"].isin(actions) for name, actions in LAST.items()}
    return found | {"cause_head": rows["of_last"] & rows["done"].notna() & rows["cause"].isin(HEADS)}


def _count(said: Said, count: int) -> NDArray[np.int64]:
    return np.maximum(np.bincount(said.chain.to_numpy("int64"), minlength=count) - said.beyond, 0)


def _text(name: str, said: Said, count: int) -> pd.Series:
    words = joined(said.chain, said.words, count, most=MOST)
    times = pd.Series(np.bincount(said.chain.to_numpy("int64"), minlength=count))
    counted = " (" + count_text(times, said.thing) + "): " if said.thing else ": "
    return words.mask(words.ne(""), LABEL[name] + counted + words)


def _shows(rows: pd.DataFrame, flags: dict[str, pd.Series]) -> pd.Series:
    """The clues of one visit, in the order of `CLUES`."""
    texts = pd.DataFrame({clue.name: clue.label for clue in CLUES if clue.name in flags}, index=rows.index, dtype="str")
    return chosen(texts, pd.DataFrame(flags)[list(texts)])


def _valve(rows: pd.DataFrame, count: int) -> pd.Series:
    """The valve named by most faults of the chain; of several, the one of the latest fault, then by number."""
    named = rows.loc[rows["is_fault"] & rows["valve_id"].notna(), ["chain_no", "valve_id", "episode"]].drop_duplicates()
    table = named.groupby(["chain_no", "valve_id"])["episode"].agg(["size", "max"]).reset_index()
    table = table.sort_values(["chain_no", "size", "max", "valve_id"], ascending=[True, False, False, True])
    return table.drop_duplicates("chain_no").set_index("chain_no")["valve_id"].reindex(range(count))
