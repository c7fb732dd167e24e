"""Call-out events: which call-outs are one fault, and how long after the one before each event came."""

from __future__ import annotations

import pandas as pd

GROUP = ["home_id", "system"]


def with_events(visits: pd.DataFrame) -> pd.DataFrame:
    """Add `is_call_out`, `event` and `gap_days` to the visits.

    A call-out is a visit of kind `call_out`, or one of no recorded kind with a symptom. Call-outs of one home and
    system are one event when they come on one day, or when the later arrives before an earlier one is completed. One
    that was never completed stays open until the first later completion of any visit to that home and system.

    Args:
        visits: Sorted by home_id, system, reported, visit_id; `system` filled.

    Returns:
        The visits with `is_call_out` (bool), `event` (int64, -1 where not a call-out, numbered in the order of the
        rows) and `gap_days` (float64: on the first call-out of an event, whole days from the last report of the event
        before it in that home and system; NaN elsewhere).
    """
    is_call_out = visits["kind"].eq("call_out") | (visits["kind"].isna() & visits["symptom"].notna())
    calls = visits.loc[is_call_out, [*GROUP, "reported", "completed"]]
    same = calls[GROUP].eq(calls[GROUP].shift()).all(axis=1)
    day = calls["reported"].dt.normalize()
    before = day.shift()
    starts = ~same | (day.ne(before) & calls["reported"].ge(_busy_until(calls, visits, (~same).cumsum())))
    gap = (day - before).dt.days.where(same & starts)
    return visits.assign(
        is_call_out=is_call_out,
        event=(starts.cumsum() - 1).reindex(visits.index, fill_value=-1).astype("int64"),
        gap_days=gap.reindex(visits.index).astype("float64"),
    )


def _busy_until(calls: pd.DataFrame, visits: pd.DataFrame, group: pd.Series) -> pd.Series:
    """The latest end of the call-outs before each one in its home and system; NaT for the first."""
    ends = calls["completed"].fillna(_closed_by_another(calls, visits)).fillna(pd.Timestamp.max.as_unit("us"))
    ends = ends.where(ends >= calls["reported"], calls["reported"])
    return ends.groupby(group).cummax().groupby(group).shift()


def _closed_by_another(calls: pd.DataFrame, visits: pd.DataFrame) -> pd.Series:
    """For call-outs never completed: the first later completion in the same home and system, else NaT."""
    unfinished = calls.loc[calls["completed"].isna(), [*GROUP, "reported"]].reset_index(names="row")
    done = visits.loc[visits["completed"].notna(), [*GROUP, "completed"]]
    done = done.loc[done["home_id"].isin(unfinished["home_id"])]
    if unfinished.empty or done.empty:
        return pd.Series(pd.NaT, index=calls.index, dtype="datetime64[us]")
    dated_only = done["completed"].eq(done["completed"].dt.normalize())  # some time that day: as late as possible
    by_end = done["completed"].mask(dated_only, done["completed"] + pd.Timedelta(days=1) - pd.Timedelta(microseconds=1))
    matched = pd.merge_asof(
        unfinished.sort_values("reported", kind="stable"),
        done.assign(by_end=by_end).sort_values("by_end", kind="stable"),
        left_on="reported",
        right_on="by_end",
        by=GROUP,
        direction="forward",
    )
    return matched.set_index("row")["completed"].reindex(calls.index)
