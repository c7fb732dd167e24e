"""The allowed words, each with its meaning. One word for one thing; every list is typed here once.

Imports nothing, so that commands which only show words start fast.
"""

from typing import Final

YES_NO: Final = {"yes": "yes", "no": "no"}
EARTH_PROOF: Final = {
    "yes": "earth continuity at the head was proved on this visit",
    "no": "there is no earth at the head, or it was not proved",
    "unproved": "the earth was put right, but nobody wrote that it was proved",
}

ARRANGEMENT: Final = {
    "two_port_zones": "a two-port valve for each circuit",
    "mid_position": "one three-port valve that can feed both circuits at once",
    "diverter": "one three-port valve that feeds one circuit at a time, one of them with priority",
}
CIRCUIT: Final = {
    "heating": "radiators",
    "hot_water": "hot water cylinder",
    "heating_2": "second radiator zone",
    "heating_3": "third radiator zone",
    "underfloor": "underfloor loops",
    "both": "radiators and cylinder (three-port valve)",
}
HEAD_KIND: Final = {
    "zone": "two-position head for a two-port body, end switch makes at full travel",
    "zone_changeover": "two-position head whose end switch changes over (sixth wire)",
    "mid_position": "head that can stop half way, for a three-port body",
    "diverter": "two-position head for a three-port body, no end switch in use",
}
LEVER: Final = {
    "free": "moves lightly and returns",
    "stiff": "hard to move: points at the body",
    "latched": "left in the filling position: the valve stays open",
}
LOAD_KIND: Final = {"resistive": "heater, relay input, lamp", "inductive": "pump, motor, contactor coil"}
LOCATION: Final = {
    "airing_cupboard": "cupboard with the hot water cylinder",
    "boiler_cupboard": "cupboard with the boiler",
    "kitchen": "kitchen",
    "utility_room": "utility room",
    "loft": "loft",
    "garage": "garage",
    "floor_void": "under the floor",
    "plant_room": "plant room",
    "other": "anywhere else",
}
HOT_LOCATIONS: Final = ("airing_cupboard", "boiler_cupboard")

VISIT_KIND: Final = {
    "call_out": "a fault caused it",
    "planned": "planned work",
    "safety_check": "annual gas safety visit",
    "follow_on": "return visit for the same job",
}
OUTCOME: Final = {
    "fixed": "left working",
    "temporary": "left working for now",
    "no_fault_found": "nothing wrong found",
    "no_access": "nobody in, or not let in",
    "parts_needed": "a part has to be brought",
}
SYMPTOM: Final = {
    "no_heating": "radiators cold, hot water works",
    "no_hot_water": "hot water cold, heating works",
    "no_heating_or_hot_water": "neither works",
    "heating_stays_on": "radiators hot with no demand",
    "hot_water_stays_on": "cylinder heats with no demand",
    "heating_with_hot_water_only": "radiators warm only while hot water is called for, or whenever it is",
    "too_hot": "water or rooms hotter than set",
    "leak": "water at the valve",
    "noise": "hum, grind, bang or hammer",
    "other": "anything else",
}
CAUSE: Final = {
    "head": "head failed",
    "motor": "motor failed",
    "end_switch": "end switch failed",
    "spring": "return spring failed",
    "body": "body seized, passing or worn",
    "wiring": "loose, wrong or damaged wiring",
    "control": "programmer, thermostat or wiring centre",
    "lever": "lever left latched",
    "leak": "gland or joint leaking",
    "pump": "pump",
    "boiler": "boiler",
    "water_quality": "sludge or debris",
    "none_found": "no cause found",
    "other": "anything else",
}
ACTION: Final = {
    "none": "nothing done",
    "reset_lever": "lever taken out of its filling position",
    "motor": "motor renewed",
    "head": "head renewed",
    "full": "body and head renewed",
    "wiring": "wiring put right",
    "earth": "earth put right",
    "relocate": "valve moved to a cooler place",
    "other_part": "another part of the system renewed",
}
POSITION: Final = {
    "open": "two-port: open",
    "closed": "two-port: closed",
    "a": "three-port: A open (heating)",
    "b": "three-port: B open (hot water)",
    "mid": "three-port: both open",
}
OPTION: Final = {
    "leave": "renew no part now (other work of the job, such as earthing or wiring, is still done)",
    "motor": "new motor in the head",
    "head": "new head on the same body",
    "full": "new body and head, needs isolation or a drain-down",
}
RENEWAL_POLICY: Final = {
    "fix_on_failure": "renew nothing before it fails",
    "heads_at_age": "renew every head at the age at which that costs least",
    "least_cost": "renew what is cheapest by the ages of head and body",
}
SEVERITY: Final = {
    "danger": "can hurt somebody: first",
    "fault": "works wrongly, or will",
    "money": "cheaper to act than to wait, perhaps",
    "record": "the records need mending, or watching",
}
RATE_ITEM: Final = {
    "labour_hour": "one hour of an engineer",
    "call_out": "attendance in working hours, travel included",
    "out_of_hours_call_out": "attendance out of hours",
    "head_zone": "two-port zone head, five wires",
    "head_zone_changeover": "two-port zone head with changeover switch, six wires",
    "head_mid_position": "mid-position head, five wires",
    "head_diverter": "diverter head, three wires",
    "motor": "replacement motor",
    "valve_2port_22": "two-port body with head, 15 or 22 mm",
    "valve_2port_28": "two-port body with head, 28 mm",
    "valve_3port_22": "three-port body with head, 15 or 22 mm",
    "valve_3port_28": "three-port body with head, 28 mm",
    "relay": "relay that takes a load off an end switch, fitted beside the wiring centre",
    "inhibitor": "one dose of inhibitor",
}
RATE_LABEL: Final = {  # in short, as it stands in a sum or in a list of parts
    "labour_hour": "labour",
    "call_out": "call-out",
    "out_of_hours_call_out": "out-of-hours call-out",
    "head_zone": "zone head",
    "head_zone_changeover": "zone head with changeover switch",
    "head_mid_position": "mid-position head",
    "head_diverter": "diverter head",
    "motor": "motor",
    "valve_2port_22": "22 mm two-port valve",
    "valve_2port_28": "28 mm two-port valve",
    "valve_3port_22": "22 mm three-port valve",
    "valve_3port_28": "28 mm three-port valve",
    "relay": "relay",
    "inhibitor": "inhibitor",
}
SPOKEN: Final = {  # words that read otherwise than with blanks for their underscores; see `spoken`
    **RATE_LABEL,
    "two_port_zones": "two-port zones",
    "zone_changeover": "zone with changeover switch",
    "mid_position": "mid-position",
    "heating_2": "second heating zone",
    "heating_3": "third heating zone",
    "other_part": "another part",
}
PART: Final = {
    item: meaning
    for item, meaning in RATE_ITEM.items()
    if item not in ("labour_hour", "call_out", "out_of_hours_call_out")
}
RATE_UNIT: Final = {"each": "a piece", "hour": "an hour", "visit": "an attendance", "dose": "a dose"}

