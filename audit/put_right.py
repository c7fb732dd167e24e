"""Findings that a visit put right: they ask for no work again, unless newer evidence says so or danger has no proof.

A visit of a work list says which rules it put right (`rules_put_right`). Where the register still says what the finding
rests on, the finding becomes a record for whoever keeps it; where a reading does, a record that asks for a new reading;
where the log does, it is over until something new is reported. Danger is never closed by a visit's word alone.
"""

from __future__ import annotations

from typing import Final

import pandas as pd

from audit.model import Facts
from audit.repeats import RIGHT, STATES
from audit.repeats.text import short_day
from audit.rules.hits import day_text, number_text, word_text
from audit.rules.water import said_near_boiling
from schemas.results import SEVERITY_ORDER
from schemas.tables import COLUMNS

REGISTER: Final = {  # rule → what of the register it rests on
    "insertion-out-of-range": ("insertion_mm",),
    "too-close-to-pump": ("pump_distance_m",),
    "flow-direction-wrong": ("flow_direction_ok",),
    "head-does-not-suit-body": ("head_kind", "ports"),
    "wires-do-not-match-head": ("head_kind", "wires"),
    "switch-overloaded": ("switch_load_a",),
    "mixed-voltages": ("voltage_v",),
}
READ_AT_VALVE: Final = {"location-too-hot": "location_temp", "flow-too-hot": "flow_temp"}
READ_AT_HOME: Final = {
    "store-too-cool": "store_temp",
    "tap-too-cool": "tap_temp",
    "tap-too-hot": "bath_tap_temp",
}
READ: Final = READ_AT_VALVE | READ_AT_HOME
WHAT: Final = {
    "location_temp": "the air at the head",
    "flow_temp": "the water at the valve",
    "store_temp": "the hot water store",
    "tap_temp": "the hot tap",
    "bath_tap_temp": "the bath tap",
}
HISTORY: Final = ("repeat-call-out", "no-fault-found-again", "several-valves-one-home")
OF_HOME: Final = (*HISTORY, *READ_AT_HOME, "flow-too-hot", "mixed-voltages")  # put right for the home, not one valve
WATCH: Final = "None now: a visit found the cause and put it right, and nothing followed; watch."


def claims(visits: pd.DataFrame) -> pd.DataFrame:
    """Return one row a rule that a visit put right: home_id, valve_id, rule, visit_id, day; latest last."""
    done = visits.loc[visits["rules_put_right"].notna() & visits["outcome"].eq("fixed") & visits["completed"].notna()]
    rows = done[["home_id", "valve_id", "visit_id", "rules_put_right"]].assign(day=done["at"].dt.normalize())
    rows = rows.assign(rule=rows["rules_put_right"].str.split(r"\s*[,;]\s*", regex=True)).explode("rule")
    return rows.drop(columns="rules_put_right").sort_values(["day", "visit_id"], kind="stable", ignore_index=True)


def closed(findings: pd.DataFrame, facts: Facts) -> pd.DataFrame:
    """Turn findings that a visit put right into records, and rank the findings anew.

    Args:
        findings: The ranked `findings` table.
        facts: What was known on the as-of date.

    Returns:
        The same findings. One whose evidence is not newer than the visit that put it right is a record, and says what
        to write or to read. Danger stays what it is, and says what is to be proved.
    """
    made = claims(facts.visits)
    if made.empty:
        return findings
    by = _claimed(findings, made)
    known = by["day"].notna() & findings["severity"].ne("record")
    known &= findings["rule"].isin((*REGISTER, *READ, *HISTORY))
    over = known & ~_newer(findings, by["day"], facts)
    if not over.any():
        return findings
    rows = findings.loc[over]
    visit = "the visit of " + day_text(by["day"]) + " (" + by["visit_id"] + ")"
    danger = rows["severity"].eq("danger") | said_near_boiling(rows)
    statement, action = _told(rows, visit.loc[rows.index], facts)
    proof = " A visit's word alone does not close a danger: " + action.str[0].str.lower() + action.str[1:]
    found = findings.assign(**{name: findings[name].copy() for name in ("severity", "statement", "action")})
    found.loc[rows.index, "statement"] = statement
    found.loc[rows.index, "action"] = action.mask(danger, rows["action"] + proof)
    found.loc[rows.index, "severity"] = rows["severity"].where(danger, "record")
    order = found["severity"].map(SEVERITY_ORDER).astype("int64").sort_values(kind="stable").index
    return found.loc[order].assign(rank=range(1, len(found) + 1)).reset_index(drop=True)


