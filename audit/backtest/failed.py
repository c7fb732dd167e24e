"""Which valves failed in the quarter that followed, as the whole log tells."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from audit.life.replaced import ELSEWHERE, RENEWALS, replaced
from audit.life.watched import days, watched
from audit.model import Facts
from audit.policy import Policy

DEFINITION = (
    "A failed valve is one that a call-out of the quarter, or its return visit, names, and whose motor, head or whole "
    "valve was renewed for it without the cause lying elsewhere (wiring, controls, lever, pump, boiler, nothing "
    "found). Call-outs to a home with one valve name it. A fault mended without a part is not counted, nor one "
    "not mended yet. One valve counts once."
)


@dataclass(frozen=True)
class Failed:
    """`valves`: valve_id, reported (day), part (`head` or `body`), one row a failed valve; the others are not counted.

    `unnamed`: visits of the quarter that renewed a part for a fault of the valve but name none of several valves.
    `earlier`: ids of valves whose last part was renewed in the quarter for a fault first reported before; `window`:
    call-outs to a valve that follow each other within so many days are one fault.
    """

    valves: pd.DataFrame
    unnamed: int
    earlier: tuple[str, ...] = ()
    window: float = math.nan


def watched_through(after: Facts, on: pd.Timestamp, end: pd.Timestamp, policy: Policy) -> pd.Series:
    """Return the ids of the valves whose failures in the quarter would have left a visit: their log covers it."""
    first, last = watched(after, policy)
    begin, close = days(pd.Series([on, end]))
    silence = policy.number("life.log_silence")  # a file whose last visit lies no longer before has not ended
    ids: pd.Series = after.valves.loc[(first <= begin) & (last >= close - silence), "valve_id"]
    return ids


def failed(after: Facts, on: pd.Timestamp, end: pd.Timestamp, policy: Policy) -> Failed:
    """Find the valves that failed after the day `on`, up to and with the day `end`; see DEFINITION."""
    visits = after.visits
    renews = visits["action"].isin(RENEWALS)
    nameless = renews & visits["valve_id"].isna()
    named = replace(after, visits=visits.assign(action=visits["action"].mask(nameless)))
    events, _ = replaced(named, policy)
    first, last = days(pd.Series([on, end]))
    events = events.loc[events["head_failed"] | events["body_failed"]]
    one = events.loc[events["day"].gt(first) & events["day"].le(last)].drop_duplicates("valve")
    before = events.loc[events["day"].le(first) & events["until"].gt(first) & events["until"].le(last), "valve"]
    ids = after.valves["valve_id"].to_numpy()
    valves = pd.DataFrame(
        {
            "valve_id": ids[one["valve"]],
            "reported": pd.Timestamp(0) + pd.to_timedelta(one["day"].to_numpy(), unit="D"),
            "part": np.where(one["body_failed"], "body", "head"),
        }
    ).astype({"valve_id": "str", "part": "str", "reported": "datetime64[us]"})
    inside = visits["reported"].ge(on + pd.Timedelta(days=1)) & visits["reported"].lt(end + pd.Timedelta(days=1))
    lost = nameless & inside & visits["episode"].ge(0) & ~visits["cause"].isin(ELSEWHERE)
    return Failed(
        valves=valves.sort_values("valve_id", ignore_index=True),
        unnamed=int(lost.sum()),
        earlier=tuple(sorted(ids[before.loc[~before.isin(one["valve"])]])),
        window=policy.number("repeats.long_window"),
    )
