"""What a whole table must hold: bounds and words of each cell, order of dates, links between tables.

Each check returns faults: `pos` (place of the row in the frame), `column` (whose value is doubtful), `reason`, `mend`.
The words are made here from the column records, so that no message of the checking library reaches a user.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from schemas.column import Column
from schemas.tables import COLUMNS, MODELS

Bools = npt.NDArray[np.bool_]
FAULT_COLUMNS: Final = ("pos", "column", "reason", "mend")

# (table, earlier, later, the one that is doubted, reason): the later date must not come before the earlier one.
# From what the words mean; no outside source.
ORDERS: Final = (
    ("valves", "body_fitted", "head_fitted", "head_fitted", "the head would be older than the body it sits on"),
    ("visits", "reported", "attended", "attended", "attended before it was reported"),
    ("visits", "reported", "completed", "completed", "completed before it was reported"),
    ("visits", "attended", "completed", "completed", "completed before anyone attended"),
)


def no_faults() -> pd.DataFrame:
    """Return an empty table of faults."""
    return pd.DataFrame({"pos": pd.Series(dtype="int64"), **{c: pd.Series(dtype="str") for c in FAULT_COLUMNS[1:]}})


def cell_faults(table: str, frame: pd.DataFrame) -> pd.DataFrame:
    """Find cells outside their column's bounds or words, and numbers that must be whole and are not."""
    found = []
    for column in COLUMNS[table]:
        values = frame[column.name]
        bad = np.zeros(len(frame), dtype=bool)
        if column.kind == "number":
            bad |= _outside(values.to_numpy(dtype="float64"), column)
        elif column.words is not None:
            bad |= (values.notna() & ~values.isin(list(column.words))).to_numpy()
        if bad.any():
            found.append(_faults(bad, column.name, wording(column), _mend(column)))
    return _joined(found)


def _outside(values: npt.NDArray[np.float64], column: Column) -> Bools:
    with np.errstate(invalid="ignore"):
        bad: Bools = np.isinf(values)
        if column.low is not None:
            bad |= values < column.low
        if column.high is not None:
            bad |= values > column.high
        if column.whole:
            bad |= ~np.isnan(values) & (values != np.floor(values))
    return bad


def order_faults(table: str, frame: pd.DataFrame) -> pd.DataFrame:
    """Find dates that contradict each other; a date without a time of day counts as that whole day."""
    found = []
    frame = frame.copy(deep=False)
    for name, earlier, later, doubted, reason in ORDERS:
        if name != table:
            continue
        bad = _before(frame[later], frame[earlier])
        if bad.any():
            found.append(_faults(bad, doubted, reason, "correct either date"))
            frame[doubted] = frame[doubted].mask(bad)
    return _joined(found)


def _before(later: pd.Series[Any], earlier: pd.Series[Any]) -> Bools:
    """True where `later` lies before `earlier`; where either has no time of day, only the days are compared."""
    sooner: Bools = (later < earlier).to_numpy(dtype=bool, copy=True)
    late, early = later[sooner], earlier[sooner]
    day_late, day_early = late.dt.normalize(), early.dt.normalize()
    timed = (late != day_late) & (early != day_early)
    sooner[sooner] = (timed | (day_late < day_early)).to_numpy(dtype=bool)
    return sooner


def place_in(values: pd.Series[Any], listed: pd.Series[Any]) -> npt.NDArray[np.int64]:
    """Where each text stands in a list of distinct texts, from 0; -1 where it does not, or where there is none.

    Many times faster than `isin` of a text column, which turns the list into Python objects.
    """
    texts, given = (pa.array(v, type=pa.large_string(), from_pandas=True) for v in (values, listed))
    found = pc.fill_null(pc.index_in(texts, value_set=given, skip_nulls=True), -1)
    return np.asarray(found.to_numpy(zero_copy_only=False), dtype=np.int64)


def unknown(values: pd.Series[Any], known: pd.Series[Any]) -> Bools:
    """True where there is a value and it is not among the known ones."""
    return values.notna().to_numpy(dtype=bool) & (place_in(values, known) < 0)


def model_faults(table: str, frame: pd.DataFrame, *, ids_single: bool = False) -> pd.DataFrame:
    """Hold a table against its model; the last net, after every other check.

    The model judges cell by cell, so it is shown each column's distinct words, least and greatest numbers and a missing
    value where there is one; only where it objects to these is the whole table held against it, to find the rows.

    Args:
        table: Its name.
        frame: Its rows.
        ids_single: True where it is known that no id stands twice.

    Returns:
        Faults in the words of the column records.
    """
    ids = [] if ids_single else [c for c in COLUMNS[table] if c.unique]
    again = _joined([_repeated(column, frame) for column in ids])
    found = again if _judged(table, _gist(table, frame)).empty else _judged(table, frame.reset_index(drop=True))
    return pd.concat([again, found], ignore_index=True).drop_duplicates(["pos", "column"], ignore_index=True)


