"""What of a work list is read back: the words on its sheets, written by the reports and looked for by the reading.

Imports nothing.
"""

from typing import Final

FRONT: Final = ("Read first", "Summary")  # the first sheet of every workbook of ours
TITLES: Final = {  # what stands at the top of it
    "work-list": "Work list: motorised heating valves",
    "stock-summary": "Stock summary: motorised heating valves",
    "repeat-faults": "Repeat faults: motorised heating valves",
    "returned-rows": "Returned rows",
}
VISITS: Final = "Visits"
LEFT_OUT: Final = "Left out"
DONE_BEFORE: Final = "Done before"  # the sheet with the visits of earlier lists, one row a piece of work
AS_OF: Final = "As of"  # on the first sheet, beside the list's own date
PUTS_RIGHT: Final = "Findings put right"
NUMBER: Final = "Visit number"  # on every sheet that is read back: the same for a home's visit in every plan

# the planner's columns: our name → the header on the sheets Visits and Left out
PLANNER: Final = {
    "visit_number": NUMBER,
    "home_id": "Home",
    "include": "Include",
    "keep": "Keep",
    "week_starting": "Week starting",
    "team": "Team",
    "why": "Why",
    "history": "History",
}
# the engineers' columns: our name → the header on the sheets of the teams
TEAM: Final = {
    "visit_number": NUMBER,
    "work": "Valves and work",
    "puts_right": PUTS_RIGHT,
    "done": "Done",
    "outcome": "Outcome",
    "done_on": "Done on",
    "earthed": "Earth proved (yes/no)",
    "readings": "Readings (°C)",
    "notes": "Notes",
}
BOX: Final = "☐"
READINGS: Final = {  # word in the cell of readings → column of visits
    "air": "location_temp_c",
    "flow": "flow_temp_c",
    "store": "store_temp_c",
    "tap": "tap_temp_c",
}
ROOM: Final = "air ______\nflow _____\nstore ____\ntap ______"
HOME: Final = "home"  # in place of a valve, for work on the home's system
OTHER: Final = "other"  # in place of an action that visits have a word for
ACTION_OF: Final = {  # work → the action of a visit on which it was done; the rest is OTHER
    "motor": "motor",
    "head": "head",
    "full": "full",
    "change_head_kind": "head",
    "earth": "earth",
    "wiring": "wiring",
    "relay": "wiring",
    "one_voltage": "wiring",
    "relocate": "relocate",
    "reset_lever": "reset_lever",
}


def done_header(column: str) -> str:
    """The header of a column of visits on the sheet of what was done before."""
    words = column.removesuffix("_c").replace("_", " ")
    return words[:1].upper() + words[1:] + (" (°C)" if column.endswith("_c") else "")


DONE_KNOWN: Final = tuple(done_header(name) for name in ("visit_id", "home_id", "reported", "kind", "outcome"))
