"""What is known around a chain: the place and batch of its valves, earlier renewals, and how its faults differ."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from audit.calendar import MONTHS_A_YEAR
from audit.guard_band import CLEARLY_OVER, CLEARLY_WITHIN, OVER_WITHIN_UNCERTAINTY, upper_verdict
from audit.model import Facts
from audit.policy import Policy
from audit.repeats.batches import failing_batches
from audit.repeats.text import short_day
from audit.rules.hits import number_text, too_old, word_text
from audit.rules.repeats import NOT_THE_VALVE
from schemas.words import HOT_LOCATIONS

ONE_PART = {"motor": "head", "end_switch": "head", "spring": "head"}  # one new head puts them right alike
NOTED = r"(?i)\b(?:date code|batch)\s*:?\s*([A-Z0-9][A-Z0-9-]+)"  # as engineers note what stands on a head
MONTH = 365.25 / MONTHS_A_YEAR  # days


@dataclass(frozen=True)
class Said:
    """One clue: the chain of each time it was seen (not falling), and the words for it."""

    chain: pd.Series
    words: pd.Series
    beyond: int = 0  # mentions that are needed before the first counts
    thing: str = ""  # what is counted in the words, where the number matters


def renewed_again(facts: Facts, policy: Policy) -> pd.Series:
    """Heads and motors renewed again on one body within the window, in words, by visit_id; with both dates and visits.

    A new body starts the count afresh, whether a visit or the register tells of it.
    """
    visits = facts.visits
    rows = visits.loc[
        visits["action"].isin(("motor", "head", "full")) & visits["completed"].notna() & visits["valve_id"].notna(),
        ["valve_id", "action", "at", "visit_id"],
    ].sort_values(["valve_id", "at", "visit_id"], kind="stable", ignore_index=True)
    before = rows.shift()
    body = facts.valves.loc[facts.valves["body_age_basis"].ne("the head's date")].set_index("valve_id")["body_since"]
    body = body.reindex(pd.Index(rows["valve_id"])).set_axis(rows.index)
    new_body = before["action"].eq("full") | rows["action"].eq("full") | ((body > before["at"]) & (body <= rows["at"]))
    days = (rows["at"] - before["at"]).dt.total_seconds() / 86_400
    soon = days.le(policy.number("repeats.head_again_window") * MONTH)
    again = rows["valve_id"].eq(before["valve_id"]) & soon & ~new_body
    words = (
        rows["action"] + " " + short_day(rows["at"]) + " (" + rows["visit_id"] + ") after " + before["action"] + " "
        + short_day(before["at"]) + " (" + before["visit_id"] + ") on " + rows["valve_id"]
    )  # fmt: skip
    return words[again].set_axis(rows.loc[again, "visit_id"])


def of_places(rows: pd.DataFrame, facts: Facts, policy: Policy) -> dict[str, Said]:
    """How hot the places of the chain's valves are, from readings at its visits and those still fresh."""
    limit = policy.number("place.location_limit")
    table = _valves_of(rows, facts, ["location", "location_temp_c", "location_temp_on"])
    table["location_temp_c"] = table["location_temp_c"].mask(
        too_old(table["location_temp_on"], facts.as_of, policy.number("place.reading_max_age"))
    )
    taken = rows.loc[rows["location_temp_c"].notna() & rows["valve_id"].notna()]
    taken = taken.assign(location_temp_on=taken["reported"])
    order = ["chain_no", "valve_id", "location_temp_c", "location_temp_on"]
    read = pd.concat([table.loc[table["location_temp_c"].notna(), order], taken[order]])
    read = read.sort_values(order, kind="stable").drop_duplicates(
        ["chain_no", "valve_id"], keep="last", ignore_index=True
    )
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
    known = pd.MultiIndex.from_frame(read[["chain_no", "valve_id"]])
    unread = table.loc[
        table["location"].isin(HOT_LOCATIONS) & ~pd.MultiIndex.from_frame(table[["chain_no", "valve_id"]]).isin(known)
    ]
    return found | {
        "hot_place": Said(unread["chain_no"], unread["valve_id"] + " in the " + word_text(unread["location"]))
    }


def of_batches(rows: pd.DataFrame, facts: Facts, policy: Policy) -> dict[str, Said]:
    """Valves of a batch that fails too often: by the register, or by the code that an engineer noted."""
    batches = failing_batches(facts, policy)
    counted = " (" + number_text(batches["observed"]) + " faults where " + number_text(batches["expected"].round(1))
    batches = batches.assign(words="batch " + batches["batch"] + counted + " were expected)")
    by_register = _valves_of(rows, facts, ["make", "batch"])
    by_register = by_register.assign(make=by_register["make"].fillna("")).merge(batches, on=["make", "batch"])
    by_note = rows.loc[rows["notes"].notna(), ["chain_no", "visit_id", "notes"]]
    by_note = by_note.assign(batch=by_note["notes"].str.extract(NOTED, expand=False).str.upper())
    by_note = by_note.merge(batches.drop_duplicates("batch"), on="batch")
    told = pd.concat(
        [
            by_register[["chain_no"]].assign(words=by_register["valve_id"] + " " + by_register["words"]),
            by_note[["chain_no"]].assign(words=by_note["words"] + " noted (" + by_note["visit_id"] + ")"),
        ]
    ).sort_values(["chain_no", "words"], kind="stable", ignore_index=True)
    return {"batch": Said(told["chain_no"], told["words"])}


