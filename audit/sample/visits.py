"""The visit log: jobs split into attendances, with what was written about each."""

from __future__ import annotations

import numpy as np
import pandas as pd

from audit.sample import draw
from audit.sample.attempts import FULL, HEAD, MOTOR
from audit.sample.draw import Bools, Floats, Ints
from audit.sample.jobs import ACTIONS, CAUSES, OUTCOMES, SYMPTOMS, VISIT_KINDS
from audit.sample.lives import SEIZED
from audit.sample.prices import PRICES
from audit.sample.readings import SOUND, read_wires
from audit.sample.register import LEVERS
from audit.sample.shorthand import write_notes
from audit.sample.stock import BATCH_CODE, KINDS, Stock

MISSED, FETCH, DONE = range(3)  # stages of a job
CALL_OUT, PLANNED, CHECK, FOLLOW_ON = range(4)
PART_NAMES = (
    *(f"head_{kind}" for kind in KINDS),
    "motor",
    *(f"valve_{ports}port_{size}{extra}" for ports in (2, 3) for size in (22, 28) for extra in ("", ", inhibitor")),
)
HOURS = np.array([0.6, 1.1, 1.0, 3.0, 1.2, 0.5, 0.8, 3.0, 1.5])  # by ACTIONS
ISOLATED_SHORTER = 1.1  # hours saved between isolating valves
HOT, BATCH = 1, 2  # places in CHAIN_ROOTS


