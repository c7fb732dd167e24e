"""Several rows, one thing: exact copies counted once, open jobs completed by later exports, contradictions returned."""

from __future__ import annotations

import numpy as np
import pandas as pd

from audit.intake.headers import columns
from audit.intake.problems import Bools, Table
from audit.intake.sheet import Rows

FIXED = {"visits": ("home_id", "reported")}  # facts that a later export of the same job never changes
NOTHING = "nothing, unless they are two different things"


def settle(table: Table) -> None:
    """Leave one row of those that say the same thing; return those that contradict each other.

    Rows of one id are one thing where no two of them differ in a value that both have. Rows of one visit may differ
    where one of them was written later, that is, when the job had come further: that row counts, the others fill its
    blanks. Where none came further, or home or report differ, all are returned.
    """
    names = [c.name for c in columns(table.name)]
    ids = [c.name for c in columns(table.name) if c.unique]
    kept = np.flatnonzero(table.kept)
    if not ids:
        _copies(table, kept, names)
        return
    again = table.frame[ids[0]].iloc[kept].duplicated(keep=False).to_numpy()
    if again.any():
        _Groups(table, ids[0], names, kept[again]).settle()


def _copies(table: Table, kept: Rows, names: list[str]) -> None:
    """Count rows alike in every column once; such tables have no id."""
    part = table.frame[names].iloc[kept]
    copy = part.duplicated().to_numpy()
    if copy.any():
        same = part.groupby(names, dropna=False, sort=False).ngroup().to_numpy()
        first = kept[~copy][same[copy]]
        reason = "the row is a copy of " + table.places(first)
        table.tell(kept[copy], names[0], reason, "delete one of them", "merged")
        table.merged[kept[copy]] = True


class _Groups:
    """Rows that share their id with others; `pos` are their places in the table, `groups` which id each has."""

    def __init__(self, table: Table, key: str, names: list[str], pos: Rows) -> None:
        self.table, self.key, self.names, self.pos = table, key, names, pos
        self.part = table.frame[names].iloc[pos].reset_index(drop=True)
        self.groups: Rows = pd.factorize(self.part[key])[0]
        self.first: Rows = np.flatnonzero(~pd.Series(self.groups).duplicated().to_numpy())  # by group: its first row
        self.facts = _facts(table.name, self.part, self.groups)
        self.differs = self.facts.groupby(self.groups).nunique().gt(1)

    def settle(self) -> None:
        """Return, merge and correct."""
        bad = self._contradictory()
        self._return(bad)
        stays = self.first[~bad]
        merged = ~bad[self.groups]
        merged[stays] = False
        reason = "the row says the same as, or adds to, " + self.table.places(self.pos[self.first[self.groups[merged]]])
        self.table.tell(self.pos[merged], self.key, reason, NOTHING, "merged")
        self.table.merged[self.pos[merged]] = True
        self._correct(bad)

    def _rank(self) -> Rows:
        """How far a job had come: 2 completed, 1 attended, 0 open; other tables have no such order."""
        if self.table.name != "visits":
            return np.zeros(len(self.part), dtype=np.int64)
        done, there = self.part["completed"].notna(), self.part["attended"].notna()
        return np.where(done, 2, np.where(there, 1, 0)).astype(np.int64)

    def _contradictory(self) -> Bools:
        """By group: its rows cannot be one thing."""
        if self.table.name != "visits":
            return self.differs.any(axis=1).to_numpy(dtype=bool)
        rank = pd.Series(self._rank())
        latest = (rank == rank.groupby(self.groups).transform("max")).to_numpy()
        among = self.facts[latest].groupby(self.groups[latest]).nunique().gt(1).any(axis=1)
        fixed = self.differs[list(FIXED[self.table.name])].any(axis=1)
        return (among.to_numpy() | fixed.to_numpy()).astype(bool)

    def _return(self, bad: Bools) -> None:
        rows = bad[self.groups]
        if not rows.any():
            return
        names = np.array(self.names, dtype=object)
        lists = {group: ", ".join(names[flags]) for group, flags in enumerate(self.differs.to_numpy()) if bad[group]}
        told = pd.Series(lists, dtype="str").reindex(self.groups[rows]).reset_index(drop=True)
        reason = f"the same {self.key} stands for different facts in several rows: they differ in " + told
        mend = "give one of them its own number, or make the rows agree"
        self.table.tell(self.pos[rows], self.key, reason, mend, "returned")

    def _correct(self, bad: Bools) -> None:
        """Give the row that stays the values of the latest row, and blanks the values of the earlier ones."""
        order = np.lexsort((np.arange(len(self.part)), -self._rank(), self.groups))
        settled = self.part.iloc[order].groupby(self.groups[order]).first()
        for name in self.names:
            old = self.part[name].iloc[self.first].reset_index(drop=True)
            new = settled[name].reset_index(drop=True)
            changed = (new.notna() & (old.isna() | (old != new))).to_numpy(dtype=bool) & ~bad
            if changed.any():
                pos = self.pos[self.first[changed]]
                where = self.table.places(self.pos[self._givers(name, order)[changed]])
                reason = f"another row of the same {self.key} has the later or fuller value: " + where
                self.table.tell(pos, name, reason, NOTHING, "repaired")
                self.table.put(pos, name, new[changed].array)

    def _givers(self, name: str, order: Rows) -> Rows:
        """By group: the row whose value of a column counts, the first in `order` that has one; else its first row."""
        having = order[self.part[name].iloc[order].notna().to_numpy()]
        givers = self.first.copy()
        givers[self.groups[having[::-1]]] = having[::-1]  # the last assignment stands: the first that has a value
        return givers


def _facts(table: str, part: pd.DataFrame, groups: Rows) -> pd.DataFrame:
    """The rows as they are compared: capitals and blanks of texts aside, and times by the day where one has no time."""
    facts = part.copy(deep=False)
    for column in columns(table):
        values = part[column.name]
        if column.kind == "text":
            facts[column.name] = values.str.casefold().str.replace(r"\s+", " ", regex=True)
        elif column.kind == "time":
            day = values.dt.normalize()
            whole_day = (values == day).groupby(groups).transform("any")
            facts[column.name] = values.mask(whole_day, day)
    return facts