def _claimed(findings: pd.DataFrame, made: pd.DataFrame) -> pd.DataFrame:
    """The last visit that put each finding right: `day` and `visit_id`, missing where none did."""
    home = findings["valve_id"].isna() | findings["rule"].isin(OF_HOME)
    of_home = made.drop_duplicates(["home_id", "rule"], keep="last")
    of_valve = made.loc[made["valve_id"].notna()].drop_duplicates(["valve_id", "rule"], keep="last")
    keys = findings[["home_id", "valve_id", "rule"]]
    by_home = keys.merge(of_home[["home_id", "rule", "day", "visit_id"]], how="left", on=["home_id", "rule"])
    by_valve = keys.merge(of_valve[["valve_id", "rule", "day", "visit_id"]], how="left", on=["valve_id", "rule"])
    columns = ["day", "visit_id"]
    return by_home[columns].set_axis(findings.index).where(home, by_valve[columns].set_axis(findings.index))


def _newer(findings: pd.DataFrame, day: pd.Series, facts: Facts) -> pd.Series:
    """Whether what a finding rests on is of a later day than its visit, or a reading of that visit itself."""
    read = pd.Series(pd.NaT, index=findings.index, dtype="datetime64[us]")
    valves, homes = facts.valves.set_index("valve_id"), facts.homes.set_index("home_id")
    for rule, name in READ.items():
        at_valve = rule in READ_AT_VALVE
        on = (
            _days(findings["valve_id"], valves[f"{name}_on"])
            if at_valve
            else _days(findings["home_id"], homes[f"{name}_on"])
        )
        read = read.mask(findings["rule"].eq(rule), on)
    newer: pd.Series = read.ge(day) | _last_event(findings, facts.visits).gt(day)
    return newer


def _last_event(findings: pd.DataFrame, visits: pd.DataFrame) -> pd.Series:
    """The day of the last report that a repeat rests on; missing for other findings."""
    faults = visits.loc[visits["is_fault"]].groupby("home_id")["reported"].max()
    missed = visits.loc[visits["outcome"].eq("no_fault_found")].groupby("home_id")["at"].max()
    rule = findings["rule"]
    reported = visits.set_index("visit_id")["reported"]
    last = _days(findings["visit_id"], reported).where(rule.eq("repeat-call-out"))
    last = last.mask(rule.eq("several-valves-one-home"), _days(findings["home_id"], faults))
    last = last.mask(rule.eq("no-fault-found-again"), _days(findings["home_id"], missed))
    day: pd.Series = last.dt.normalize()
    return day


def _days(ids: pd.Series, by: pd.Series) -> pd.Series:
    """The day of each id; missing where there is none."""
    return pd.Series(by.reindex(pd.Index(ids)).to_numpy(), index=ids.index).astype("datetime64[us]")


def _told(rows: pd.DataFrame, visit: pd.Series, facts: Facts) -> tuple[pd.Series, pd.Series]:
    """What each finding says now, and what is to be done: written, read, or watched."""
    said = rows["statement"].str.removesuffix(".") + "; "
    statement = said + visit + " found the cause and put it right, and nothing was reported since."
    action = pd.Series(WATCH, index=rows.index, dtype="str")
    written, read = rows["rule"].isin(list(REGISTER)), rows["rule"].isin(list(READ))
    stands = _places(rows, facts.valves, standing=True)
    statement = statement.mask(
        written, said + visit + " says that it was put right, but so the register stands still: " + stands + "."
    )
    names = rows["rule"].map({rule: " and ".join(columns) for rule, columns in REGISTER.items()}).astype("str")
    places = _places(rows, facts.valves, standing=False)
    action = action.mask(written, "Write what is there now into " + names + ": " + places + ".")
    statement = statement.mask(read, said + visit + " says that it was put right, and no reading was entered since.")
    thing = rows["rule"].map({rule: WHAT[name] for rule, name in READ.items()}).astype("str")
    again = "Measure " + thing + " at the next visit, whatever it is for, and enter the reading; no visit of its own."
    danger = rows["severity"].eq("danger") | said_near_boiling(rows)
    again = again.mask(danger, "measure " + thing + " and enter the reading.")
    return statement.astype("str"), action.mask(read, again).astype("str")


