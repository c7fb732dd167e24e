"""Several rows, one thing: exact copies counted once, open jobs completed by later exports, contradictions returned."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from audit.intake.headers import columns
from audit.intake.problems import joined, problems_at

FIXED = {"visits": ("home_id", "reported")}  # facts that a later export of the same job never changes


@dataclass(frozen=True)
class Settled:
    """A table in which every id stands once; `merged` and `returned` are row masks over the table given."""

    frame: pd.DataFrame
    problems: pd.DataFrame
    merged: np.ndarray
    returned: np.ndarray


def settle(table: str, frame: pd.DataFrame) -> Settled:
    """Make one row of the rows that say the same thing.

    Args:
        table: The canonical table.
        frame: Its rows in order of file, sheet and row, with a plain index.
    """
    none = np.zeros(len(frame), dtype=bool)
    ids = [c.name for c in columns(table) if c.unique]
    names = [c.name for c in columns(table)]
    if not ids:
        return _copies(table, frame, names)
    repeated = np.flatnonzero(frame[ids[0]].duplicated(keep=False).to_numpy())
    if not len(repeated):
        return Settled(frame, joined([]), none, none)
    part = frame.iloc[repeated].reset_index(drop=True)
    groups, _ = pd.factorize(part[ids[0]])
    settled = _Groups(table, ids[0], names, part, groups)
    merged, returned = none.copy(), none.copy()
    merged[repeated] = settled.merged
    returned[repeated] = settled.returned
    whole = _put_back(frame, repeated[settled.winners], settled.values, names)
    return Settled(whole, settled.problems, merged, returned)


def _put_back(frame: pd.DataFrame, places: np.ndarray, values: pd.DataFrame, names: list[str]) -> pd.DataFrame:
    """Write the settled values into the rows that stay."""
    whole = frame.copy(deep=False)
    for name in names:
        column = frame[name].array
        new = values[name].array
        same = (column.take(places) == new) | (pd.isna(column.take(places)) & pd.isna(new))
        if not np.all(np.asarray(pd.array(same).fillna(False) if hasattr(same, "fillna") else same, dtype=bool)):
            changed = column.copy()
            changed[places] = new
            whole[name] = changed
    return whole


def _copies(table: str, frame: pd.DataFrame, names: list[str]) -> Settled:
    copy = frame.duplicated(subset=names).to_numpy()
    first = frame.drop_duplicates(subset=names)
    problems = joined([])
    if copy.any():
        keys = frame[names].groupby(names, dropna=False, sort=False).ngroup().to_numpy()
        like = first.set_axis(keys[~copy])
        told = like.loc[keys[copy]]
        problems = problems_at(
            table,
            frame[copy],
            column="",
            value="",
            reason="the row is a copy of " + _where(told),
            mend="delete one of them",
            effect="merged",
        )
    return Settled(frame, problems, copy, np.zeros(len(frame), dtype=bool))


def _where(rows: pd.DataFrame) -> pd.Series:
    sheet = rows["source_sheet"].fillna("")
    named = ", sheet '" + sheet + "'"
    place = rows["source_file"] + named.where(sheet.ne(""), "") + ", row " + rows["source_row"].astype("str")
    return place.reset_index(drop=True)


class _Groups:
    """Rows that share their id with others: which stays, which merge into it, which are returned."""

    def __init__(self, table: str, key: str, names: list[str], part: pd.DataFrame, groups: np.ndarray) -> None:
        self.table, self.key, self.names, self.part, self.groups = table, key, names, part, groups
        self.count = int(groups.max()) + 1
        self.rank = self._rank()
        differs = self._differs()
        self.bad = self._contradictory(differs)
        order = np.lexsort((np.arange(len(part)), -self.rank, groups))
        lead = np.flatnonzero(np.r_[True, groups[order][1:] != groups[order][:-1]])
        best = order[lead]  # for each group, its latest row
        first = pd.Series(np.arange(len(part))).groupby(groups).first().to_numpy()
        good = ~self.bad
        self.winners = first[good]  # the row that stays stands where the first of them stood
        self.values = self._completed(order)[good].reset_index(drop=True)
        self.returned = self.bad[groups]
        self.merged = ~self.returned
        self.merged[self.winners] = False
        self.problems = joined(
            [self._told_returned(differs), self._told_merged(first), self._told_changed(first, best)]
        )

    def _rank(self) -> np.ndarray:
        """How far a job had come: 2 completed, 1 attended, 0 open; other tables have no such order."""
        if self.table != "visits":
            return np.zeros(len(self.part), dtype=np.int64)
        done, there = self.part["completed"].notna(), self.part["attended"].notna()
        return np.where(done, 2, np.where(there, 1, 0))

    def _differs(self) -> pd.DataFrame:
        """For each group and column: whether its rows hold more than one value."""
        by = self.part[self.names].groupby(self.groups)
        return by.nunique() > 1

    def _contradictory(self, differs: pd.DataFrame) -> np.ndarray:
        """A group whose rows cannot be one thing: no order among them, or a fact differs that never changes."""
        fixed = [n for n in FIXED.get(self.table, ()) if n in differs]
        any_differs = differs.any(axis=1).to_numpy()
        if self.table != "visits":
            return any_differs
        top = pd.Series(self.rank).groupby(self.groups).transform("max").to_numpy()
        leaders = self.part[self.rank == top]
        among = leaders[self.names].groupby(self.groups[self.rank == top]).nunique().gt(1).any(axis=1)
        torn = among.reindex(np.arange(self.count), fill_value=False).to_numpy()
        return np.asarray(differs[fixed].any(axis=1).to_numpy() | torn)

    def _completed(self, order: np.ndarray) -> pd.DataFrame:
        """For each group the value of its latest row, blanks filled from the earlier ones."""
        ordered = self.part.iloc[order][self.names]
        return ordered.groupby(self.groups[order], sort=True).first()

    def _told_returned(self, differs: pd.DataFrame) -> pd.DataFrame:
        rows = self.part[self.returned]
        if rows.empty:
            return joined([])
        bad = differs[self.bad]
        names = np.array(self.names, dtype=object)
        lists = [", ".join(names[flags]) for flags in bad.to_numpy()]
        told = pd.Series(lists, index=bad.index).reindex(self.groups[self.returned]).to_numpy()
        reason = "the same " + self.key + " stands for different facts in several rows: they differ in "
        return problems_at(
            self.table,
            rows,
            column=self.key,
            value=rows[self.key],
            reason=reason + pd.Series(told, dtype="str"),
            mend="give one of them its own number, or make the rows agree",
            effect="returned",
        )

    def _told_merged(self, first: np.ndarray) -> pd.DataFrame:
        rows = self.part[self.merged]
        stays = self.part.iloc[first[self.groups[self.merged]]]
        return problems_at(
            self.table,
            rows,
            column=self.key,
            value=rows[self.key],
            reason="the row says the same as, or adds to, " + _where(stays),
            mend="nothing, unless they are two different things",
            effect="merged",
        )

    def _told_changed(self, first: np.ndarray, best: np.ndarray) -> pd.DataFrame:
        """Say each cell of the row that stays which another row filled or corrected."""
        found = []
        good = np.flatnonzero(~self.bad)
        for name in self.names:
            old = self.part[name].iloc[first[good]].reset_index(drop=True)
            new = self.values[name].reset_index(drop=True)
            changed = (new.notna() & (old.isna() | (old != new))).to_numpy()
            if not changed.any():
                continue
            rows = self.part.iloc[first[good][changed]]
            by = self.part.iloc[best[good][changed]]
            words = new[changed].astype("str").reset_index(drop=True)
            found.append(
                problems_at(
                    self.table,
                    rows,
                    column=name,
                    value=old[changed].astype("str").fillna(""),
                    reason="another export of the same " + self.key + " says “" + words + "”: " + _where(by),
                    mend="nothing, unless they are two different things",
                    effect="repaired",
                )
            )
        return joined(found)
