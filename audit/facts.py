"""Facts: the tables as known on the as-of date, prepared once for the rules, the choice and the reports."""

from __future__ import annotations

import datetime as dt
from typing import Final

import pandas as pd

from audit.model import Facts, Portfolio
from audit.policy import Policy
from audit.repeats.events import with_events
from audit.state import homes_now, valves_now

FROM_HOME: Final = ["scheme", "postcode", "patch", "priority_household", "heating_renewal_due"]
MAIN: Final = "main"  # the system of a home that has one


def facts(portfolio: Portfolio, as_of: dt.date, policy: Policy) -> Facts:
    """Prepare what was known on the as-of date; see `audit.known.known_on` for what is not known yet.

    Args:
        portfolio: Validated tables that hold nothing later than `as_of`, rows in any order.
        as_of: The day that the audit treats as today.
        policy: The windows.

    Returns:
        `valves`, by home_id and valve_id: the register brought up to date, `system` filled, with
            scheme, postcode, patch, priority_household, heating_renewal_due: the home's;
            head_since, body_since (day), head_age_years, body_age_years (years, whole on the anniversary),
            head_age_basis ("its own date", "a visit", "the body's date": at most that old) and body_age_basis ("its own
            date", "a visit", "the head's date": at least that old);
            location_temp_c/_on, flow_temp_c/_on (°C, day), lever, lever_on, earthed: the latest known;
            heads_renewed_recently (heads and motors on this body), call_outs_12m (call-out events), last_symptom,
            last_call_out (day of report).
        `visits`, by home_id, system, reported, visit_id: `valve_id` filled where the home has one valve, `system`
            filled, with `at` (completed, else attended, else reported), `scheme`, and those of
            `audit.repeats.events.with_events`.
        `homes`, by home_id: with store_temp_c/_on and tap_temp_c/_on (°C, day), the latest known.
    """
    today = pd.Timestamp(as_of).normalize()
    homes = portfolio.homes.sort_values("home_id", ignore_index=True)
    valves = portfolio.valves.sort_values(["home_id", "valve_id"], ignore_index=True)
    of_home = homes.set_index("home_id")[FROM_HOME]
    valves = valves.assign(system=valves["system"].fillna(MAIN), **_taken(of_home, valves["home_id"]))
    visits = with_events(_visits(portfolio.visits, valves, of_home))
    return Facts(
        as_of=today,
        homes=homes_now(homes, visits),
        valves=valves_now(valves, visits, today, policy),
        visits=visits,
    )


def _visits(visits: pd.DataFrame, valves: pd.DataFrame, of_home: pd.DataFrame) -> pd.DataFrame:
    filled = _with_system(_with_valve(visits, valves), valves)
    filled = filled.assign(
        at=filled["completed"].fillna(filled["attended"]).fillna(filled["reported"]),
        scheme=_taken(of_home[["scheme"]], filled["home_id"])["scheme"],
    )
    return filled.sort_values(["home_id", "system", "reported", "visit_id"], ignore_index=True)


def _with_valve(visits: pd.DataFrame, valves: pd.DataFrame) -> pd.DataFrame:
    """Fill the valve where the home has only one, unless the visit was to another system of the home."""
    only = valves.drop_duplicates("home_id", keep=False).set_index("home_id")[["valve_id", "system"]]
    found = _taken(only, visits["home_id"])
    fits = visits["system"].isna() | visits["system"].eq(found["system"])
    return visits.assign(valve_id=visits["valve_id"].fillna(found["valve_id"].where(fits)))


def _with_system(visits: pd.DataFrame, valves: pd.DataFrame) -> pd.DataFrame:
    """Fill the system: the valve's, else the home's only one, else the main one."""
    of_valve = _taken(valves.set_index("valve_id")[["system"]], visits["valve_id"])["system"]
    systems = valves[["home_id", "system"]].drop_duplicates()
    of_home = _taken(systems.drop_duplicates("home_id", keep=False).set_index("home_id"), visits["home_id"])["system"]
    return visits.assign(system=visits["system"].fillna(of_valve).fillna(of_home).fillna(MAIN))


def _taken(frame: pd.DataFrame, ids: pd.Series) -> dict[str, pd.Series]:
    """The columns of `frame`, looked up by id, on the index of `ids`; missing where the id is unknown."""
    found = frame.reindex(ids).set_axis(ids.index)
    return {str(name): found[name] for name in found}
