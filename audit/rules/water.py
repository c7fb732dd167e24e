"""Water: at the valve, in the store, at the tap."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from audit.model import Facts, Rule
from audit.rules.hits import hits, number_text, seen_on

if TYPE_CHECKING:
    import pandas as pd

    from audit.policy import Policy


def flow_too_hot(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Water at the valve above the limit in °C."""
    return _above(facts.valves, "flow_temp", "Water at the valve", policy.number("water.flow_limit"))


def store_too_cool(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Hot water store below the limit in °C."""
    return _below(facts.homes, "store_temp", "Hot water store", policy.number("water.store_minimum"))


def tap_too_cool(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Hot tap below the limit in °C."""
    return _below(facts.homes, "tap_temp", "Hot tap after one minute", policy.number("water.tap_minimum"))


def tap_too_hot(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Hot tap above the limit in °C for a bath."""
    return _above(facts.homes, "tap_temp", "Bath tap", policy.number("water.bath_tap_maximum"))


def _above(frame: pd.DataFrame, name: str, what: str, limit: float) -> pd.DataFrame:
    rows = frame[frame[f"{name}_c"] > limit]
    return _said(rows, name, what, f"above the limit of {limit:g} °C", limit, rows[f"{name}_c"] - limit)


def _below(frame: pd.DataFrame, name: str, what: str, limit: float) -> pd.DataFrame:
    rows = frame[frame[f"{name}_c"] < limit]
    return _said(rows, name, what, f"below the least of {limit:g} °C", limit, limit - rows[f"{name}_c"])


def _said(rows: pd.DataFrame, name: str, what: str, how: str, limit: float, margin: pd.Series) -> pd.DataFrame:
    seen = number_text(rows[f"{name}_c"])
    statement = f"{what} " + seen + " °C" + seen_on(rows[f"{name}_on"]) + f", {how}."
    return hits(rows, statement=statement, observed=seen, limit=limit, unit="°C", margin=margin)


RULES: Final = (
    Rule(
        name="flow-too-hot",
        family="water",
        severity="fault",
        fires="Water at the valve is above the limit.",
        why="Seals and head are made for cooler water; near boiling, the boiler's own control is in doubt.",
        action="Prove the boiler's thermostat and set the flow temperature down.",
        limits=("water.flow_limit",),
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
        limits=("water.store_minimum",),
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
        limits=("water.tap_minimum",),
        needs=("visits.tap_temp_c",),
        remedy="set_temperature",
        check=tap_too_cool,
    ),
    Rule(
        name="tap-too-hot",
        family="water",
        severity="fault",
        fires="The bath tap was last measured above the limit, which is for baths in new and altered dwellings.",
        why="Hotter bath water scalds, children and frail people first.",
        action="Fit or set the mixing valve of the bath; never cool the store below its least temperature instead.",
        limits=("water.bath_tap_maximum",),
        needs=("visits.tap_temp_c",),
        remedy="set_temperature",
        check=tap_too_hot,
    ),
)
