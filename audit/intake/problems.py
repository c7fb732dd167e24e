"""One table on its way to being clean: its rows, which of them leave it, and everything that was said of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.intake.sheet import Rows
from audit.intake.side_by_side import each
from schemas.results import PROBLEM_COLUMNS

NAMES = [c.name for c in PROBLEM_COLUMNS]
Effect = Literal["returned", "repaired", "merged"]
Bools = npt.NDArray[np.bool_]
Texts = Any  # one text for all rows, or one a row


@dataclass
class Table:
    """A canonical table while it is put together.

    `frame` has every canonical and source column and a plain index; rows never move in it. `returned` and `merged` mark
    the rows that leave. `piece` says from which sheet's table each row came, `headers` how that sheet heads its
    columns.
    """

    name: str
    frame: pd.DataFrame
    piece: Rows
    headers: Sequence[Mapping[str, str]]
    returned: Bools = field(init=False)
    merged: Bools = field(init=False)
    problems: list[pd.DataFrame] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.returned = np.zeros(len(self.frame), dtype=bool)
        self.merged = np.zeros(len(self.frame), dtype=bool)

    @property
    def kept(self) -> Bools:
        """Rows that neither were returned nor merged."""
        kept: Bools = ~(self.returned | self.merged)
        return kept

    def tell(
        self, pos: Rows, column: str, reason: Texts, mend: Texts, effect: Effect, value: pd.Series[Any] | None = None
    ) -> None:
        """Say something of a cell in each of some rows; rows returned leave the table."""
        if not len(pos):
            return
        shown = self.frame[column].iloc[pos] if value is None else value
        self.problems.append(notes_on(pos, self.header(pos, column), as_shown(shown), reason, mend, effect))
        if effect == "returned":
            self.returned[pos] = True

    def blank(self, pos: Rows, column: str, reason: Texts, mend: Texts) -> None:
        """Say what is wrong with some cells and take their values away."""
        if len(pos):
            self.tell(pos, column, reason, mend, "repaired")
            self.put(pos, column, None)

    def put(self, pos: Rows, column: str, values: Any) -> None:
        """Write values into some cells."""
        new = self.frame[column].array.copy()
        new[pos] = np.nan if values is None and new.dtype.kind == "f" else values
        self.frame[column] = new

    def header(self, pos: Rows, column: str) -> npt.NDArray[np.object_]:
        """The file's own header of a column, for each of some rows; the column's name where the file has none."""
        named = np.array([h.get(column, column) for h in self.headers] or [column], dtype=object)
        return np.asarray(named[self.piece[pos]] if len(self.headers) else np.repeat(named, len(pos)), dtype=object)

    def clean(self) -> pd.DataFrame:
        """The rows that stay, in their order."""
        kept = self.kept
        if kept.all():
            return self.frame
        names = list(self.frame.columns)
        stays = each(lambda name: self.frame[name].array[kept], names, len(kept))
        return pd.DataFrame(dict(zip(names, stays, strict=True)), copy=False)

    def places(self, pos: Rows) -> pd.Series[str]:
        """Where some rows stand, in words."""
        rows = self.frame.iloc[pos]
        sheet = rows["source_sheet"].fillna("")
        named = (", sheet '" + sheet + "'").where(sheet.ne(""), "")
        words = rows["source_file"] + named + ", row " + rows["source_row"].astype("str")
        return words.reset_index(drop=True)


def notes_on(pos: Rows, column: Texts, value: Texts, reason: Texts, mend: Texts, effect: Effect) -> pd.DataFrame:
    """Make one problem for each row in `pos`; the place in the file is filled in at the end."""
    given = {"column": column, "value": value, "reason": reason, "mend": mend, "effect": effect}
    return pd.DataFrame({"pos": pos, **{name: _texts(words, len(pos)) for name, words in given.items()}})


def as_shown(values: pd.Series[Any]) -> pd.Series[str]:
    """Values as a person would write them."""
    if values.dtype.kind == "M":
        texts = values.astype("str").str.removesuffix(" 00:00:00")
    elif values.dtype.kind == "f":
        texts = pd.Series([f"{v:g}" if v == v else "" for v in values.tolist()], dtype="str")
    else:
        texts = values.astype("str")
    return texts.fillna("")


def _texts(words: Texts, count: int) -> Any:
    if isinstance(words, str):
        return pd.array([words], dtype="str").take(np.zeros(count, dtype=np.int64))
    return pd.array(np.asarray(words, dtype=object), dtype="str")


def listed(tables: Sequence[Table]) -> pd.DataFrame:
    """Everything said of the tables' rows, in their order, with the place in the file.

    A returned row has exactly one line that says so, its first; what else was wrong with it says "repaired".
    """
    found = [_of_table(table) for table in tables if table.problems]
    if found:
        return pd.concat(found, ignore_index=True)
    return pd.DataFrame({name: pd.Series(dtype="float64" if name == "row" else "str") for name in NAMES})


def _of_table(table: Table) -> pd.DataFrame:
    found = pd.concat(table.problems, ignore_index=True)
    found = found.assign(_late=found["effect"].ne("returned"))
    found = found.sort_values(["pos", "_late"], kind="stable", ignore_index=True)
    again = found["effect"].eq("returned") & found.duplicated(["pos", "effect"])
    rows = table.frame.iloc[found["pos"].to_numpy()]
    return pd.DataFrame(
        {
            "table": _texts(table.name, len(found)),
            "file": rows["source_file"].array,
            "sheet": rows["source_sheet"].array,
            "row": rows["source_row"].to_numpy(dtype="float64"),
            **{name: found[name] for name in ("column", "value", "reason", "mend")},
            "effect": found["effect"].mask(again, "repaired"),
        },
        columns=NAMES,
    )
