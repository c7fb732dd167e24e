"""What wire readings of one visit show of one head, where they show it beyond doubt (common practice, no source).

A meter shows demand, drive wire, orange wire and position. Nothing is said where a reading that matters is missing or
where something else in the home could explain it: an end switch's orange wire is often joined to that of other heads,
so a live one proves a welded switch only with no other demand.
"""

from __future__ import annotations

import pandas as pd

READ = ("demand_heating", "demand_hot_water", "brown_live", "white_live", "grey_live", "orange_live", "position")


def shown(rows: pd.DataFrame, valves: pd.DataFrame) -> dict[str, pd.Series]:
    """Say what the readings of each visit show.

    Args:
        rows: Visits with `valve_id` and the reading columns.
        valves: `facts.valves`, for head_kind and circuit.

    Returns:
        Boolean columns on the index of `rows`: drive_dead (called for, and no drive), not_moved (driven, and still at
        rest), not_made (driven and moved, and the end switch open), welded (at rest or released, and the switch made
        with no demand), held_open (not driven, and not at rest).
    """
    seen = rows.loc[rows["position"].notna() | rows[["brown_live", "white_live"]].notna().any(axis=1)]
    about = valves.set_index("valve_id")[["head_kind", "circuit"]].reindex(pd.Index(seen["valve_id"]))
    kind, circuit = (about[name].set_axis(seen.index) for name in ("head_kind", "circuit"))
    zone, mid, diverter = kind.isin(("zone", "zone_changeover")), kind.eq("mid_position"), kind.eq("diverter")
    yes = {name: seen[name].eq("yes") for name in READ[:-1]}
    no = {name: seen[name].eq("no") for name in READ[:-1]}
    at = {word: seen["position"].eq(word) for word in ("open", "closed", "a", "b", "mid")}
    water = circuit.eq("hot_water") | diverter
    wanted = yes["demand_hot_water"].where(water, yes["demand_heating"])
    no_demand = no["demand_heating"] & no["demand_hot_water"]
    driven = (zone | diverter) & yes["brown_live"]
    undriven = (zone | diverter) & no["brown_live"]
    to_heating = mid & yes["white_live"] & yes["grey_live"]
    at_rest = (zone & at["closed"]) | (diverter & at["a"]) | (mid & at["b"])
    moved = (zone & at["open"]) | (diverter & at["b"])
    fed = ~zone | yes["grey_live"]  # the volt-free switch of a zone head shows nothing unless its feed is live
    found = {
        "drive_dead": wanted & (undriven | (mid & no["white_live"])),
        "not_moved": (driven | to_heating) & at_rest,
        "not_made": ((driven & zone & moved) | (to_heating & at["a"])) & no["orange_live"] & fed,
        "welded": no_demand & yes["orange_live"] & ((undriven & zone & at["closed"]) | (mid & no["white_live"])),
        "held_open": (undriven & moved) | (mid & no["white_live"] & no["grey_live"] & (at["a"] | at["mid"])),
    }
    return {name: flag.reindex(rows.index, fill_value=False).astype(bool) for name, flag in found.items()}
