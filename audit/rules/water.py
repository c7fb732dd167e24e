"""Water: at the valve, in the store, at the tap."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from audit.model import Facts, Rule
from audit.rules.hits import hits, number_text, old_text, seen_on, too_old

if TYPE_CHECKING:
    import pandas as pd

    from audit.policy import Policy


MAX_AGE: Final = "water.reading_max_age"
NEAR_BOILING: Final = "water.near_boiling"
SAID: Final = "near boiling"  # in the statement; see `said_near_boiling`
AGAIN: Final = "Measure it again at the next visit; no fault until then."
AT_ONCE: Final = (
    "Measure again at once, with a second thermometer. If it is true, danger: turn the boiler off and isolate it, open "
    "nothing that holds water, and have the boiler's thermostat and overheat cut-out proved by a competent, registered "
    "person. If it was a slip, mend the record."
)


def flow_too_hot(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Water at the valve above the limit in °C; danger where it is near boiling, should the reading be right.

    Near boiling it is danger on no known day too, a fault where the reading is known to be too old; never a record.
    """
    valves, limit = facts.valves, policy[NEAR_BOILING]
    rows = valves[valves["flow_temp_c"] > policy.number("water.flow_limit")]
    found = _said(facts, rows, "flow_temp", "Water at the valve", "above the limit", "water.flow_limit", policy)
    near = rows["flow_temp_c"].gt(limit.number).set_axis(found.index)
    fresh = found["severity"].eq("fault")
    words = f"; {SAID} (above {limit.number:g} °C): a slip of reading, or danger of scalding and steam."
    return found.assign(
        statement=found["statement"].mask(near, found["statement"].str.removesuffix(".") + words),
        severity=found["severity"].mask(near, "fault").mask(near & fresh, "danger"),
        action=found["action"].mask(near, AT_ONCE),
        limit_source=found["limit_source"].mask(near, found["limit_source"] + "; near boiling: " + limit.source),
    )


def said_near_boiling(findings: pd.DataFrame) -> pd.Series:
    """Whether each finding says that the water is near boiling: danger, should the reading be right, however old."""
    near: pd.Series = findings["rule"].eq("flow-too-hot") & findings["statement"].str.contains(SAID, regex=False)
    return near


def store_too_cool(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Hot water store below the limit in °C."""
    return _below(facts, facts.homes, "store_temp", "Hot water store", "water.store_minimum", policy)


def tap_too_cool(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Hot tap below the limit in °C."""
    return _below(facts, facts.homes, "tap_temp", "Hot tap after one minute", "water.tap_minimum", policy)


def tap_too_hot(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Bath tap above the limit in °C."""
    return _above(facts, facts.homes, "bath_tap_temp", "Bath tap", "water.bath_tap_maximum", policy)


def _above(facts: Facts, frame: pd.DataFrame, name: str, what: str, limit_name: str, policy: Policy) -> pd.DataFrame:
    rows = frame[frame[f"{name}_c"] > policy.number(limit_name)]
    return _said(facts, rows, name, what, "above the limit", limit_name, policy)


def _below(facts: Facts, frame: pd.DataFrame, name: str, what: str, limit_name: str, policy: Policy) -> pd.DataFrame:
    rows = frame[frame[f"{name}_c"] < policy.number(limit_name)]
    return _said(facts, rows, name, what, "below the least", limit_name, policy)


def _said(
    facts: Facts, rows: pd.DataFrame, name: str, what: str, side: str, limit_name: str, policy: Policy
) -> pd.DataFrame:
    """One finding a reading past its limit; a fault only while the reading is fresh enough to act on."""
    limit, most = policy.number(limit_name), policy.number(MAX_AGE)
    read, on = rows[f"{name}_c"], rows[f"{name}_on"]
    old = too_old(on, facts.as_of, most)
    seen = number_text(read)
    return hits(
        rows,
        statement=f"{what} " + seen + " °C" + seen_on(on) + f", {side} of {limit:g} °C" + old_text(old, most) + ".",
        observed=seen,
        limit=limit,
        unit="°C",
        margin=(read - limit).abs(),
        severity=old.map({True: "record", False: "fault"}),
        action=old.map({True: AGAIN, False: None}),
        limit_source=policy[limit_name].source,
    )


RULES: Final = (
    Rule(
        name="flow-too-hot",
        family="water",
        severity="fault",
        fires="Water at the valve is above the limit. Near boiling it is danger, unless the reading was wrong, of no "
        "known day too; a fault where that was read too long ago.",
        why="Seals and head are made for cooler water; near boiling, the boiler's own control is in doubt.",
        action="Prove the boiler's thermostat and set the flow temperature down.",
        limits=("water.flow_limit", NEAR_BOILING, MAX_AGE),
        needs=("valves.flow_temp_c or visits.flow_temp_c",),
        remedy="set_temperature",
        check=flow_too_hot,
    ),
    Rule(
        name="store-too-cool",
        family="water",
        severity="fault",
        fires="The hot water store was last measured below the limit.",
        why="Legionella grows in lukewarm stores.",
        action="Set the cylinder thermostat and prove it; guard the taps against scalding.",
        limits=("water.store_minimum", MAX_AGE),
        needs=("visits.store_temp_c",),
        remedy="set_temperature",
        check=store_too_cool,
    ),
    Rule(
        name="tap-too-cool",
        family="water",
        severity="fault",
        fires="The hot tap was last measured below the limit after one minute. Measure before any mixing valve.",
        why="Lukewarm pipes let legionella grow; often the valve or the store behind it is at fault.",
        action="Prove store, valve and pipework; set the temperature.",
        limits=("water.tap_minimum", MAX_AGE),
        needs=("visits.tap_temp_c",),
        remedy="set_temperature",
        check=tap_too_cool,
    ),
    Rule(
        name="tap-too-hot",
        family="water",
        severity="fault",
        fires="The bath tap, after its mixing valve, was last measured above the limit. The limit binds new and "
        "altered dwellings; elsewhere it is good practice.",
        why="Hotter bath water scalds, children and frail people first.",
        action="Fit or set the mixing valve of the bath; never cool the store below its least temperature instead.",
        limits=("water.bath_tap_maximum", MAX_AGE),
        needs=("visits.bath_tap_temp_c",),
        remedy="set_temperature",
        check=tap_too_hot,
    ),
)
