"""What the work on a valve takes: hours, part, dose of inhibitor, drain-down; and what that costs."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd

from audit.choice.prices import Prices, pounds
from audit.choice.texts import written
from audit.policy import Policy
from schemas import words

DRAINING_TASKS: Final = ("relocate", "repipe")


def fitted(valves: pd.DataFrame, wrong_kind: pd.Series) -> pd.DataFrame:
    """Return `head_part` and `valve_part` (rate items) for each valve, and `taken` where a record was missing.

    A head of the kind recorded; of the kind that suits body and wiring where the kind is wrong (`wrong_kind`) or
    not recorded. Bodies up to 22 mm, or of unknown size, take the 22 mm part; larger ones the 28 mm part.
    """
    three = valves["ports"].eq(3) | (valves["ports"].isna() & _says_three(valves))
    suits = pd.Series("zone", index=valves.index, dtype="str")
    suits = suits.mask(valves["changeover_in_use"].eq("yes"), "zone_changeover")
    suits = suits.mask(three, "mid_position").mask(three & valves["arrangement"].eq("diverter"), "diverter")
    kind = valves["head_kind"].mask(wrong_kind).fillna(suits)
    size = pd.Series(np.where(valves["body_size_mm"].gt(22), "28", "22"), index=valves.index, dtype="str")
    body = pd.Series(np.where(three, "3port", "2port"), index=valves.index, dtype="str")
    return pd.DataFrame(
        {
            "head_part": "head_" + kind,
            "valve_part": "valve_" + body + "_" + size,
            "kind_taken": valves["head_kind"].isna(),
            "body_taken": valves["ports"].isna() | valves["body_size_mm"].isna(),
        }
    )


def bill(valves: pd.DataFrame, option: pd.Series, tasks: pd.DataFrame, policy: Policy) -> pd.DataFrame:
    """Return hours, part, relays, doses, drain_down for doing `option` and `tasks` on each valve in one go.

    `valves` has isolation, head_part, valve_part and wrong_kind; `option` is a word of OPTION a row; `tasks` a yes/no
    column a task. The time for one drain-down is what `hours.full` is longer than `hours.full_isolated`; two pieces
    of work on one valve share it, and isolating valves save it for a new body, not where pipework is
    cut. The visit's own time is not in the hours.
    """
    isolated = valves["isolation"].eq("yes")
    saved = drain_hours(policy)
    hours = option.map({word: policy.number(f"hours.{word}") for word in ("motor", "head", "full")})
    hours = hours.astype("float64").fillna(0.0)
    rewiring = max(0.0, policy.number("hours.change_head_kind") - policy.number("hours.head"))
    hours = hours + rewiring * (valves["wrong_kind"] & option.isin(["head", "full"]))
    for task in tasks.columns.drop("change_head_kind", errors="ignore"):
        hours = hours + policy.number(f"hours.{task}") * tasks[task]
    opens = option.eq("full").astype("int64")
    for task in DRAINING_TASKS:
        opens = opens + tasks.get(task, 0)
    apart = opens.gt(option.eq("full").astype("int64"))  # pipe is cut beyond the isolating valves: these do not save it
    drains = apart | (opens.gt(0) & ~isolated)
    hours = (hours - saved * (opens - drains)).clip(lower=0.0).round(4)  # no crumbs of decimal sums
    part = pd.Series("", index=valves.index, dtype="str")
    part = part.mask(option.eq("motor"), "motor").mask(option.eq("head"), valves["head_part"])
    part = part.mask(option.eq("full"), valves["valve_part"])
    relays = tasks.get("relay", pd.Series(False, index=valves.index)).astype("float64")
    doses = drains.astype("float64")
    return pd.DataFrame({"hours": hours, "part": part, "relays": relays, "doses": doses, "drain_down": drains})


def drain_hours(policy: Policy) -> float:
    """Return the hours that one drain-down, refill and venting takes."""
    return max(0.0, policy.number("hours.full") - policy.number("hours.full_isolated"))


def cost(billed: pd.DataFrame, prices: Prices) -> pd.Series:
    """Return labour, parts and inhibitor in GBP, without a call-out and not rounded."""
    return (
        billed["hours"] * prices.cost["labour_hour"]
        + prices.of(billed["part"])
        + billed["relays"] * prices.cost["relay"]
        + billed["doses"] * prices.cost["inhibitor"]
    )


def working(billed: pd.DataFrame, notes: pd.Series, prices: Prices, *, call_out: pd.Series | bool) -> pd.Series:
    """Write how each cost is added up: '0.5 h × £42/h + zone head £48 + call-out £38 = £107 (labour assumed)'."""

    def write(row: dict[str, Any]) -> str:
        if not row["hours"] and not row["part"]:
            return f"nothing now{row['notes']}"
        others = {"relay": row["relays"], "inhibitor": row["doses"], "call_out": row["call_out"]}
        items = [item for item in (row["part"], *(name for name, there in others.items() if there)) if item]
        labour = f"{row['hours']:g} h × {pounds(prices.cost['labour_hour'])}/h"
        pieces = [labour, *(f"{words.RATE_LABEL[item]} {pounds(prices.cost[item])}" for item in items)]
        total = row["hours"] * prices.cost["labour_hour"] + sum(prices.cost[item] for item in items)
        return f"{' + '.join(pieces)} = {pounds(total)}{prices.caveat(['labour_hour', *items])}{row['notes']}"

    return written(billed[["hours", "part", "relays", "doses"]].assign(notes=notes, call_out=call_out), write)


def _says_three(valves: pd.DataFrame) -> pd.Series:
    kinds = ["mid_position", "diverter"]
    return valves["arrangement"].isin(kinds) | (valves["arrangement"].isna() & valves["head_kind"].isin(kinds))
