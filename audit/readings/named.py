"""The part that the latest readings at a valve name, where nothing was done there since."""

from __future__ import annotations

from typing import Final

import pandas as pd

from audit.calendar import months_between
from audit.model import Facts
from audit.policy import Policy
from audit.readings import named_or_left
from audit.readings.seen import with_readings

WORK: Final = ("motor", "head", "full", "wiring", "other_part")


def read_parts(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Return the valves whose latest readings name a part.

    Readings count that are no older than `repeats.act_window` months and after which, on the same visit or a later
    one, no work was done and nothing left fixed at the valve, or at a valve of its home and system that no visit names.

    Returns:
        One row a valve, by valve_id: valve_id, home_id, visit_id, part (a word of READING_PART), at (when it was read).
    """
    visits = facts.visits
    recent = months_between(visits["at"], facts.as_of).le(policy.number("repeats.act_window"))
    taken = with_readings(visits.loc[recent & visits["valve_id"].notna()])
    taken = taken.sort_values(["valve_id", "at", "visit_id"], kind="stable").drop_duplicates("valve_id", keep="last")
    taken = taken.loc[~_done_since(taken, visits)]
    part = named_or_left(taken, facts.valves)["part"]
    taken = taken.assign(part=part.astype("str")).loc[part.notna()]
    return taken[["valve_id", "home_id", "visit_id", "part", "at"]].reset_index(drop=True)


def _done_since(taken: pd.DataFrame, visits: pd.DataFrame) -> pd.Series:
    """Whether work was done on each reading's visit, or on a later one at its valve or at no valve by name."""
    done = visits["action"].isin(WORK) | visits["outcome"].eq("fixed")
    done &= visits["completed"].notna() & visits["at"].notna()
    last = visits.loc[done & visits["at"].ge(taken["at"].min()), ["valve_id", "home_id", "system", "at"]]
    of_valve = last.groupby("valve_id")["at"].max()
    of_home = last.loc[last["valve_id"].isna()].groupby(["home_id", "system"])["at"].max()
    home = pd.MultiIndex.from_frame(taken[["home_id", "system"]])
    own = of_valve.reindex(pd.Index(taken["valve_id"])).set_axis(taken.index)
    any_valve = of_home.reindex(home).set_axis(taken.index)
    return own.ge(taken["at"]) | any_valve.ge(taken["at"])
