"""The state of valves and homes on the as-of date: the register, brought up to date by the visits in date order."""

from __future__ import annotations

from typing import Final

import pandas as pd

from audit.calendar import months_between, years_between
from audit.policy import Policy

FAILED: Final = "readings-name-head"  # the rule that a planned visit names where the head had failed
RECENT_MONTHS: Final = 12  # what "recent" means in the column `call_outs_12m`
READ_AT_HOME: Final = ("store_temp", "tap_temp", "bath_tap_temp")
LOGGED: Final = [
    "visit_id",
    "reported",
    "action",
    "outcome",
    "earthed",
    "left_isolated",
    "lever",
    "location_temp_c",
    "flow_temp_c",
    "is_call_out",
    "event",
    "symptom",
    "kind",
    "rules_put_right",
]


def valves_now(valves: pd.DataFrame, visits: pd.DataFrame, as_of: pd.Timestamp, policy: Policy) -> pd.DataFrame:
    """Bring each valve's row up to date; see `audit.facts.facts` for the columns added.

    Args:
        valves: One row a valve, numbered from 0, `system` filled.
        visits: In a total order, with `valve_id`, `at`, `event`, `is_call_out` filled.
        as_of: The as-of date.
        policy: For the windows of heads replaced again.
    """
    log = _log(visits, valves["valve_id"], LOGGED)
    done = log.loc[log["done"]]
    known = _with_ages(valves, done, as_of)
    known = _with_readings(known, log, _last_day(done, ("relocate",), valves.index))
    known = _with_lever(known, log)
    known = _with_earth(known, log)
    known = _with_heads_renewed(known, done, as_of, policy)
    return _with_call_outs(known, log.loc[log["is_call_out"]], as_of)


def homes_now(homes: pd.DataFrame, visits: pd.DataFrame) -> pd.DataFrame:
    """Add the latest readings of READ_AT_HOME of each home, numbered from 0: their `_c` (°C) and `_on` (day)."""
    columns = [f"{name}_c" for name in READ_AT_HOME]
    log = _log(visits.loc[visits[columns].notna().any(axis=1)], homes["home_id"], columns)
    added: dict[str, pd.Series] = {}
    for name in READ_AT_HOME:
        latest = _latest(log, f"{name}_c", homes.index)
        added |= {f"{name}_c": latest[f"{name}_c"], f"{name}_on": latest["on"]}
    return homes.assign(**added)


def _log(visits: pd.DataFrame, ids: pd.Series, columns: list[str]) -> pd.DataFrame:
    """Visits to known valves or homes in date order: `row` (place in `ids`), `on` (day), `done`, and the columns."""
    row = pd.Index(ids).get_indexer(pd.Index(visits[str(ids.name)]))
    log = visits[["at", *columns]].assign(row=row, done=visits["completed"].notna())
    log = log.loc[log["row"] >= 0].sort_values("at", kind="stable", ignore_index=True)
    return log.assign(on=log["at"].dt.normalize())


def _latest(log: pd.DataFrame, column: str, rows: pd.Index) -> pd.DataFrame:
    """The last recorded value of a column, and its day, for each row of the register; missing where there is none."""
    recorded = log.loc[log[column].notna(), ["row", column, "on"]]
    return recorded.drop_duplicates("row", keep="last").set_index("row").reindex(rows)


def _last_day(done: pd.DataFrame, actions: tuple[str, ...], rows: pd.Index) -> pd.Series:
    """The last day on which one of the actions was completed, for each row of the register; NaT where never."""
    return (
        done.loc[done["action"].isin(actions)].drop_duplicates("row", keep="last").set_index("row")["on"].reindex(rows)
    )


def _with_ages(valves: pd.DataFrame, done: pd.DataFrame, as_of: pd.Timestamp) -> pd.DataFrame:
    head, head_basis = _later(valves["head_fitted"], _last_day(done, ("head", "full"), valves.index))
    body, body_basis = _later(valves["body_fitted"], _last_day(done, ("full",), valves.index))
    oldest = _last_day(done.iloc[::-1], ("head",), valves.index)  # the first, read backwards
    oldest = pd.concat([valves["head_fitted"].dt.normalize(), oldest], axis=1).min(axis=1)
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
    moved_log = moved.reindex(log["row"]).set_axis(log.index)
    here = moved.isna() | (valves["location_temp_on"] >= moved)
    location = _newer(valves, log.loc[~(log["on"] < moved_log)], "location_temp", here)
    return valves.assign(**location, **_newer(valves, log, "flow_temp", moved.isna() | True))


def _newer(valves: pd.DataFrame, log: pd.DataFrame, name: str, holds: pd.Series) -> dict[str, pd.Series]:
    """The register's reading as far as it still holds, or the last visit's where that is not older."""
    seen = _latest(log, f"{name}_c", valves.index)
    own = valves[f"{name}_c"].where(holds)
    own_on = valves[f"{name}_on"].dt.normalize().where(own.notna())
    newer = seen["on"].notna() & ~(own_on > seen["on"])
    return {f"{name}_c": _as_read(own.mask(newer, seen[f"{name}_c"])), f"{name}_on": own_on.mask(newer, seen["on"])}


