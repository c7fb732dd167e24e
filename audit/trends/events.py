"""The faults whose trend is asked for, and from when to when each home was watched."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.life.season import Season, season_of
from audit.life.watched import days, watched
from audit.lookup import places
from audit.model import Facts
from audit.policy import Policy
from audit.repeats.spans import faults

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
ALL: Final = "all homes"
YEAR: Final = 365.25


@dataclass(frozen=True)
class Watch:
    """Homes with valves, and their faults.

    `homes`: home_id, scheme, first, last (days since 1970), by home_id. `home`, `day`: the row of each fault's home,
    and its day, in the order of home and day. `season`: the clock on which a year's faults come evenly.
    """

    homes: pd.DataFrame
    home: Ints
    day: Floats
    season: Season


def watch(facts: Facts, policy: Policy) -> Watch:
    """Find the faults of each home while it was watched.

    A fault reported within the long repeat window after the last attempt at another of its home and system is the same
    one coming back and is left out: one seized valve visited five times is one fault.
    """
    first, last = watched(facts, policy)
    homes = pd.DataFrame({"home_id": facts.valves["home_id"], "scheme": facts.valves["scheme"], "first": first})
    homes = homes.assign(last=last).drop_duplicates("home_id").sort_values("home_id", ignore_index=True)
    window = policy.number("repeats.long_window")
    found = faults(facts.visits, window, facts.as_of)
    found = found.loc[~found["wait_days"].le(window)]
    place = places(found["home_id"], homes["home_id"])
    day = np.floor(days(found["first"])) + 0.5  # the middle of the day, so that no time is nought
    inside = (place >= 0) & (day > homes["first"].to_numpy()[place]) & (day < homes["last"].to_numpy()[place])
    place, day = place[inside], day[inside]
    order = np.lexsort((day, place))
    opened, closed = float(homes["first"].min()), float(homes["last"].max())
    season = season_of(np.floor(day), opened, closed, policy.number("life.even_season"))
    return Watch(homes, place[order], day[order], season)
