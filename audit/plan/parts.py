"""Parts, named by what they must fit: 'zone head, 5 wires, 230 V'; 'valve body with zone head, 2 port, 22 mm, …'."""

from __future__ import annotations

from typing import Any, Final

import pandas as pd

from audit.choice.bill import fitted
from audit.choice.texts import written
from audit.model import Facts
from schemas import words

HEAD: Final = {part: label for part, label in words.RATE_LABEL.items() if part.startswith("head_")}
WIRES: Final = {"head_zone": 5, "head_zone_changeover": 6, "head_mid_position": 5, "head_diverter": 3}
ZONE_HEADS: Final = ("head_zone", "head_zone_changeover")  # stand in for each other, as in audit.rules.fit
ZONE_WIRES: Final = tuple(WIRES[head] for head in ZONE_HEADS)
STAND_IN: Final = {  # common practice, no source: the sixth wire made safe, a changeover head does a zone head's work
    "head_zone_changeover": "head_zone",
}
NO_VOLTAGE: Final = "voltage not recorded"
FITS: Final = ("head_part", "ports", "body_size_mm", "wires", "voltage_v", "wrong_kind")


def pieces(jobs: pd.DataFrame) -> pd.DataFrame:
    """Return one row a job and part: `job` (place in `jobs`), part, pieces; from texts such as 'motor × 1'."""
    texts = {text: _counted(text) for text in jobs["parts"].dropna().unique()}
    lines = pd.DataFrame(
        [(text, part, count) for text, counts in texts.items() for part, count in counts.items()],
        columns=["parts", "part", "pieces"],
    ).astype({"parts": "str", "part": "str", "pieces": "float64"})
    jobs = pd.DataFrame({"parts": jobs["parts"].astype("str"), "job": range(len(jobs))})
    return jobs.merge(lines, on="parts").sort_values(["job"], kind="stable", ignore_index=True)[
        ["job", "part", "pieces"]
    ]


def _counted(text: str) -> dict[str, float]:
    lines = (line.rpartition(" × ") for line in text.split("; ") if line)
    return {part: float(count) for part, _, count in lines}


def named(jobs: pd.DataFrame, facts: Facts) -> pd.DataFrame:
    """Return the rows of `pieces` with `name`, the part in words by what it must fit, and its `voltage` in words.

    The voltage is that of the valve's head; a dose has none ("").
    """
    lines = pieces(jobs)
    of_job = lines["job"].to_numpy()
    valve = jobs["valve_id"].reset_index(drop=True).take(of_job).reset_index(drop=True)
    tasks = jobs["tasks"].fillna("").reset_index(drop=True).take(of_job).reset_index(drop=True)
    valves = facts.valves.drop_duplicates("valve_id").set_index("valve_id").reindex(valve).reset_index(drop=True)
    valves["wrong_kind"] = tasks.str.contains("change_head_kind", regex=False)
    valves["head_part"] = fitted(valves, valves["wrong_kind"])["head_part"]
    known = pd.concat([lines["part"], valves[list(FITS)]], axis=1)
    return lines.assign(name=written(known, _name), voltage=written(known[["part", "voltage_v"]], _volts))


def _volts(row: dict[str, Any]) -> str:
    if row["part"] == "inhibitor":
        return ""
    return f"{row['voltage_v']:g} V" if row["voltage_v"] else NO_VOLTAGE


def _name(row: dict[str, Any]) -> str:
    part = str(row["part"])
    if part == "inhibitor":
        return "inhibitor, one dose"
    volts = _volts(row)
    if part == "motor":
        return f"motor for a {HEAD[row['head_part']]}, {volts}"
    head = part if part in HEAD else row["head_part"]
    wires = _wires(head, None if row["wrong_kind"] else row["wires"], mends=bool(row["wrong_kind"]))
    if part in HEAD:
        return f"{HEAD[part]}, {wires}, {volts}"
    if not part.startswith("valve_"):
        return words.PART.get(part, part.replace("_", " "))
    ports = "3 port" if "3port" in part else "2 port"
    size = f"{row['body_size_mm']:g} mm" if row["body_size_mm"] else f"size not recorded, {part[-2:]} mm taken"
    return f"valve body, {ports}, {size}, with {HEAD[head]}, {wires}, {volts}"


def _wires(head: str, recorded: float | None, *, mends: bool) -> str:
    """The wires of a head to bring: those of its kind, where the register has a number that no such head has."""
    if mends:
        return f"{WIRES[head]} wires"
    if not recorded:
        return "wires not recorded"
    fits = recorded == WIRES[head] or (recorded in ZONE_WIRES and WIRES[head] in ZONE_WIRES and head in ZONE_HEADS)
    return f"{recorded:g} wires" if fits else f"{WIRES[head]} wires (the register says {recorded:g}: look first)"


def listed(counts: pd.DataFrame, key: str, text: str) -> pd.Series:
    """Return one text a `key`, such as 'zone head, 5 wires, 230 V × 2; inhibitor, one dose × 1', in the order given."""
    order = counts.groupby([key, text], sort=False)["pieces"].sum().reset_index()
    lines = order[text] + " × " + order["pieces"].map(lambda count: f"{count:g}").astype("str")
    return lines.groupby(order[key], sort=True).agg("; ".join).astype("str")
