"""Every replacement that the log holds, on its valve: what was replaced, when, and whether it had failed."""

from __future__ import annotations

import numpy as np
import pandas as pd

from audit.life.grid import Ints
from audit.life.watched import days
from audit.model import Facts
from audit.policy import Policy

USED = ("visit_id", "valve_id", "home_id", "system", "action", "cause", "symptom", "reported", "at")
RENEWALS = ("motor", "head", "full")  # from the least to the most
NOT_DONE = ("no_access", "parts_needed")
OF_THE_HEAD = ("head", "motor", "end_switch", "spring")  # causes that name the head
OF_THE_BODY = ("body", "leak", "water_quality")  # causes that name the body
ELSEWHERE = ("wiring", "control", "lever", "pump", "boiler", "none_found")  # replaced, but it had not failed
HEATING = ("no_heating", "heating_stays_on", "heating_with_hot_water_only")
HOT_WATER = ("no_hot_water", "hot_water_stays_on")


def replaced(facts: Facts, policy: Policy) -> tuple[pd.DataFrame, int]:
    """List the replacements, sorted by valve and day, and count those whose valve had to be inferred.

    Columns: valve (place in `facts.valves`), day and until (days since 1970: the fault's report, and its last
    replacement), what (`motor`, `head`, `full`), head_failed, body_failed.

    A replacement tells of a failure where a call-out, or its return visit, made it and the cause does not lie
    elsewhere; without a cause, a motor or head tells of the head, and a full renewal of head or body by lot, as often
    as those with a cause do. Call-outs to one
    valve that follow each other within the long repeat window are one fault: it began with the first, and what cured
    it, the last, tells which part had failed; what was changed before had been changed in vain.
    """
    visits = facts.visits
    done = visits["action"].isin((*RENEWALS, "wiring")) & ~visits["outcome"].isin(NOT_DONE)
    rows = visits.loc[done, list(USED)]
    valve, inferred = _which_valve(rows, facts, policy)
    cause, full, renewal = rows["cause"], rows["action"].eq("full"), rows["action"].isin(RENEWALS)
    unnamed = ~cause.isin(OF_THE_HEAD + OF_THE_BODY + ELSEWHERE)
    faulty = _fault_driven(visits)[done]
    of_head = cause.isin(OF_THE_HEAD) | (unnamed & ~full) | (unnamed & full & _by_lot(rows, cause, faulty & full))
    work = pd.DataFrame(
        {
            "valve": valve,
            "reported": np.floor(days(rows["reported"])),
            "day": np.floor(days(rows["at"])),
            "extent": rows["action"].map({name: place for place, name in enumerate(RENEWALS)}),
            "faulty": faulty,
            "head_failed": faulty & renewal & of_head,
            "body_failed": faulty & full & (cause.isin(OF_THE_BODY) | (unnamed & ~of_head)),
        }
    )
    work = work.loc[work["valve"].ge(0) & work["day"].notna()].sort_values(["valve", "day"], kind="stable")
    return _faults(work, policy.number("repeats.long_window")), inferred


def _faults(work: pd.DataFrame, window: float) -> pd.DataFrame:
    """Draw the work on one fault together: work of one day, and call-outs that follow each other within the window."""
    gap = work["day"] - work["day"].shift()
    goes_on = gap.eq(0) | (gap.le(window) & work["faulty"] & work["faulty"].shift(fill_value=False))
    fault = (~(goes_on & work["valve"].eq(work["valve"].shift()))).cumsum()
    renewed = work["day"].where(work["extent"].notna())
    one = (
        work.assign(renewed=renewed)
        .groupby(fault)
        .agg(
            valve=("valve", "first"),
            day=("reported", "first"),
            until=("renewed", "max"),
            extent=("extent", "max"),
            head_failed=("head_failed", "last"),
            body_failed=("body_failed", "last"),
        )
    )
    one = one.loc[one["until"].notna()].reset_index(drop=True)
    what = pd.Series(np.array(RENEWALS)[one["extent"].astype("int64")], dtype="str")
    return one.assign(what=what)[["valve", "day", "until", "what", "head_failed", "body_failed"]]


def _by_lot(rows: pd.DataFrame, cause: pd.Series[str], full: pd.Series[bool]) -> pd.Series[bool]:
    """Draw the head as the failed part as often as in the full renewals whose cause is known; same on every run."""
    named = cause[full & cause.isin(OF_THE_HEAD + OF_THE_BODY)]
    share = named.isin(OF_THE_HEAD).mean() if len(named) else 0.0
    lot = pd.util.hash_pandas_object(rows["visit_id"], index=False).to_numpy() / 2.0**64
    return pd.Series(lot < share, index=rows.index)


def _fault_driven(visits: pd.DataFrame) -> pd.Series[bool]:
    """Tell call-outs, and return visits whose home and system last had a call-out rather than planned work."""
    follows = visits["kind"].eq("follow_on")
    own = visits["is_call_out"].astype("float64").where(~follows)
    of_the_job = own.groupby([visits["home_id"], visits["system"]]).ffill()
    return of_the_job.fillna(1.0).astype(bool)


def _which_valve(rows: pd.DataFrame, facts: Facts, policy: Policy) -> tuple[Ints, int]:
    """Return the valve's place for each row, -1 where none fits, and how many were inferred.

    Where the visit does not name the valve, it is the one of the home and system whose own date tells of it; else the
    one on the circuit that the symptom names; else one drawn by lot, the same on every run. Wiring is not guessed at.
    """
    place = pd.Index(facts.valves["valve_id"]).get_indexer(rows["valve_id"])
    missing = np.flatnonzero((place < 0) & rows["action"].isin(RENEWALS).to_numpy())
    if not len(missing):
        return place, 0
    asked = rows.iloc[missing].reset_index(drop=True).assign(row=missing)
    keep = ["valve_id", "home_id", "system", "circuit", "head_fitted", "body_fitted"]
    stock = facts.valves[keep].assign(place=np.arange(len(facts.valves)))
    pairs = asked[["row", "visit_id", "home_id", "system", "action", "symptom", "at"]].merge(
        stock, on=["home_id", "system"]
    )
    dated = pairs["head_fitted"].where(pairs["action"].ne("full"), pairs["body_fitted"])
    by_date = (dated - pairs["at"]).abs() <= pd.Timedelta(days=policy.number("life.date_slack"))
    heating = pairs["circuit"].str.startswith("heating", na=False) | pairs["circuit"].eq("underfloor")
    by_circuit = (pairs["symptom"].isin(HEATING) & heating) | (
        pairs["symptom"].isin(HOT_WATER) & pairs["circuit"].eq("hot_water")
    )
    lot = pd.util.hash_pandas_object(pairs["visit_id"] + "|" + pairs["valve_id"], index=False)
    ranked = pairs.assign(fit=2 * by_date + 1 * by_circuit, lot=lot)
    chosen = ranked.sort_values(["row", "fit", "lot"], ascending=[True, False, True]).drop_duplicates("row")
    place = place.copy()
    place[chosen["row"]] = chosen["place"]
    return place, len(chosen)
