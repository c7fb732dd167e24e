"""Notes as call centres and engineers write them: an opening, a finding, what was done, an end."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from audit.sample import draw
from audit.sample.draw import Ints
from audit.sample.jobs import ACTIONS, CAUSES, SYMPTOMS

OPENING: Mapping[str, Sequence[str]] = {
    "no_heating": ("no htg", "ten rep no heating, HW ok", "rads cold", "htg not coming on", "no CH, hot water fine"),
    "no_hot_water": ("no HW", "no hot water htg ok", "cyl cold", "HW not heating up", "ten rep no hot water"),
    "no_heating_or_hot_water": ("no htg/HW", "nothing working", "total loss htg and hot water", "no CH or HW"),
    "heating_stays_on": ("htg stuck on", "rads hot all the time", "cant turn htg off", "heating on with stat down"),
    "hot_water_stays_on": ("HW stuck on", "cyl overheating, HW wont go off", "hot water on constant"),
    "heating_with_hot_water_only": ("htg only works when HW on", "rads warm on HW only", "CH comes on with HW"),
    "too_hot": ("too hot", "house too hot", "water scalding hot"),
    "leak": ("leak at valve", "water dripping in cupbd", "weep on mv", "leak by cylinder"),
    "noise": ("banging pipes", "humming from cupbd", "valve grinding", "noisy, ten cant sleep"),
    "other": ("see job notes", "ten not sure, controls odd", "intermittent fault", "htg playing up"),
}
FINDING: Mapping[str, Sequence[str]] = {
    "head": ("head u/s", "actuator dead", "head not driving", "found faulty head", "act not opening valve"),
    "motor": ("motor burnt out", "synchron motor dead", "mv not motoring", "motor o/c", "230v at motor, no turn"),
    "end_switch": ("microswitch u/s", "end sw not making", "m/sw sticking", "no switched live out of valve"),
    "spring": ("spring gone", "not springing back", "return spring weak", "paddle not returning"),
    "body": ("body seized", "spindle stiff", "valve passing", "lever v stiff, body stuck", "ball stuck in body"),
    "wiring": ("loose conn in wiring centre", "loose wire found", "neutral off in junc box", "burnt terminal in w/c"),
    "control": ("stat faulty", "prog u/s", "room stat batteries", "timer set wrong", "receiver lost pairing"),
    "lever": ("lever left on man", "valve on manual", "latched open from last drain down"),
    "leak": ("gland weeping", "comp joint weeping", "leak from spindle", "o ring gone"),
    "pump": ("pump seized", "pump u/s", "airlock at pump", "pump not circulating"),
    "boiler": ("boiler lockout", "fan fault on boiler", "low press on boiler", "ignition fault"),
    "water_quality": ("system filthy", "black water, sludge", "debris in valve", "magnetite all through"),
    "none_found": ("NFF", "all ok on arrival", "tested ok no fault found", "working when i got there"),
    "other": ("various", "see photo", "trv stuck", "cyl stat loose"),
}
DONE: Mapping[str, Sequence[str]] = {
    "none": ("left working", "monitor", "reset and left on test", "ran through full cycle"),
    "motor": ("new motor", "fitted motor only", "swapped synchron", "motor chgd"),
    "head": ("new head", "fitted new act", "head replaced", "chgd head no drain", "swapped top half"),
    "full": ("drained, new valve", "compl valve replaced", "full valve chgd, inhib added", "d/down refill vent"),
    "wiring": ("remade conn", "tightened all terminals", "rewired valve", "wiring put right"),
    "reset_lever": ("put back to auto", "lever reset", "took off manual"),
    "earth": ("earth reconnected", "earth remade + tested"),
    "relocate": ("moved valve out of cupbd", "relocated valve"),
    "other_part": ("part fitted", "replaced", "new part fitted and tested", "repl and commissioned"),
}
ENDING: Sequence[str] = (
    "", "", "", " tested ok", ", tested ok", ". all working on dep", " ok", ". ten happy", ", left on", ". adv ten",
    " - ok", ". job comp", ", needs inhib next visit", ". photos taken", ", 2nd visit", " tstd htg + HW",
)  # fmt: skip
NO_ACCESS: Sequence[str] = (
    "no access, carded", "N/A carded", "no answer, left card", "nobody in", "ten refused, rebook", "carded 2x knocked",
)  # fmt: skip
PARTS: Sequence[str] = (
    "parts ord", "need to return with part", "no stock on van", "part from merchant tmrw", "req part, rebook",
)  # fmt: skip
CHECK: Sequence[str] = (
    "annual check done", "LGSR done all ok", "safety check comp", "serviced + cert", "gas check ok", "",
)  # fmt: skip
LOOKED: Sequence[str] = ("inspected valves", "temps taken", "planned insp, all ok", "checked valves + levers", "")
GAPS: Sequence[str] = (", ", ". ", " - ", " / ", ",")


def write_notes(rows: pd.DataFrame, rng: np.random.Generator) -> pd.Series[str]:
    """One note a visit from its codes `symptom`, `found`, `did`, `kind`, `stage` (0 missed, 1 fetch, 2 done)."""
    n = len(rows)
    gap = _one(GAPS, n, rng)
    opening = _said(OPENING, SYMPTOMS, rows["symptom"].to_numpy(), gap, rng)
    fault = draw.joined(opening, _said(FINDING, CAUSES, rows["found"].to_numpy(), gap, rng))
    done = _said(DONE, ACTIONS, rows["did"].to_numpy(), pd.Series([""]).repeat(n).reset_index(drop=True), rng)
    stage, kind = rows["stage"].to_numpy(), rows["kind"].to_numpy()
    looked = (kind == 1) & (rows["did"].to_numpy() == 0)
    note = draw.joined(fault, done, _one(ENDING, n, rng))
    note = note.where(~looked, _one(LOOKED, n, rng)).where(kind != 2, _one(CHECK, n, rng))
    note = note.where(stage != 1, draw.joined(fault, _one(PARTS, n, rng))).where(stage != 0, _one(NO_ACCESS, n, rng))
    return note.where((rng.random(n) > 0.12) & (note != ""))


def _one(choices: Sequence[str], n: int, rng: np.random.Generator) -> pd.Series[str]:
    return draw.words(rng.integers(0, len(choices), n), choices)


def _said(
    table: Mapping[str, Sequence[str]], names: Sequence[str], code: Ints, gap: pd.Series[str], rng: np.random.Generator
) -> pd.Series[str]:
    """One of the ways to say each word, with the gap after it; nothing where the word is missing."""
    flat = [text for name in names for text in table[name]]
    count = np.array([len(table[name]) for name in names])
    first = np.cumsum(count) - count
    place = first[code] + (rng.random(code.size) * count[code]).astype(np.int64)
    return draw.joined(draw.words(place, flat), gap).where(code >= 0, "")
