"""What is known around a chain: the place and batch of its valves, earlier renewals, and how its faults differ."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from audit.calendar import MONTHS_A_YEAR
from audit.guard_band import CLEARLY_OVER, CLEARLY_WITHIN, OVER_WITHIN_UNCERTAINTY, upper_verdict
from audit.lookup import order_of, places
from audit.model import Facts
from audit.policy import Policy
from audit.repeats.text import short_day
from audit.rules.hits import number_text, too_old, word_text
from audit.rules.repeats import NOT_THE_VALVE
from schemas.words import HOT_LOCATIONS

ONE_PART = {"motor": "head", "end_switch": "head", "spring": "head"}  # one new head puts them right alike
NOTED = r"(?i)\b(?:date code|batch)\s*:?\s*([A-Z0-9][A-Z0-9-]+)"  # as engineers note what stands on a head
NOTING = "date code|batch"
OF_REGISTER = ("location", "location_temp_c", "location_temp_on")
MONTH = 365.25 / MONTHS_A_YEAR  # days


@dataclass(frozen=True)
class Said:
    """One clue: the chain of each time it was seen, and the words for it."""

    chain: pd.Series
    words: pd.Series
    beyond: int = 0  # mentions that are needed before the first counts
    thing: str = ""  # what is counted in the words, where the number matters


def renewed_again(rows: pd.DataFrame, facts: Facts, policy: Policy) -> pd.Series:
    """Heads and motors renewed again on one body within the window, in words: one text a row of `rows`, else missing.

    It tells both dates and visits. A new body starts the count afresh, whether a visit or the register tells of it.
    """
    done = _renewals(rows, facts.visits)
    before = done.shift()
    full = done["action"].eq("full")
    place = places(done["valve_id"], facts.valves["valve_id"])
    body = facts.valves["body_since"].where(facts.valves["body_age_basis"].ne("the head's date"))
    since = body.reindex(place).set_axis(done.index)
    new_body = full.shift(fill_value=False) | full | ((since > before["at"]) & (since <= done["at"]))
    days = (done["at"] - before["at"]).dt.total_seconds() / 86_400
    soon = days.le(policy.number("repeats.head_again_window") * MONTH)
    again = done["valve_id"].eq(before["valve_id"]) & soon & ~new_body
    later, sooner = done.loc[again], before.loc[again]
    words = (
        later["action"] + " " + short_day(later["at"]) + " (" + later["visit_id"] + ") after " + sooner["action"] + " "
        + short_day(sooner["at"]) + " (" + sooner["visit_id"] + ") on " + later["valve_id"]
    )  # fmt: skip
    return words.set_axis(later["visit"]).reindex(rows["visit"]).set_axis(rows.index)


def _renewals(rows: pd.DataFrame, visits: pd.DataFrame) -> pd.DataFrame:
    """The completed renewals at valves that a chain's visits name, by valve, date and number of the visit."""
    renewed = visits["action"].isin(("motor", "head", "full"))
    renewed &= visits["completed"].notna() & visits["valve_id"].notna()
    done = visits[["valve_id", "action", "at", "visit_id"]].loc[renewed].reset_index(names="visit")
    valve = pd.factorize(done["valve_id"])[0]
    of_chain = np.isin(valve, valve[np.isin(done["visit"], rows["visit"])])
    done = done.loc[of_chain].assign(valve=valve[of_chain])
    tied = done.duplicated(["valve", "at"], keep=False)
    number = np.zeros(len(done), dtype=np.int64)
    number[tied] = order_of(done["visit_id"][tied])
    return done.iloc[np.lexsort((number, done["at"].to_numpy(), done["valve"].to_numpy()))].reset_index(drop=True)


