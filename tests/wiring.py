"""A valve simulated step by step: drives in sequence, motor, spring, body, contacts, what feeds which wire.

Written apart from `audit.readings`, in another way, so that the two can be held against each other. Places are angles:
0 at rest, 1 on the way, 2 at full travel. Everything that a fault leaves open is followed both ways.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import chain, combinations, product

NAMES = ("own", "other", "elsewhere", "brown", "white", "grey", "orange", "position", "lever")
Reading = tuple[object, ...]


@dataclass(frozen=True)
class Valve:
    motor: bool = True
    spring: bool = True
    stuck: int | None = None  # the body does not leave this angle
    will_not_close: bool = False  # a two-port body that jams on its way back
    switch: str = "right"
    middle: bool = True  # the switch that stops a mid-position head half way
    control: bool = True  # the drive is what the demand asks
    latched: bool = False


def faults(kind: str) -> Iterator[tuple[str, Valve]]:
    """Every valve with at most one part at fault, and the name of the part."""
    well = Valve()
    yield "sound", well
    yield "latched", replace(well, latched=True)
    yield "motor", replace(well, motor=False)
    yield "spring", replace(well, spring=False)
    yield "body", replace(well, stuck=0)
    yield "controls_or_wiring", replace(well, control=False)
    if kind.startswith("zone"):
        yield "body", replace(well, will_not_close=True)
    else:
        yield "body", replace(well, stuck=1)
        yield "body", replace(well, stuck=2)
    if kind != "diverter":
        yield "end_switch", replace(well, switch="never")
        yield "end_switch", replace(well, switch="always")
    if kind == "zone_changeover":
        yield "end_switch", replace(well, switch="no rest contact")
    if kind == "mid_position":
        yield "end_switch", replace(well, middle=False)


def readings(kind: str, part: str, valve: Valve) -> Iterator[Reading]:
    """Every full set of readings that the valve can give, as its lever is found."""
    levers = {"free", "stiff"}
    if not (valve.motor and valve.spring):
        levers = {"free"}  # a stiff lever would be a second fault
    if valve.stuck == 0:
        levers = {"stiff"}
    if part == "latched":
        levers = {"latched"}
    elif part != "sound":
        levers |= {"latched"}  # people latch the lever of a valve that failed
    for lever in levers:
        yield from {"mid_position": mid_position, "diverter": diverter}.get(kind, zone)(kind, valve, lever)


def after(angles: set[int], goal: int, valve: Valve) -> set[int]:
    """The angles after motor or spring had its time: up by the motor, down by the spring."""
    if valve.stuck is not None:
        return {valve.stuck}
    reached: set[int] = set()
    for angle in angles:
        if goal >= angle:
            reached.add(goal if valve.motor else angle)
        elif not valve.spring:
            reached |= set(range(goal, angle + 1))
        elif valve.will_not_close:
            reached |= set(range(max(goal, 1), angle + 1))
        else:
            reached.add(goal)
    return reached


def zone(kind: str, valve: Valve, lever: str) -> Iterator[Reading]:
    for own, other, before in product((False, True), repeat=3):
        brown = own if valve.control else not own
        angles = {2} if valve.will_not_close else {0}
        for drive in (before, brown):
            angles = after(angles, 2 if drive else 0, valve)
        places: list[tuple[int, bool]] = [(angle, False) for angle in angles]
        if lever == "latched" and not (brown and valve.motor):
            places.append((1, True))
        for (angle, held), feeds in product(places, feeding(kind, other)):
            for joined in contacts(valve.switch, angle, held):
                live = spread(feeds, joined)
                whites = {"zone_changeover": ["white" in live], "zone_spare_white": [False, True]}.get(kind, [False])
                for white in whites:
                    position = "open" if angle else "closed"
                    yield own, other, False, brown, white, "grey" in live, "orange" in live, position, lever


def contacts(switch: str, angle: int, held: bool) -> Iterator[tuple[str, ...]]:
    """Which wires the switch joins. On the way its contacts may have parted; a latched lever may press it."""
    if switch == "always":
        yield ("grey", "orange")
        return
    plunger = {0: ["out"], 1: ["out", "between", *(["in"] if held else [])], 2: ["in"]}[angle]
    for state in plunger:
        if state == "in" and switch == "never":
            yield from (("white", "orange"), ())  # it does not change over, or hangs between
        elif state == "in":
            yield ("grey", "orange")
        elif state == "out" and switch != "no rest contact":
            yield ("white", "orange")
        else:
            yield ()


def feeding(kind: str, other: bool) -> list[set[str]]:
    """What else can make the switch's wires live: one feed on any of them, and other heads that are called for."""
    wires = ["orange", "grey", "white"] if kind == "zone_changeover" else ["orange", "grey"]
    if other:
        return [set(some) for some in chain.from_iterable(combinations(wires, n) for n in range(len(wires) + 1))]
    two_feeds = [{"grey", "white"}] if kind == "zone_changeover" else []
    return [set(), *({wire} for wire in wires), *two_feeds]


def spread(feeds: set[str], joined: tuple[str, ...]) -> set[str]:
    return feeds | set(joined) if feeds & set(joined) else feeds


PLACE = {"mid_position": ("b", "mid", "a"), "diverter": ("a", "mid", "b")}


def mid_position(kind: str, valve: Valve, lever: str) -> Iterator[Reading]:
    states = list(product((False, True), repeat=2))  # white, grey
    for own, other, elsewhere, *last in product((False, True), (False, True), (False, True), states):
        white, grey = last[0]
        if ((white, grey) == (own, not other)) != valve.control:
            continue
        for before, earlier in product(states, states):
            angles = {0}
            for drive in (earlier, before, (white, grey)):
                angles = after_wires(angles, *drive, valve)
            if lever == "latched" and not (white and valve.motor):
                angles |= {1}
            for angle in angles:
                head_feeds = {"right": white and angle == 2, "never": False, "always": white or grey}[valve.switch]
                thermostat = [False, True] if other or elsewhere or not valve.control else [False]
                for home_feeds in thermostat:
                    place = PLACE[kind][angle]
                    yield own, other, elsewhere, False, white, grey, head_feeds or home_feeds, place, lever


def after_wires(angles: set[int], white: bool, grey: bool, valve: Valve) -> set[int]:
    if valve.stuck is not None:
        return {valve.stuck}
    if grey and not white:
        return angles  # held where it is
    goal = 2 if white and grey else 1 if white else 0
    if not valve.motor:
        return {0, 1} if goal == 2 else {0}  # at best it creeps half way
    reached = after(angles, goal, valve)
    if not valve.middle and white:
        reached |= {1, 2}  # runs past the middle, or does not go on from it
    return reached


def diverter(kind: str, valve: Valve, lever: str) -> Iterator[Reading]:
    for own, other, brown, before in product((False, True), repeat=4):
        undecided = own and other  # the priority decides
        if not undecided and (brown == own) != valve.control:
            continue
        angles = {0}
        for drive in (before, brown):
            angles = after(angles, 2 if drive else 0, valve)
        if not valve.motor:
            angles = {0, 1} if brown else {0}
        if lever == "latched" and not (brown and valve.motor):
            angles |= {1}
        for angle in angles:
            yield own, other, False, brown, False, False, False, PLACE[kind][angle], lever
