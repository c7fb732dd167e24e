"""Electric: end switches with too much on them, heads whose earth is missing or unknown, two voltages in one system."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from audit.model import Facts, Rule
from audit.rules.hits import count_text, hits, no_hits, number_text, seen_on

if TYPE_CHECKING:
    import pandas as pd

    from audit.policy import Policy

ELV: Final = "electric.extra_low_voltage"
EARTH: Final = "IEC 61140, protective earth of Class I equipment; every head is taken as Class I (assumed)"
RELIES: Final = "a Class I head relies on its earth against electric shock."
RESISTIVE, INDUCTIVE = "electric.switch_resistive", "electric.switch_inductive"


def switch_overloaded(facts: Facts, policy: Policy) -> pd.DataFrame:
    """End switches that carry more, in A, than the limit for what they feed.

    Where it is not recorded what they feed, only a load above both limits fires.
    """
    valves = facts.valves
    resistive, inductive = policy.number(RESISTIVE), policy.number(INDUCTIVE)
    kind = valves["switch_load_kind"]
    most = np.select([kind.eq("inductive"), kind.eq("resistive")], [inductive, resistive], max(resistive, inductive))
    rows = valves.assign(limit=most)[valves["switch_load_a"] > most]
    load, limit, kind = rows["switch_load_a"], rows["limit"], rows["switch_load_kind"]
    statement = (
        "End switch carries " + number_text(load) + " A " + kind.fillna("of unrecorded kind") + ", above the limit of "
        + number_text(limit) + " A."
    )  # fmt: skip
    source = kind.eq("inductive").map({True: policy[INDUCTIVE].source, False: policy[RESISTIVE].source})
    return hits(
        rows,
        statement=statement,
        observed=number_text(load),
        limit=limit,
        unit="A",
        margin=load - limit,
        limit_source=source,
    )


def not_earthed(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Heads not earthed as last known, where an earth is needed; a home where nobody wrote which head it is."""
    import pandas as pd

    valves = _needing_earth(facts, policy)
    rows = valves[valves["earthed"].eq("no")]
    found = "Head found without a proved earth" + seen_on(rows["earthed_on"])
    statement = found.mask(rows["earthed_on"].isna(), "Head recorded as not earthed") + "; " + RELIES + _since(rows)
    named = hits(rows, statement=statement, observed="not earthed", limit="earthed")
    which = _which_head(facts, valves)
    return pd.concat([named, which[~which["valve_id"].isin(rows["valve_id"])]], ignore_index=True)


def _since(rows: pd.DataFrame) -> pd.Series:
    """What was done about the earth without proving it, to follow the statement."""
    fixed = rows["earth_unproved_outcome"].eq("fixed").map({True: "fixed", False: "put right"})
    unproved = " Marked " + fixed + seen_on(rows["earth_unproved_on"]) + ", but the earth was not written as proved."
    isolated = " It was left isolated" + seen_on(rows["isolated_on"]) + "."
    return unproved.where(rows["earth_unproved_on"].notna(), "") + isolated.where(rows["isolated_on"].notna(), "")


def _which_head(facts: Facts, valves: pd.DataFrame) -> pd.DataFrame:
    """Homes where a visit found no earth and names no valve: the only head that needs one, else the home.

    A later visit of the kind that proved it closes the matter, and so do later proofs of every head there.
    """
    told = facts.visits[facts.visits["valve_id"].isna() & facts.visits["earthed"].isin(["yes", "no"])]
    last = told.sort_values("at", kind="stable").drop_duplicates("home_id", keep="last").sort_values("home_id")
    rows = last[last["earthed"].eq("no")].reset_index(drop=True)
    on = rows.set_index("home_id")["at"].dt.normalize()
    proved = valves["earthed"].eq("yes") & (valves["earthed_on"] > on.reindex(valves["home_id"]).set_axis(valves.index))
    heads = valves[~proved].groupby("home_id")["valve_id"].agg(["size", "first"]).reindex(rows["home_id"])
    of_home = facts.valves.groupby("home_id").size().reindex(rows["home_id"]).fillna(0).set_axis(rows.index)
    heads = heads.set_axis(rows.index)
    rows = rows.assign(valve_id=heads["first"].where(heads["size"].eq(1)))[heads["size"].ge(1) | of_home.eq(0)]
    one = rows["valve_id"].notna()
    found = "No earth was proved at a head" + seen_on(rows["at"]) + " (visit " + rows["visit_id"] + ")"
    several = count_text(heads["size"].fillna(0), "valve")
    asked = ", and the visit does not say at which of " + several + " (which head?)"
    statement = found + asked.mask(one, "") + "; " + RELIES
    return hits(rows.drop(columns="visit_id"), statement=statement, observed="not earthed", limit="earthed")


