"""The state of valves and homes on the as-of date: the register, brought up to date by the visits in date order."""

from __future__ import annotations

import pandas as pd

from audit.calendar import months_between, years_between
from audit.policy import Policy

RECENT_MONTHS = 12  # what "recent" means in the column `call_outs_12m`


def valves_now(valves: pd.DataFrame, visits: pd.DataFrame, as_of: pd.Timestamp, policy: Policy) -> pd.DataFrame:
    """Bring each valve's row up to date; see `audit.facts.facts` for the columns added.

    Args:
        valves: One row a valve, `system` filled.
        visits: With `valve_id`, `at`, `event`, `is_call_out` filled.
        as_of: The as-of date.
        policy: For the window of heads replaced again.
    """
    log = visits.loc[visits["valve_id"].isin(valves["valve_id"])]
    log = log.assign(on=log["at"].dt.normalize()).sort_values("at", kind="stable")
    done = log.loc[log["completed"].notna()]
    known = _with_ages(valves, done, as_of)
    known = _with_readings(known, log, _last_day(known, done, ("relocate",)))
    known = _with_lever(known, log)
    earthed = _last_day(known, done, ("earth",)).notna()
    known = known.assign(
        earthed=known["earthed"].mask(earthed, "yes"),
        heads_renewed_recently=_heads_renewed(known, done, as_of, policy.number("repeats.head_again_window")),
    )
    return _with_call_outs(known, log.loc[log["is_call_out"]], as_of)


def homes_now(homes: pd.DataFrame, visits: pd.DataFrame) -> pd.DataFrame:
    """Add the latest store and tap readings of each home: `store_temp_c/_on`, `tap_temp_c/_on`."""
    log = visits.assign(on=visits["at"].dt.normalize()).sort_values("at", kind="stable")
    added: dict[str, pd.Series] = {}
    for name in ("store_temp", "tap_temp"):
        latest = _latest(log, f"{name}_c", "home_id", homes["home_id"])
        added |= {f"{name}_c": latest[f"{name}_c"], f"{name}_on": latest["on"]}
    return homes.assign(**added)


def _latest(log: pd.DataFrame, column: str, key: str, ids: pd.Series) -> pd.DataFrame:
    """The last recorded value and its day for each of `ids`, on the index of `ids`; `log` is in date order."""
    last = log.loc[log[column].notna(), [key, column, "on"]].drop_duplicates(key, keep="last").set_index(key)
    return last.reindex(ids).set_axis(ids.index)


def _last_day(valves: pd.DataFrame, done: pd.DataFrame, actions: tuple[str, ...], *, first: bool = False) -> pd.Series:
    """The last (or first) day on which one of the actions was completed, for each valve; NaT where never."""
    acts = done.loc[done["action"].isin(actions), ["valve_id", "on"]]
    days = acts.drop_duplicates("valve_id", keep="first" if first else "last").set_index("valve_id")["on"]
    return days.reindex(valves["valve_id"]).set_axis(valves.index)


def _with_ages(valves: pd.DataFrame, done: pd.DataFrame, as_of: pd.Timestamp) -> pd.DataFrame:
    head, head_basis = _later(valves["head_fitted"], _last_day(valves, done, ("head", "full")))
    body, body_basis = _later(valves["body_fitted"], _last_day(valves, done, ("full",)))
    first_head = _last_day(valves, done, ("head",), first=True)
    oldest = pd.concat([valves["head_fitted"], first_head], axis=1).min(axis=1)
    from_body = body.notna() & (head.isna() | (head < body))  # a head is never older than the body it came with
    from_head = body.isna() & oldest.notna()
    head, head_basis = head.mask(from_body, body), head_basis.mask(from_body, "the body's date")
    body, body_basis = body.mask(from_head, oldest), body_basis.mask(from_head, "the head's date")
    return valves.assign(
        head_since=head,
        head_age_years=years_between(head, as_of),
        head_age_basis=head_basis,
        body_since=body,
        body_age_years=years_between(body, as_of),
        body_age_basis=body_basis,
    )