def valves_of(rows: pd.DataFrame, facts: Facts) -> pd.DataFrame:
    """The valves that the faults of each chain name, or all of its home and system, as the register has them.

    Returns:
        By chain and valve: chain_no, valve_id, and `OF_REGISTER`.
    """
    valves = facts.valves
    named = rows[["chain_no", "valve_id", "valve_no"]].loc[rows["is_fault"] & rows["valve_no"].ge(0)]
    named = named.loc[~named.duplicated(["chain_no", "valve_no"]), ["chain_no", "valve_id"]]
    opens = ~rows.duplicated("chain_no") & ~rows["chain_no"].isin(named["chain_no"])
    none = rows[["chain_no", "home_id", "system"]].loc[opens]
    system = valves["home_id"] + "\n" + valves["system"]
    home = pd.factorize(pd.concat([none["home_id"] + "\n" + none["system"], system], ignore_index=True))[0]
    of_home = pd.DataFrame({"home": home[len(none) :], "place": range(len(valves))})
    of_home = none[["chain_no"]].assign(home=home[: len(none)]).merge(of_home, on="home")
    place = np.concatenate([places(named["valve_id"], valves["valve_id"]), of_home["place"].to_numpy()])
    about = valves[list(OF_REGISTER)].reindex(place).reset_index(drop=True)
    chain = pd.concat([named["chain_no"], of_home["chain_no"]], ignore_index=True)
    valve = pd.concat([named["valve_id"], valves["valve_id"].iloc[of_home["place"]]], ignore_index=True)
    order = np.lexsort((order_of(valve), chain.to_numpy()))
    return about.assign(chain_no=chain, valve_id=valve).iloc[order].reset_index(drop=True)


def of_places(rows: pd.DataFrame, register: pd.DataFrame, facts: Facts, policy: Policy) -> dict[str, Said]:
    """How hot the places of the chain's valves are, from readings at its visits and those still fresh."""
    limit = policy.number("place.location_limit")
    stale = too_old(register["location_temp_on"], facts.as_of, policy.number("place.reading_max_age"))
    order = ["chain_no", "valve_id", "location_temp_c", "location_temp_on"]
    fresh = register[order].loc[register["location_temp_c"].notna() & ~stale]
    taken = rows[order[:3]].assign(location_temp_on=rows["reported"])
    taken = taken.loc[rows["location_temp_c"].notna() & rows["valve_no"].ge(0)]
    read = pd.concat([fresh, taken], ignore_index=True)
    read = read.assign(valve=order_of(read["valve_id"]))
    read = read.iloc[np.lexsort([read[name].to_numpy() for name in (*order[:1:-1], "valve", "chain_no")])]
    read = read.loc[~read.duplicated(["chain_no", "valve"], keep="last")].reset_index(drop=True)
    verdict = upper_verdict(read["location_temp_c"], limit, policy.number("place.reading_uncertainty"))
    words = (
        read["valve_id"] + " " + number_text(read["location_temp_c"]) + " °C"
        + (" on " + short_day(read["location_temp_on"])).fillna("") + f", limit {limit:g} °C"
    )  # fmt: skip
    names = {"hot": CLEARLY_OVER, "warm": OVER_WITHIN_UNCERTAINTY, "cool": CLEARLY_WITHIN}
    found = {
        name: Said(read["chain_no"][verdict == word], words[verdict == word], thing="valve")
        for name, word in names.items()
    }
    known = pd.concat([read[order[:2]], register[order[:2]]]).duplicated().iloc[len(read) :].to_numpy()
    unread = register.loc[register["location"].isin(HOT_LOCATIONS) & ~known]
    return found | {
        "hot_place": Said(unread["chain_no"], unread["valve_id"] + " in the " + word_text(unread["location"]))
    }


def of_batches(rows: pd.DataFrame, register: pd.DataFrame, batches: pd.DataFrame) -> dict[str, Said]:
    """Valves of a batch that fails too often: by the register, or by the code that an engineer noted.

    Args:
        rows: The visits of the chains.
        register: What `valves_of` gives.
        batches: What `audit.groups.named_batches` gives.
    """
    counted = " (" + number_text(batches["observed"]) + " failures where " + number_text(batches["expected"].round(1))
    batches = batches.assign(words="batch " + batches["batch"] + counted + " were expected)")
    by_register = register[["chain_no", "valve_id"]].merge(batches, on="valve_id")
    by_note = rows[["chain_no", "visit_id", "notes"]].loc[rows["notes"].str.contains(NOTING, case=False, na=False)]
    by_note = by_note.assign(batch=by_note["notes"].str.extract(NOTED, expand=False).str.upper())
    codes = batches.assign(batch=batches["batch"].str.upper()).drop_duplicates("batch")  # the dearest of one code
    by_note = by_note.merge(codes, on="batch")
    told = pd.concat(
        [
            by_register[["chain_no"]].assign(words=by_register["valve_id"] + " " + by_register["words"]),
            by_note[["chain_no"]].assign(words=by_note["words"] + " noted (" + by_note["visit_id"] + ")"),
        ]
    ).sort_values(["chain_no", "words"], kind="stable", ignore_index=True)
    return {"batch": Said(told["chain_no"], told["words"])}


