"""Fit: head, body, wires and pipework that do not suit each other, and levers as last found."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from audit.model import Facts, Rule
from audit.rules.hits import head_text, hits, number_text, seen_on

if TYPE_CHECKING:
    import pandas as pd

    from audit.policy import Policy

TRADE: Final = "common practice, no source"
TWO_PORT_HEADS: Final = ("zone", "zone_changeover")
TWO_POSITION_HEADS: Final = (*TWO_PORT_HEADS, "diverter")
WIRES: Final = {"diverter": 3, "zone": 5, "zone_changeover": 6, "mid_position": 5}  # earth included
ZONE_WIRES: Final = (WIRES["zone"], WIRES["zone_changeover"])


def head_does_not_suit_body(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Three-port heads on two-port bodies; two-position heads on three-port bodies piped as mid-position.

    A two-position head on a three-port body piped as diverter is accepted: its switch wires stay unused.
    """
    valves = facts.valves
    head, three = valves["head_kind"], valves["ports"].eq(3)
    on_two = valves["ports"].eq(2) & head.notna() & ~head.isin(TWO_PORT_HEADS)
    on_three = three & head.isin(TWO_POSITION_HEADS) & valves["arrangement"].eq("mid_position")
    rows = valves[on_two | on_three]
    body = rows["ports"].map({2.0: "two-port body", 3.0: "three-port body piped as mid-position"}).astype("str")
    why = rows["ports"].map({
        2.0: "it needs a three-port body",
        3.0: "it has two positions, so it can only divert",
    })  # fmt: skip
    head = head_text(rows["head_kind"])
    statement = head.str.capitalize() + " on a " + body + ": " + why.astype("str") + "."
    seen = head + ", " + body
    return hits(rows, statement=statement, observed=seen, limit="a head made for the body")