def earth_not_recorded(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Heads of which nobody recorded whether they are earthed, where an earth is needed."""
    valves = _needing_earth(facts, policy)
    rows = valves[valves["earthed"].isna()]
    statement = "Not recorded whether the head is earthed; a Class I head relies on its earth against electric shock."
    return hits(rows, statement=statement, observed="not recorded", limit="earthed")


def _needing_earth(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Valves but those known to be on extra-low voltage (limit in V), which need no protective earth."""
    return facts.valves[~facts.valves["voltage_v"].le(policy.number(ELV))]


def mixed_voltages(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Home systems with both extra-low-voltage and mains heads; the limit between them is in V.

    Danger, but a fault where underfloor loops alone have the extra-low voltage: those often have their own supply.
    """
    limit = policy.number(ELV)
    known = facts.valves[facts.valves["voltage_v"].notna()]
    known = known.assign(low=known["voltage_v"].le(limit), mains=known["voltage_v"].gt(limit))
    of_system = known.groupby(["home_id", "system"])
    known = known[of_system["low"].transform("any") & of_system["mains"].transform("any")]
    if known.empty:
        return no_hits()
    known = known.assign(odd=known["low"] & known["circuit"].ne("underfloor"))
    rows = known.groupby(["home_id", "system"], as_index=False).agg(
        least=("voltage_v", "min"), most=("voltage_v", "max"), odd=("odd", "any")
    )
    seen = number_text(rows["least"]) + " V and " + number_text(rows["most"]) + " V"
    low, mains = (_named(known[known[side]], rows) for side in ("low", "mains"))
    statement = "Heads for " + seen + " in one heating system (" + rows["system"] + "): extra-low voltage " + low
    statement += "; mains " + mains + "."
    severity = rows["odd"].map({True: "danger", False: "fault"})
    return hits(rows, statement=statement, observed=seen, limit="one voltage", group=rows["system"], severity=severity)


def _named(valves: pd.DataFrame, rows: pd.DataFrame) -> pd.Series:
    """The ids of the valves of each home and system, in order."""
    import pandas as pd

    names = valves.groupby(["home_id", "system"])["valve_id"].agg(", ".join)
    return names.reindex(pd.MultiIndex.from_frame(rows[["home_id", "system"]])).set_axis(rows.index)


RULES: Final = (
    Rule(
        name="switch-overloaded",
        family="electric",
        severity="fault",
        fires="The end switch carries more current than the limit for its kind of load.",
        why="Overloaded contacts weld or burn: the boiler then runs with no demand, or not at all.",
        action="Take the load off the end switch with a relay, and renew the head if the contacts are burnt.",
        limits=(RESISTIVE, INDUCTIVE),
        needs=("valves.switch_load_a",),
        remedy="relay",
        check=switch_overloaded,
    ),
    Rule(
        name="not-earthed",
        family="electric",
        severity="danger",
        fires="The register or a visit says that the head is not earthed, and no later visit proved it. Proof is "
        "earthed = yes, or, in a log that does not ask for it, an earth put right, the job fixed and no note against "
        "it. Where a visit does not say which head, it is the home. Heads known to be on extra-low voltage are left "
        "out.",
        why="The metal of a Class I head can become live if its basic insulation fails and no earth is there.",
        action="Isolate the head until its earth is connected and proved; a competent person only. Write the proof on "
        "the visit (Earth proved = yes): fixed alone does not close a danger.",
        limits=(ELV,),
        needs=("valves.earthed or visits.earthed",),
        remedy="earth",
        check=not_earthed,
        source=EARTH,
    ),
    Rule(
        name="earth-not-recorded",
        family="electric",
        severity="record",
        fires="Nothing is recorded of the head's earth, and no visit put it right. Heads known to be on extra-low "
        "voltage are left out.",
        why="Whether the head is safe to touch cannot be told; a missing earth shows only when somebody looks.",
        action="Have the earth looked at on the next visit, whatever it is for, by a competent person, and enter it in "
        "earthed; no visit of its own.",
        limits=(ELV,),
        needs=("valves.earthed",),
        remedy="",
        check=earth_not_recorded,
        source=EARTH,
    ),
    Rule(
        name="mixed-voltages",
        family="electric",
        severity="danger",
        fires="One heating system of a home has extra-low-voltage and mains heads. A fault, not danger, where "
        "underfloor loops alone have the extra-low voltage: those often have a supply of their own.",
        why="A 24 V head on mains burns out and can set fire, and wiring made for extra-low voltage may carry mains; "
        "or the record is wrong.",
        action="Prove the supply of each head. Isolate one on the wrong supply until it is changed or re-wired, keep "
        "extra-low voltage and mains apart, and mend the record where that is wrong; a competent person only.",
        limits=(ELV,),
        needs=("valves.voltage_v",),
        remedy="one_voltage",
        check=mixed_voltages,
        source="IEC 60364-4-41, clause 414: extra-low voltage kept apart from mains (from memory, check the clause)",
    ),
)
