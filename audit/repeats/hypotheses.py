"""What may lie behind a chain, which clues speak for and against it, and by how many points.

The points are common practice put into numbers (assumed, no source): 1 is a hint, 3 a good sign, 5 close to proof. A clue
seen twice or more weighs half as much again. The hypothesis with most points is shown with what speaks against it and
with the next best. Heat and a bad batch wear out switches and springs, so that such a part found at fault speaks for them
as well; it is a reading of the log, to be proved on site, and never says anything of a person.
"""

# ruff: noqa: E501  # the tables read best with a line an entry
from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import pandas as pd

AGAIN: Final = 1.5  # factor on the points of a clue seen twice or more
LEAST: Final = 2.0  # points below which nothing is named
STRONG, FAIR = (6.0, 3.0), (3.5, 1.5)  # points, and lead over the next best
UNCLEAR: Final = "unclear"
ANY: Final = ("any",)  # whatever the last visit did, once it was completed


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """A possible root. `{valve}` in `next_step` is the valve concerned; `cures` are the actions that put it right."""

    name: str
    label: str
    next_step: str
    cures: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Clue:
    """A fact that the log can show, in the reader's words, and its points for (+) and against (-) each hypothesis."""

    name: str
    label: str
    points: Mapping[str, float] = field(default_factory=dict)


HYPOTHESES: Final = (  # the first wins where points are equal
    Hypothesis("hot", "hot location", "Move {valve} or cool its place; the next head will fail early too.", ("relocate",)),
    Hypothesis("body", "body seized or stiff", "Renew the whole valve {valve}; another head will not cure it.", ("full",)),
    Hypothesis(
        "shared", "water quality, wiring centre or pump",
        "Test the system water, the wiring centre and the pump before any valve is renewed.", (),
    ),
    Hypothesis(
        "wiring", "wiring or a control upstream",
        "Measure the drive wire of {valve} while heat is called for, back to the wiring centre, before fitting parts.",
        ("wiring", "full"),
    ),
    Hypothesis(
        "switch", "end switch",
        "Measure orange against grey at {valve} at full travel and at rest; renew the head if the switch does not follow.",
        ("head", "full"),
    ),
    Hypothesis(
        "spring", "return spring or paddle",
        "See whether {valve} returns when its drive is dead: lever free, renew the head; lever stiff, the whole valve.",
        ("head", "full"),
    ),
    Hypothesis(
        "batch", "bad batch",
        "Renew the head of {valve} with one of another batch, and read the date code before it is fitted.", ("head", "full"),
    ),
    Hypothesis(
        "lever", "lever left latched", "Take the lever of {valve} out of its filling position; show the household.",
        ("reset_lever", "head", "full"),
    ),
    Hypothesis("head", "head or motor", "Renew the head of {valve} once its drive has been measured live.", ("motor", "head", "full")),
    Hypothesis(
        "elsewhere", "pump, boiler or another part, not the valve",
        "Look at pump and boiler with this history before the valves.", ("other_part",),
    ),
    Hypothesis(
        "apart", "separate faults", "Treat each by itself; nothing in the log ties them together.", ANY,
    ),
    Hypothesis(
        "access", "access, not heating", "Agree a time with the household before another attempt.", ANY,
    ),
)  # fmt: skip
MEASURE_FIRST: Final = (  # in place of the step of "hot", where no air clearly above the limit was read
    "Measure the air at {valve} while heating and cylinder are hot; move it or cool its place where that is clearly above "
    "the limit."
)
NOT_CLEAR: Final = Hypothesis(
    UNCLEAR, "not clear from the log", "Send one engineer with this history; measure before fitting parts.", ("full",)
)