def wires_do_not_match_head(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Cables with another number of wires than the head's kind has.

    Zone heads with five and with six wires stand in for each other unless the changeover contact is in use, which only
    a changeover head with six wires serves.
    """
    valves = facts.valves
    kind, wires = valves["head_kind"], valves["wires"]
    due = kind.map(WIRES).astype("float64")
    zone = kind.isin(TWO_PORT_HEADS)
    used = zone & valves["changeover_in_use"].eq("yes")
    wrong = np.select(
        [used, zone], [kind.ne("zone_changeover") | wires.ne(due), ~wires.isin(ZONE_WIRES)], default=wires.ne(due)
    )
    rows = valves.assign(due=due.mask(used, WIRES["zone_changeover"]), used=used)
    rows = rows[wires.notna() & due.notna() & wrong]
    number, due_text = number_text(rows["wires"]), number_text(rows["due"])
    takes = "; such a head has " + due_text + "."
    used_takes = ", and the changeover contact is in use: that takes a zone head with changeover switch and " + due_text
    return hits(
        rows,
        statement=head_text(rows["head_kind"]).str.capitalize()
        + " on a cable of "
        + number
        + " wires"
        + takes.mask(rows["used"], used_takes + " wires."),
        observed=number,
        limit=rows["due"],
        unit="wires",
        margin=(rows["wires"] - rows["due"]).abs(),
    )


def too_close_to_pump(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Less pipe between pump and valve than the limit in m."""
    limit = policy.number("fit.pump_distance")
    rows = facts.valves[facts.valves["pump_distance_m"] < limit]
    pipe = rows["pump_distance_m"]
    statement = number_text(pipe) + f" m of pipe between pump and valve; at least {limit:g} m is needed."
    return hits(rows, statement=statement, observed=number_text(pipe), limit=limit, unit="m", margin=limit - pipe)


def insertion_out_of_range(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Pipes pushed less or further into 22 mm and 28 mm bodies than the limits in mm; on a limit is fine."""
    valves = facts.valves
    sizes = [valves["body_size_mm"].eq(22), valves["body_size_mm"].eq(28)]
    low, high = (
        np.select(sizes, [policy.number(f"fit.insertion_{size}_{end}") for size in (22, 28)], default=np.nan)
        for end in ("low", "high")
    )
    pushed = valves["insertion_mm"]
    short, far = low - pushed, pushed - high
    rows = valves.assign(low=low, high=high, margin=short.where(short > 0, far))[(short > 0) | (far > 0)]
    band = number_text(rows["low"]) + " to " + number_text(rows["high"])
    limit = rows["low"].where(rows["insertion_mm"] < rows["low"], rows["high"])
    statement = (
        "Pipe pushed in " + number_text(rows["insertion_mm"]) + " mm; a " + number_text(rows["body_size_mm"])
        + " mm body takes " + band + " mm."
    )  # fmt: skip
    return hits(
        rows,
        statement=statement,
        observed=number_text(rows["insertion_mm"]),
        limit=limit,
        unit="mm",
        margin=rows["margin"],
    )


def flow_direction_wrong(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Bodies recorded with water going against their marks."""
    rows = facts.valves[facts.valves["flow_direction_ok"].eq("no")]
    statement = "Water goes through the body against its marks, as recorded."
    return hits(rows, statement=statement, observed="against the marks", limit="with the marks")


def lever_left_latched(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Levers last recorded as latched."""
    rows = facts.valves[facts.valves["lever"].eq("latched")]
    statement = "Lever left latched" + _lever_seen(rows) + ": the valve stays open, heat with no demand."
    return hits(rows, statement=statement, observed="latched", limit="free")


def lever_stiff(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Levers last recorded as stiff."""
    rows = facts.valves[facts.valves["lever"].eq("stiff")]
    statement = "Lever stiff" + _lever_seen(rows) + ": the body is seizing, and wears out any head on it."
    return hits(rows, statement=statement, observed="stiff", limit="free")


def _lever_seen(rows: pd.DataFrame) -> pd.Series:
    """When the lever was seen so, and what the register, which gives no day, says against it."""
    other = rows["lever_registered"].notna() & rows["lever_registered"].ne(rows["lever"])
    against = " (the register, without a date, says " + rows["lever_registered"] + ")"
    return seen_on(rows["lever_on"]) + against.where(other, "")


RULES: Final = (
    Rule(
        name="head-does-not-suit-body",
        family="fit",
        severity="fault",
        fires="A three-port head is on a two-port body, or a two-position head on a three-port body piped as "
        "mid-position.",
        why="Such a head cannot bring the body to every position that the heating calls for.",
        action="Fit the kind of head that suits body and piping, and wire it for that.",
        limits=(),
        needs=("valves.head_kind", "valves.ports"),
        remedy="change_head_kind",
        check=head_does_not_suit_body,
        source=TRADE,
    ),
    Rule(
        name="wires-do-not-match-head",
        family="fit",
        severity="fault",
        fires="The cable has not the wires of its kind of head: diverter 3, zone 5, zone with changeover 6, "
        "mid-position 5. Five and six stand in for each other where the changeover contact is not in use.",
        why="A wire too few or too many means another head than recorded, or a contact left out of the circuit.",
        action="Prove head and wiring on site; fit the kind that the wiring needs, or mend the record.",
        limits=(),
        needs=("valves.head_kind", "valves.wires"),
        remedy="prove_head",
        check=wires_do_not_match_head,
        source=TRADE,
    ),
    Rule(
        name="too-close-to-pump",
        family="fit",
        severity="fault",
        fires="There is less pipe than this between pump and valve.",
        why="Turbulence from the pump hammers the valve and wears spindle and gears.",
        action="Re-make the pipework with the valve further from the pump.",
        limits=("fit.pump_distance",),
        needs=("valves.pump_distance_m",),
        remedy="repipe",
        check=too_close_to_pump,
    ),
    Rule(
        name="insertion-out-of-range",
        family="fit",
        severity="fault",
        fires="The pipe is pushed into the body less or further than this; exactly on either limit is fine.",
        why="Too short, the joint weeps or lets go; too far, the pipe stands in the way of the ball.",
        action="Re-make the joint to the depth that the body takes.",
        limits=("fit.insertion_22_low", "fit.insertion_22_high", "fit.insertion_28_low", "fit.insertion_28_high"),
        needs=("valves.insertion_mm", "valves.body_size_mm"),
        remedy="repipe",
        check=insertion_out_of_range,
    ),
    Rule(
        name="flow-direction-wrong",
        family="fit",
        severity="fault",
        fires="Water is recorded as going against the body's marks.",
        why="The valve closes against the flow: it hammers, passes, or never shuts.",
        action="Turn the body round, or re-pipe it.",
        limits=(),
        needs=("valves.flow_direction_ok",),
        remedy="repipe",
        check=flow_direction_wrong,
        source=TRADE,
    ),
    Rule(
        name="lever-left-latched",
        family="fit",
        severity="fault",
        fires="The lever was last recorded in its filling position.",
        why="The valve then stays open: rooms or cylinder heat with no demand.",
        action="Take the lever out of its filling position and test that the valve closes.",
        limits=(),
        needs=("valves.lever or visits.lever",),
        remedy="reset_lever",
        check=lever_left_latched,
        source=TRADE,
    ),
    Rule(
        name="lever-stiff",
        family="fit",
        severity="fault",
        fires="The lever was last recorded as stiff.",
        why="A stiff lever points at the body; a new head on it works against the same friction.",
        action="Renew the whole valve rather than the head.",
        limits=(),
        needs=("valves.lever or visits.lever",),
        remedy="renew_body",
        check=lever_stiff,
        source=TRADE,
    ),
)