def _later(own: pd.Series, visited: pd.Series) -> tuple[pd.Series, pd.Series]:
    """The later of the register's date and a visit's, and which one it was."""
    own = own.dt.normalize()
    by_visit = visited.notna() & (own.isna() | (visited > own))
    basis = pd.Series("its own date", index=own.index, dtype="str").mask(own.isna(), None).mask(by_visit, "a visit")
    return own.mask(by_visit, visited), basis


def _with_readings(valves: pd.DataFrame, log: pd.DataFrame, moved: pd.Series) -> pd.DataFrame:
    """Latest temperatures; a register reading without a date is older than any visit; moving the valve voids older."""
    stale = log["on"] < _of_valve(moved, valves, log)
    own_stale = moved.notna() & ~(valves["location_temp_on"] >= moved)
    added: dict[str, pd.Series] = {}
    for name, void, own_void in (
        ("location_temp", stale, own_stale),
        ("flow_temp", stale & False, own_stale & False),
    ):
        seen = _latest(log.loc[~void], f"{name}_c", "valve_id", valves["valve_id"])
        own = valves[f"{name}_c"].mask(own_void)
        own_on = valves[f"{name}_on"].dt.normalize().where(own.notna())
        newer = seen["on"].notna() & ~(own_on > seen["on"])
        added |= {
            f"{name}_c": own.mask(newer, seen[f"{name}_c"]),
            f"{name}_on": own_on.mask(newer, seen["on"]),
        }
    return valves.assign(**added)


def _with_lever(valves: pd.DataFrame, log: pd.DataFrame) -> pd.DataFrame:
    """The lever as last recorded; resetting it or renewing the valve leaves it free unless the visit says otherwise."""
    freed = log["completed"].notna() & log["action"].isin(("reset_lever", "full"))
    recorded = log["lever"].mask(log["lever"].isna() & freed, "free")
    seen = _latest(log.assign(lever=recorded), "lever", "valve_id", valves["valve_id"])
    return valves.assign(lever=seen["lever"].fillna(valves["lever"]), lever_on=seen["on"])


def _heads_renewed(valves: pd.DataFrame, done: pd.DataFrame, as_of: pd.Timestamp, months: float) -> pd.Series:
    """Heads and motors renewed on the present body within the window."""
    renewed = done.loc[done["action"].isin(("head", "motor")), ["valve_id", "on"]]
    body_known = valves["body_since"].where(valves["body_age_basis"].ne("the head's date"))
    on_older_body = _of_valve(body_known, valves, renewed) >= renewed["on"]
    counted = renewed.loc[months_between(renewed["on"], as_of).le(months) & ~on_older_body]
    return _count(counted, valves)


def _with_call_outs(valves: pd.DataFrame, calls: pd.DataFrame, as_of: pd.Timestamp) -> pd.DataFrame:
    events = calls.sort_values("reported", kind="stable").assign(on=lambda rows: rows["reported"].dt.normalize())
    recent = events.loc[months_between(events["on"], as_of).le(RECENT_MONTHS), ["valve_id", "event"]]
    last = events[["valve_id", "on"]].drop_duplicates("valve_id", keep="last").set_index("valve_id")["on"]
    return valves.assign(
        call_outs_12m=_count(recent.drop_duplicates(), valves),
        last_symptom=_latest(events, "symptom", "valve_id", valves["valve_id"])["symptom"],
        last_call_out=last.reindex(valves["valve_id"]).set_axis(valves.index),
    )


def _of_valve(values: pd.Series, valves: pd.DataFrame, rows: pd.DataFrame) -> pd.Series:
    """What `values`, one a valve, says of the valve of each row."""
    return values.set_axis(valves["valve_id"]).reindex(rows["valve_id"]).set_axis(rows.index)


def _count(rows: pd.DataFrame, valves: pd.DataFrame) -> pd.Series:
    counted = rows["valve_id"].value_counts().reindex(valves["valve_id"], fill_value=0)
    return counted.set_axis(valves.index).astype("int64")
