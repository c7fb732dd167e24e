"""How good the records are, by scheme, by file and by column, after the dimensions of data quality.

Source: The Government Data Quality Framework (UK Government Data Quality Hub, 3 December 2020). Its list of dimensions
is from memory; how each is counted here is ours, see `TERMS`. Only homes, valves and visits are looked at. Accuracy,
the sixth dimension, cannot be told from records; only a look at the valve tells.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.calendar import months_between
from audit.gaps import WANTED, every, gaps
from audit.model import Facts
from audit.policy import Policy
from audit.problem_kinds import placed_lines
from schemas.checks import place_in
from schemas.tables import COLUMNS

TERMS: Final = (  # dimension, counted in, good, of
    (
        "completeness",
        "cells",
        "with a value that the audit can use, read from the notes where only they tell it",
        "cells of the rows used, in the columns that the audit wants of such rows",
    ),
    (
        "validity",
        "cells",
        "neither returned nor repaired for what stands in them",
        "cells filled in the file: those with a value in rows used, and those whose value could not be used",
    ),
    (
        "uniqueness",
        "rows",
        "neither merged with another row nor returned because their number stands for different facts",
        "rows read",
    ),
    (
        "consistency",
        "rows",
        "without a value that contradicts another of the row, of another table or of a later export",
        "rows read; by column: cells filled",
    ),
    (
        "timeliness",
        "dated records",
        "gas checks not past their due date; air temperatures no older than place.reading_max_age; visits that were "
        "attended, completed, or reported within quality.open_longest before the as-of date",
        "homes with a due date, valves with an air temperature, visits",
    ),
)
DIMENSIONS: Final = tuple(term[0] for term in TERMS)
TABLES: Final = ("homes", "valves", "visits")
GROUPINGS: Final = ("all", "file", "scheme", "column")
KEY: Final = ["grouped_by", "group", "dimension"]
UNKNOWN: Final = "not recorded"  # the scheme of a row that was not used could not be relied on either
EVERYTHING: Final = "all records"
Numbers = npt.NDArray[Any]
Groups = Mapping[str, tuple[Numbers, pd.Index]]  # by grouping: the group of each row as a code, and the groups' names


def records(
    facts: Facts,
    tables: Mapping[str, pd.DataFrame],
    problems: pd.DataFrame,
    absent: Mapping[str, frozenset[str]],
    policy: Policy,
) -> dict[str, pd.DataFrame]:
    """Everything that the reports show of the records' quality.

    Returns:
        `quality` (see that function), `quality_side_by_side` (the shares of a group in one row), `quality_terms`
        (dimension, counted_in, good, of: in words), `quality_gaps` (see `audit.gaps.gaps`).
    """
    counted = quality(tables, problems, absent, facts.as_of, policy)
    return {
        "quality": counted,
        "quality_side_by_side": _side_by_side(counted),
        "quality_terms": pd.DataFrame(list(TERMS), columns=["dimension", "counted_in", "good", "of"]),
        "quality_gaps": gaps(facts, policy),
    }


def quality(
    tables: Mapping[str, pd.DataFrame],
    problems: pd.DataFrame,
    absent: Mapping[str, frozenset[str]],
    as_of: pd.Timestamp,
    policy: Policy,
) -> pd.DataFrame:
    """Count what is good of what there is, in each dimension and for each group.

    Args:
        tables: The clean tables as known on the as-of date, with source columns.
        problems: Rows returned, repaired or merged (`schemas.results.PROBLEM_COLUMNS`).
        absent: For each table, the optional columns that no file had.
        as_of: The as-of date.
        policy: The limits in force.

    Returns:
        One row a grouping (all, file, scheme, column), group and dimension: grouped_by, group, dimension, counted_in,
        good, of, share (0 to 1). Files in the order of their names, columns in that of the dictionary, the schemes that
        are least complete first. What cannot be counted, because there is nothing of it, is left out.
    """
    scheme_of = tables["homes"][["home_id", "scheme"]]
    parts = []
    for name in TABLES:
        lines = placed_lines(problems.loc[problems["table"].eq(name)], tables[name])
        parts += _Counted(name, tables[name], lines, scheme_of, absent.get(name, frozenset())).all(as_of, policy)
    counted = pd.concat(parts, ignore_index=True).groupby(KEY, sort=False, as_index=False)[["good", "of"]].sum()
    counted = counted.loc[counted["of"].gt(0)].astype({"good": "int64", "of": "int64"})
    unit = counted["dimension"].map({term[0]: term[1] for term in TERMS})
    cells = counted["grouped_by"].eq("column") & counted["dimension"].eq("consistency")
    counted = counted.assign(counted_in=unit.mask(cells, "cells"), share=counted["good"] / counted["of"])
    return _in_order(counted)[[*KEY, "counted_in", "good", "of", "share"]]


class _Counted:
    """One table: its used rows with their groups, and its problem lines with theirs."""

    def __init__(
        self, name: str, clean: pd.DataFrame, lines: pd.DataFrame, schemes: pd.DataFrame, absent: frozenset[str]
    ) -> None:
        self.name, self.clean, self.absent = name, clean, absent
        place = place_in(clean["home_id"], schemes["home_id"])
        scheme = pd.Series(schemes["scheme"].array.take(place, allow_fill=True)).fillna(UNKNOWN)
        self.groups = _groups(clean["source_file"], scheme)
        filled = lines["value"].fillna("").ne("").to_numpy()
        pos = lines["pos"].to_numpy()
        lines = lines.assign(filled=filled, usable=_usable(clean, lines["field"], pos))
        self.lines = lines.reset_index(drop=True)
        of_line = pd.Series(pd.array(np.full(len(lines), UNKNOWN), dtype="str")).mask(
            pos >= 0, scheme.array.take(pos, allow_fill=True)
        )
        self.line_groups = _groups(self.lines["file"], of_line)

    def all(self, as_of: pd.Timestamp, policy: Policy) -> list[pd.DataFrame]:
        """Every dimension, for every grouping."""
        return [*self._completeness(), *self._cells(), *self._rows(), *self._timeliness(as_of, policy)]

    def _completeness(self) -> list[pd.DataFrame]:
        wants = WANTED[self.name]
        good, of = np.zeros(len(self.clean)), np.zeros(len(self.clean))
        columns = []
        for column in COLUMNS[self.name]:
            if column.name in self.absent and column.name not in wants:
                continue
            want = wants[column.name].of if column.name in wants else every
            asked = want(self.clean).to_numpy(dtype=bool)
            there = asked & self.clean[column.name].notna().to_numpy()
            columns.append(self._column(column.name, "completeness", there.sum(), asked.sum()))
            if column.required or column.name in wants:
                good += there
                of += asked
        return [*columns, *_tallied(self.groups, "completeness", good, of)]

    def _cells(self) -> list[pd.DataFrame]:
        """Validity, and by column consistency: problems of cells held against the cells filled in the file."""
        lines = self.lines
        cell = lines["filled"] & lines["effect"].ne("merged") & lines["kind"].ne("empty")
        lost = _once(lines, cell & ~lines["usable"], ["row_key", "field"])
        invalid = _once(lines, cell & lines["kind"].eq("invalid"), ["row_key", "field"])
        against = _once(lines, cell & lines["kind"].eq("contradicts"), ["row_key", "field"])
        there = np.zeros(len(self.clean))
        columns = []
        for column in COLUMNS[self.name]:
            here = lines["field"].eq(column.name).to_numpy()
            usable = self.clean[column.name].notna().to_numpy()
            there += usable
            filled = usable.sum() + (lost & here).sum()
            columns.append(self._column(column.name, "validity", filled - (invalid & here).sum(), filled))
            columns.append(self._column(column.name, "consistency", filled - (against & here).sum(), filled))
        own = _tallied(self.groups, "validity", there, there)
        return [*columns, *own, *_tallied(self.line_groups, "validity", lost * 1 - invalid * 1, lost)]

    def _rows(self) -> list[pd.DataFrame]:
        """Uniqueness and consistency: problems of rows held against the rows read."""
        lines, used = self.lines, np.ones(len(self.clean))
        gone = lines["effect"].isin(("returned", "merged")).to_numpy()  # one line for each row that was not used
        repeated = gone & (lines["kind"].eq("repeated") | lines["effect"].eq("merged")).to_numpy()
        against = lines["kind"].eq("contradicts") & lines["filled"]
        in_row = lines["row_key"].isin(lines.loc[against, "row_key"]).to_numpy()
        used_against = _once(lines, against & lines["pos"].ge(0), ["row_key"])
        unique = next(column.name for column in COLUMNS[self.name] if column.unique)
        rows = len(self.clean) + gone.sum()
        return [
            self._column(unique, "uniqueness", rows - repeated.sum(), rows),
            *_tallied(self.groups, "uniqueness", used, used),
            *_tallied(self.line_groups, "uniqueness", gone & ~repeated, gone),
            *_tallied(self.groups, "consistency", used, used),
            *_tallied(self.line_groups, "consistency", (gone & ~in_row) * 1 - used_against * 1, gone),
        ]

    def _timeliness(self, as_of: pd.Timestamp, policy: Policy) -> list[pd.DataFrame]:
        column, good, of = _timely(self.name, self.clean, as_of, policy)
        return [
            self._column(column, "timeliness", (good & of).sum(), of.sum()),
            *_tallied(self.groups, "timeliness", good & of, of),
        ]

    def _column(self, column: str, dimension: str, good: float, of: float) -> pd.DataFrame:
        row = ("column", f"{self.name}.{column}", dimension, float(good), float(of))
        return pd.DataFrame([row], columns=[*KEY, "good", "of"])


def _groups(files: pd.Series[str], schemes: pd.Series[str]) -> Groups:
    return {
        "all": (np.zeros(len(files), dtype=np.int64), pd.Index([EVERYTHING])),
        "file": pd.factorize(files),
        "scheme": pd.factorize(schemes),
    }


def _tallied(groups: Groups, dimension: str, good: Numbers, of: Numbers) -> list[pd.DataFrame]:
    tallies = []
    for by, (codes, names) in groups.items():
        counts = {name: np.bincount(codes, n, len(names)) for name, n in (("good", good), ("of", of))}
        tallies.append(pd.DataFrame({"grouped_by": by, "group": names, "dimension": dimension, **counts}))
    return tallies


def _usable(clean: pd.DataFrame, fields: pd.Series[str], pos: Numbers) -> Numbers:
    """Whether the cell that a line is about has a value in the clean table."""
    usable = np.zeros(len(fields), dtype=bool)
    for name in fields.unique():
        here = np.flatnonzero(fields.eq(name).to_numpy() & (pos >= 0))
        if name in clean.columns:
            usable[here] = clean[name].notna().to_numpy()[pos[here]]
    return usable


def _once(lines: pd.DataFrame, chosen: pd.Series[bool], key: list[str]) -> Numbers:
    """The chosen lines, of those that share a key only the first."""
    first = np.zeros(len(lines), dtype=bool)
    first[np.flatnonzero(chosen)] = ~lines.loc[chosen, key].duplicated().to_numpy()
    return first


def _timely(name: str, rows: pd.DataFrame, as_of: pd.Timestamp, policy: Policy) -> tuple[str, Numbers, Numbers]:
    """The dated column of a table, which of its rows are timely, and which of them count."""
    if name == "homes":
        due = rows["gas_check_due"]
        return "gas_check_due", due.ge(as_of).to_numpy(), due.notna().to_numpy()
    if name == "valves":
        months = months_between(rows["location_temp_on"], as_of)
        fresh = months.le(policy.number("place.reading_max_age"))
        return "location_temp_on", fresh.to_numpy(), rows["location_temp_c"].notna().to_numpy()
    open_since = as_of - pd.Timedelta(days=policy.number("quality.open_longest"))
    seen = rows["attended"].notna() | rows["completed"].notna()
    return "reported", (seen | rows["reported"].ge(open_since)).to_numpy(), every(rows).to_numpy()


def _in_order(counted: pd.DataFrame) -> pd.DataFrame:
    complete = counted["share"].where(counted["dimension"].eq("completeness") & counted["grouped_by"].eq("scheme"))
    least = complete.groupby([counted["grouped_by"], counted["group"]]).transform("min").fillna(1.0)
    columns = [f"{table}.{column.name}" for table in TABLES for column in COLUMNS[table]]
    place = counted["group"].map({name: n for n, name in enumerate(columns)}).where(counted["grouped_by"].eq("column"))
    order = counted.assign(
        by=counted["grouped_by"].map({name: n for n, name in enumerate(GROUPINGS)}),
        least=least,
        place=place.fillna(-1),
        at=counted["dimension"].map({name: n for n, name in enumerate(DIMENSIONS)}),
    ).sort_values(["by", "least", "place", "group", "at"], kind="stable")
    return counted.loc[order.index].reset_index(drop=True)


def _side_by_side(counted: pd.DataFrame) -> pd.DataFrame:
    """One row a group with a column for each dimension; the groups by column are left out."""
    rows = counted.loc[counted["grouped_by"].ne("column")]
    table = rows.pivot(index=["grouped_by", "group"], columns="dimension", values="share").reindex(
        columns=[*DIMENSIONS]
    )
    first = pd.MultiIndex.from_frame(rows[["grouped_by", "group"]].drop_duplicates())
    return table.reindex(first).rename_axis(columns=None).reset_index()
