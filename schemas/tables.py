"""The tables that the audit reads: one pandera model each, and `COLUMNS`, the same as plain records.

Dates are calendar dates, temperatures °C, money GBP excluding VAT, lengths mm (pump distance m), hours decimal.
Words, numbers and dates may be missing in any column that is not required.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import pandera.pandas as pa
from pandera.dtypes import DateTime
from pandera.typing import Series

from schemas import words as w
from schemas.column import Column, Kind


def column(
    kind: Kind,
    meaning: str,
    *,
    unit: str = "",
    required: bool = False,
    unique: bool = False,
    words: Mapping[str, str] | None = None,
    low: float | None = None,
    high: float | None = None,
    whole: bool = False,
    example: str = "",
) -> Any:
    """Declare one column of a pandera model; the arguments are those of `Column`."""
    return pa.Field(
        nullable=not required,
        unique=unique,
        isin=list(words) if words else None,
        ge=low,
        le=high,
        description=meaning,
        metadata={
            "kind": kind,
            "unit": unit,
            "required": required,
            "unique": unique,
            "words": words,
            "low": low,
            "high": high,
            "whole": whole,
            "example": example,
        },
    )


class _Table(pa.DataFrameModel):
    class Config:
        """Columns beyond the model (where a row came from) are allowed."""

        strict = False
        coerce = False


class Homes(_Table):
    """One dwelling a row."""

    home_id: Series[str] = column(
        "id", "The landlord's own number for the home.", required=True, unique=True, example="H00042"
    )
    uprn: Series[str] = column("id", "Unique property reference number, up to 12 digits.", example="000000199356")
    address: Series[str] = column(
        "text", "Address as the engineer needs it; no name of a person.", example="12 Example Road"
    )
    postcode: Series[str] = column("text", "Postcode.", example="ZZ99 3AB")
    scheme: Series[str] = column("text", "Estate, block or scheme, for grouping.", example="Birch Court")
    patch: Series[str] = column("text", "The area that one team works.", example="North")
    easting: Series[float] = column("number", "Grid easting.", unit="m", low=0, high=800_000)
    northing: Series[float] = column("number", "Grid northing.", unit="m", low=0, high=1_400_000)
    priority_household: Series[str] = column("word", "To be kept warm first; the reason is not kept.", words=w.YES_NO)
    gas_check_due: Series[DateTime] = column("date", "Date by which the next gas safety check is due.")
    heating_renewal_due: Series[DateTime] = column("date", "Date on which the whole heating is due for renewal.")
    access_note: Series[str] = column("text", "How to get in; nothing personal.", example="Key safe, call first")


class Valves(_Table):
    """One motorised valve a row: a body in the pipework with its head."""

    valve_id: Series[str] = column("id", "The number of the valve.", required=True, unique=True, example="V00042-1")
    home_id: Series[str] = column("id", "The home it is in.", required=True, example="H00042")
    system: Series[str] = column(
        "text", "Which heating system of the home, where it has more than one.", example="main"
    )
    arrangement: Series[str] = column("word", "How the home's valves share the work.", words=w.ARRANGEMENT)
    circuit: Series[str] = column("word", "What the valve feeds.", words=w.CIRCUIT)
    ports: Series[float] = column("number", "Ports of the body.", low=2, high=3, whole=True)
    body_size_mm: Series[float] = column("number", "Pipe size of the body.", unit="mm", low=8, high=54)
    head_kind: Series[str] = column("word", "Kind of head.", words=w.HEAD_KIND)
    wires: Series[float] = column("number", "Wires in the head's cable, earth included.", low=2, high=8, whole=True)
    voltage_v: Series[float] = column("number", "Supply of the head's motor.", unit="V", low=12, high=250)
    make: Series[str] = column("text", "Maker.", example="Make A")
    model: Series[str] = column("text", "Maker's name for the valve.", example="Model 2")
    batch: Series[str] = column("text", "Date code or batch on the head.", example="A-1907")
    body_fitted: Series[DateTime] = column("date", "Day the body went in.")
    head_fitted: Series[DateTime] = column("date", "Day the present head went on.")
    head_detachable: Series[str] = column("word", "The head comes off without opening the pipework.", words=w.YES_NO)
    motor_replaceable: Series[str] = column("word", "The motor can be changed on its own.", words=w.YES_NO)
    isolation: Series[str] = column("word", "Isolating valves on every port: no drain-down for a body.", words=w.YES_NO)
    location: Series[str] = column("word", "Where in the home.", words=w.LOCATION)
    location_temp_c: Series[float] = column(
        "number", "Air temperature at the head, hottest seen.", unit="°C", low=-20, high=120
    )
    location_temp_on: Series[DateTime] = column("date", "Day of that reading.")
    flow_temp_c: Series[float] = column("number", "Water temperature at the valve.", unit="°C", low=0, high=130)
    flow_temp_on: Series[DateTime] = column("date", "Day of that reading.")
    switch_load_a: Series[float] = column("number", "Current through the end switch.", unit="A", low=0, high=32)
    switch_load_kind: Series[str] = column("word", "What that current feeds.", words=w.LOAD_KIND)
    earthed: Series[str] = column("word", "Head's earth is connected and proved.", words=w.YES_NO)
    changeover_in_use: Series[str] = column("word", "The changeover contact (sixth wire) is used.", words=w.YES_NO)
    pump_distance_m: Series[float] = column("number", "Pipe between pump and valve.", unit="m", low=0, high=100)
    insertion_mm: Series[float] = column(
        "number", "How far the pipe is pushed into the body.", unit="mm", low=0, high=60
    )
    flow_direction_ok: Series[str] = column("word", "Water goes the way the body's marks say.", words=w.YES_NO)
    lever: Series[str] = column("word", "The manual lever as last found.", words=w.LEVER)


class Visits(_Table):
    """One attendance or attempt a row."""

    visit_id: Series[str] = column(
        "id", "The number of the visit or job.", required=True, unique=True, example="J000042"
    )
    home_id: Series[str] = column("id", "The home visited.", required=True, example="H00042")
    valve_id: Series[str] = column("id", "The valve worked on, where known.", example="V00042-1")
    system: Series[str] = column(
        "text", "Which heating system of the home, where it has more than one.", example="main"
    )
    reported: Series[DateTime] = column("time", "When the job was reported or raised.", required=True)
    attended: Series[DateTime] = column("time", "When the engineer was there.")
    completed: Series[DateTime] = column("time", "When the job was finished.")
    kind: Series[str] = column("word", "Why the visit was made.", words=w.VISIT_KIND)
    outcome: Series[str] = column("word", "How it was left.", words=w.OUTCOME)
    symptom: Series[str] = column("word", "What the household reported.", words=w.SYMPTOM)
    cause: Series[str] = column("word", "What was found.", words=w.CAUSE)
    action: Series[str] = column("word", "What was done.", words=w.ACTION)
    parts: Series[str] = column("text", "Parts used.", example="head_zone")
    hours: Series[float] = column("number", "Time on site.", unit="h", low=0, high=100)
    cost_gbp: Series[float] = column("number", "Cost charged, excluding VAT.", unit="GBP", low=0, high=100_000)
    engineer: Series[str] = column("text", "A number or initials, not used unless the policy says so.", example="E07")
    notes: Series[str] = column(
        "text", "Free text of the call centre or engineer.", example="htg stuck on, new head, tested ok"
    )
    location_temp_c: Series[float] = column("number", "Air temperature at the head.", unit="°C", low=-20, high=120)
    flow_temp_c: Series[float] = column("number", "Water temperature at the valve.", unit="°C", low=0, high=130)
    store_temp_c: Series[float] = column("number", "Temperature of the hot water store.", unit="°C", low=0, high=110)
    tap_temp_c: Series[float] = column(
        "number", "Hot tap after one minute, before any mixing valve.", unit="°C", low=0, high=100
    )
    bath_tap_temp_c: Series[float] = column(
        "number", "Bath tap, after its mixing valve where it has one.", unit="°C", low=0, high=100
    )
    demand_heating: Series[str] = column("word", "Heating was called for at the reading.", words=w.YES_NO)
    demand_hot_water: Series[str] = column("word", "Hot water was called for at the reading.", words=w.YES_NO)
    brown_live: Series[str] = column("word", "Drive wire of a two-port or diverter head was live.", words=w.YES_NO)
    white_live: Series[str] = column("word", "White wire was live.", words=w.YES_NO)
    grey_live: Series[str] = column("word", "Grey wire was live.", words=w.YES_NO)
    orange_live: Series[str] = column("word", "Orange wire was live.", words=w.YES_NO)
    position: Series[str] = column("word", "Where the valve stood.", words=w.POSITION)
    lever: Series[str] = column("word", "The manual lever as found or left.", words=w.LEVER)
    earthed: Series[str] = column("word", "Earth continuity at the head proved on this visit.", words=w.EARTH_PROOF)
    left_isolated: Series[str] = column("word", "The head was left isolated from its supply.", words=w.YES_NO)
    rules_put_right: Series[str] = column(
        "text", "Rules whose findings the visit put right.", example="too-close-to-pump, flow-direction-wrong"
    )


class Rates(_Table):
    """One price a row."""

    item: Series[str] = column("word", "What is priced.", required=True, unique=True, words=w.RATE_ITEM)
    unit: Series[str] = column("word", "Per what.", required=True, words=w.RATE_UNIT)
    cost_gbp: Series[float] = column("number", "Price excluding VAT.", required=True, unit="GBP", low=0, high=100_000)
    source: Series[str] = column("text", "Where the price comes from.", example="Contract schedule 2026")


class Capacity(_Table):
    """Hours of one team in one week."""

    team: Series[str] = column("text", "The team.", required=True, example="Team 1")
    patch: Series[str] = column("text", "The area it works; empty means anywhere.", example="North")
    week_starting: Series[DateTime] = column("date", "First day of the week.", required=True)
    hours: Series[float] = column(
        "number", "Hours for this work, travel and call-outs included.", required=True, unit="h", low=0, high=2_000
    )


class Parts(_Table):
    """Stock of one part."""

    part: Series[str] = column("word", "The part, named as in the rates.", required=True, unique=True, words=w.PART)
    on_hand: Series[float] = column("number", "Pieces in store.", low=0, high=1_000_000, whole=True)
    lead_time_days: Series[float] = column(
        "number", "Days from order to van.", unit="days", low=0, high=730, whole=True
    )


MODELS: Final[dict[str, type[pa.DataFrameModel]]] = {
    "homes": Homes,
    "valves": Valves,
    "visits": Visits,
    "rates": Rates,
    "capacity": Capacity,
    "parts": Parts,
}


def _columns(table: str) -> tuple[Column, ...]:
    schema = MODELS[table].to_schema()
    found = []
    for name, spec in schema.columns.items():
        meta = dict(spec.metadata or {})
        found.append(Column(table=table, name=str(name), meaning=str(spec.description), **meta))
    return tuple(found)


COLUMNS: Final[dict[str, tuple[Column, ...]]] = {table: _columns(table) for table in MODELS}
SOURCE: Final = ("source_file", "source_sheet", "source_row")  # where a row was read, kept beside it
