"""Which options are possible for a valve, and in words why the others are not."""

from __future__ import annotations

from typing import Any, Final

import pandas as pd

from audit.choice.texts import written
from audit.policy import Policy

NOTHING_ASKED: Final = "no fault: nothing was found that renewing would mend"

WIRING_NAMED: Final = "the readings name controls or wiring, not the valve: put those right first"
NO_MOTOR: Final = {"end_switch": "the end switch", "spring_or_body": "spring or body"}


def why_not(valves: pd.DataFrame, option: str, policy: Policy) -> pd.Series:
    """Return for each row of `audit.choice.asked.asked_valves` why `option` is not possible; empty text where it is.

    Leaving is possible unless a fault needs renewing. The whole valve can always be renewed where a renewal is asked
    for. A head needs a body that is sound, within its service life, and lets go of it; a motor needs that too, save
    for the letting go, and a head whose motor can be changed. A young head that no fault points at stays, but where the
    valve is moved: a head that wore in the heat may be worth renewing then, with nothing else to ask for it.
    """
    service = {part: policy.number(f"age.{part}_service_life") for part in ("head", "body")}
    ask = {"leave": _leave, "motor": _motor, "head": _head, "full": _full}[option]
    columns = [
        "asked", "moved", "read_part", "bound_head", "bound_body", "bound_by", "wrong_kind", "leaking", "head_old",
        "body_old", "age_taken", "lever", "head_detachable", "motor_replaceable",
    ]  # fmt: skip
    return written(valves[columns], lambda row: ask(row, service))


def body_sound(valves: pd.DataFrame) -> pd.Series:
    """Return whether the body itself can keep a new head: not stiff, not leaking, no fault that asks for a new one."""
    return ~(valves["bound_body"] | valves["leaking"] | valves["lever"].eq("stiff"))


def _leave(row: dict[str, Any], service: dict[str, float]) -> str:
    if row["bound_body"] or row["bound_head"]:
        return f"a fault needs renewing ({row['bound_by']})"
    return ""


def _motor(row: dict[str, Any], service: dict[str, float]) -> str:
    why = _renewing(row, service)
    if why:
        return why
    if row["read_part"] in NO_MOTOR:
        return f"the readings name {NO_MOTOR[row['read_part']]}, a new motor would not mend that"
    if row["wrong_kind"]:
        return "the head is of the wrong kind, a new motor would not mend that"
    if row["motor_replaceable"] is None:
        return "not recorded whether the motor can be changed on its own"
    return "" if row["motor_replaceable"] == "yes" else "the motor cannot be changed on its own"


def _head(row: dict[str, Any], service: dict[str, float]) -> str:
    why = _renewing(row, service)
    return why or ("the head does not come off the body" if row["head_detachable"] == "no" else "")


def _full(row: dict[str, Any], service: dict[str, float]) -> str:
    return _not_the_valve(row) if row["asked"] else NOTHING_ASKED


def _not_the_valve(row: dict[str, Any]) -> str:
    """Why nothing is renewed where readings name the wiring and no other fault binds."""
    bound = row["bound_body"] or row["bound_head"]
    return WIRING_NAMED if row["read_part"] == "controls_or_wiring" and not bound else ""


def _renewing(row: dict[str, Any], service: dict[str, float]) -> str:
    """Why neither head nor motor is worth renewing on this body."""
    if not (row["asked"] or row["moved"]):
        return NOTHING_ASKED
    if _not_the_valve(row):
        return WIRING_NAMED
    if row["bound_body"]:
        return f"a fault needs the body renewed ({row['bound_by']})"
    if row["lever"] == "stiff":
        return "the lever is stiff, which points at the body"
    if row["leaking"]:
        return "the body leaks"
    if row["body_old"]:
        return f"the body is past its service life of {service['body']:g} years"
    if not (row["head_old"] or row["bound_head"] or row["age_taken"] or row["moved"]):
        return f"no fault in the head, which is younger than its service life of {service['head']:g} years"
    return ""