def _as_read(temperature: pd.Series) -> pd.Series:
    """Temperatures in °C, those finer than a hundredth to one decimal: turned from another scale, none was read so."""
    return temperature.where((temperature - temperature.round(2)).abs().lt(1e-6), temperature.round(1))


def _with_lever(valves: pd.DataFrame, log: pd.DataFrame) -> pd.DataFrame:
    """The lever as last recorded; resetting it or renewing the valve leaves it free unless the visit says otherwise.

    Stiff, on the visit that renewed the valve, tells of the old one.
    """
    full = log["done"] & log["action"].eq("full")
    freed = log["lever"].isna() & (full | (log["done"] & log["action"].eq("reset_lever")))
    recorded = log["lever"].mask(freed | (full & log["lever"].eq("stiff")), "free")
    seen = _latest(log.assign(lever=recorded), "lever", valves.index)
    lever = seen["lever"].fillna(valves["lever"])
    return valves.assign(lever=lever, lever_on=seen["on"], lever_registered=valves["lever"])


def _with_earth(valves: pd.DataFrame, log: pd.DataFrame) -> pd.DataFrame:
    """The earth as last known, and what was done about it since it was last proved.

    A visit that put the earth right and was left fixed proves it, unless the visit says otherwise: that it was not
    proved, that nobody wrote so, or that the head was left isolated.
    """
    put_right = log["done"] & log["action"].eq("earth")
    taken = put_right & log["outcome"].eq("fixed") & log["earthed"].isna() & log["left_isolated"].ne("yes")
    said = log["earthed"].where(log["earthed"].isin(("yes", "no"))).mask(taken, "yes")
    seen = _latest(log.assign(said=said), "said", valves.index)
    proved = log.loc[said.eq("yes")].assign(at=lambda rows: rows.index).groupby("row")["at"].last()
    since = log.loc[log.index > log["row"].map(proved).fillna(-1)]
    unproved = since.loc[(put_right & ~taken).reindex(since.index)]
    isolated = since.loc[since["left_isolated"].eq("yes")]
    return valves.assign(
        earthed=seen["said"].fillna(valves["earthed"]),
        earthed_on=seen["on"],
        earth_unproved_on=_latest(unproved, "action", valves.index)["on"],
        earth_unproved_outcome=_latest(unproved, "outcome", valves.index)["outcome"],
        isolated_on=_latest(isolated, "left_isolated", valves.index)["on"],
    )


def _with_heads_renewed(valves: pd.DataFrame, done: pd.DataFrame, as_of: pd.Timestamp, policy: Policy) -> pd.DataFrame:
    """Heads and motors renewed on the present body within the window: how many, when by which visits, and the last.

    Planned renewals count only where the readings named the head: others, ahead of a failure or for a head of the wrong
    kind, tell nothing of the body. A head that follows a motor within the long window of repeats ends the repair that
    the motor began: one renewal.
    """
    ahead = done["kind"].eq("planned") & ~done["rules_put_right"].str.contains(FAILED, regex=False).eq(True)
    renewed = done.loc[done["action"].isin(("head", "motor")) & ~ahead, ["row", "on", "action", "visit_id"]]
    body_known = valves["body_since"].where(valves["body_age_basis"].ne("the head's date"))
    on_older_body = body_known.reindex(renewed["row"]).set_axis(renewed.index) >= renewed["on"]
    recent = months_between(renewed["on"], as_of).le(policy.number("repeats.head_again_window"))
    renewed = renewed.loc[recent & ~on_older_body].sort_values("row", kind="stable")
    before = renewed.groupby("row")[["on", "action"]].shift()
    ends = renewed["action"].eq("head") & before["action"].eq("motor")
    ends &= (renewed["on"] - before["on"]).dt.days.le(policy.number("repeats.long_window"))
    day = renewed["on"].dt.day.astype("str") + renewed["on"].dt.strftime(" %B %Y")
    told = renewed["action"] + " " + day + " (" + renewed["visit_id"] + ")"
    told = (", " + told).mask(before["on"].isna(), told).mask(ends, " and the " + told + " after it, counted once")
    on = told.groupby(renewed["row"]).agg("".join).reindex(valves.index)
    return valves.assign(
        heads_renewed_recently=_count(renewed.loc[~ends], valves.index),
        heads_renewed_on=on.astype("str"),
        heads_renewed_last=renewed.groupby("row")["on"].max().reindex(valves.index),
    )


def _with_call_outs(valves: pd.DataFrame, calls: pd.DataFrame, as_of: pd.Timestamp) -> pd.DataFrame:
    events = calls.sort_values("reported", kind="stable").assign(on=lambda rows: rows["reported"].dt.normalize())
    recent = events.loc[months_between(events["on"], as_of).lt(RECENT_MONTHS), ["row", "event"]]
    return valves.assign(
        call_outs_12m=_count(recent.drop_duplicates(), valves.index),
        last_symptom=_latest(events, "symptom", valves.index)["symptom"],
        last_call_out=_latest(events, "event", valves.index)["on"],
    )


def _count(log: pd.DataFrame, rows: pd.Index) -> pd.Series:
    return log["row"].value_counts().reindex(rows, fill_value=0).astype("int64")
