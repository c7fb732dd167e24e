"""Which part is at fault, from what the engineer measured on a visit (common practice, no source).

A verdict blames a part only where no sound valve could read the same and one part alone explains every reading.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd

from audit.model import Facts
from audit.readings.faults import SPRING_OR_BODY
from audit.readings.judge import Judged, judge, named_parts
from audit.readings.seen import DEMANDS, HEATING_SIDE, WATER_SIDE, WIRES, seen, with_readings
from audit.readings.wiring import AXES, MODELS, YES_NO
from audit.readings.wording import in_words, no_model, reasons
from schemas.results import RESULT_COLUMNS
from schemas.words import READING_VERDICT

__all__ = ["named_or_left", "readings"]
COLUMNS: Final = [column.name for column in RESULT_COLUMNS["readings"]]
OPTION: Final = {
    "motor": "motor",
    "end_switch": "head",
    SPRING_OR_BODY: "head or full",
    "body": "full",
    "controls_or_wiring": "wiring",
}
VALUES: Final = {**dict.fromkeys((*DEMANDS, *WIRES), YES_NO), "position": AXES["position"], "lever": AXES["lever"]}


def readings(facts: Facts) -> pd.DataFrame:
    """Judge the readings of every visit that has some.

    Args:
        facts: What was known; of the valves head_kind, ports, arrangement, circuit, changeover_in_use,
            motor_replaceable and head_detachable count.

    Returns:
        Columns of `RESULT_COLUMNS["readings"]`, one row a visit on which a wire or the position was read: named parts
        first, then contradictions; the latest first.
    """
    visits = with_readings(facts.visits)
    told = _verdicts(seen(visits, facts.valves)).set_axis(visits.index)
    table = told.assign(
        visit_id=visits["visit_id"],
        valve_id=visits["valve_id"],
        home_id=visits["home_id"],
        read_on=visits["attended"].fillna(visits["at"]).dt.normalize(),
        option=_feasible(told["option"], visits["valve_id"], facts.valves),
        place=told["verdict"].map({word: place for place, word in enumerate(READING_VERDICT)}),
    )
    order = ["place", "read_on", "visit_id"]
    return table.sort_values(order, ascending=[True, False, True], ignore_index=True)[COLUMNS]


def named_or_left(visits: pd.DataFrame, valves: pd.DataFrame) -> pd.DataFrame:
    """Return the part that the readings of these visits name, without the reasons.

    Args:
        visits: Rows of `facts.visits` with readings (`audit.readings.seen.with_readings`).
        valves: `facts.valves`.

    Returns:
        On the index of the visits: part, as in `RESULT_COLUMNS["readings"]`; and left: the parts that could still be at
        fault, by name, where a sound valve could not read the same.
    """
    codes = seen(visits, valves)
    found = np.full((len(codes), 2), None, dtype=object)
    for model in MODELS:
        own = codes["model"].eq(model).to_numpy()
        found[own] = np.column_stack(named_parts(model, codes.loc[own, list(AXES)].to_numpy(np.int64)))
    return pd.DataFrame(found, index=visits.index, columns=["part", "left"]).astype("str")


def _verdicts(codes: pd.DataFrame) -> pd.DataFrame:
    """Judge each distinct combination once and hand the verdict to every visit that has it."""
    group = codes.groupby(list(codes.columns), sort=True).ngroup().to_numpy()
    _, first, inverse = np.unique(group, return_index=True, return_inverse=True)
    told = pd.DataFrame(
        [_told(row) for row in codes.iloc[first].to_dict("records")],
        columns=["verdict", "part", "option", "next_reading", "reasons"],
    )
    return told.astype("str").iloc[inverse].reset_index(drop=True)


def _told(row: dict[Any, Any]) -> dict[str, str | None]:
    read = {name: words[row[name]] for name, words in VALUES.items() if row[name] < len(words)}
    model = row["model"]
    if model not in MODELS:
        return {"verdict": "cannot_tell", "reasons": no_model(read, model)}
    columns = _columns(row)
    unread = frozenset(axis for axis, column in columns.items() if column not in read)
    judged = judge(model, tuple(int(row[axis]) for axis in AXES), unread)
    following = _following(judged, columns, read)
    words = " and ".join(in_words(column) for column in following)
    return {
        "verdict": judged.verdict,
        "part": judged.part or None,
        "option": OPTION.get(judged.part),
        "next_reading": " and ".join(following) or None,
        "reasons": reasons(read, judged, words),
    }


def _columns(row: dict[Any, Any]) -> dict[str, str]:
    """The column of `visits` that tells of each axis; a head whose circuit is not recorded needs both demands."""
    heating, water = DEMANDS
    unread = heating if row[heating] == len(YES_NO) else water
    own = {HEATING_SIDE: heating, WATER_SIDE: water}.get(row["side"], unread)
    other = {HEATING_SIDE: water, WATER_SIDE: heating}.get(row["side"], unread)
    if row["model"] not in ("mid_position", "diverter") and row[other] != len(YES_NO):
        other = own  # another head of the same side may be the one that is called for
    columns = {axis: axis for axis in AXES if axis in VALUES}
    return {**columns, "own": own, "other": other, "elsewhere": heating}


def _following(judged: Judged, columns: dict[str, str], read: dict[str, str]) -> tuple[str, ...]:
    """The columns to read next: what splits best, what clashes, or what proves a choice between spring and body."""
    if judged.part == SPRING_OR_BODY:
        return ("spindle",)
    if judged.verdict == "cannot_tell" and read.get("lever") == "latched":
        return ("lever",)
    if judged.clash:
        return (columns[judged.clash],)
    return tuple(dict.fromkeys(columns[axis] for axis in judged.next_axes))


def _feasible(option: pd.Series, valve_id: pd.Series, valves: pd.DataFrame) -> pd.Series:
    """A motor that is not known to come out alone means a head; a head that does not come off means the whole valve."""
    of_valve = valves.set_index("valve_id")[["motor_replaceable", "head_detachable"]]
    about = of_valve.reindex(pd.Index(valve_id)).set_axis(option.index)
    option = option.mask(option.eq("motor") & ~about["motor_replaceable"].eq("yes"), "head")
    return option.mask(option.isin(("head", "head or full")) & about["head_detachable"].eq("no"), "full")
