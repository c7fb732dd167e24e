"""A verdict in sentences: what was read, what it shows, what to do next."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from audit.readings.faults import SPRING_OR_BODY
from audit.readings.judge import Judged
from audit.readings.seen import UNKNOWN_KIND, UNKNOWN_VALVE, WRONG_KIND

PLACE: Final = {
    "open": "valve open",
    "closed": "valve closed",
    "a": "valve at A",
    "b": "valve at B",
    "mid": "valve midway",
}
DEMAND: Final = {"demand_heating": "heating", "demand_hot_water": "hot water"}
NO_MODEL: Final = {
    UNKNOWN_VALVE: "Which valve was read is not recorded, so the readings cannot be judged.",
    UNKNOWN_KIND: "The kind of head is not recorded, so the readings cannot be judged.",
    WRONG_KIND: "The register has a head that does not belong on this body: prove which head is there and how it is "
    "wired before the readings are judged.",
}
BEFORE: Final = {
    "motor": "Prove the neutral first; a motor that is heard to run without moving the valve means gears, so a head.",
    "end_switch": "Part the orange wire from those of other heads and read again before renewing.",
    SPRING_OR_BODY: "With the head off, turn the spindle by hand: light means the spring, so a head; hard means the "
    "body, so the whole valve.",
    "body": "A new head would not mend it.",
    "controls_or_wiring": "The valve does what its wires say: follow the drive back to the control before any part is "
    "renewed.",
}
NOT_SOUND: Final = "A sound valve does not read like that."
TEST_REST: Final = "Read again with the demand the other way round to test the rest."
RELEASE: Final = "The lever is latched, so the place of the valve proves little: release it and read again."


def reasons(read: Mapping[str, str], judged: Judged, next_readings: str) -> str:
    """Say why, for one combination of readings.

    Args:
        read: The words read, by column; only what was read.
        judged: The verdict.
        next_readings: The reading to take next, in words; empty where none tells.
    """
    told = [_seen(read)]
    if judged.verdict == "contradictory":
        return " ".join([*told, _contradictory(judged, next_readings)])
    if judged.verdict == "named":
        return " ".join([*told, f"{NOT_SOUND} Only this fits: {_all(judged.possible)}.", BEFORE[judged.part]])
    if not judged.ruled_out:
        told.append("Too little was read: anything fits.")
    elif judged.sound:
        told.append("A sound valve reads the same, so no part is blamed.")
        told += [f"Not ruled out: {_all(judged.possible)}."] if judged.possible else []
    else:
        told.append(f"{NOT_SOUND} Could be: {_all(judged.possible)}.")
    if judged.ruled_out:
        told.append(f"Ruled out: {_all(judged.ruled_out)}.")
    return " ".join([*told, _next(read, judged, next_readings)])


def no_model(read: Mapping[str, str], model: str) -> str:
    """Say why the readings of this valve cannot be judged."""
    return f"{_seen(read)} {NO_MODEL[model]}"


def in_words(column: str) -> str:
    """A reading as an engineer asks for it."""
    if column in DEMAND:
        return f"whether {DEMAND[column]} is called for"
    if column.endswith("_live"):
        return f"whether {column.removesuffix('_live')} is live"
    return {"position": "where the valve stands", "lever": "the lever", "spindle": "the spindle by hand"}[column]


def _seen(read: Mapping[str, str]) -> str:
    called = {"yes": "called for", "no": "not called for"}
    demands = [f"{name} {called[read[key]]}" for key, name in DEMAND.items() if key in read]
    wires = [
        f"{key.removesuffix('_live')} {'live' if value == 'yes' else 'dead'}"
        for key, value in read.items()
        if key.endswith("_live")
    ]
    stands = [PLACE[read["position"]]] if "position" in read else []
    lever = [f"lever {read['lever']}"] if "lever" in read else []
    groups = [", ".join(group) for group in (demands, wires, stands, lever) if group]
    return f"Read: {'; '.join(groups)}."


def _contradictory(judged: Judged, next_readings: str) -> str:
    if judged.clash:
        return (
            f"No single fault of this head reads like that; it would fit without one reading: take {next_readings} "
            "again, and look whether the head is of the kind recorded."
        )
    return (
        "No single fault of this head reads like that: two faults at once, readings of different moments, or another "
        "head than recorded. Read everything again at one moment."
    )


def _next(read: Mapping[str, str], judged: Judged, next_readings: str) -> str:
    if read.get("lever") == "latched":
        return RELEASE
    if next_readings:
        return f"Read next: {next_readings}."
    return TEST_REST


def _all(texts: tuple[str, ...]) -> str:
    return "; ".join(texts)
