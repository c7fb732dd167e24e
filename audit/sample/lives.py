"""What happens to every valve: Weibull lives on the clock of wear, one event after another up to the as-of date."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any, TypeVar

import numpy as np

from audit.sample import draw, season
from audit.sample.attempts import FULL, HEAD, MOST, MOTOR, WIRING, Attempts, meet
from audit.sample.draw import Bools, Floats, Ints
from audit.sample.stock import KINDS, Stock
from audit.sample.world import World

WHAT = ("head", "body", "planned", "wiring")
MODES = (
    "motor", "end_switch", "switch_welded", "spring", "gear",
    "seized_shut", "seized_open", "leak", "passing", "planned", "wiring",
)  # fmt: skip
HEAD_MODES = (0.48, 0.20, 0.05, 0.15, 0.12)
BODY_MODES = (0.30, 0.20, 0.30, 0.20)
SEIZED, END_SWITCH = (5, 6), (1, 2)
ATTEMPTS_SHARE = (0.25, 0.50, 0.25)  # chains of 2, 3, 4 attempts
HOT_SPEED = 3.0  # a hot cupboard's chain needs at least this many effective years a year
ENDED = ("in_service", "failed", "renewed_with_other_part", "renewed_as_planned", "changed_in_vain")
IN_SERVICE, FAILED, WITH_OTHER, AS_PLANNED, IN_VAIN = range(5)


@dataclass(frozen=True)
class Events:
    """One entry an event: a fault that showed, or planned work."""

    valve: Ints
    what: Ints  # of WHAT
    mode: Ints  # of MODES
    root: Ints  # of CHAIN_ROOTS, -1 where the first attempt cured it
    shown: Floats  # day


@dataclass(frozen=True)
class Spells:
    """One entry a stretch of life of a head or body; ages are effective years."""

    valve: Ints
    body: Bools  # else head
    began: Floats  # day
    began_age: Floats  # above zero after a new motor
    ended: Floats  # day; the as-of day where still in service
    ended_age: Floats
    end: Ints  # of ENDED
    scale: Floats  # planted Weibull scale, effective years


@dataclass
class _State:
    """Where the valves still followed stand: the clock, ages, and when each part began."""

    valve: Ints
    now: Floats
    head_from: Floats
    head_age0: Floats
    head_age: Floats
    body_from: Floats
    body_age: Floats
    batch: Bools
    detachable: Bools

    def keep(self, rows: Bools) -> _State:
        return _State(*(getattr(self, f.name)[rows] for f in fields(self)))


_NOTHING: Any = np.zeros(0, dtype=np.int64)
_Rows = TypeVar("_Rows", Events, Attempts, Spells)


def live(stock: Stock, seed: int, as_of: float, world: World) -> tuple[Events, Attempts, Spells]:
    """Follow every valve from its first body to the as-of day (days since 1970)."""
    rng = draw.stream(seed, 3)
    state = _begin(stock)
    events: list[Events] = []
    attempts: list[Attempts] = []
    spells: list[Spells] = []
    count = 0
    while state.valve.size:
        wait = _waits(state, stock, world, rng)
        what = wait.argmin(axis=0)
        step = wait[what, np.arange(what.size)]
        shown = season.day(state.now + step)
        spells += _in_service(state.keep(shown > as_of), stock, as_of, world)
        on = shown <= as_of
        state, what, step = state.keep(on), what[on], step[on]
        if not state.valve.size:
            break
        event, met, ended = _happen(state, what, step, count, stock, world, rng)
        events.append(event)
        attempts.append(met)
        spells += ended
        count += event.valve.size
    return _concat(Events, events), _concat(Attempts, attempts), _until(_concat(Spells, spells), as_of)


def _begin(stock: Stock) -> _State:
    n = len(stock)
    return _State(
        valve=np.arange(n),
        now=season.wear(stock.first_body),
        head_from=stock.first_body.copy(),
        head_age0=np.zeros(n),
        head_age=np.zeros(n),
        body_from=stock.first_body.copy(),
        body_age=np.zeros(n),
        batch=stock.bad_batch.copy(),
        detachable=stock.first_detachable.copy(),
    )


def scales(valve: Ints, batch: Bools, stock: Stock, world: World) -> tuple[Floats, Floats]:
    """Planted Weibull scales of head and body, effective years; a rate k times as high divides by k^(1/shape)."""
    base = np.array([world.head_scale[kind] for kind in KINDS])[stock.kind[valve]]
    scheme = np.where(stock.bad_scheme[valve], world.scheme_rate, 1.0)
    head = base * (scheme * np.where(batch, world.batch_rate, 1.0)) ** (-1 / world.head_shape)
    return head, world.body_scale * scheme ** (-1 / world.body_shape)


def residual(age: Floats, shape: float, scale: Floats, rng: np.random.Generator) -> Floats:
    """Draw the effective years still to live at an effective age, Weibull."""
    hazard = (age / scale) ** shape + rng.standard_exponential(age.size)
    return scale * hazard ** (1 / shape) - age


def _waits(state: _State, stock: Stock, world: World, rng: np.random.Generator) -> Floats:
    """Years of wear until each of WHAT would come next, shape (4, n)."""
    head, body = scales(state.valve, state.batch, stock, world)
    n = state.valve.size
    with np.errstate(divide="ignore"):
        return np.stack(
            [
                residual(state.head_age, world.head_shape, head, rng) / stock.speed[state.valve],
                residual(state.body_age, world.body_shape, body, rng),
                rng.standard_exponential(n) / np.float64(world.planned_rate),
                rng.standard_exponential(n) / np.float64(world.wiring_rate),
            ]
        )


def _happen(
    state: _State, what: Ints, step: Floats, first: int, stock: Stock, world: World, rng: np.random.Generator
) -> tuple[Events, Attempts, list[Spells]]:
    """Let the next event of each valve happen; changes the state to just after it."""
    state.now += step
    state.head_age += step * stock.speed[state.valve]
    state.body_age += step
    shown = season.day(state.now)
    mode = _modes(what, rng)
    root = _roots(state, what, mode, stock, world, rng)
    final = _finals(state, what, mode, root, stock, world, rng)
    tries = np.where(root >= 0, 2 + draw.pick(rng, what.size, ATTEMPTS_SHARE), 1)
    notice = np.where(what == 2, rng.integers(14, 46, what.size), 0).astype(float)
    met = meet(first, shown, notice, tries, root, final, world, rng)
    spells = _renew(state, what, shown, met, first, final, stock, world)
    return Events(state.valve, what, mode, root, shown), met, spells


def _modes(what: Ints, rng: np.random.Generator) -> Ints:
    head = draw.pick(rng, what.size, HEAD_MODES)
    body = len(HEAD_MODES) + draw.pick(rng, what.size, BODY_MODES)
    return np.select([what == 0, what == 1], [head, body], 7 + what)


def _roots(state: _State, what: Ints, mode: Ints, stock: Stock, world: World, rng: np.random.Generator) -> Ints:
    """Which events come back, and why; -1 where the first attempt cures them."""
    fits = (
        ("seized_body", np.isin(mode, SEIZED)),
        ("hot_cupboard", (what == 0) & (stock.speed[state.valve] >= HOT_SPEED)),
        ("bad_batch", (what == 0) & state.batch),
        ("bad_end_switch", np.isin(mode, END_SWITCH) & (stock.kind[state.valve] != 3)),
        ("loose_wire", what == 3),
    )
    chance = rng.random(what.size)
    root = np.full(what.size, -1)
    for place, (name, here) in enumerate(fits):
        root[here & (root < 0) & (chance < world.chains.get(name, 0.0))] = place
    return root


def _finals(
    state: _State, what: Ints, mode: Ints, root: Ints, stock: Stock, world: World, rng: np.random.Generator
) -> Ints:
    """The action that ends each event: whole valves for bodies, motors or heads for heads, wiring for loose wires."""
    choice = rng.random(what.size)
    motor = (mode == 0) & stock.motor_replaceable[state.valve] & (choice < world.motor_choice) & (root < 0)
    whole = ~state.detachable | (choice > np.where(what == 2, 0.7, 0.93))
    head = np.where(motor, MOTOR, np.where(whole, FULL, HEAD))
    return np.select([what == 1, what == 3], [FULL, WIRING], head)


def _renew(
    state: _State, what: Ints, shown: Floats, met: Attempts, first: int, final: Ints, stock: Stock, world: World
) -> list[Spells]:
    """Close the spells that the event ended, and start the new ones."""
    done = np.zeros((MOST, what.size))
    done[met.number, met.event - first] = met.completed
    fits = np.zeros_like(done)
    fits[met.number, met.event - first] = np.where((met.action == HEAD) | (met.action == FULL), met.completed, 0)
    finished, fitted = done.max(axis=0), fits.max(axis=0)
    motor, new_head, new_body = (final == MOTOR) & (fitted == 0), fitted > 0, final == FULL
    head_scale, body_scale = scales(state.valve, state.batch, stock, world)
    head_end = np.select([what == 0, what == 2, what == 3], [FAILED, AS_PLANNED, IN_VAIN], WITH_OTHER)
    body_end = np.select([what == 1, what == 2], [FAILED, AS_PLANNED], WITH_OTHER)
    heads = Spells(
        state.valve, np.zeros(what.size, dtype=bool), state.head_from.copy(), state.head_age0.copy(), shown,
        state.head_age.copy(), head_end, head_scale,
    )  # fmt: skip
    bodies = Spells(
        state.valve, np.ones(what.size, dtype=bool), state.body_from.copy(), np.zeros(what.size), shown,
        state.body_age.copy(), body_end, body_scale,
    )  # fmt: skip
    ended = [_rows(heads, motor | new_head), _rows(bodies, new_body)]
    kept = state.head_age0 + (1 - world.motor_share) * (state.head_age - state.head_age0)
    state.head_age0 = np.select([new_head, motor], [0.0, kept], state.head_age0)
    state.head_age = np.select([new_head, motor], [0.0, kept], state.head_age)
    state.head_from = np.select([new_head, motor], [fitted, finished], state.head_from)
    state.body_age = np.where(new_body, 0.0, state.body_age)
    state.body_from = np.where(new_body, finished, state.body_from)
    state.batch &= ~new_body
    state.detachable |= new_body
    state.now = season.wear(finished)
    return ended


def _in_service(state: _State, stock: Stock, as_of: float, world: World) -> list[Spells]:
    """The spells that are still open on the as-of day."""
    n = state.valve.size
    since = season.wear(np.full(n, as_of)) - state.now
    head_scale, body_scale = scales(state.valve, state.batch, stock, world)
    end, on = np.full(n, IN_SERVICE), np.full(n, as_of)
    head_age = state.head_age + since * stock.speed[state.valve]
    no, yes = np.zeros(n, dtype=bool), np.ones(n, dtype=bool)
    return [
        Spells(state.valve, no, state.head_from, state.head_age0, on, head_age, end, head_scale),
        Spells(state.valve, yes, state.body_from, np.zeros(n), on, state.body_age + since, end, body_scale),
    ]


def _until(spells: Spells, as_of: float) -> Spells:
    """Only spells that had begun: a part fitted after the as-of day is not there yet."""
    return _rows(spells, spells.began < as_of + 1)


def _rows(spells: Spells, keep: Bools) -> Spells:
    return Spells(*(values[keep] for values in vars(spells).values()))


def _concat(kind: type[_Rows], pieces: list[_Rows]) -> _Rows:
    if not pieces:
        return kind(*[_NOTHING] * len(fields(kind)))
    joined: list[Any] = [np.concatenate(columns) for columns in zip(*(vars(p).values() for p in pieces), strict=True)]
    return kind(*joined)
