"""The register of valves as the landlord keeps it: the last dates only, some readings, a few true faults of fit."""

from __future__ import annotations

import numpy as np
import pandas as pd

from audit.sample import draw
from audit.sample.attempts import FULL, HEAD, Attempts
from audit.sample.draw import DAYS_A_YEAR, Bools, Floats, Ints
from audit.sample.homes import LOCATION_SHARE
from audit.sample.lives import Events
from audit.sample.stock import (
    ARRANGEMENTS,
    BATCH_CODE,
    CIRCUITS,
    KINDS,
    MAKES,
    WIRES,
    Stock,
    arrangement,
)

MODELS = ("Model 1", "Model 2", "Model 3", "Model 4")  # by kind; 28 mm bodies are Model 5 on
LEVERS = ("free", "stiff", "latched")


def fitted(stock: Stock, events: Events, attempts: Attempts, as_of: float) -> tuple[Floats, Floats]:
    """The days on which the present bodies and heads went in, as known at the end of the as-of day."""
    valve, done = events.valve[attempts.event], np.floor(attempts.completed)
    body, head = stock.first_body.copy(), stock.first_body.copy()
    whole = (attempts.action == FULL) & (done <= as_of)
    either = whole | ((attempts.action == HEAD) & (done <= as_of))
    np.maximum.at(body, valve[whole], done[whole])
    np.maximum.at(head, valve[either], done[either])
    return body, head


