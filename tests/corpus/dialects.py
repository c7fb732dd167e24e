"""How landlords and contractors head their columns and what they write in them; invented for these books.

Nothing here is taken from the word lists of the reading: five people were imagined, each with a habit of their own. An
empty header means that this person does not keep the column.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from tests.corpus.plant import Cell, headers_of, rule
from tests.corpus.stock import Record

LANDLORD: Final = {
    "homes": headers_of("homes", {
        "home_id": "Property Reference", "uprn": "UPRN", "address": "Full Address", "postcode": "Postcode",
        "scheme": "Estate", "patch": "Patch", "easting": "Easting", "northing": "Northing",
        "priority_household": "Vulnerable Household (Y/N)", "gas_check_due": "Gas Safety Check Due",
        "heating_renewal_due": "Heating Renewal Due", "access_note": "Access Arrangements",
    }),
    "valves": headers_of("valves", {
        "valve_id": "Valve Ref", "home_id": "Property Reference", "system": "Heating System",
        "arrangement": "System Plan", "circuit": "Circuit Served", "ports": "No. of Ports",
        "body_size_mm": "Valve Size (mm)", "head_kind": "Type of Head", "wires": "No. of Wires",
        "voltage_v": "Voltage (V)", "make": "Manufacturer", "model": "Model", "batch": "Date Code",
        "body_fitted": "Valve Body Installed", "head_fitted": "Head Installed", "head_detachable": "Detachable Head",
        "motor_replaceable": "Replaceable Motor", "isolation": "Isolation Valves Fitted", "location": "Valve Location",
        "location_temp_c": "Ambient Temp (°C)", "location_temp_on": "Ambient Temp Date",
        "flow_temp_c": "Flow Temp (°C)", "flow_temp_on": "Flow Temp Date", "switch_load_a": "Switch Load (A)",
        "switch_load_kind": "Switch Load Type", "earthed": "Earthed", "changeover_in_use": "Changeover Contact Used",
        "pump_distance_m": "Distance from Pump (m)", "insertion_mm": "Pipe Insertion (mm)",
        "flow_direction_ok": "Flow Direction Correct", "lever": "Lever Condition",
    }),
    "visits": headers_of("visits", {
        "visit_id": "Job Number", "home_id": "Property Reference", "valve_id": "Valve Ref", "system": "Heating System",
        "reported": "Date Reported", "attended": "Date Attended", "completed": "Date Completed", "kind": "Job Type",
        "outcome": "Outcome", "symptom": "Reported Fault", "cause": "Cause of Fault", "action": "Action Taken",
        "parts": "Parts Used", "hours": "Hours on Site", "cost_gbp": "Cost (£)", "engineer": "Engineer",
        "notes": "Notes", "location_temp_c": "Ambient Temp (°C)", "flow_temp_c": "Flow Temp (°C)",
        "store_temp_c": "Cylinder Temp (°C)", "tap_temp_c": "Tap Temp (°C)",
        "bath_tap_temp_c": "Bath Tap Temp (°C)", "demand_heating": "Heating Demand",
        "demand_hot_water": "Hot Water Demand", "brown_live": "Brown Live", "white_live": "White Live",
        "grey_live": "Grey Live", "orange_live": "Orange Live", "position": "Valve Position",
        "lever": "Lever Condition",
    }),
}  # fmt: skip

CONTRACTOR: Final = {
    "homes": headers_of("homes", {
        "home_id": "Prop Ref", "uprn": "U.P.R.N.", "address": "Property Address", "postcode": "Post Code",
        "scheme": "Scheme Name", "patch": "Area", "easting": "", "northing": "", "priority_household": "Vulnerable?",
        "gas_check_due": "LGSR Due Date", "heating_renewal_due": "Boiler/Heating Renewal Due",
        "access_note": "Access Info",
    }),
    "valves": headers_of("valves", {
        "valve_id": "Valve No.", "home_id": "Prop Ref", "system": "", "arrangement": "Plan Type", "circuit": "Feeds",
        "ports": "Ports", "body_size_mm": "Pipe Size", "head_kind": "Actuator Type", "wires": "Wires",
        "voltage_v": "Volts", "make": "Make", "model": "Model No", "batch": "Batch No", "body_fitted": "Body Fitted",
        "head_fitted": "Actuator Fitted", "head_detachable": "Head Removable?", "motor_replaceable": "Motor Swap?",
        "isolation": "Isolators?", "location": "Location", "location_temp_c": "Cupboard Temp",
        "location_temp_on": "Cupboard Temp Taken", "flow_temp_c": "Flow Temp", "flow_temp_on": "Flow Temp Taken",
        "switch_load_a": "Switch Amps", "switch_load_kind": "Load Kind", "earthed": "Earth OK?",
        "changeover_in_use": "C/O Used?", "pump_distance_m": "Dist to Pump", "insertion_mm": "Insertion",
        "flow_direction_ok": "Arrow Right Way?", "lever": "Manual Lever",
    }),
    "visits": headers_of("visits", {
        "visit_id": "Job No", "home_id": "Prop Ref", "valve_id": "Valve No.", "system": "", "reported": "Raised",
        "attended": "Attended", "completed": "Completed", "kind": "Type of Job", "outcome": "Result",
        "symptom": "Fault Reported", "cause": "Fault Found", "action": "Work Done", "parts": "Materials Used",
        "hours": "Hrs", "cost_gbp": "Cost ex VAT", "engineer": "Operative", "notes": "Comments",
        "location_temp_c": "Cupboard Temp", "flow_temp_c": "Flow Temp", "store_temp_c": "Cyl Temp",
        "tap_temp_c": "Tap Temp",
        "bath_tap_temp_c": "Bath Tap Temp", "demand_heating": "CH Demand", "demand_hot_water": "HW Demand",
        "brown_live": "Brown Wire Live?", "white_live": "White Wire Live?", "grey_live": "Grey Wire Live?",
        "orange_live": "Orange Wire Live?", "position": "Position", "lever": "Manual Lever",
    }),
}  # fmt: skip

CALL_CENTRE: Final = {
    "homes": headers_of("homes", {
        "home_id": "PROPERTY ID", "uprn": "UPRN", "address": "ADDRESS", "postcode": "POSTCODE", "scheme": "BLOCK",
        "patch": "DISTRICT", "easting": "", "northing": "", "priority_household": "PRIORITY HOUSEHOLD",
        "gas_check_due": "NEXT GAS SERVICE DUE", "heating_renewal_due": "", "access_note": "ACCESS NOTES",
    }),
    "visits": headers_of("visits", {
        "visit_id": "WORKS ORDER NO", "home_id": "PROPERTY ID", "valve_id": "", "system": "",
        "reported": "DATE LOGGED", "attended": "DATE VISITED", "completed": "DATE CLOSED", "kind": "JOB CATEGORY",
        "outcome": "JOB OUTCOME", "symptom": "SYMPTOM", "cause": "CAUSE", "action": "ACTION", "parts": "PARTS",
        "hours": "LABOUR HOURS", "cost_gbp": "NET COST", "engineer": "ENGINEER CODE", "notes": "JOB NOTES",
        "location_temp_c": "", "flow_temp_c": "", "store_temp_c": "HW CYLINDER TEMP", "tap_temp_c": "HOT TAP TEMP",
        "bath_tap_temp_c": "",
        "demand_heating": "", "demand_hot_water": "", "brown_live": "", "white_live": "", "grey_live": "",
        "orange_live": "", "position": "", "lever": "",
    }),
}  # fmt: skip

SURVEYOR: Final = {
    "homes": headers_of("homes", {
        "home_id": "Dwelling No", "uprn": "UPRN", "address": "Dwelling Address", "postcode": "P/Code",
        "scheme": "Site", "patch": "Zone", "easting": "OS Easting", "northing": "OS Northing",
        "priority_household": "Priority Need", "gas_check_due": "Gas Check Due By", "heating_renewal_due": "",
        "access_note": "How to Get In",
    }),
    "valves": headers_of("valves", {
        "valve_id": "Valve ID", "home_id": "Dwelling No", "system": "System", "arrangement": "Arrangement",
        "circuit": "Serves", "ports": "Port Count", "body_size_mm": "Body Size mm", "head_kind": "Head Type",
        "wires": "Cable Cores", "voltage_v": "Supply Voltage", "make": "Maker", "model": "Model Name",
        "batch": "Batch Code", "body_fitted": "Body Install Date", "head_fitted": "Head Install Date",
        "head_detachable": "Head Comes Off?", "motor_replaceable": "", "isolation": "Can Be Isolated",
        "location": "Where", "location_temp_c": "Temp at Valve degC", "location_temp_on": "Temp at Valve Read On",
        "flow_temp_c": "Water Flow Temp degC", "flow_temp_on": "Water Flow Temp Read On",
        "switch_load_a": "End Switch Current A", "switch_load_kind": "", "earthed": "Earth Connected",
        "changeover_in_use": "", "pump_distance_m": "Pump Distance m", "insertion_mm": "Insertion Depth mm",
        "flow_direction_ok": "Flow Direction OK", "lever": "Lever State",
    }),
}  # fmt: skip

SHORT: Final = {
    "valves": headers_of("valves", {
        "valve_id": "V/No", "home_id": "Prop No", "system": "", "arrangement": "Plan", "circuit": "Cct",
        "ports": "Ports", "body_size_mm": "Size", "head_kind": "Head", "wires": "Cores", "voltage_v": "Volts",
        "make": "Mfr", "model": "Model", "batch": "Batch", "body_fitted": "Body inst.", "head_fitted": "Head inst.",
        "head_detachable": "", "motor_replaceable": "", "isolation": "Iso valves", "location": "Loc.",
        "location_temp_c": "Amb. temp", "location_temp_on": "", "flow_temp_c": "Flow temp.", "flow_temp_on": "",
        "switch_load_a": "", "switch_load_kind": "", "earthed": "Earthed y/n", "changeover_in_use": "",
        "pump_distance_m": "", "insertion_mm": "", "flow_direction_ok": "", "lever": "Lever",
    }),
    "visits": headers_of("visits", {
        "visit_id": "W/O No", "home_id": "Prop No", "valve_id": "V/No", "system": "", "reported": "Rep'd",
        "attended": "Att'd", "completed": "Comp'd", "kind": "Type", "outcome": "O/come", "symptom": "Fault",
        "cause": "Found", "action": "Done", "parts": "Parts", "hours": "Hrs", "cost_gbp": "£", "engineer": "Eng",
        "notes": "Rmks", "location_temp_c": "", "flow_temp_c": "", "store_temp_c": "Cyl. temp",
        "tap_temp_c": "Tap temp.",
        "bath_tap_temp_c": "", "demand_heating": "", "demand_hot_water": "", "brown_live": "", "white_live": "",
        "grey_live": "", "orange_live": "", "position": "", "lever": "Lever",
    }),
}  # fmt: skip

YES: Final = ("Y", "Yes", "YES", "yes", "y", "TRUE", "True", "1", "✓")
NO: Final = ("N", "No", "NO", "no", "n", "FALSE", "False", "0", "✗")

SPELLINGS: Final[Mapping[str, Mapping[str, tuple[str, ...]]]] = {
    "arrangement": {
        "two_port_zones": ("S Plan", "S-Plan", "s plan", "SPLAN", "S-Plan Plus", "2 port zone valves", "2 x 2 port"),
        "mid_position": ("Y Plan", "Y-Plan", "y plan", "YPLAN", "Mid position", "3 port mid position", "mid-pos"),
        "diverter": ("W Plan", "W-Plan", "w plan", "WPLAN", "Diverter", "3 port diverter", "Diverter valve"),
    },
    "circuit": {
        "heating": ("CH", "Heating", "Htg", "Central heating", "C/H", "Rads", "Radiators"),
        "hot_water": ("HW", "Hot water", "DHW", "H/W", "HWS", "Cylinder", "Domestic hot water"),
        "heating_2": ("Heating 2", "CH2", "Zone 2", "Heating zone 2", "CH 2", "Htg 2"),
        "heating_3": ("Heating 3", "CH3", "Zone 3", "Heating zone 3", "CH 3", "Htg 3"),
        "underfloor": ("UFH", "Underfloor", "Under floor heating", "Underfloor heating", "U/F heating"),
        "both": ("CH & HW", "Both", "Heating and hot water", "CH/HW", "CH+HW", "Heating & Hot Water"),
    },
    "head_kind": {
        "zone": ("Zone", "2 port", "Zone valve head", "2-port zone valve", "Two port", "Zone valve"),
        "zone_changeover": ("Zone changeover", "2 port changeover", "6 wire zone", "Zone with changeover", "Zone c/o"),
        "mid_position": ("Mid position", "Mid-position", "3 port mid position", "Mid pos", "MID POSITION"),
        "diverter": ("Diverter", "3 port diverter", "Diverter head", "Divertor", "DIVERTER"),
    },
    "lever": {
        "free": ("Free", "OK", "Moves freely", "free moving", "FREE"),
        "stiff": ("Stiff", "Tight", "Hard to move", "STIFF", "stiff to move"),
        "latched": ("Latched", "Left in manual", "Manual", "In manual position", "Latched open", "In MAN"),
    },
    "switch_load_kind": {
        "resistive": ("Resistive", "Res", "RESISTIVE", "Resistive load"),
        "inductive": ("Inductive", "Ind", "Pump", "Motor", "Inductive load"),
    },
    "location": {
        "airing_cupboard": ("Airing cupboard", "A/C", "Airing cpd", "Cylinder cupboard", "AIRING CUPBD", "Cyl cupbd"),
        "boiler_cupboard": ("Boiler cupboard", "Boiler cpd", "Boiler cup'd", "BOILER CUPBD", "Boiler cup"),
        "kitchen": ("Kitchen", "KITCHEN", "Kitchen unit", "kit", "In kitchen"),
        "utility_room": ("Utility room", "Utility", "Utility rm", "UTILITY"),
        "loft": ("Loft", "Attic", "Roof space", "Loft space", "In loft"),
        "garage": ("Garage", "GARAGE", "In garage"),
        "floor_void": ("Floor void", "Under floor", "Under floorboards", "Underfloor void", "Below floor"),
        "plant_room": ("Plant room", "Plantroom", "PLANT RM", "Boiler house"),
        "other": ("Other", "OTHER", "Elsewhere"),
    },
    "kind": {
        "call_out": ("Call out", "Callout", "Reactive", "Responsive repair", "Breakdown", "Emergency", "Repair"),
        "planned": ("Planned", "PPM", "Planned maintenance", "Programmed", "Planned works"),
        "safety_check": ("Gas service", "LGSR", "Annual service", "Gas safety check", "Service", "CP12"),
        "follow_on": ("Follow on", "Follow-on", "Follow up", "Return visit", "Revisit", "Follow on works"),
    },
    "outcome": {
        "fixed": ("Completed", "Complete", "Fixed", "Repaired", "Job complete", "Resolved", "Done"),
        "temporary": ("Temporary repair", "Temp repair", "Temp fix", "Temporary fix", "Temporary"),
        "no_fault_found": ("NFF", "No fault found", "No fault", "Nothing found", "nff"),
        "no_access": ("No access", "Carded", "No access - carded", "Failed access", "Tenant not in", "NO ACCESS"),
        "parts_needed": ("Parts required", "Awaiting parts", "Parts on order", "Parts req'd", "Parts needed"),
    },
    "symptom": {
        "no_heating": ("No heating", "No htg", "No CH", "Heating not working", "no c/h", "Heating not coming on"),
        "no_hot_water": ("No hot water", "No HW", "No H/W", "No DHW", "Hot water not working"),
        "no_heating_or_hot_water": ("No heating or hot water", "No CH/HW", "No htg/hw", "No heating & hot water",
                                    "No CH or HW"),
        "heating_stays_on": ("Heating stuck on", "Heating on constantly", "Heating won't turn off", "Htg stuck on",
                             "CH stuck on"),
        "hot_water_stays_on": ("HW stuck on", "Hot water on constantly", "Hot water won't turn off",
                               "Hot water stuck on"),
        "heating_with_hot_water_only": ("Heating only with hot water", "CH only with HW",
                                        "Heating only works with hot water on",
                                        "Heating comes on with hot water"),
        "too_hot": ("Too hot", "Overheating", "Water too hot", "Hot water too hot"),
        "leak": ("Leak", "Leaking valve", "Water leak", "Leaking", "Valve leaking"),
        "noise": ("Noisy", "Noise", "Banging", "Humming", "Noisy valve"),
        "other": ("Other", "OTHER", "Other fault"),
    },
    "cause": {
        "head": ("Head failed", "Faulty head", "Actuator failed", "Actuator faulty", "Head faulty"),
        "motor": ("Motor failed", "Motor burnt out", "Faulty motor", "Motor"),
        "end_switch": ("Microswitch failed", "Micro switch", "End switch", "End switch faulty"),
        "spring": ("Spring broken", "Return spring", "Spring failed", "Return spring failed"),
        "body": ("Valve seized", "Body seized", "Valve passing", "Valve body seized", "Valve stuck"),
        "wiring": ("Wiring", "Loose wire", "Loose connection", "Wiring fault"),
        "control": ("Programmer", "Room stat", "Thermostat", "Cylinder stat", "Wiring centre"),
        "lever": ("Lever left in manual", "Lever latched", "Left in manual", "Lever"),
        "leak": ("Leaking gland", "Leak", "Gland leaking", "Leaking joint"),
        "pump": ("Pump", "Pump failed", "Faulty pump", "Pump seized"),
        "boiler": ("Boiler", "Boiler fault", "Boiler lockout", "Boiler faulty"),
        "water_quality": ("Sludge", "Sludged up", "Dirty water", "Debris"),
        "none_found": ("None found", "NFF", "No fault found", "Nothing found"),
        "other": ("Other", "OTHER"),
    },
    "action": {
        "none": ("No action", "Nothing done", "No work done", "No action taken"),
        "reset_lever": ("Reset lever", "Lever reset", "Lever returned to auto", "Released lever"),
        "motor": ("New motor", "Motor replaced", "Replaced motor", "Motor renewed"),
        "head": ("New head", "Head replaced", "Replaced head", "New actuator", "Actuator replaced", "Renewed head"),
        "full": ("New valve", "Complete valve replaced", "Valve replaced", "New valve complete", "Replaced full valve"),
        "wiring": ("Rewired", "Wiring repaired", "Remade connections", "Wiring made good"),
        "earth": ("Earth connected", "Earth repaired", "Earth remade", "Earthed"),
        "relocate": ("Valve moved", "Relocated valve", "Valve relocated", "Moved valve"),
        "other_part": ("Other part", "New programmer", "New pump", "Replaced room stat", "New thermostat"),
    },
    "position": {
        "open": ("Open", "OPEN", "Fully open"),
        "closed": ("Closed", "Shut", "CLOSED"),
        "a": ("A", "Port A", "A port open"),
        "b": ("B", "Port B", "B port open"),
        "mid": ("Mid", "Mid position", "Midway", "MID"),
    },
    "item": {
        "labour_hour": ("Labour per hour",), "call_out": ("Call out",),
        "out_of_hours_call_out": ("Out of hours call out",), "head_zone": ("Zone valve head",),
        "head_zone_changeover": ("Zone valve head with changeover",), "head_mid_position": ("Mid position head",),
        "head_diverter": ("Diverter head",), "motor": ("Motor",), "valve_2port_22": ("2 port valve 22mm",),
        "valve_2port_28": ("2 port valve 28mm",), "valve_3port_22": ("3 port valve 22mm",),
        "valve_3port_28": ("3 port valve 28mm",), "inhibitor": ("Inhibitor",), "relay": ("Relay",),
    },
    "unit": {
        "each": ("Each", "ea"), "hour": ("Hour", "hr", "per hour"), "visit": ("Visit", "per visit"), "dose": ("Dose",),
    },
}  # fmt: skip
SPELLINGS_OF_PARTS: Final = {"part": SPELLINGS["item"]}


def spelt(column: str) -> Cell:
    """The trade's names of a word, one after the other."""
    names = SPELLINGS_OF_PARTS.get(column) or SPELLINGS[column]
    return lambda value, n: None if value is None else names[value][n % len(names[value])]


def yes_no(value: Any, n: int) -> Any:
    """Yes and no in every form."""
    return None if value is None else (YES if value == "yes" else NO)[n % len(YES)]


def trade(table: str, records: list[Record]) -> dict[str, Cell]:
    """Every coded column in the trade's own words."""
    coded = [c for c in records[0] if rule(table, c).kind == "word"]
    return {c: yes_no if set(rule(table, c).words or ()) == {"yes", "no"} else spelt(c) for c in coded}