def _places(rows: pd.DataFrame, valves: pd.DataFrame, *, standing: bool) -> pd.Series:
    """Where the register says what a finding rests on, file, sheet and rows; with `standing` what each row says."""
    found = pd.Series("", index=rows.index, dtype="str")
    sheet = valves["source_sheet"].fillna("")
    where = valves["source_file"] + (", sheet '" + sheet + "'").where(sheet.ne(""), "")
    row = "row " + valves["source_row"].astype("str")
    for rule in rows["rule"].loc[rows["rule"].isin(list(REGISTER))].drop_duplicates():
        columns = REGISTER[rule]
        told = row + " (" + _standing(valves, columns) + ")" if standing else row
        lines = valves[["valve_id", "home_id", "system"]].assign(where=where, told=told)
        lines = lines.loc[valves[columns[0]].notna()]
        of = rows.loc[rows["rule"].eq(rule)]
        by_valve = (lines["where"] + ", " + lines["told"]).set_axis(pd.Index(lines["valve_id"]))
        lines = lines.loc[lines["home_id"].isin(of["home_id"])]
        together = lines.groupby(["home_id", "system", "where"])["told"].agg(", ".join).reset_index("where")
        by_system = (together["where"] + ", " + together["told"]).groupby(level=["home_id", "system"]).agg("; ".join)
        systems = pd.MultiIndex.from_frame(of[["home_id"]].assign(system=of["group"].fillna("main")))
        of_system = pd.Series(by_system.reindex(systems).to_numpy(), index=of.index)
        of_valve = pd.Series(by_valve.reindex(pd.Index(of["valve_id"])).to_numpy(), index=of.index)
        found.loc[of.index] = of_valve.fillna(of_system).fillna("the register").astype("str")
    return found


def _standing(valves: pd.DataFrame, columns: tuple[str, ...]) -> pd.Series:
    """What stands in the cells of some columns, as 'insertion_mm 8'."""
    kinds = {column.name: column for column in COLUMNS["valves"]}
    told = []
    for name in columns:
        value = number_text(valves[name]) if kinds[name].kind == "number" else word_text(valves[name])
        unit = f" {kinds[name].unit}" if kinds[name].unit else ""
        told.append(name + " " + value.fillna("empty") + unit)
    whole = told[0]
    for more in told[1:]:
        whole = whole + ", " + more
    return whole


def put_right_chains(chains: pd.DataFrame, facts: Facts) -> pd.DataFrame:
    """Return the chains, with those put right whose cause a later visit found, in their order.

    Args:
        chains: The `chains` table.
        facts: For the visits that say which findings they put right.
    """
    made = claims(facts.visits)
    made = made.loc[made["rule"].isin(HISTORY)].drop_duplicates("home_id", keep="last").set_index("home_id")
    day = _days(chains["home_id"], made["day"])
    over = chains["state"].isin(("to do", "open")) & day.ge(chains["last"])
    if not over.any():
        return chains
    told = "Nothing: watch. Cause found and put right on " + short_day(day)
    told = told + " (" + chains["home_id"].map(made["visit_id"]).astype("str") + "); nothing followed up to now."
    found = chains.assign(
        state=chains["state"].mask(over, RIGHT),
        likely_root=chains["likely_root"].mask(over, chains["likely_root"] + "; " + RIGHT),
        next_step=chains["next_step"].mask(over, told).astype("str"),
    )
    place = found["state"].map({name: order for order, name in enumerate(STATES)}).astype("int64")
    return found.loc[place.sort_values(kind="stable").index].reset_index(drop=True)