CLUES: Final = (
    Clue("hot", "air clearly above the limit", {"hot": 6}),
    Clue("warm", "air above the limit within the reading's uncertainty", {"hot": 3}),
    Clue("cause_body", "body found at fault", {"body": 5, "wiring": -2}),
    Clue("stiff", "lever stiff", {"body": 4, "wiring": -2, "switch": -2, "lever": -1}),
    Clue("cause_wiring", "wiring or a control found at fault", {"wiring": 5, "body": -3, "head": -2, "switch": -2}),
    Clue("cause_switch", "end switch found at fault", {"switch": 5, "hot": 1.5, "batch": 1.5, "wiring": -2, "body": -2}),
    Clue("cause_spring", "return spring found at fault", {"spring": 5, "hot": 1.5, "batch": 1.5, "body": -1, "wiring": -2}),
    Clue("cause_water", "water quality found at fault", {"shared": 5}),
    Clue("cause_elsewhere", "pump, boiler or another part found at fault", {"elsewhere": 3.5}),
    Clue("latched", "lever found latched", {"lever": 5, "spring": -1}),
    Clue("read_wiring", "readings name controls or wiring", {"wiring": 4, "body": -2, "switch": -2, "head": -2}),
    Clue("read_body", "readings name the body", {"body": 3, "head": -1}),
    Clue("read_motor", "readings name the motor", {"head": 3, "body": -2}),
    Clue("read_motor_or_body", "readings leave motor or body", {"body": 1, "head": 1, "wiring": -3, "switch": -2}),
    Clue("read_switch", "readings name the end switch", {"switch": 5, "hot": 1.5, "batch": 1.5, "wiring": -2, "body": -3, "spring": -2}),
    Clue("read_spring", "readings name spring or body", {"spring": 3, "body": 2, "hot": 1, "batch": 1, "wiring": -2}),
    Clue("batch", "of a batch that fails too often", {"batch": 6}),
    Clue("several", "different valves failed within a year", {"shared": 4, "body": -2, "switch": -2, "spring": -2, "head": -2}),
    Clue("bodies", "bodies of different valves found at fault", {"shared": 3}),
    Clue("one_valve", "the same valve failed again", {"shared": -4, "apart": -3}),
    Clue("unlike", "each fault found was of another kind", {"apart": 4, "elsewhere": -1}),
    Clue("full_in_vain", "whole valve renewed and the fault came back", {"wiring": 3, "shared": 1, "body": -5, "switch": -3, "head": -3}),
    Clue("again", "heads or motors renewed again on one body", {"body": 2, "hot": 1.5, "batch": 1.5, "wiring": 0.5, "head": -2}),
    Clue("in_vain", "part renewed and the fault came back", {"body": 1, "wiring": 1, "hot": 1, "batch": 1, "head": -2}),
    Clue("no_fault", "no fault found", {"wiring": 1.5, "switch": 1.5, "body": 0.5}),
    Clue("same_again", "no fault found, then the same symptom", {"wiring": 1, "switch": 0.5}),
    Clue("by_hot_water", "heating only with hot water", {"switch": 2, "spring": 1.5}),
    Clue("stays_on", "heating or hot water stays on", {"spring": 1, "body": 0.5, "lever": 0.5, "switch": 0.5}),
    Clue("cause_head", "head or motor found at fault at the last visit", {"head": 3}),
    Clue("last_full", "the new whole valve held", {"body": 2.5, "wiring": -2, "switch": -1}),
    Clue("last_head", "the new head or motor held", {"head": 2, "switch": 1.5, "spring": 1.5, "batch": 1, "hot": 0.5, "body": -3, "wiring": -3}),
    Clue("last_wiring", "the mended wiring held", {"wiring": 3}),
    Clue("last_moved", "the move to a cooler place held", {"hot": 3}),
    Clue("last_lever", "the lever's reset held", {"lever": 2}),
    Clue("free", "lever free", {"body": -2}),
    Clue("cool", "air clearly within the limit", {"hot": -5}),
    Clue("hot_place", "in a hot cupboard that nobody has measured", {"hot": 0.5}),
    Clue("mostly_no_access", "as many attempts without access as attendances", {"access": 3}),
    Clue("no_access", "nobody in", {"access": 1}),
)  # fmt: skip


def weights() -> pd.DataFrame:
    """Points of each clue (rows) for each hypothesis (columns); 0 where it says nothing."""
    table = pd.DataFrame([clue.points for clue in CLUES], index=[clue.name for clue in CLUES], dtype="float64")
    return table.reindex(columns=[each.name for each in HYPOTHESES]).fillna(0.0)


def hypothesis_table() -> pd.DataFrame:
    """The points as a reader sees them: clue in words, then a column a hypothesis by its label; empty for no point."""
    table = weights()
    named = table.where(table.ne(0)).set_axis([each.label for each in HYPOTHESES], axis=1)
    return named.set_axis([clue.label for clue in CLUES], axis=0).rename_axis("clue").reset_index()


def weighed(counts: pd.DataFrame) -> pd.DataFrame:
    """Find the hypothesis with most points.

    Args:
        counts: How often each clue was seen (columns `CLUES`), one row a chain.

    Returns:
        On the same index: top and next (names; `UNCLEAR` where no hypothesis reaches `LEAST`, empty where there is no
        next best), points and next_points, strength ("strong", "fair", "weak", empty where unclear).
    """
    table = weights()
    seen = counts[table.index].to_numpy("float64")
    factor = np.where(seen > 1, AGAIN, seen)
    points = np.round(factor @ table.to_numpy(), 6)
    rows = np.arange(len(points))
    order = np.argsort(-points, axis=1, kind="stable")
    best, second = points[rows, order[:, 0]], points[rows, order[:, 1]]
    names = table.columns.to_numpy(object)
    lead = best - np.maximum(second, 0)
    strength = np.select(
        [best < LEAST, (best >= STRONG[0]) & (lead >= STRONG[1]), (best >= FAIR[0]) & (lead >= FAIR[1])],
        ["", "strong", "fair"],
        default="weak",
    )
    found = {
        "top": np.where(best >= LEAST, names[order[:, 0]], UNCLEAR),
        "next": np.where((second >= LEAST) & (best >= LEAST), names[order[:, 1]], ""),
        "strength": strength,
    }
    texts = {name: pd.Series(values, index=counts.index, dtype="str") for name, values in found.items()}
    return pd.DataFrame({**texts, "points": best, "next_points": second}, index=counts.index)
