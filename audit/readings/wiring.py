"""What can be read at a head under each fault: the worlds that its wiring allows (common practice, no source).

A world is one full set of readings, in the order of `AXES`. The rest of the home is taken to be sound, and a fault to
be alone: an unread lever counts as latched only where that alone explains what was read.

Zone head: brown drives; orange and grey are volt-free, so either may carry the feed, or none that a meter sees, and
the orange wires of several heads are often joined, so that another demand can make any of them live. A changeover
head's white wire is joined to orange at rest. Mid-position head: white drives as heating is called for, grey is live
while hot water is not; orange is fed inside the head at A, and in the home by the cylinder thermostat while hot water
is called for. Diverter head: brown drives from A to B for hot water; with both demands the priority decides.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from itertools import combinations, product
from typing import Final

import numpy as np
from numpy.typing import NDArray

from audit.readings.faults import (
    CHANGEOVER,
    CONTACTS,
    CONTROLS,
    DIVERTER,
    LATCHED,
    MID_POSITION,
    MOTOR,
    PLACES,
    SOUND,
    ZONE,
    Fault,
)

YES_NO: Final = ("no", "yes")
AXES: Final = {  # what is read, and its values; own and other are demands, elsewhere a further heating zone's
    "own": YES_NO,
    "other": YES_NO,
    "elsewhere": YES_NO,
    "brown_live": YES_NO,
    "white_live": YES_NO,
    "grey_live": YES_NO,
    "orange_live": YES_NO,
    "position": ("open", "closed", "a", "b", "mid"),
    "lever": ("free", "stiff", "latched"),
}
MODELS: Final = {
    "zone": ZONE,
    "zone_spare_white": ZONE,  # a white wire that is there and not used says nothing
    "zone_changeover": CHANGEOVER,
    "mid_position": MID_POSITION,
    "diverter": DIVERTER,
}
SHAPE: Final = tuple(len(values) + 1 for values in AXES.values())  # the last place of each axis means: not read
World = tuple[bool | str, ...]


@cache
def fits(model: str) -> NDArray[np.bool_]:
    """Return which faults fit which readings: shape (faults of the model, *SHAPE), True where some world agrees."""
    faults = MODELS[model]
    table = np.zeros((len(faults), *(len(values) for values in AXES.values())), dtype=bool)
    for place, fault in enumerate(faults):
        for world in worlds(model, fault):
            table[(place, *(_value(axis, seen) for axis, seen in zip(AXES, world, strict=True)))] = True
    for axis in range(1, len(SHAPE)):
        table = np.concatenate([table, table.any(axis=axis, keepdims=True)], axis=axis)
    latched = table[..., -1:]
    alone = np.array([fault.part == LATCHED for fault in faults]).reshape(-1, *[1] * len(SHAPE))
    unread = np.where(alone, latched, table[..., :-1].any(axis=-1, keepdims=True))
    return np.concatenate([table, unread], axis=-1)


def worlds(model: str, fault: Fault) -> Iterator[World]:
    """Every full set of readings that the fault allows, in the order of `AXES`; some may come twice."""
    levers = fault.lever.split() if fault.part in (SOUND, LATCHED) else [*fault.lever.split(), "latched"]
    for lever in levers:
        if model == "mid_position":
            yield from _mid_position(fault, lever)
        elif model == "diverter":
            yield from _diverter(fault, lever)
        else:
            yield from _zone(model, fault, lever)


def _zone(model: str, fault: Fault, lever: str) -> Iterator[World]:
    white_used = model == "zone_changeover"
    for own, other, brown in product((False, True), repeat=3):
        if (brown != own) is not (fault.part == CONTROLS):
            continue
        for place in _places(fault, lever, int(brown), running=brown, held="held"):
            for joined in CONTACTS[fault.switch][PLACES.index(place)].split():
                for sources in _sources(white_used, fed_by_others=other):
                    white, grey, orange = _live(joined, sources)
                    for read in (white,) if white_used else (False, True) if model == "zone_spare_white" else (False,):
                        position = "closed" if place == "closed" else "open"
                        yield own, other, False, brown, read, grey, orange, position, lever


def _sources(white_used: bool, fed_by_others: bool) -> list[frozenset[str]]:
    """The wires of the switch that something else than this head makes live."""
    wires = ("white", "grey", "orange") if white_used else ("grey", "orange")
    if fed_by_others:
        return [frozenset(some) for n in range(len(wires) + 1) for some in combinations(wires, n)]
    single = [frozenset[str](), *(frozenset({wire}) for wire in wires)]
    return [*single, frozenset({"white", "grey"})] if white_used else single  # one load changed over between two feeds


def _live(joined: str, sources: frozenset[str]) -> tuple[bool, bool, bool]:
    """Whether white, grey and orange are live: wires that the switch joins share what feeds either."""
    pair = {"made": {"orange", "grey"}, "rest": {"orange", "white"}, "none": set()}[joined]
    live = sources | pair if sources & pair else sources
    return "white" in live, "grey" in live, "orange" in live


def _mid_position(fault: Fault, lever: str) -> Iterator[World]:
    drives = [(False, False), (True, False), (True, True), (False, True)]  # white, grey: the order of DRIVES
    for own, other, elsewhere in product((False, True), repeat=3):
        asked = (own, not other)
        for drive, (white, grey) in enumerate(drives):
            if ((white, grey) != asked) is not (fault.part == CONTROLS):
                continue
            fed_by_home = other or elsewhere or fault.part == CONTROLS
            for place in _places(fault, lever, drive, running=white, held="mid"):
                inside = {"right": white and place == "a", "never makes": False, "welded": white or grey}[fault.switch]
                for orange in {inside, inside or fed_by_home}:
                    yield own, other, elsewhere, False, white, grey, orange, place, lever


def _diverter(fault: Fault, lever: str) -> Iterator[World]:
    for own, other, brown in product((False, True), repeat=3):
        as_asked = brown == own or (own and other)
        if as_asked is (fault.part == CONTROLS) and not (own and other):
            continue
        for place in _places(fault, lever, int(brown), running=brown, held="mid"):
            yield own, other, False, brown, False, False, False, place, lever


def _places(fault: Fault, lever: str, drive: int, *, running: bool, held: str) -> list[str]:
    """Where the valve can stand; a latched lever holds it too, unless the motor takes it on."""
    places = fault.stands[drive].split()
    idle = not running or fault.part == MOTOR
    return [*places, held] if lever == "latched" and idle and held not in places else places


def _value(axis: str, seen: bool | str) -> int:
    return int(seen) if isinstance(seen, bool) else AXES[axis].index(seen)
