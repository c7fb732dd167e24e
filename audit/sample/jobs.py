"""Every job of the log, one row each, before it is split into visits: faults, planned work, annual checks, the rest."""

from __future__ import annotations

import numpy as np
import pandas as pd

from audit.sample import draw, season
from audit.sample.attempts import Attempts, visit_at
from audit.sample.draw import Floats, Ints
from audit.sample.lives import MODES, Events
from audit.sample.stock import Stock
from audit.sample.world import World

VISIT_KINDS = ("call_out", "planned", "safety_check", "follow_on")
SYMPTOMS = (
    "no_heating", "no_hot_water", "no_heating_or_hot_water", "heating_stays_on", "hot_water_stays_on",
    "heating_with_hot_water_only", "too_hot", "leak", "noise", "other",
)  # fmt: skip
CAUSES = (
    "head", "motor", "end_switch", "spring", "body", "wiring", "control", "lever", "leak", "pump", "boiler",
    "water_quality", "none_found", "other",
)  # fmt: skip
ACTIONS = ("none", "motor", "head", "full", "wiring", "reset_lever", "earth", "relocate", "other_part")
OUTCOMES = ("fixed", "temporary", "no_fault_found", "no_access", "parts_needed")
NO_FAULT = CAUSES.index("none_found")

# What the household notices, by side of the valve (heating, hot water, mid-position, diverter) and mode of failure.
_NH, _NW, _HON, _WON, _HWO, _LEAK = 0, 1, 3, 4, 5, 7
MAIN_SYMPTOM = np.array(
    [
        [_NH, _HWO, _HON, _HON, _NH, _NH, _HON, _LEAK, _HON, -1, _NH],
        [_NW, _NW, _WON, _WON, _NW, _NW, _WON, _LEAK, _WON, -1, _NW],
        [_NH, _HWO, _HON, _HWO, _NH, _NH, _HWO, _LEAK, _HWO, -1, _NH],
        [_NW, _NW, _NW, _NH, _NW, _NW, _NH, _LEAK, _NH, -1, _NW],
    ]
)
VAGUE = (0.84, 0.07, 0.04, 0.05)  # said rightly; neither works; noise; other
VAGUE_WORDS = np.array([-1, 2, 8, 9])
MODE_CAUSE = np.array([1, 2, 2, 3, 0, 4, 4, 8, 4, -1, 5])  # of CAUSES, by mode

# Call-outs that no valve caused: cause, share, symptoms; a latched lever is a valve's, but no part failed.
OTHER = (
    (CAUSES.index("control"), 0.30, (0.45, 0.15, 0.10, 0.15, 0.05, 0, 0.05, 0, 0, 0.05)),
    (CAUSES.index("pump"), 0.15, (0.55, 0.05, 0.20, 0, 0, 0, 0, 0.05, 0.15, 0)),
    (CAUSES.index("boiler"), 0.30, (0.25, 0.20, 0.45, 0, 0, 0, 0, 0.05, 0.05, 0)),
    (CAUSES.index("lever"), 0.04, (0, 0, 0, 0.80, 0.10, 0, 0.10, 0, 0, 0)),
    (CAUSES.index("water_quality"), 0.04, (0.60, 0, 0.10, 0, 0, 0, 0, 0, 0.30, 0)),
    (NO_FAULT, 0.12, (0.40, 0.20, 0.10, 0.05, 0, 0, 0.05, 0, 0.10, 0.10)),
    (CAUSES.index("other"), 0.05, (0.20, 0.10, 0.10, 0, 0, 0, 0.10, 0.10, 0.20, 0.20)),
)
LEVER = 3  # place in OTHER

COLUMNS = (
    "event", "number", "last", "home", "valve", "kind", "reported", "missed", "fetched", "attended", "completed",
    "symptom", "found", "cause", "action", "outcome", "mode", "root",
)  # fmt: skip


def build_jobs(stock: Stock, events: Events, attempts: Attempts, seed: int, as_of: float, world: World) -> pd.DataFrame:
    """One row a job, columns COLUMNS: places in the word lists above, days since 1970, -1 or NaN for nothing."""
    rng = draw.stream(seed, 5)
    jobs = [
        _of_events(stock, events, attempts, rng),
        _others(stock, as_of, world, rng),
        _checks(stock, as_of, world, rng),
        _inspections(stock, as_of, world, rng),
    ]
    table = pd.concat(jobs, ignore_index=True)
    inside = (table["reported"] >= world.log_start_day) & (table["reported"] < as_of + 1)
    return table[inside].reset_index(drop=True)


def _job(n: int, **columns: object) -> pd.DataFrame:
    """A table of n jobs; what is not given is nothing."""
    nothing = {"reported": np.nan, "missed": np.nan, "fetched": np.nan, "attended": np.nan, "completed": np.nan}
    given = {name: columns.get(name, nothing.get(name, -1)) for name in COLUMNS}
    return pd.DataFrame(given, index=range(n))


