"""The clues of each chain: how often each was seen, where and when, and what each visit showed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
import pandas as pd

from audit.model import Facts
from audit.policy import Policy
from audit.readings import named_or_left
from audit.readings.seen import with_readings
from audit.repeats.circumstances import Said, of_batches, of_chains, of_places, renewed_again, valves_of
from audit.repeats.hypotheses import CLUES
from audit.repeats.spans import WORK
from audit.repeats.text import MOST, joined, short_day, written

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

ORDER: Final = tuple(clue.name for clue in CLUES)


@dataclass(frozen=True)
class Clues:
    """What was found. `counts`, `valve` and `work` have one row a chain, numbered from 0."""

    counts: pd.DataFrame  # columns CLUES: how often seen
    texts: pd.DataFrame  # chain, clue (its place in CLUES), text (with dates and visits): those seen, in that order
    shows: pd.Series  # one text a visit: the clues that it gave
    valve: pd.Series  # the valve concerned; missing where no visit names one
    work: pd.DataFrame  # the last visit that did something: see `last_work`


def clues(rows: pd.DataFrame, found: pd.DataFrame, facts: Facts, policy: Policy, batches: pd.DataFrame) -> Clues:
    """Look for every clue in the visits of the chains.

    What points at a part of a valve counts for the valve concerned alone, so that two valves are never blamed as one;
    what all valves share (`OF_ALL`) counts wherever it was seen.

    Args:
        rows: What `spans.members` gives.
        found: What `spans.faults` gives.
        facts: For the state of the valves, and renewals before the chains.
        policy: Limits and windows.
        batches: What `audit.groups.named_batches` gives.
    """
    count = int(found["chain_no"].max()) + 1 if len(found) else 0
    work = last_work(rows, found, count)
    again = renewed_again(rows, facts, policy)
    flags = {
        **_of_parts(rows),
        **_of_words(rows),
        **_of_readings(rows, facts),
        **_of_the_end(rows, work, facts.as_of, policy.number("repeats.short_window")),
        "again": again.notna(),
    }
    valve = _valve(rows, count)
    concerned = valve["valve_no"].reindex(rows["chain_no"]).set_axis(rows.index)
    of_it = rows["valve_no"].lt(0) | rows["valve_no"].eq(concerned)
    counted = {name: flag if name in OF_ALL else flag & of_it for name, flag in flags.items()}
    mention = short_day(rows["reported"]) + " (" + rows["visit_id"] + ")"
    register = valves_of(rows, facts)
    said = {name: Said(rows["chain_no"][flag], mention[flag]) for name, flag in counted.items()}
    said["again"] = Said(rows["chain_no"][counted["again"]], again[counted["again"]])
    said |= of_places(rows, register, facts, policy) | of_batches(rows, register, batches)
    said |= of_chains(rows, policy)
    counts, texts = _gathered(said, count)
    return Clues(counts=counts, texts=texts, shows=_shows(flags), valve=valve["valve_id"], work=work)


def last_work(rows: pd.DataFrame, found: pd.DataFrame, count: int) -> pd.DataFrame:
    """The last completed visit of each chain that did something.

    Returns:
        One row a chain: row (place in `rows`, -1 where none), action, done, visit_id, valve_id, finished (bool: the
        chain's last fault was completed), ends_it (bool: besides, that visit belongs to or follows the last fault).
    """
    last = found[["chain_no", "first", "done"]].loc[found["last_of_chain"]].set_index("chain_no")
    did = rows[["chain_no", "action", "done", "visit_id", "valve_id", "reported", "of_last"]]
    did = did.loc[rows["action"].isin(WORK) & rows["done"].notna()]
    did = did.iloc[in_time(did)].drop_duplicates("chain_no", keep="last")
    table = did.assign(row=did.index).set_index("chain_no").reindex(range(count))
    finished = last["done"].notna().reindex(range(count), fill_value=False)
    after = table["reported"].ge(last["first"].reindex(range(count)))
    ends_it = finished & (table["of_last"].eq(True) | after)  # missing is no
    row = table["row"].fillna(-1).astype("int64")
    return table.assign(row=row, finished=finished, ends_it=ends_it).drop(columns=["reported", "of_last"])


def in_time(rows: pd.DataFrame) -> NDArray[np.int64]:
    """The order of visits by chain and by when they were done; ties stay in order of report and number."""
    return np.lexsort((rows["done"].to_numpy(), rows["chain_no"].to_numpy()))


def _of_parts(rows: pd.DataFrame) -> dict[str, pd.Series]:
    """What was found at fault, and what was renewed in vain."""
    cause, action = rows["cause"], rows["action"]
    renewed = rows["is_fault"] & rows["done"].notna()
    of_fault = rows["episode"].where(rows["is_fault"])
    came_back = rows["episode"].lt(of_fault.groupby([rows["chain_no"], rows["valve_no"]]).transform("max"))
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
    told = pd.Series(pd.factorize(rows["symptom"])[0], index=rows.index, dtype="float64")
    told = told.where(told.ge(0))
    first = told.groupby(rows["episode"].where(rows["is_fault"])).transform("first")
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
    told = named_or_left(with_readings(rows), facts.valves).reindex(rows.index)
    found = {clue: told["part"].eq(part) for clue, part in READ.items()}
    return found | {"read_motor_or_body": told["part"].isna() & told["left"].eq("body motor")}


def _of_the_end(rows: pd.DataFrame, work: pd.DataFrame, as_of: pd.Timestamp, days: float) -> dict[str, pd.Series]:
    """What put the chain right, where nothing followed for longer than the short window."""
    quiet = work["ends_it"] & (as_of - work["done"].dt.normalize()).dt.days.gt(days)
    is_last = pd.Series(False, index=rows.index)
    is_last.loc[work.loc[quiet, "row"]] = True
    found = {name: is_last & rows["action"].isin(actions) for name, actions in LAST.items()}
    return found | {"cause_head": rows["of_last"] & rows["done"].notna() & rows["cause"].isin(HEADS)}


def _gathered(said: dict[str, Said], count: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Count every clue of every chain, and put it into words: its label, and the first places where it was seen."""
    size = len(ORDER)
    each = [said[name] for name in ORDER]
    clue = np.repeat(np.arange(size), [len(one.chain) for one in each])
    key = np.concatenate([one.chain.to_numpy("int64") for one in each]) * size + clue
    times = np.bincount(key, minlength=count * size)
    seen = np.flatnonzero(times)
    order = np.argsort(key, kind="stable")
    words = pd.concat([one.words for one in each], ignore_index=True).iloc[order]
    group = pd.Series(np.repeat(np.arange(len(seen)), times[seen]))
    texts = _labels(seen % size, times[seen], each) + joined(group, words, len(seen), most=MOST)
    beyond = np.array([one.beyond for one in each])
    counts = np.maximum(times.reshape(count, size) - beyond, 0)
    return pd.DataFrame(counts, columns=list(ORDER)), pd.DataFrame(
        {"chain": seen // size, "clue": seen % size, "text": texts}
    )


def _labels(clue: NDArray[np.int64], times: NDArray[np.int64], each: list[Said]) -> pd.Series:
    """What stands before the places of a clue; with their number where it matters."""
    most = int(times.max(initial=0)) + 1
    told = np.where([bool(one.thing) for one in each], 1, 0)[clue] * times

    def write(code: int) -> str:
        place, number = divmod(int(code), most)
        many = f" ({number} {each[place].thing}{'' if number == 1 else 's'})" if number else ""
        return f"{CLUES[place].label}{many}: "

    return written(clue * most + told, write)


def _shows(flags: dict[str, pd.Series]) -> pd.Series:
    """The clues of one visit, in the order of `CLUES`; each combination that occurs is written once."""
    shown = [clue for clue in CLUES if clue.name in flags]
    code = sum(flags[clue.name].to_numpy("int64") << place for place, clue in enumerate(shown))
    index = next(iter(flags.values())).index
    return written(
        np.asarray(code), lambda code: "; ".join(clue.label for place, clue in enumerate(shown) if code >> place & 1)
    ).set_axis(index)


def _valve(rows: pd.DataFrame, count: int) -> pd.DataFrame:
    """The valve named by most faults of the chain; of several, the one of the latest fault, then by number.

    Returns:
        One row a chain: valve_id, valve_no (missing where no fault names a valve).
    """
    named = rows[["chain_no", "valve_no", "episode"]].loc[rows["is_fault"] & rows["valve_no"].ge(0)]
    table = named.drop_duplicates().groupby(["chain_no", "valve_no"])["episode"].agg(["size", "max"]).reset_index()
    table = table.sort_values(["chain_no", "size", "max", "valve_no"], ascending=[True, False, False, True])
    table = table.drop_duplicates("chain_no").set_index("chain_no")[["valve_no"]]
    name = rows["valve_id"].set_axis(rows["valve_no"].to_numpy()).loc[lambda names: ~names.index.duplicated()]
    return table.assign(valve_id=name.reindex(table["valve_no"]).to_numpy()).reindex(range(count))
