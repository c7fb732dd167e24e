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
            earthed_on (day of the visit that said so), earth_unproved_on, earth_unproved_outcome (work on the earth
            since it was last proved, without a proof), isolated_on (left isolated since then);
            lever_registered, heads_renewed_recently (heads and motors renewed on this body for a fault, a head that
            ends what a motor began counted once), heads_renewed_on (when, in words), heads_renewed_last (day),
            call_outs_12m (call-out events), last_symptom, last_call_out (day of report).
        `visits`, by home_id, system, reported, visit_id: `valve_id` filled where the home has one valve, `system`
            filled, with `at` (completed, else attended, else reported), `scheme`, and those of
            `audit.repeats.events.with_events`.
        `homes`, by home_id: with store_temp_c/_on, tap_temp_c/_on and bath_tap_temp_c/_on (°C, day), the latest known.
    """
    today = pd.Timestamp(as_of).normalize()
    homes = portfolio.homes.sort_values("home_id", ignore_index=True)
    valves = portfolio.valves.sort_values(["home_id", "valve_id"], ignore_index=True)
    valves = valves.assign(system=valves["system"].fillna(MAIN), **_looked_up(homes, "home_id", FROM_HOME, valves))
    visits = with_events(_visits(portfolio.visits, homes, valves))
    return Facts(
        as_of=today,
        homes=homes_now(homes, visits),
        valves=valves_now(valves, visits, today, policy),
        visits=visits,
    )


def _visits(visits: pd.DataFrame, homes: pd.DataFrame, valves: pd.DataFrame) -> pd.DataFrame:
    filled = _with_valve_and_system(visits, homes, valves)
    filled = filled.assign(at=filled["completed"].fillna(filled["attended"]).fillna(filled["reported"]))
    order = filled[["home_id", "system", "reported", "visit_id"]].sort_values(
        ["home_id", "system", "reported", "visit_id"]
    )
    return filled.loc[order.index].reset_index(drop=True)


def _with_valve_and_system(visits: pd.DataFrame, homes: pd.DataFrame, valves: pd.DataFrame) -> pd.DataFrame:
    """Fill valve, system and scheme.

    The valve: the only one of the home, unless the visit was to another system. The system: the valve's, else the only
    one of the home, else the main one.
    """
    only_valve = valves.drop_duplicates("home_id", keep=False)[["home_id", "valve_id", "system"]]
    systems = valves[["home_id", "system"]].drop_duplicates()
    of_home = homes[["home_id", "scheme"]].assign(
        **_looked_up(only_valve, "home_id", ["valve_id"], homes),
        **_looked_up(systems.drop_duplicates("home_id", keep=False), "home_id", ["system"], homes),
    )
    home = _looked_up(of_home, "home_id", ["scheme", "valve_id", "system"], visits)
    fits = visits["system"].isna() | visits["system"].eq(home["system"])
    filled = visits.assign(scheme=home["scheme"], valve_id=visits["valve_id"].fillna(home["valve_id"].where(fits)))
    of_valve = _looked_up(valves, "valve_id", ["system"], filled)["system"]
    return filled.assign(system=visits["system"].fillna(of_valve).fillna(home["system"]).fillna(MAIN))


def _looked_up(frame: pd.DataFrame, key: str, columns: list[str], rows: pd.DataFrame) -> dict[str, pd.Series]:
    """The columns of `frame` for the id of each row, on the index of `rows`; missing where the id is unknown."""
    found = frame.set_index(key)[columns].reindex(pd.Index(rows[key])).set_axis(rows.index)
    return {name: found[name] for name in columns}