def of_chains(rows: pd.DataFrame, policy: Policy) -> dict[str, Said]:
    """How the faults of each chain differ: one valve or several, one kind of fault or several, and who was in."""
    named = rows[["chain_no", "valve_no", "valve_id", "visit_id", "episode", "reported", "cause", "outcome"]]
    named = named.loc[rows["is_fault"] & rows["valve_no"].ge(0)]
    return {**_several(named, rows, policy), **_one_valve(named), **_unlike(rows), **_mostly_no_access(rows)}


def _several(named: pd.DataFrame, rows: pd.DataFrame, policy: Policy) -> dict[str, Said]:
    """Different valves failing; each beyond the first ones counts once more."""
    failed = named.loc[~named["cause"].isin(NOT_THE_VALVE) & ~named["outcome"].isin(("no_fault_found", "no_access"))]
    last = rows.groupby("chain_no")["reported"].max().reindex(failed["chain_no"]).set_axis(failed.index)
    recent = (last - failed["reported"]).dt.days.le(policy.number("repeats.several_valves_window") * MONTH)
    valves = failed.loc[recent].drop_duplicates(["chain_no", "valve_no"])
    least = int(policy.number("repeats.several_valves_count"))
    valves = valves.loc[valves.groupby("chain_no")["valve_no"].transform("size").ge(least)]
    words = valves["valve_id"] + " " + short_day(valves["reported"]) + " (" + valves["visit_id"] + ")"
    body = valves["valve_no"].isin(failed["valve_no"].loc[failed["cause"].eq("body")])
    bodies = body & body.groupby(valves["chain_no"]).transform("sum").ge(least)
    return {
        "several": Said(valves["chain_no"], words, least - 1),
        "bodies": Said(valves["chain_no"][bodies], words[bodies], least - 1),
    }


def _one_valve(named: pd.DataFrame) -> dict[str, Said]:
    faults = named.loc[~named.duplicated(["chain_no", "valve_no", "episode"])]
    size = faults.groupby(["chain_no", "valve_no"])["episode"].transform("size")
    faults = faults.assign(size=size).loc[size.ge(2) & ~faults.duplicated(["chain_no", "valve_no"])]
    faults = faults.iloc[np.lexsort((faults["valve_no"].to_numpy(), faults["chain_no"].to_numpy()))]
    return {
        "one_valve": Said(faults["chain_no"], faults["valve_id"] + " in " + number_text(faults["size"]) + " call-outs")
    }


def _unlike(rows: pd.DataFrame) -> dict[str, Said]:
    """Chains whose every fault was found, each of another kind than the others."""
    kind, names = pd.factorize(rows["cause"].where(rows["cause"].ne("none_found")).replace(ONE_PART))
    faults = rows[["chain_no", "episode"]].assign(kind=np.where(kind < 0, np.nan, kind)).loc[rows["is_fault"]]
    faults = faults.groupby(["chain_no", "episode"])["kind"].last().reset_index()
    in_chain = faults.groupby("chain_no")["kind"]
    all_differ = in_chain.transform("nunique").eq(in_chain.transform("size"))
    faults = faults.loc[all_differ]
    words = pd.Series(names.take(faults["kind"].to_numpy(np.int64)), index=faults.index)
    return {"unlike": Said(faults["chain_no"], word_text(words), 1)}


def _mostly_no_access(rows: pd.DataFrame) -> dict[str, Said]:
    refused: pd.DataFrame = rows["outcome"].eq("no_access").groupby(rows["chain_no"]).agg(["sum", "size"])
    table = refused.loc[refused["sum"].mul(2).ge(refused["size"])].reset_index()
    return {
        "mostly_no_access": Said(table["chain_no"], number_text(table["sum"]) + " of " + number_text(table["size"]))
    }
