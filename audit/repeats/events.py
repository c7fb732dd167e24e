"""Call-out events: which call-outs are one fault, and how long after the one before each event came."""

from __future__ import annotations

import numpy as np
import pandas as pd

GROUP = ["home_id", "system"]
LEFT_WORKING = ("fixed", "temporary", "no_fault_found")


def with_events(visits: pd.DataFrame) -> pd.DataFrame:
    """Add `is_call_out`, `event`, `episode`, `is_fault` and `gap_days` to the visits.

    A call-out is a visit of kind `call_out`, or one of no recorded kind with a symptom. Call-outs of one home and
    system are one event when they come on one day, or when the later arrives before an earlier one is completed. One
    that was never completed stays open until the first later completion of any visit to that home and system; a
    call-out whose own completion that is belongs to it. A visit that left things working without a recorded completion
    is taken as completed when it was attended, else when it was reported. An event whose visits all met nobody in is no
    fault.

    Args:
        visits: Sorted by home_id, system, reported, visit_id; `system` filled.

    Returns:
        The visits with `is_call_out` (bool), `event` (int64, -1 where not a call-out, numbered in the order of the
        rows), `episode` (int64: the event that the visit belongs to, return visits to the event before them; -1 for
        planned work and checks), `is_fault` (bool: the visit's episode is a fault) and `gap_days` (float64: on the
        first call-out of a fault, whole days from the last report of the fault before it in that home and system; NaN
        elsewhere).
    """
    is_call_out = visits["kind"].eq("call_out") | (visits["kind"].isna() & visits["symptom"].notna())
    ended = visits[[*GROUP, "reported"]].assign(completed=completion(visits))
    calls = ended.loc[is_call_out]
    same = calls[GROUP].eq(calls[GROUP].shift()).all(axis=1)
    day = calls["reported"].dt.normalize()
    starts = ~same | (day.ne(day.shift()) & calls["reported"].ge(_busy_until(calls, ended, (~same).cumsum())))
    event = (starts.cumsum() - 1).reindex(visits.index, fill_value=-1).astype("int64")
    visits = visits.assign(is_call_out=is_call_out, event=event)
    episode = _episode(visits)
    is_fault = _is_fault(visits, episode)
    gap = _gap(visits.loc[is_call_out & is_fault, [*GROUP, "reported", "event"]])
    return visits.assign(episode=episode, is_fault=is_fault, gap_days=gap.reindex(visits.index).astype("float64"))


def completion(visits: pd.DataFrame) -> pd.Series:
    """When each visit was completed, or left things working; NaT where it did neither."""
    there = visits["attended"].fillna(visits["reported"])
    return visits["completed"].fillna(there.where(visits["outcome"].isin(LEFT_WORKING)))


def _gap(calls: pd.DataFrame) -> pd.Series:
    """Days from the last report of the fault before, on the first call-out of each fault."""
    day = calls["reported"].dt.normalize()
    same = calls[GROUP].eq(calls[GROUP].shift()).all(axis=1)
    first = calls["event"].ne(calls["event"].shift())
    days: pd.Series = (day - day.shift()).dt.days.where(same & first)
    return days


def _episode(visits: pd.DataFrame) -> pd.Series:
    """The event of a call-out; for a return visit, the last event reported by the end of its day."""
    group = (~visits[GROUP].eq(visits[GROUP].shift()).all(axis=1)).cumsum().to_numpy()
    day = visits["reported"].dt.normalize().to_numpy()
    order = np.lexsort((~visits["is_call_out"].to_numpy(), day, group))
    event = visits["event"].to_numpy()[order]
    latest = pd.Series(np.where(event >= 0, event, np.nan)).groupby(group[order]).ffill()
    found = np.full(len(visits), -1)
    found[order] = latest.fillna(-1).astype("int64")
    return visits["event"].mask(visits["kind"].eq("follow_on"), pd.Series(found, index=visits.index))


def _is_fault(visits: pd.DataFrame, episode: pd.Series) -> pd.Series:
    """False for the visits of an episode of which all that is known is that nobody was in."""
    refused = visits["outcome"].eq("no_access")
    seen = ~refused & visits[["attended", "completed", "outcome"]].notna().any(axis=1)
    only_refused = refused.groupby(episode).transform("any") & ~seen.groupby(episode).transform("any")
    return episode.ge(0) & ~only_refused


def _busy_until(calls: pd.DataFrame, visits: pd.DataFrame, group: pd.Series) -> pd.Series:
    """The latest end of the call-outs before each one in its home and system; NaT for the first."""
    ends = calls["completed"].fillna(_closed_by_another(calls, visits)).fillna(pd.Timestamp.max.as_unit("us"))
    ends = ends.where(ends >= calls["reported"], calls["reported"])
    return ends.groupby(group).cummax().groupby(group).shift()


def _closed_by_another(calls: pd.DataFrame, visits: pd.DataFrame) -> pd.Series:
    """For call-outs never completed: the first later completion in the same home and system, else NaT."""
    unfinished = calls.loc[calls["completed"].isna(), [*GROUP, "reported"]].reset_index(names="row")
    done = visits.loc[visits["completed"].notna(), [*GROUP, "completed", "reported"]]
    done = done.loc[done["home_id"].isin(unfinished["home_id"])]
    if unfinished.empty or done.empty:
        return pd.Series(pd.NaT, index=calls.index, dtype="datetime64[us]")
    instant = pd.Timedelta(microseconds=1)
    dated_only = done["completed"].eq(done["completed"].dt.normalize())  # some time that day: as late as possible
    by_end = done["completed"].mask(dated_only, done["completed"] + pd.Timedelta(days=1) - instant)
    after_report = (done["reported"] + instant).where(done["reported"].le(by_end), done["completed"])
    end = done["completed"].where(done["completed"] >= after_report, after_report)  # a visit precedes its own end
    matched = pd.merge_asof(
        unfinished.sort_values("reported", kind="stable"),
        done.assign(by_end=by_end, end=end).drop(columns="reported").sort_values("by_end", kind="stable"),
        left_on="reported",
        right_on="by_end",
        by=GROUP,
        direction="forward",
    )
    return matched.set_index("row")["end"].reindex(calls.index)
