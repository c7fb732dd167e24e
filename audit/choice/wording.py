"""The sentence that tells the engineer what to do to one valve, or to the system of one home."""

from __future__ import annotations

from typing import Any, Final

import pandas as pd

from audit.choice.texts import written
from schemas import words

COUNT: Final = {2: "two", 3: "three", 4: "four", 5: "five", 6: "six", 7: "seven", 8: "eight"}
HEAD: Final = {part: label for part, label in words.RATE_LABEL.items() if part.startswith("head_")}
CIRCUIT: Final = {
    "heating": "heating valve",
    "hot_water": "hot water valve",
    "heating_2": "valve of the second heating zone",
    "heating_3": "valve of the third heating zone",
    "underfloor": "underfloor valve",
    "both": "three-port valve",
}
PLACE: Final = {
    "airing_cupboard": " in the airing cupboard",
    "boiler_cupboard": " in the boiler cupboard",
    "kitchen": " in the kitchen",
    "utility_room": " in the utility room",
    "loft": " in the loft",
    "garage": " in the garage",
    "floor_void": " under the floor",
    "plant_room": " in the plant room",
    "other": "",
}
VALVE_COLUMNS: Final = (
    "option", "tasks", "drain_down", "again", "circuit", "location", "head_part", "valve_part", "wires", "voltage_v",
    "body_size_mm", "isolation", "wrong_kind", "water_first",
)  # fmt: skip


FIRST: Final = ("near_boiling", "restore", "water_quality")  # these tasks are read first, in this order
WATER_FIRST: Final = "Only once the system water has passed its test: "
NEW: Final = {"motor": "new motor", "head": "new head", "full": "new body and head"}


def what(jobs: pd.DataFrame) -> pd.Series:
    """Return the job in one sentence, for each row with the columns of `VALVE_COLUMNS` and `of_home` (yes/no)."""
    return written(jobs[[*VALVE_COLUMNS, "of_home"]], _sentence)


def in_short(jobs: pd.DataFrame) -> pd.Series:
    """Return what is done in a few words, for each row with `option`, `tasks` and `wrong_kind`; never a bare option."""
    return written(jobs[["option", "tasks", "wrong_kind"]], _short)


def _short(job: dict[str, Any]) -> str:
    tasks = [words.TASK_LABEL[task] for task in _tasks(job)]
    if job["option"] == "leave" and "relocate" in _tasks(job):
        return ", ".join([*tasks, "head kept"])
    if job["option"] == "leave":
        return f"task only: {', '.join(tasks)}"
    new = "head of another kind" if job["wrong_kind"] and job["option"] == "head" else NEW[job["option"]]
    return ", ".join([new, *tasks])


def _tasks(job: dict[str, Any]) -> list[str]:
    """The tasks besides the option; those of `FIRST` come first."""
    tasks = [task for task in job["tasks"].split("; ") if task and task != "change_head_kind"]
    return sorted(tasks, key=lambda task: FIRST.index(task) if task in FIRST else len(FIRST))


def _sentence(job: dict[str, Any]) -> str:
    tasks = [words.TASK[task] for task in _tasks(job)]
    if job["of_home"]:
        return f"In the home's heating system: {'; '.join(tasks)}."
    where = CIRCUIT.get(job["circuit"], "valve") + PLACE.get(job["location"], "")
    if job["option"] == "leave":
        kept = {words.TASK["relocate"]: f"{words.TASK['relocate']}, its head kept"}
        tasks = [kept.get(task, task) for task in tasks]
        return f"At the {where}: {'; '.join([*tasks, *_water(job)])}."
    prove = [] if "earth" in job["tasks"].split("; ") else ["prove the earth"]
    sentence = f"{'; '.join([_renewal(job, where), *_water(job), *tasks, *prove])}."
    return f"{WATER_FIRST}{sentence[0].lower()}{sentence[1:]}" if job["water_first"] else sentence


def _renewal(job: dict[str, Any], where: str) -> str:
    doubted = job["wrong_kind"] or "prove_head" in job["tasks"].split("; ")  # the number of wires is what is in doubt
    wires = [f"{COUNT[round(job['wires'])]} wires"] if job["wires"] and not doubted else []
    volts = [f"{job['voltage_v']:g} V"] if job["voltage_v"] else []
    head = HEAD[job["head_part"]]
    if job["option"] == "motor":
        return f"Renew the motor in the {head}{_brackets(volts)} of the {where}"
    if job["option"] == "head" and job["wrong_kind"]:
        return (
            f"Prove the wiring and fit a {head}{_brackets(volts)}, the kind that suits body and wiring, to the {where}"
        )
    if job["option"] == "head":
        return f"Renew the {head}{_brackets(wires + volts)} of the {where}"
    ports = "three-port" if "3port" in job["valve_part"] else "two-port"
    size = [f"{job['body_size_mm']:g} mm"] if job["body_size_mm"] else []
    return f"Renew body and head{_brackets([ports, *size, head, *wires, *volts])} of the {where}"


def _water(job: dict[str, Any]) -> list[str]:
    """What opening the pipework asks for."""
    if job["again"]:
        return ["in the same drain-down"]
    if job["drain_down"]:
        return ["drain down, refill, vent and dose inhibitor"]
    closes = job["option"] == "full" and job["isolation"] == "yes"
    return ["close the isolating valves, no drain-down"] if closes else []


def _brackets(pieces: list[str]) -> str:
    return f" ({', '.join(pieces)})" if pieces else ""
