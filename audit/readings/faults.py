"""What every single fault does to a valve: one table a head kind (common practice, no source).

Each row says where the valve comes to stand under each drive, what its switch does, and how the lever can feel. Words
separated by spaces are alternatives. Places of a two-port valve: `closed`, `part` (on the way), `open` (full travel);
of a three-port valve: `a`, `mid`, `b`, by the body's marks, since a pointer on a head can read the opposite way.

A stuck body at rest is felt at the lever; away from rest the lever hangs slack whether spring or body holds the valve.
A stiff lever on a valve that moves as it should is blamed on nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

SOUND, LATCHED, MOTOR, SWITCH, SPRING, BODY, CONTROLS = (
    "sound", "latched", "motor", "end_switch", "spring", "body", "controls_or_wiring",
)  # fmt: skip
PARTS: Final = (SOUND, LATCHED, MOTOR, SWITCH, SPRING, BODY, CONTROLS)
SPRING_OR_BODY: Final = "spring_or_body"


@dataclass(frozen=True, slots=True)
class Fault:
    """One row of a fault table.

    `stands` gives the place under each drive in the order of `DRIVES`; `switch` names a row of `CONTACTS` (zone heads)
    or what feeds the orange wire inside the head (mid-position heads).
    """

    part: str
    says: str
    stands: tuple[str, ...]
    switch: str
    lever: str


DRIVES: Final = {
    "zone": ("drive dead", "drive live"),
    "diverter": ("drive dead", "drive live"),
    "mid_position": ("white and grey dead", "white live", "white and grey live", "grey live"),
}
EITHER: Final = "free stiff"

ZONE: Final = (  #                                        drive dead          drive live   switch         lever
    Fault(SOUND, "nothing is at fault",                   ("closed",           "open"),   "right",       EITHER),
    Fault(LATCHED, "the lever is latched",                ("closed",           "open"),   "right",       "latched"),
    Fault(MOTOR, "the motor does not move the valve",     ("closed",           "closed"), "right",       "free"),
    Fault(SWITCH, "the end switch does not make",         ("closed",           "open"),   "never makes", EITHER),
    Fault(SWITCH, "the end switch is welded",             ("closed",           "open"),   "welded",      EITHER),
    Fault(SPRING, "the spring does not return the valve", ("closed part open", "open"),   "right",       "free"),
    Fault(BODY, "the body is stuck at rest",              ("closed",           "closed"), "right",       "stiff"),
    Fault(BODY, "the body is stuck open",                 ("part open",        "open"),   "right",       EITHER),
    Fault(CONTROLS, "the drive is not what the demand asks", ("closed",        "open"),   "right",       EITHER),
)  # fmt: skip
REST_CONTACT: Final = Fault(
    SWITCH, "the switch's contact at rest does not make", ("closed", "open"), "open at rest", EITHER
)
CHANGEOVER: Final = (*ZONE, REST_CONTACT)

# Which wires the switch joins at each place: orange and grey (`made`), orange and white (`rest`), or none of them.
# `held` is the place that a latched lever gives; whether the switch follows it differs from head to head.
CONTACTS: Final = {  #  closed            part               open                held
    "right":        ("rest",            "rest none",       "made",      "rest none made"),
    "never makes":  ("rest",            "rest none",       "rest none", "rest none"),
    "welded":       ("made",            "made",            "made",      "made"),
    "open at rest": ("none",            "none",            "made",      "none made"),
}  # fmt: skip
PLACES: Final = ("closed", "part", "open", "held")

ANY: Final = "a mid b"
MID_POSITION: Final = (  #                          all dead white live white+grey  grey alone: stays    orange  lever
    Fault(SOUND, "nothing is at fault",             ("b",   "mid",     "a",         ANY),  "right",       EITHER),
    Fault(LATCHED, "the lever is latched",          ("b",   "mid",     "a",         ANY),  "right",       "latched"),
    Fault(MOTOR, "the motor does not move the valve", ("b", "b",       "b mid",     "b mid"), "right",    "free"),
    Fault(SWITCH, "the end switch does not make",   ("b",   "mid",     "a",         ANY),  "never makes", EITHER),
    Fault(SWITCH, "the end switch is welded",       ("b",   "mid",     "a",         ANY),  "welded",      EITHER),
    Fault(SWITCH, "the switch for the middle fails", ("b",  "mid a",   "a mid",     ANY),  "right",       EITHER),
    Fault(SPRING, "the spring does not return the valve", (ANY, "mid a", "a",       ANY),  "right",       "free"),
    Fault(BODY, "the body is stuck at rest",        ("b",   "b",       "b",         "b"),  "right",       "stiff"),
    Fault(BODY, "the body is stuck midway",         ("mid", "mid",     "mid",       "mid"), "right",      EITHER),
    Fault(BODY, "the body is stuck at A",           ("a",   "a",       "a",         "a"),  "right",       EITHER),
    Fault(CONTROLS, "the drive is not what the demand asks", ("b", "mid", "a",      ANY),  "right",       EITHER),
)  # fmt: skip

DIVERTER: Final = (  #                                    drive dead drive live   switch   lever
    Fault(SOUND, "nothing is at fault",                   ("a",     "b"),     "none", EITHER),
    Fault(LATCHED, "the lever is latched",                ("a",     "b"),     "none", "latched"),
    Fault(MOTOR, "the motor does not move the valve",     ("a",     "a mid"), "none", "free"),
    Fault(SPRING, "the spring does not return the valve", (ANY,     "b"),     "none", "free"),
    Fault(BODY, "the body is stuck at rest",              ("a",     "a"),     "none", "stiff"),
    Fault(BODY, "the body is stuck midway",               ("mid",   "mid"),   "none", EITHER),
    Fault(BODY, "the body is stuck at B",                 ("b",     "b"),     "none", EITHER),
    Fault(CONTROLS, "the drive is not what the demand asks", ("a",  "b"),     "none", EITHER),
)  # fmt: skip
