"""An invented portfolio as plain records: the truth that every book of the corpus is written from."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from random import Random
from typing import Any

from schemas import words as w

Record = dict[str, Any]  # canonical column -> str, float, datetime, or None where it is not known

GAPS = 0.06  # share of optional cells that nobody filled in
HEADS = {"two_port_zones": ("zone", "zone_changeover"), "mid_position": ("mid_position",), "diverter": ("diverter",)}
WIRES = {"zone": 5.0, "zone_changeover": 6.0, "mid_position": 5.0, "diverter": 3.0}
CIRCUITS = {
    "two_port_zones": (
        ("heating", "hot_water"),
        ("heating", "heating_2", "hot_water"),
        ("heating", "heating_2", "heating_3", "hot_water"),
        ("heating", "underfloor"),
    ),
    "mid_position": (("both",),),
    "diverter": (("both",),),
}
SCHEMES = ("Birch Court", "Elm Rise", "Ash Close", "Rowan House")
NOTES = (
    "see sheet 4, page 2",
    'photo "front" on file',
    "job card 117 scanned",
    "ring before 9am",
    "card in file; ok'd",
)
CONTRACT = ("Contract schedule 2026", "Merchant list, March 2026")


def portfolio(seed: int, homes: int = 16) -> dict[str, list[Record]]:
    """Make homes, valves and visits that fit together; the same seed gives the same records."""
    rng = Random(seed)
    dwellings = [_home(rng, n) for n in range(1, homes + 1)]
    valves = [valve for n, home in enumerate(dwellings) for valve in _valves(rng, home, n)]
    visits = [_visit(rng, rng.choice(valves), n) for n in range(1, 3 * homes + 1)]
    return {"homes": dwellings, "valves": valves, "visits": visits}


def prices() -> dict[str, list[Record]]:
    """Rates for every item, hours of two teams for six weeks, stock of every part."""
    rng = Random(5)
    units = {"labour_hour": "hour", "call_out": "visit", "out_of_hours_call_out": "visit", "inhibitor": "dose"}
    monday = dt.datetime(2026, 10, 5)
    return {
        "rates": [
            {
                "item": item,
                "unit": units.get(item, "each"),
                "cost_gbp": rng.randint(1000, 150_000) / 100,
                "source": rng.choice(CONTRACT),
            }
            for item in w.RATE_ITEM
        ],
        "capacity": [
            {"team": team, "patch": patch, "week_starting": monday + dt.timedelta(weeks=week), "hours": hours}
            for week in range(6)
            for team, patch, hours in (("Team 1", "North", 37.5), ("Team 2", "South", 74.0))
        ],
        "parts": [
            {"part": item, "on_hand": float(rng.randint(0, 40)), "lead_time_days": float(rng.randint(1, 30))}
            for item in w.RATE_ITEM
            if item not in units
        ],
    }


def _day(rng: Random, first: str, span: int) -> dt.datetime:
    return dt.datetime.fromisoformat(first) + dt.timedelta(days=rng.randrange(span))


def _yes(rng: Random) -> str:
    return rng.choice(("yes", "no"))


def _gaps(rng: Random, record: Record, full: Sequence[str]) -> Record:
    """Leave some optional cells empty."""
    return {name: None if name not in full and rng.random() < GAPS else value for name, value in record.items()}


def _home(rng: Random, n: int) -> Record:
    record = {
        "home_id": f"{n:04d}",
        "uprn": f"{100_020_000_000 + 7919 * n + rng.randrange(1000):012d}",
        "address": f"Flat {n % 5 + 1}, {n} Example Road",
        "postcode": f"ZZ99 {rng.randint(1, 9)}{rng.choice('ABDE')}{rng.choice('FGHJ')}",
        "scheme": rng.choice(SCHEMES),
        "patch": rng.choice(("North", "South")),
        "easting": float(rng.randint(400_000, 599_999)),
        "northing": float(rng.randint(100_000, 999_999)),
        "priority_household": _yes(rng),
        "gas_check_due": _day(rng, "2026-01-13", 330),
        "heating_renewal_due": _day(rng, "2027-02-14", 4000),
        "access_note": rng.choice(("Key safe, call first", "Warden on site", "Buzzer 3")),
    }
    return _gaps(rng, record, ("home_id", "postcode"))


def _valves(rng: Random, home: Record, n: int) -> list[Record]:
    arrangement = tuple(HEADS)[n % 3]
    circuits = rng.choice(CIRCUITS[arrangement])
    system = rng.choice(("main", "annexe"))
    location = rng.choice(tuple(w.LOCATION))
    return [
        _valve(rng, f"V{home['home_id']}-{place}", home["home_id"], system, arrangement, circuit, location)
        for place, circuit in enumerate(circuits, start=1)
    ]


def _valve(
    rng: Random, valve_id: str, home_id: str, system: str, arrangement: str, circuit: str, location: str
) -> Record:
    head = rng.choice(HEADS[arrangement])
    body = _day(rng, "2003-02-14", 5000)
    record = {
        "valve_id": valve_id,
        "home_id": home_id,
        "system": system,
        "arrangement": arrangement,
        "circuit": circuit,
        "ports": 2.0 if arrangement == "two_port_zones" else 3.0,
        "body_size_mm": rng.choice((15.0, 22.0, 28.0)),
        "head_kind": head,
        "wires": WIRES[head],
        "voltage_v": rng.choice((230.0, 24.0)),
        "make": rng.choice(("Make A", "Make B")),
        "model": rng.choice(("Model 1", "Model 2")),
        "batch": f"{rng.choice('ABC')}-{rng.randint(10, 24)}{rng.randint(10, 52)}",
        "body_fitted": body,
        "head_fitted": body + dt.timedelta(days=rng.randrange(100, 3200)),
        "head_detachable": _yes(rng),
        "motor_replaceable": _yes(rng),
        "isolation": _yes(rng),
        "location": location,
        "location_temp_c": rng.randint(180, 620) / 10,
        "location_temp_on": _day(rng, "2025-01-14", 500),
        "flow_temp_c": rng.randint(450, 820) / 10,
        "flow_temp_on": _day(rng, "2025-01-14", 500),
        "switch_load_a": rng.randint(1, 35) / 10,
        "switch_load_kind": rng.choice(tuple(w.LOAD_KIND)),
        "earthed": _yes(rng),
        "changeover_in_use": _yes(rng),
        "pump_distance_m": rng.randint(2, 60) / 10,
        "insertion_mm": float(rng.randint(8, 26)),
        "flow_direction_ok": _yes(rng),
        "lever": rng.choice(tuple(w.LEVER)),
    }
    return _gaps(rng, record, ("valve_id", "home_id", "ports"))


def _visit(rng: Random, valve: Record, n: int) -> Record:
    reported = _day(rng, "2024-01-13", 800)
    attended = reported + dt.timedelta(days=rng.randrange(6))
    record = {
        "visit_id": f"WO{n:05d}",
        "home_id": valve["home_id"],
        "valve_id": valve["valve_id"],
        "system": valve["system"],
        "reported": reported,
        "attended": attended,
        "completed": attended + dt.timedelta(days=rng.randrange(20)),
        "kind": rng.choice(tuple(w.VISIT_KIND)),
        "outcome": rng.choice(tuple(w.OUTCOME)),
        "symptom": rng.choice(tuple(w.SYMPTOM)),
        "cause": rng.choice(tuple(w.CAUSE)),
        "action": rng.choice(tuple(w.ACTION)),
        "parts": rng.choice(("head_zone", "motor", "head_mid_position")),
        "hours": rng.randint(1, 20) / 4,
        "cost_gbp": rng.randint(1500, 250_000) / 100,
        "engineer": rng.choice(("E01", "E02", "E17")),
        "notes": rng.choice(NOTES),
        "rules_put_right": None,
        "location_temp_c": rng.randint(180, 620) / 10,
        "flow_temp_c": rng.randint(450, 820) / 10,
        "store_temp_c": rng.randint(450, 700) / 10,
        "tap_temp_c": rng.randint(400, 650) / 10,
        "bath_tap_temp_c": rng.randint(380, 480) / 10,
        "demand_heating": _yes(rng),
        "demand_hot_water": _yes(rng),
        "brown_live": _yes(rng),
        "white_live": _yes(rng),
        "grey_live": _yes(rng),
        "orange_live": _yes(rng),
        "position": rng.choice(tuple(w.POSITION)),
        "lever": rng.choice(tuple(w.LEVER)),
    }
    return _gaps(rng, record, ("visit_id", "home_id", "reported"))
