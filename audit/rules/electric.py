"""Electric: end switches with too much on them, heads without an earth, two voltages in one system."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from audit.model import Facts, Rule
from audit.rules.hits import hits, number_text

if TYPE_CHECKING:
    import pandas as pd

    from audit.policy import Policy

ELV: Final = "electric.extra_low_voltage"
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
    """Heads recorded as not earthed; those known to be on extra-low voltage (limit in V) need no protective earth."""
    valves = facts.valves
    low = valves["voltage_v"].le(policy.number(ELV))
    rows = valves[valves["earthed"].eq("no") & ~low]
    statement = "Head recorded as not earthed; a Class I head relies on its earth against electric shock."
    return hits(rows, statement=statement, observed="not earthed", limit="earthed")


def mixed_voltages(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Home systems with both extra-low-voltage and mains heads; the limit between them is in V."""
    limit = policy.number(ELV)
    known = facts.valves[facts.valves["voltage_v"].notna()]
    span = known.groupby(["home_id", "system"], as_index=False)["voltage_v"].agg(["min", "max"])
    rows = span[span["min"].le(limit) & span["max"].gt(limit)]
    seen = number_text(rows["min"]) + " V and " + number_text(rows["max"]) + " V"
    statement = "Heads for " + seen + " in one heating system (" + rows["system"] + ")."
    return hits(rows, statement=statement, observed=seen, limit="one voltage", group=rows["system"])


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
        remedy="wiring",
        check=switch_overloaded,
    ),
    Rule(
        name="not-earthed",
        family="electric",
        severity="danger",
        fires="The head is recorded as not earthed and no later visit put it right. Heads known to be on extra-low "
        "voltage are left out.",
        why="The metal of a Class I head can become live if its basic insulation fails and no earth is there.",
        action="Isolate the head until its earth is connected and proved; a competent person only.",
        limits=(ELV,),
        needs=("valves.earthed",),
        remedy="earth",
        check=not_earthed,
        source="IEC 61140, protective earth of Class I equipment; every head is taken as Class I (assumed)",
    ),
    Rule(
        name="mixed-voltages",
        family="electric",
        severity="fault",
        fires="One heating system of a home has extra-low-voltage and mains heads.",
        why="A head on the wrong supply burns out, and extra-low-voltage wiring may carry mains.",
        action="Prove the supply of each head, keep the circuits apart, and bring the system to one voltage.",
        limits=(ELV,),
        needs=("valves.voltage_v",),
        remedy="wiring",
        check=mixed_voltages,
    ),
)