def _of_events(stock: Stock, events: Events, attempts: Attempts, rng: np.random.Generator) -> pd.DataFrame:
    e = attempts.event
    valve, mode, root = events.valve[e], events.mode[e], events.root[e]
    planned = mode == MODES.index("planned")
    found = np.where(attempts.last, MODE_CAUSE[mode], np.where(attempts.action == 0, NO_FAULT, 0))
    found = np.where((attempts.action == 1) & ~attempts.last, 1, found)
    plain = attempts.last & (mode <= 4) & (root < 0) & (rng.random(e.size) < 0.25)
    silent = (rng.random(e.size) < 0.08) | planned
    found = np.where(plain, 0, found)
    no_fault = (attempts.action == 0) & (rng.random(e.size) < 0.8)
    return _job(
        e.size,
        event=e,
        number=attempts.number,
        last=attempts.last,
        home=stock.home[valve],
        valve=valve,
        kind=planned.astype(np.int64),
        reported=attempts.reported,
        missed=attempts.missed,
        fetched=attempts.fetched,
        attended=attempts.attended,
        completed=attempts.completed,
        symptom=_symptoms(stock.side[valve], mode, rng),
        found=found,
        cause=np.where(silent, -1, found),
        action=attempts.action,
        outcome=np.where(no_fault, 2, np.where(attempts.action == 0, 1, 0)),
        mode=mode,
        root=root,
    )


def _symptoms(side: Ints, mode: Ints, rng: np.random.Generator) -> Ints:
    main = MAIN_SYMPTOM[side, mode]
    said = VAGUE_WORDS[draw.pick(rng, side.size, VAGUE)]
    return np.where((main < 0) | (said < 0), main, said)


def _met(reported: Floats, share: float, rng: np.random.Generator) -> dict[str, Floats]:
    """Times of jobs that need no parts: attended soon after the report, some after a first failed attempt."""
    n = reported.size
    there = visit_at(reported, draw.pick(rng, n, (0.5, 0.3, 0.1, 0.1)).astype(float), rng)
    missed = rng.random(n) < share
    attended = visit_at(there, np.where(missed, rng.integers(1, 9, n), 0).astype(float), rng)
    return {
        "missed": draw.only(there, missed),
        "reported": reported,
        "attended": np.where(missed, attended, there),
        "completed": np.where(missed, attended, there) + (0.4 + 1.2 * rng.random(n)) / 24,
    }


def _others(stock: Stock, as_of: float, world: World, rng: np.random.Generator) -> pd.DataFrame:
    """Call-outs with another cause, in season like the rest."""
    homes = stock.homes.layout.size
    span = season.wear(np.array([world.log_start_day, as_of]))
    n = int(rng.poisson(world.other_rate * homes * (span[1] - span[0])))
    reported = np.floor(season.day(span[0] + (span[1] - span[0]) * rng.random(n))) + (7.5 + 12 * rng.random(n)) / 24
    which = draw.pick(rng, n, [share for _, share, _ in OTHER])
    home = rng.integers(0, homes, n)
    cause = np.array([place for place, _, _ in OTHER])[which]
    mended = np.where(np.isin(which, (0, 1, 2)) & (rng.random(n) < 0.8), ACTIONS.index("other_part"), 0)
    action = np.where(which == LEVER, ACTIONS.index("reset_lever"), mended)
    first_valve = np.searchsorted(stock.home, home)  # valves stand in the order of homes
    return _job(
        n,
        home=home,
        valve=np.where(which == LEVER, first_valve, -1),
        kind=0,
        last=True,
        symptom=draw.pick_by(rng, which, [shares for _, _, shares in OTHER]),
        found=cause,
        cause=np.where(rng.random(n) < 0.08, -1, cause),
        action=action,
        outcome=np.where(cause == NO_FAULT, 2, np.where(rng.random(n) < 0.05, 1, 0)),
        **_met(reported, world.no_access, rng),
    )


def _checks(stock: Stock, as_of: float, world: World, rng: np.random.Generator) -> pd.DataFrame:
    """Annual safety visits of the homes whose checks are in the log, each some weeks before it is due."""
    homes = np.flatnonzero(rng.random(stock.homes.layout.size) < world.checks_share)
    years = int((as_of - world.log_start_day) // 365) + 1
    home = np.repeat(homes, years)
    back = np.tile(np.arange(1, years + 1), homes.size)
    due = stock.homes.check_due[home] - 365 * back
    reported = np.floor(due - 10 - 25 * rng.random(home.size)) + 0.375
    fine = _met(reported, world.no_access, rng)
    return _job(home.size, home=home, kind=2, last=True, action=0, outcome=0, **fine)


def _inspections(stock: Stock, as_of: float, world: World, rng: np.random.Generator) -> pd.DataFrame:
    """Planned visits that look and measure."""
    homes = stock.homes.layout.size
    span = as_of - world.log_start_day
    n = int(rng.poisson(world.inspection_rate * homes * span / draw.DAYS_A_YEAR))
    reported = np.floor(world.log_start_day + span * rng.random(n)) + 0.375
    times = _met(reported, world.no_access, rng)
    return _job(n, home=rng.integers(0, homes, n), kind=1, last=True, action=0, outcome=0, **times)
