"""Several rows, one thing: copies counted once, jobs completed or amended by later exports, contradictions returned."""

from __future__ import annotations

import numpy as np
import pandas as pd

from audit.intake.exports import Exports
from audit.intake.headers import columns
from audit.intake.problems import Bools, Table, as_shown
from audit.intake.sheet import Rows

FIXED = {"visits": ("home_id", "reported"), "valves": ("home_id",)}  # facts that no later export of a thing changes
SHOWN = 60  # characters of a value that gave way
NOTHING = "nothing, unless they are two different things"


def settle(table: Table) -> None:
    """Leave one row of those that say the same thing; return those that contradict each other.

    Rows of one id are one thing where no two of them differ in a value that both have. They may differ where one of
    them was written later: when the job had come further, or in an export that was clearly made later. That row counts,
    the others fill its blanks. Where none is later, or home or report differ, all are returned.
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
        self.facts = _facts(table.name, self.part, self.groups)
        self.differs = self.facts.groupby(self.groups).nunique().gt(1)
        self.stage = self._stage()
        self.exports = Exports(table)
        self.order: Rows = np.lexsort((*self.exports.order(pos), -self.stage, self.groups))
        self.first: Rows = self.order[~pd.Series(self.groups[self.order]).duplicated().to_numpy()]  # by group: it stays

    def settle(self) -> None:
        """Return, merge and complete."""
        bad = self._contradictory()
        self._return(bad)
        merged = ~bad[self.groups]
        merged[self.first] = False
        self.table.tell(self.pos[merged], self.key, self._why_merged(merged), NOTHING, "merged")
        self.table.merged[self.pos[merged]] = True
        self._complete(bad)

    def _stage(self) -> Rows:
        """How far a job had come: 2 completed, 1 attended, 0 open; other tables have no such stages."""
        if self.table.name != "visits":
            return np.zeros(len(self.part), dtype=np.int64)
        done, there = self.part["completed"].notna(), self.part["attended"].notna()
        return np.where(done, 2, np.where(there, 1, 0)).astype(np.int64)

    def _givers(self, name: str) -> Rows:
        """By group: the first row in order that has a value of a column; else the row that stays."""
        having = self.order[self.part[name].iloc[self.order].notna().to_numpy()]
        givers = self.first.copy()
        givers[self.groups[having[::-1]]] = having[::-1]  # the last assignment stands: the first that has a value
        return givers

    def _overruled(self, name: str) -> tuple[Rows, Rows]:
        """Rows whose value of a column gives way to another's, and that row for each."""
        giver = self._givers(name)[self.groups]
        facts = self.facts[name]
        differ = facts.notna().to_numpy() & (facts.to_numpy() != facts.iloc[giver].to_numpy())
        rows = np.flatnonzero(differ)
        return rows, giver[rows]

    def _contradictory(self) -> Bools:
        """By group: its rows cannot be one thing.

        Those of the stage that the job last had may differ only where one was clearly written after the other.
        """
        fixed = list(FIXED.get(self.table.name, ()))
        bad: Bools = self.differs[fixed].any(axis=1).to_numpy(dtype=bool, copy=True)
        pairs = [np.stack(self._overruled(name)) for name in self.names if self.differs[name].any()]
        if not pairs:
            return bad
        old, new = np.unique(np.concatenate(pairs, axis=1), axis=1)
        last = self.stage[old] == self.stage[self.first[self.groups[old]]]
        old, new = old[last], new[last]
        bad[self.groups[old[~self.exports.later(self.pos[new], self.pos[old])]]] = True
        return bad

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

    def _why_merged(self, merged: Bools) -> pd.Series[str]:
        """Say of each merged row that it says the same as the one that stays, or what that one says instead."""
        told = pd.Series("", index=self.part.index, dtype="str")
        for name in self.names:
            old, new = self._overruled(name)
            if len(old):
                says, said = (as_shown(self.part[name].iloc[n]).str.slice(0, SHOWN).set_axis(old) for n in (new, old))
                told.iloc[old] += f", {name} “" + says + "” instead of “" + said + "”"
        where = self.table.places(self.pos[self.first[self.groups[merged]]])
        told = told[merged].reset_index(drop=True)
        further = (self.stage < self.stage[self.first[self.groups]])[merged]
        same = "the row says the same as, or adds to, " + where
        later = "the later row counts, " + where + (": it says " + told.str.removeprefix(", ")).where(told.ne(""), "")
        return later.where(further | told.ne("").to_numpy(), same)

    def _complete(self, bad: Bools) -> None:
        """Fill the blanks of the row that stays from the others."""
        for name in self.names:
            giver = self._givers(name)
            filled = (giver != self.first) & self.part[name].iloc[self.first].isna().to_numpy() & ~bad
            if filled.any():
                pos, source = self.pos[self.first[filled]], giver[filled]
                reason = f"another row of the same {self.key} has the value: " + self.table.places(self.pos[source])
                self.table.tell(pos, name, reason, NOTHING, "repaired")
                self.table.put(pos, name, self.part[name].iloc[source].array)


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