def _repeated(column: Column, frame: pd.DataFrame) -> pd.DataFrame:
    values = frame[column.name]
    if values.is_unique:
        return no_faults()
    bad: Bools = values.duplicated(keep=False).to_numpy()
    return _faults(bad, column.name, _reason(column, "field_uniqueness"), "give each its own")


def _gist(table: str, frame: pd.DataFrame) -> pd.DataFrame:
    """A small table that holds, in every column, all that its checks can object to."""
    telling = {c.name: _telling(c, frame[c.name]) for c in COLUMNS[table]}
    rows = max(len(values) for values in telling.values())
    gist = pd.DataFrame({name: _padded(values, rows) for name, values in telling.items()})
    ids = {c.name: pd.array([f"{n}" for n in range(rows)], dtype="str") for c in COLUMNS[table] if c.unique}
    return gist.assign(**{name: values for name, values in ids.items() if not gist[name].isna().any()})


def _telling(column: Column, values: pd.Series[Any]) -> Any:
    """Values of a column that stand for all of them: a missing one, one that is not, each word, the ends of numbers."""
    if column.words is not None:
        return values.unique()
    missing = values.isna().to_numpy()
    places = [int(missing.argmax()), int(missing.argmin())]
    if column.kind == "number" and not missing.all():
        places += [int(values.argmin()), int(values.argmax())]
    return values.array.take(places)


def _padded(values: Any, rows: int) -> Any:
    return values.take(np.minimum(np.arange(rows), len(values) - 1))


def _judged(table: str, frame: pd.DataFrame) -> pd.DataFrame:
    from pandera.errors import SchemaErrors

    try:
        MODELS[table].validate(frame, lazy=True)
    except SchemaErrors as error:
        return _worded(table, error.failure_cases)
    return no_faults()


def _worded(table: str, cases: pd.DataFrame) -> pd.DataFrame:
    by_name: Mapping[str, Column] = {c.name: c for c in COLUMNS[table]}
    placed = cases[cases["index"].notna() & cases["column"].isin(list(by_name))]
    reasons = [_reason(by_name[str(c)], str(k)) for c, k in zip(placed["column"], placed["check"], strict=True)]
    faults = pd.DataFrame(
        {
            "pos": placed["index"].astype("int64").to_numpy(),
            "column": placed["column"].astype("str").to_numpy(),
            "reason": reasons,
            "mend": [_mend(by_name[str(c)]) for c in placed["column"]],
        }
    )
    return faults.drop_duplicates(["pos", "column"]).astype(dict.fromkeys(FAULT_COLUMNS[1:], "str"))


def _reason(column: Column, check: str) -> str:
    if check == "not_nullable":
        return f"there is no {column.name}, and every row needs one"
    if check == "field_uniqueness":
        return f"the {column.name} stands in more than one row"
    return wording(column)


def wording(column: Column) -> str:
    """Say what a column must hold, as the reason why a cell could not be used."""
    if column.words is not None:
        return f"{column.name} must be one of {', '.join(column.words)}"
    if column.kind == "number":
        whole = "a whole number" if column.whole else "a number"
        return f"{column.name} must be {whole}{', ' + column.bounds if column.bounds else ''}"
    return f"{column.name} must be {'a date' if column.kind in ('date', 'time') else 'text'}"


def _mend(column: Column) -> str:
    if column.words is not None:
        return "use one of these words, or leave the cell empty"
    if column.kind == "number":
        return f"type the value{' in ' + column.unit if column.unit else ''}, or leave the cell empty"
    return "correct the cell"


def _faults(bad: Bools, column: str, reason: str, mend: str) -> pd.DataFrame:
    pos = np.flatnonzero(bad)
    words = pd.DataFrame({"column": [column], "reason": [reason], "mend": [mend]}, dtype="str")
    return words.take(np.zeros(len(pos), dtype=np.int64)).reset_index(drop=True).assign(pos=pos)[list(FAULT_COLUMNS)]


def _joined(found: list[pd.DataFrame]) -> pd.DataFrame:
    return pd.concat(found, ignore_index=True) if found else no_faults()
