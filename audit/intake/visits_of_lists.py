"""Visits of work lists that were read back: once each, none from before its list, the log before them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from audit.intake.dangers import carry_over
from audit.intake.problems import Bools, Table, as_shown
from audit.intake.sheet import Rows
from schemas.tables import COLUMNS
from schemas.work_list import DONE_BEFORE

Lists = Mapping[tuple[str, str], Any]  # file and sheet → the list's own date, NaT where unknown
COMPARED = [column.name for column in COLUMNS["visits"] if column.name != "visit_id"]
NOTHING = "nothing, unless they are two different visits"


def of_lists(visits: Table, own: Lists) -> Bools:
    """Which rows come from work lists."""
    frame = visits.frame
    if not own:
        return np.zeros(len(frame), dtype=bool)
    keys = pd.MultiIndex.from_arrays([frame["source_file"], frame["source_sheet"]])
    return np.asarray(keys.isin(list(own)), dtype=bool)


def _dates(visits: Table, own: Lists) -> pd.Series:
    """The date of the list that each row comes from; missing for the log's."""
    frame = visits.frame
    found = pd.Series(pd.NaT, index=frame.index, dtype="datetime64[us]")
    for (file, sheet), day in own.items():
        found = found.mask(frame["source_file"].eq(file) & frame["source_sheet"].eq(sheet), day)
    return found


def return_undone(visits: Table, own: Lists) -> None:
    """Return rows of the teams' sheets that were done before their own list was written: a slip of the year, often."""
    frame, dates = visits.frame, _dates(visits, own)
    early = frame["reported"].lt(dates) & frame["source_sheet"].ne(DONE_BEFORE)
    pos = np.flatnonzero(early.to_numpy() & visits.kept)
    day = as_shown(dates.iloc[pos].reset_index(drop=True))
    reason = "the day is before the list's own date, " + day + ": nobody can have done then what was planned later"
    visits.tell(pos, "reported", reason, "correct the day, often its year, and give the list again", "returned")


def count_once(visits: Table, own: Lists) -> None:
    """Count a visit once that stands in several work lists; the newest list's row stays. Said where they differ."""
    frame = visits.frame
    mine = np.flatnonzero(of_lists(visits, own) & visits.kept)
    again = mine[frame["visit_id"].iloc[mine].duplicated(keep=False).to_numpy()]
    if not len(again):
        return
    order = _dates(visits, own).iloc[again].sort_values(kind="stable", ascending=False, na_position="last").index
    rows = frame.loc[order]
    over = rows["visit_id"].duplicated().to_numpy()
    stays = rows.loc[~over].reset_index(names="at").set_index("visit_id")["at"]
    pos, first = order[over].to_numpy(), stays.reindex(rows.loc[over, "visit_id"]).to_numpy()
    told = pd.Series("", index=range(len(pos)), dtype="str")
    for name in COMPARED:
        new, old = (as_shown(frame[name].iloc[at]).reset_index(drop=True) for at in (first, pos))
        told = told.mask(new.ne(old), told + ", " + name + " “" + new + "” instead of “" + old + "”")
    differ = told.ne("").to_numpy()
    reason = "the newest list counts, " + visits.places(first) + ": it says " + told.str.removeprefix(", ")
    visits.tell(pos[differ], "visit_id", reason[differ], NOTHING, "merged")
    visits.merged[pos] = True


def merge_logged(visits: Table, ours: Bools) -> Rows:
    """Count a visit once that stands in the log and in a list: the same home, day and piece of work.

    The log's row takes over which findings were put right, and what was said of the earth. `ours` are the lists' rows.
    Returns those rows of the log.
    """
    frame = visits.frame
    day = frame["attended"].fillna(frame["completed"]).dt.normalize()
    key = frame[["home_id"]].assign(day=day, action=frame["action"].fillna(""), valve=frame["valve_id"].fillna(""))
    mine = ours & visits.kept & day.notna().to_numpy()
    log = key.loc[~ours & visits.kept & frame["kind"].ne("call_out").to_numpy()]
    log = log.assign(at=log.index).drop_duplicates(["home_id", "day", "action", "valve"])
    found = key.loc[mine].merge(log, how="left", on=["home_id", "day", "action", "valve"])["at"]
    pos = np.flatnonzero(mine)[found.notna().to_numpy()]
    at: Rows = found.dropna().to_numpy(dtype=np.int64)
    if len(pos):
        logged = frame["visit_id"].iloc[at].astype("str")
        reason = "the log has this visit as " + logged.reset_index(drop=True)
        visits.tell(pos, "visit_id", reason, NOTHING, "merged")
        visits.merged[pos] = True
        right = frame["rules_put_right"].iloc[pos].to_numpy()
        takes = frame["rules_put_right"].iloc[at].isna().to_numpy() & pd.notna(right)
        visits.put(at[takes], "rules_put_right", right[takes])
        carry_over(visits, pos, at)
    return at