def of_chains(rows: pd.DataFrame, policy: Policy) -> dict[str, Said]:
    """How the faults of each chain differ: one valve or several, one kind of fault or several, and who was in."""
    named = rows.loc[rows["is_fault"] & rows["valve_id"].notna()]
    return {**_several(named, rows, policy), **_one_valve(named), **_unlike(rows), **_mostly_no_access(rows)}


def _several(named: pd.DataFrame, rows: pd.DataFrame, policy: Policy) -> dict[str, Said]:
    """Different valves failing; each beyond the first ones counts once more."""
    failed = named.loc[~named["cause"].isin(NOT_THE_VALVE) & ~named["outcome"].isin(("no_fault_found", "no_access"))]
    last = rows.groupby("chain_no")["reported"].max().reindex(failed["chain_no"]).set_axis(failed.index)
    recent = (last - failed["reported"]).dt.days.le(policy.number("repeats.several_valves_window") * MONTH)
    valves = failed.loc[recent].drop_duplicates(["chain_no", "valve_id"])
    words = valves["valve_id"] + " " + short_day(valves["reported"]) + " (" + valves["visit_id"] + ")"
    least = int(policy.number("repeats.several_valves_count"))
    enough = valves.groupby("chain_no")["valve_id"].transform("size").ge(least)
    body = enough & valves["valve_id"].isin(failed.loc[failed["cause"].eq("body"), "valve_id"])
    bodies = body & body.groupby(valves["chain_no"]).transform("sum").ge(least)
    return {
        "several": Said(valves["chain_no"][enough], words[enough], least - 1),
        "bodies": Said(valves["chain_no"][bodies], words[bodies], least - 1),
    }


def _one_valve(named: pd.DataFrame) -> dict[str, Said]:
    faults = (
        named.drop_duplicates(["chain_no", "valve_id", "episode"])
        .groupby(["chain_no", "valve_id"], as_index=False)
        .size()
    )
    faults = faults.loc[faults["size"].ge(2)]
    return {
        "one_valve": Said(faults["chain_no"], faults["valve_id"] + " in " + number_text(faults["size"]) + " call-outs")
    }


def _unlike(rows: pd.DataFrame) -> dict[str, Said]:
    """Chains whose every fault was found, each of another kind than the others."""
    faults = rows.loc[rows["is_fault"], ["chain_no", "episode", "cause"]]
    kind = faults["cause"].where(faults["cause"].ne("none_found")).replace(ONE_PART)
    faults = faults.assign(kind=kind).groupby(["chain_no", "episode"])[["kind"]].last().reset_index()
    in_chain = faults.groupby("chain_no")["kind"]
    all_differ = in_chain.transform("nunique").eq(in_chain.transform("size"))
    faults = faults.loc[all_differ]
    return {"unlike": Said(faults["chain_no"], word_text(faults["kind"]), 1)}


def _mostly_no_access(rows: pd.DataFrame) -> dict[str, Said]:
    refused: pd.DataFrame = rows["outcome"].eq("no_access").groupby(rows["chain_no"]).agg(["sum", "size"])
    table = refused.loc[refused["sum"].mul(2).ge(refused["size"])].reset_index()
    return {
        "mostly_no_access": Said(table["chain_no"], number_text(table["sum"]) + " of " + number_text(table["size"]))
    }


def _valves_of(rows: pd.DataFrame, facts: Facts, columns: list[str]) -> pd.DataFrame:
    """The valves that the faults of each chain name, or all of its home and system, with columns of the register."""
    named = rows.loc[rows["is_fault"] & rows["valve_id"].notna(), ["chain_no", "valve_id"]].drop_duplicates()
    none = rows.loc[~rows["chain_no"].isin(named["chain_no"]), ["chain_no", "home_id", "system"]].drop_duplicates()
    valves = facts.valves[["valve_id", *columns]]
    of_home = none.merge(facts.valves[["home_id", "system", "valve_id"]], on=["home_id", "system"])
    pairs = pd.concat([named, of_home[["chain_no", "valve_id"]]])
    return pairs.sort_values(["chain_no", "valve_id"], ignore_index=True).merge(valves, on="valve_id", how="left")