def build_visits(jobs: pd.DataFrame, stock: Stock, seed: int, as_of: float) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the canonical visits in order of report, and beside them the truth of each (event, valve, mode, root)."""
    rng = draw.stream(seed, 6)
    rows = _rows(jobs, as_of, rng)
    n = len(rows)
    valve, home = rows["valve"].to_numpy(), rows["home"].to_numpy()
    there = rows["attended"].to_numpy() < as_of + 1  # what lies later is not known yet
    missed, done = rows["stage"].to_numpy() == MISSED, (rows["stage"].to_numpy() == DONE) & there
    known = there & ~missed
    rows.loc[~known, ["cause", "action"]] = -1
    part = _parts(rows, stock, done)
    hours = _hours(rows, stock, missed, rng)
    columns = {
        "visit_id": draw.numbered("J", np.arange(1, n + 1), max(6, len(str(n)))),
        "home_id": stock.homes.table["home_id"].iloc[home].reset_index(drop=True),
        "valve_id": draw.words(valve, list(stock.valve_id)) if len(stock) else rows["valve"].astype("str"),
        "system": draw.words(np.where(valve >= 0, stock.annexe[valve], 0).astype(np.int64), ("main", "annexe")),
        "reported": draw.times(rows["reported"].to_numpy()),
        "attended": draw.times(draw.only(rows["attended"].to_numpy(), there)),
        "completed": draw.times(draw.only(rows["completed"].to_numpy(), done)),
        "kind": draw.words(rows["kind"].to_numpy(), VISIT_KINDS),
        "outcome": draw.words(np.where(there, rows["outcome"], -1), OUTCOMES),
        "symptom": draw.words(rows["symptom"].to_numpy(), SYMPTOMS),
        "cause": draw.words(rows["cause"].to_numpy(), CAUSES),
        "action": draw.words(rows["action"].to_numpy(), ACTIONS),
        "parts": draw.words(part, PART_NAMES),
        "hours": pd.Series(draw.only(hours, there)),
        "cost_gbp": pd.Series(draw.only(_cost(rows, hours, part), there & (rng.random(n) < 0.93))),
        "engineer": _engineers(stock, home, there, rng),
        "notes": _notes(rows, there, rng),
        **_measured(rows, stock, known, rng),
        **dict.fromkeys(("earthed", "left_isolated"), pd.Series(None, index=range(n), dtype="str")),
    }
    truth = rows[["event", "home", "valve", "mode", "root"]].assign(visit_id=columns["visit_id"])
    return pd.DataFrame(columns), truth


def _rows(jobs: pd.DataFrame, as_of: float, rng: np.random.Generator) -> pd.DataFrame:
    """One row a visit: a missed attempt, an attendance that needed a part, the one that finished."""
    missed, fetched = jobs["missed"], jobs["fetched"]
    call = jobs["kind"] == CALL_OUT
    rang_again = pd.Series(rng.random(len(jobs)) < 0.25)
    nothing = np.nan
    first = jobs.assign(stage=MISSED, attended=missed, completed=nothing, outcome=3)[missed.notna()]
    halfway = (missed + jobs["attended"]) / 2
    fetch = jobs.assign(
        stage=FETCH,
        reported=missed.fillna(jobs["reported"]),
        attended=fetched,
        completed=nothing,
        outcome=4,
        action=0,
        kind=jobs["kind"].where(missed.isna() | ~call, FOLLOW_ON),
    )[fetched.notna()]
    again = missed.notna() & fetched.isna() & call & rang_again
    done = jobs.assign(
        stage=DONE,
        reported=fetched.fillna(halfway.where(again, missed)).fillna(jobs["reported"]),
        kind=jobs["kind"].where((missed.isna() & fetched.isna()) | ~call | again, FOLLOW_ON),
    )
    rows = pd.concat([first, fetch, done], ignore_index=True)
    rows = rows[rows["reported"] < as_of + 1]
    return rows.sort_values(["reported", "home", "stage"], kind="stable", ignore_index=True)


def _parts(rows: pd.DataFrame, stock: Stock, done: Bools) -> Ints:
    """Places in PART_NAMES; -1 for none."""
    valve, action = rows["valve"].to_numpy(), rows["action"].to_numpy()
    whole = 5 + 4 * stock.three_port[valve] + 2 * (stock.size_mm[valve] == 28) + ~stock.isolation[valve]
    part = np.select([action == HEAD, action == MOTOR, action == FULL], [stock.kind[valve], 4, whole], -1)
    return np.where(done & (valve >= 0), part, -1)


def _hours(rows: pd.DataFrame, stock: Stock, missed: Bools, rng: np.random.Generator) -> Floats:
    valve, action = rows["valve"].to_numpy(), rows["action"].to_numpy()
    base = HOURS[action] - np.where((action == FULL) & stock.isolation[valve], ISOLATED_SHORTER, 0)
    spent = np.where(missed, 0.25, base * np.exp(0.2 * rng.standard_normal(len(rows))))
    return np.maximum(np.round(spent * 4) / 4, 0.25)


def _cost(rows: pd.DataFrame, hours: Floats, part: Ints) -> Floats:
    """Hours at the hourly rate, one attendance (dearer at night and at weekends), parts; checks go by contract."""
    reported = rows["reported"].to_numpy()
    late = ((reported % 1 > 0.75) | ((np.floor(reported) + 3) % 7 >= 5)) & (rows["kind"].to_numpy() == CALL_OUT)
    attendance = np.where(late, PRICES["out_of_hours_call_out"], PRICES["call_out"])
    priced = np.array([sum(PRICES[item] for item in name.split(", ")) for name in PART_NAMES] + [0.0])
    cost = np.round(hours * PRICES["labour_hour"] + attendance + priced[part], 2)
    return np.where(rows["kind"].to_numpy() == CHECK, np.nan, cost)


def _engineers(stock: Stock, home: Ints, there: Bools, rng: np.random.Generator) -> pd.Series[str]:
    """A number; each patch has its own engineers."""
    a_patch = max(3, stock.homes.layout.size // 6000)
    number = stock.homes.patch[home] * a_patch + rng.integers(0, a_patch, home.size)
    return draw.words(np.where(there, number, -1), [f"E{i:02d}" for i in range(1, 4 * a_patch + 1)])


def _notes(rows: pd.DataFrame, there: Bools, rng: np.random.Generator) -> pd.Series[str]:
    """Notes; those of the bad batch often give the date code that the engineer saw."""
    notes = write_notes(rows.assign(did=rows["action"]), rng).where(there)
    code = (rows["root"].to_numpy() == BATCH) & there & (rng.random(len(rows)) < 0.7)
    return notes.where(~code, draw.joined(notes.fillna("head u/s again"), f". date code {BATCH_CODE}"))


def _measured(rows: pd.DataFrame, stock: Stock, known: Bools, rng: np.random.Generator) -> dict[str, pd.Series]:
    n = len(rows)
    valve, home, kind, mode, root = (rows[name].to_numpy() for name in ("valve", "home", "kind", "mode", "root"))
    on_valve = known & (valve >= 0) & (mode >= 0) & (kind != PLANNED)
    air = np.where(valve >= 0, stock.temp_c[valve], stock.homes.temp_c[home]) + 0.8 * rng.standard_normal(n)
    air_taken = known & (rng.random(n) < np.where(root == HOT, 0.8, 0.15))
    water = 71 + 5 * rng.standard_normal(n)
    check = known & np.isin(kind, (PLANNED, CHECK)) & (valve < 0)
    store = stock.homes.store_c[home] + 0.5 * rng.standard_normal(n)
    tap, bath = 54 + 2.5 * rng.standard_normal(n), 44 + 2 * rng.standard_normal(n)
    taken = on_valve & (rng.random(n) < np.where(root >= 0, 0.6, 0.22))
    sound = (rows["action"].to_numpy() == 0) & (rows["stage"].to_numpy() == DONE) & (rng.random(n) < 0.8)
    state = np.where(sound | (mode < 0), SOUND, mode)

    def some(values: Floats, share: float, where: Bools) -> pd.Series[float]:
        return pd.Series(draw.only(np.round(values, 1), where & (rng.random(n) < share)))

    return {
        "location_temp_c": pd.Series(draw.only(np.round(air, 1), air_taken)),
        "flow_temp_c": some(water, 0.06, known),
        "store_temp_c": some(store, 0.15, check),
        "tap_temp_c": some(tap, 0.02, check),
        "bath_tap_temp_c": some(bath, 0.02, check),
        **read_wires(np.where(valve >= 0, stock.side[valve], 0), state, taken, rng),
        "lever": draw.words(_lever(rows, known, on_valve, rng), LEVERS),
    }


def _lever(rows: pd.DataFrame, known: Bools, on_valve: Bools, rng: np.random.Generator) -> Ints:
    """The lever as found or left: stiff on a seized body, free after a reset, now and then left latched."""
    chance = rng.random(len(rows))
    seized = np.isin(rows["mode"].to_numpy(), SEIZED) & (rows["action"].to_numpy() != FULL)
    stiff = on_valve & seized & (chance < 0.7)
    free = (on_valve & ~seized & (chance < 0.4)) | (known & (rows["action"].to_numpy() == ACTIONS.index("reset_lever")))
    latched = on_valve & (chance > 0.995)
    return np.select([stiff, free, latched], [1, 0, 2], -1)
