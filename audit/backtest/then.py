"""An earlier day: what was known then, as an audit of that day would have read it."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from audit.errors import CannotUse
from audit.facts import facts
from audit.known import known_on
from audit.model import Facts, Portfolio
from audit.policy import Policy

DATES = ("body_fitted", "head_fitted")
QUARTER_DAYS = 91  # thirteen weeks


def last_day(visits: pd.DataFrame) -> pd.Timestamp:
    """Return the day of the log's last report.

    Raises:
        CannotUse: there is no visit.
    """
    if visits.empty:
        raise CannotUse("There is no visit in these files, and without a log nothing says which valves failed.")
    return pd.Timestamp(visits["reported"].max()).normalize()


def quarter_after(visits: pd.DataFrame, on: pd.Timestamp | None) -> tuple[pd.Timestamp, pd.Timestamp]:
    """Return the earlier day, and the last of the 13 weeks after it.

    Args:
        visits: Those known on the as-of date.
        on: The day asked for; the one 13 weeks before the log's last day where None.

    Raises:
        CannotUse: the log ends before those weeks do.
    """
    last = last_day(visits)
    span = pd.Timedelta(days=QUARTER_DAYS)
    day = last - span if on is None else on.normalize()
    if day + span > last:
        raise CannotUse(
            f"--on {day:%Y-%m-%d}: its 13 weeks end on {day + span:%Y-%m-%d}, but the visit log ends on "
            f"{last:%Y-%m-%d}; give a date up to {last - span:%Y-%m-%d}."
        )
    return day, day + span


def facts_then(tables: Mapping[str, pd.DataFrame], on: pd.Timestamp, policy: Policy) -> Facts:
    """Return the facts as they were on the earlier day.

    Raises:
        CannotUse: nothing was known then.
    """
    known, _ = known_on(with_places(tables, on), on)
    if known["homes"].empty or known["valves"].empty or known["visits"].empty:
        first = tables["visits"]["reported"].min()
        raise CannotUse(
            f"--on {on:%Y-%m-%d}: nothing was known of valves and visits that day; the log begins on {first:%Y-%m-%d}, "
            "so give a later date."
        )
    return facts(Portfolio(**known), on, policy)  # type: ignore[arg-type]


def with_places(tables: Mapping[str, pd.DataFrame], on: pd.Timestamp) -> dict[str, pd.DataFrame]:
    """Keep valves renewed whole after the day, without their dates, where their home shows that it was there before.

    A register keeps only the last date, so such a valve looks as if it had never been there. A home's valves are
    fitted together: where a visit to the home or a date of another valve of it lies before, the valve stood too.
    """
    end = on.normalize() + pd.Timedelta(days=1)
    valves, visits = tables["valves"], tables["visits"]
    before = (valves[list(DATES)] < end).any(axis=1)
    homes = pd.Index(valves.loc[before, "home_id"]).union(pd.Index(visits.loc[visits["reported"] < end, "home_id"]))
    later = (valves["body_fitted"] >= end) & valves["home_id"].isin(homes)
    dateless = {name: valves[name].mask(later & (valves[name] >= end)) for name in DATES}
    return {**tables, "valves": valves.assign(**dateless)}