def build_register(
    stock: Stock, body: Floats, head: Floats, seed: int, as_of: float
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the canonical table of valves and the planted faults (valve row, rule)."""
    rng = draw.stream(seed, 4)
    faults: dict[str, Bools] = {}
    homes = stock.homes
    renewed = body > stock.first_body
    kind, wires = _heads(stock, faults, rng)
    size28 = stock.size_mm == 28
    columns: dict[str, pd.Series] = {
        "valve_id": stock.valve_id,
        "home_id": homes.table["home_id"].iloc[stock.home].reset_index(drop=True),
        "system": draw.words(stock.annexe.astype(np.int64), ("main", "annexe")),
        "arrangement": draw.words(arrangement(stock), ARRANGEMENTS),
        "circuit": draw.words(stock.circuit, CIRCUITS),
        "ports": pd.Series(np.where(stock.three_port, 3.0, 2.0)),
        "body_size_mm": pd.Series(stock.size_mm),
        "head_kind": draw.words(kind, KINDS),
        "wires": pd.Series(wires),
        "voltage_v": _voltage(stock, faults, rng),
        "make": draw.words(stock.make, MAKES),
        "model": draw.words(stock.kind + 4 * size28, (*MODELS, *(f"Model {i}" for i in range(5, 9)))),
        "batch": _batch(stock, body, rng),
        "body_fitted": draw.dates(body),
        "head_fitted": draw.dates(head),
        "head_detachable": draw.yes_no(stock.first_detachable | renewed),
        "motor_replaceable": draw.yes_no(stock.motor_replaceable),
        "isolation": draw.yes_no(stock.isolation),
        "location": draw.words(homes.location[stock.home], tuple(LOCATION_SHARE)),
        **_place(stock, body, faults, as_of, rng),
        **_electric(stock, faults, rng),
        **_pipework(stock, body, faults, as_of, rng),
    }
    return pd.DataFrame(columns), _list(faults)


def _few(n: int, share: float, known: Bools, rng: np.random.Generator) -> Bools:
    return (rng.random(n) < share) & known


def _heads(stock: Stock, faults: dict[str, Bools], rng: np.random.Generator) -> tuple[Ints, Floats]:
    """Kind and wires of the heads as recorded: a few do not suit the body, a few the kind."""
    n = len(stock)
    everywhere = np.ones(n, dtype=bool)
    wrong = _few(n, 0.003, everywhere, rng)
    kind = np.where(wrong, np.where(stock.kind == 2, 0, 2), stock.kind)
    miswired = _few(n, 0.004, ~wrong, rng)
    faults["head-does-not-suit-body"] = wrong
    faults["wires-do-not-match-head"] = miswired
    return kind, np.where(miswired, np.where(WIRES[kind] == 3, 5.0, 3.0), WIRES[kind])


def _voltage(stock: Stock, faults: dict[str, Bools], rng: np.random.Generator) -> pd.Series[float]:
    homes = stock.homes.layout.size
    low = (rng.random(homes) < 0.03)[stock.home]
    several = (stock.homes.layout >= 2) & (rng.random(homes) < 0.004)
    odd = several[stock.home] & (stock.place == 1)
    faults["mixed-voltages"] = odd
    return pd.Series(np.where(low != odd, 24.0, 230.0))


def _batch(stock: Stock, body: Floats, rng: np.random.Generator) -> pd.Series[str]:
    """Date codes of the valves as fitted (a new head does not change the entry): maker, year and month of making."""
    made = np.maximum(body - rng.integers(10, 150, body.size), draw.day_number(draw.EPOCH))
    month = made.astype("datetime64[D]").astype("datetime64[M]").astype(np.int64)
    letter = draw.words(stock.make, ("A", "B", "C"))
    yymm = (month // 12 + 1970) % 100 * 100 + month % 12 + 1
    code = draw.joined(letter, "-", draw.numbered("", yymm, 4))
    code = code.where(~(stock.bad_batch & (body == stock.first_body)), BATCH_CODE)
    return code.where(rng.random(body.size) > 0.1)


def _place(
    stock: Stock, body: Floats, faults: dict[str, Bools], as_of: float, rng: np.random.Generator
) -> dict[str, pd.Series]:
    homes = stock.homes.layout.size
    known = (rng.random(homes) < 0.45)[stock.home]
    on = np.maximum(np.floor(as_of - 4 * DAYS_A_YEAR * rng.random(homes) ** 1.5)[stock.home], body)
    air = np.round(stock.temp_c + 0.8 * rng.standard_normal(len(stock)), 1)
    water_known = rng.random(len(stock)) < 0.3
    too_hot = _few(len(stock), 0.004, water_known, rng)
    water = np.round(np.where(too_hot, 95 + rng.random(len(stock)) * 5, 71 + 5 * rng.standard_normal(len(stock))), 1)
    faults["location-too-hot"] = known & (stock.temp_c > 52)
    faults["flow-too-hot"] = too_hot
    return {
        "location_temp_c": pd.Series(draw.only(air, known)),
        "location_temp_on": draw.dates(draw.only(on, known)),
        "flow_temp_c": pd.Series(draw.only(water, water_known)),
        "flow_temp_on": draw.dates(draw.only(on, water_known)),
    }


def _electric(stock: Stock, faults: dict[str, Bools], rng: np.random.Generator) -> dict[str, pd.Series]:
    n = len(stock)
    known = (rng.random(n) < 0.6) & (stock.kind != 3)
    inductive = rng.random(n) < 0.6
    over = _few(n, 0.006, known, rng)
    load = np.where(over, np.where(inductive, 1.2, 3.4) + rng.random(n), 0.1 + 0.7 * rng.random(n))
    earth_known = rng.random(n) < 0.7
    unearthed = _few(n, 0.003, earth_known, rng)
    faults["switch-overloaded"] = over
    faults["not-earthed"] = unearthed
    changeover = (rng.random(stock.homes.layout.size) < 0.5)[stock.home]
    return {
        "switch_load_a": pd.Series(draw.only(np.round(load, 1), known)),
        "switch_load_kind": draw.words(np.where(known, inductive.astype(np.int64), -1), ("resistive", "inductive")),
        "earthed": draw.yes_no(~unearthed, earth_known),
        "changeover_in_use": draw.yes_no(changeover, stock.kind == 1),
    }


def _pipework(
    stock: Stock, body: Floats, faults: dict[str, Bools], as_of: float, rng: np.random.Generator
) -> dict[str, pd.Series]:
    n = len(stock)
    near_known, depth_known, way_known, lever_known = (rng.random(n) < share for share in (0.4, 0.25, 0.5, 0.6))
    near = _few(n, 0.04, near_known, rng)
    wrong_depth = _few(n, 0.03, depth_known & (stock.size_mm > 15), rng)
    backwards = _few(n, 0.006, way_known, rng)
    faults |= {"too-close-to-pump": near, "insertion-out-of-range": wrong_depth, "flow-direction-wrong": backwards}
    distance = np.where(near, 0.3 + 0.6 * rng.random(n), 1.0 + 2.5 * rng.random(n))
    low, high = np.where(stock.size_mm == 28, 22.0, 10.0), np.where(stock.size_mm == 28, 25.0, 15.0)
    off = np.where(rng.random(n) < 0.7, low - 1 - 4 * rng.random(n), high + 1 + 4 * rng.random(n))
    depth = np.round(np.where(wrong_depth, off, low + (high - low) * rng.random(n)))
    age = (as_of - body) / DAYS_A_YEAR
    chance = rng.random(n)
    lever = np.where(chance < 0.008, 2, np.where(chance > 0.99 - 0.12 * np.clip(age / 34, 0, 1) ** 3, 1, 0))
    faults |= {"lever-left-latched": lever_known & (lever == 2), "lever-stiff": lever_known & (lever == 1)}
    return {
        "pump_distance_m": pd.Series(draw.only(np.round(distance, 1), near_known)),
        "insertion_mm": pd.Series(draw.only(depth, depth_known)),
        "flow_direction_ok": draw.yes_no(~backwards, way_known),
        "lever": draw.words(np.where(lever_known, lever, -1).astype(np.int64), LEVERS),
    }


def _list(faults: dict[str, Bools]) -> pd.DataFrame:
    rules = list(faults)
    rows = [np.flatnonzero(faults[rule]) for rule in rules]
    return pd.DataFrame(
        {
            "valve": np.concatenate(rows),
            "rule": draw.words(np.repeat(np.arange(len(rules)), [r.size for r in rows]), rules),
        }
    )
