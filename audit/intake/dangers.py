"""Danger on its way through the reading: what notes and team sheets say of an earth, and what returned rows record.

A danger is never lost: work on an earth counts as proof only where the sheet does not ask for one, a note that says
there is no earth stands against a cell that says it was proved, and a returned row still tells of its danger.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
import pandas as pd

from audit.intake.notes_dangers import dangers_in_notes
from audit.intake.problems import Bools, Table
from audit.intake.sheet import Rows
from audit.policy import Policy
from schemas.sentences import ToDo

ASKED: Final = "nobody wrote that the earth was proved; the danger stays until somebody does"
AGAINST: Final = "the note says that there is no earth"
COLUMNS: Final = ("table", "file", "sheet", "row", "thing", "what")


def asks_for_earth(visits: Table, ours: Bools) -> Bools:
    """Which visits stand on a sheet that asks for the proof of an earth: `ours`, or one that answers it somewhere."""
    if not len(visits.piece):
        return ours.copy()
    headed = np.array(["earthed" in headers for headers in visits.headers], dtype=bool)
    answered = np.zeros(len(headed), dtype=bool)
    answered[visits.piece[visits.frame["earthed"].notna().to_numpy()]] = True
    asks: Bools = ours | (headed & answered)[visits.piece]
    return asks


def carry_over(visits: Table, mine: Rows, logged: Rows) -> None:
    """Give what a team's sheet says of the earth, and its notes, to the log's row of the same visit."""
    frame = visits.frame
    earthed, known = frame["earthed"].iloc[mine].array, frame["earthed"].iloc[logged].array
    said = pd.notna(earthed) & (pd.isna(known) | (earthed == "no"))
    visits.put(logged[said], "earthed", earthed[said])
    notes, own = (frame["notes"].iloc[pos].fillna("").reset_index(drop=True) for pos in (logged, mine))
    both = (notes + ". " + own).mask(notes.eq(""), own)
    more = own.ne("").to_numpy() & notes.ne(own).to_numpy()
    visits.put(logged[more], "notes", both.array[more])


def fill_dangers(visits: Table, asks: Bools, *, notes: bool) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Fill `earthed` and `left_isolated` from notes; mark work on an earth that was to be proved and was not.

    Returns:
        What was read from notes (pos, column, value, phrase, visit_id), and what is to be said.
    """
    kept = np.flatnonzero(visits.kept)
    told = dangers_in_notes(visits.frame.iloc[kept if notes else kept[:0]])
    pos = kept[told["pos"]]
    against = told["was"].notna().to_numpy()
    for name in told["column"].unique():
        mine = told["column"].eq(name).to_numpy()
        visits.tell(pos[mine & against], str(name), AGAINST, "prove the earth again, and correct the row", "repaired")
        visits.put(pos[mine], str(name), told["value"].array[mine])
    now = visits.frame
    open_ended = asks & visits.kept & now["action"].eq("earth").to_numpy() & now["earthed"].isna().to_numpy()
    visits.put(np.flatnonzero(open_ended), "earthed", "unproved")
    coded = told.loc[~against, ["pos", "column", "value", "phrase"]]
    coded = coded.assign(visit_id=now["visit_id"].array[pos[~against]])
    said = [
        (int(open_ended.sum()), f"put an earth right, but {ASKED}"),
        (int(against.sum()), f"say that the earth was proved, but {AGAINST}: taken as not earthed"),
    ]
    return coded, tuple(ToDo(f"Visits that {what}: {count:,}.") for count, what in said if count)


def returned_dangers(returned: Mapping[str, pd.DataFrame], policy: Policy) -> pd.DataFrame:
    """What rows that were returned record of danger.

    Args:
        returned: The rows of valves and visits that were returned.
        policy: For the limits of extra-low voltage (V) and of water near boiling (°C).

    Returns:
        One row a danger, in the order of the files: table, file, sheet, row, thing (what it is of), what (in words).
    """
    valves, visits = returned["valves"], returned["visits"]
    mains = ~valves["voltage_v"].le(policy.number("electric.extra_low_voltage"))
    noted = dangers_in_notes(visits)
    unearthed = visits["earthed"].mask(visits.index.isin(visits.index[noted["pos"][noted["value"].eq("no")]]), "no")
    found = [_rows("valves", valves[valves["earthed"].eq("no") & mains], "valve_id", "is recorded as not earthed")]
    found.append(_rows("visits", visits[unearthed.eq("no")], "visit_id", "found no earth, or none proved"))
    limit = policy.number("water.near_boiling")
    for table, frame in (("valves", valves), ("visits", visits)):
        hot = frame[frame["flow_temp_c"].gt(limit)]
        degrees = hot["flow_temp_c"].map("{:g}".format).astype("str")
        read = "records water at " + degrees + f" °C, near boiling (above {limit:g} °C)"
        found.append(_rows(table, hot, "valve_id" if table == "valves" else "visit_id", read))
    return pd.concat(found, ignore_index=True)


def _rows(table: str, rows: pd.DataFrame, key: str, what: pd.Series[str] | str) -> pd.DataFrame:
    if rows.empty:
        return pd.DataFrame({name: pd.Series(dtype="str") for name in COLUMNS}).astype({"row": "int64"})
    thing = rows[key].fillna(rows["home_id"]).fillna("a row without a number")
    home = ", home " + rows["home_id"]
    day = " on " + rows["reported"].dt.strftime("%d %b %Y") if table == "visits" else ""
    made = {
        "table": table,
        "file": rows["source_file"],
        "sheet": rows["source_sheet"],
        "row": rows["source_row"],
        "thing": thing + home.where(rows["home_id"].notna() & rows["home_id"].ne(thing), ""),
        "what": pd.Series(what, index=rows.index, dtype="str") + (day if isinstance(day, str) else day.fillna("")),
    }
    return pd.DataFrame(made, columns=list(COLUMNS)).reset_index(drop=True)