TASK: Final = {
    "earth": "connect the head's earth, prove it, and write down that it is proved (Earth proved = yes); keep the head "
    "isolated until then",
    "wiring": "put right the controls or wiring that the readings name, and prove the drive wire",
    "relay": "take the load off the end switch with a relay between them; where its contacts are burnt, renew the head",
    "one_voltage": "prove the supply of each head; isolate one whose voltage is not its circuit's until a head of the "
    "circuit's voltage is fitted or it is moved to the right circuit; keep the two voltages' wiring apart",
    "prove_head": "prove which head is there and how it is wired; mend the record, or say which head is needed",
    "relocate": "move the valve to a cooler place",
    "repipe": "re-make the pipework at the valve",
    "near_boiling": "first measure the water at the valve again, with a second thermometer; if it is near boiling, "
    "danger: boiler off and isolated, open nothing that holds water, call a competent, registered person to prove its "
    "thermostat and overheat cut-out",
    "restore": "find out whether heating and hot water are back; if not, attend and restore them",
    "set_temperature": "set and prove the water temperature, the taps guarded against scalding",
    "reset_lever": "take the lever out of its filling position",
    "diagnose": "find the one cause behind the repeats",
    "water_quality": "first thing on the visit, test the system water; if it fails, fit no new part: clean and dose "
    "the system, and fit the part on a later visit",
    "change_head_kind": "fit the head that suits the body and the wiring",
}
TASK_LABEL: Final = {  # in short
    "earth": "earth",
    "wiring": "controls or wiring",
    "relay": "relay for the end switch",
    "one_voltage": "one voltage a circuit",
    "prove_head": "prove the head",
    "relocate": "move the valve",
    "repipe": "pipework",
    "near_boiling": "water near boiling",
    "restore": "heating and hot water back",
    "set_temperature": "water temperature",
    "reset_lever": "reset the lever",
    "diagnose": "find the cause",
    "water_quality": "test the water",
    "change_head_kind": "head of another kind",
}

READING_VERDICT: Final = {
    "named": "one part explains the readings, a sound valve does not",
    "contradictory": "no single fault explains the readings",
    "cannot_tell": "several parts could read like this, or too little was read",
    "none_found": "a sound valve reads the same; no part is blamed",
}
READING_PART: Final = {
    "motor": "the head's motor or its gears",
    "end_switch": "a switch in the head",
    "spring_or_body": "the return spring, or the body: the spindle by hand tells",
    "body": "the body",
    "controls_or_wiring": "controls or wiring, not the valve",
}


def spoken(word: str) -> str:
    """Return a word of these lists as people say it: `boiler cupboard`, `mid-position`, `22 mm two-port valve`."""
    return SPOKEN.get(word, word.replace("_", " "))
