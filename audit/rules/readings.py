"""Readings: the part that the engineer's last measurements name, where nothing was done about it since."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from audit.model import Facts, Rule
from audit.rules.hits import day_text, hits
from schemas.words import READING_PART

if TYPE_CHECKING:
    import pandas as pd

    from audit.policy import Policy

NEEDS: Final = ("visits.brown_live or visits.white_live or visits.grey_live or visits.orange_live or visits.position",)
FIRST: Final = "Measure again before a part is fitted: "


def readings_name_head(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Valves whose last readings name a part of the head, or spring or body: a head goes first."""
    return _named(facts, policy, ("motor", "end_switch", "spring_or_body"))


def readings_name_body(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Valves whose last readings name the body."""
    return _named(facts, policy, ("body",))


def readings_name_wiring(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Valves whose last readings name controls or wiring, not the valve."""
    return _named(facts, policy, ("controls_or_wiring",))


def _named(facts: Facts, policy: Policy, parts: tuple[str, ...]) -> pd.DataFrame:
    from audit.readings.named import read_parts

    rows = read_parts(facts, policy)
    rows = rows[rows["part"].isin(parts)]
    what = rows["part"].map(READING_PART).astype("str")
    statement = "Readings of " + day_text(rows["at"]) + " (" + rows["visit_id"] + ") fit one fault only: " + what + "."
    return hits(rows, statement=statement, observed=what, limit="as a sound valve reads")


RULES: Final = (
    Rule(
        name="readings-name-head",
        family="readings",
        severity="fault",
        fires="The last wires and position read at the valve, no longer ago than this, fit one fault only: motor, end "
        "switch, or spring or body; and nothing was done there since.",
        why="A sound valve cannot read like that.",
        action=FIRST + "then renew the motor or the head; where a new head does not spring back, the body.",
        limits=("repeats.act_window",),
        needs=NEEDS,
        remedy="renew_head",
        check=readings_name_head,
    ),
    Rule(
        name="readings-name-body",
        family="readings",
        severity="fault",
        fires="The last readings at the valve, no longer ago than this, fit a stuck body only; and nothing was done "
        "there since.",
        why="The motor drives and the spindle does not move: a new head would meet the same body.",
        action=FIRST + "then renew the whole valve.",
        limits=("repeats.act_window",),
        needs=NEEDS,
        remedy="renew_body",
        check=readings_name_body,
    ),
    Rule(
        name="readings-name-wiring",
        family="readings",
        severity="fault",
        fires="The last readings at the valve, no longer ago than this, fit controls or wiring only; and nothing was "
        "done there since.",
        why="Heat is called for and the drive wire is dead: the valve is not told to move.",
        action="Find the break between control and valve; renew nothing at the valve.",
        limits=("repeats.act_window",),
        needs=NEEDS,
        remedy="wiring",
        check=readings_name_wiring,
    ),
)
