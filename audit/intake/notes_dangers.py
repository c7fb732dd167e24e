"""Danger in the notes of visits: an earth found missing or proved, a head left isolated.

Only empty cells are filled, with one exception: a note that says there is no earth stands against a cell that says it
was proved, since a danger is never lost. The words come from `dangers.toml`: common practice of the trade, no source.
"""

from __future__ import annotations

from functools import cache
from typing import Final

import numpy as np
import pandas as pd

from audit.intake.notes import Reader
from audit.intake.notes_many import read_many
from audit.intake.notes_table import SAFETY, safety_table

TOLD: Final = r"ea?r+t+h|eath|\bcpc|isol"  # notes without any of these say nothing of it, and are not read
EARTH: Final = r"ea?r+t+h|eath|\bcpc"
COLUMNS: Final = ("pos", "column", "value", "phrase")


@cache
def safety_reader() -> Reader:
    """Return the reader of `dangers.toml`."""
    return Reader(safety_table())


def explain_danger(text: str) -> dict[str, str]:
    """What a note says of earth and isolation, by column; `done` is an earth connected without a word of a proof."""
    told = _read(pd.Series([text], dtype="str"))
    return dict(zip(told["column"], told["value"], strict=True))


def dangers_in_notes(visits: pd.DataFrame) -> pd.DataFrame:
    """Read what the notes say of earth and isolation, as far as the columns do not.

    Args:
        visits: has `notes`, `earthed`, `left_isolated`, as words or missing.

    Returns:
        One row a cell to fill: pos (row number in `visits`, from 0), column, value, phrase (the words of the note),
        was (what the column said; missing where it was empty).
    """
    told = _read(visits["notes"])
    told = told.loc[told["value"].ne("done")]
    earthed, isolated = (visits[name].iloc[told["pos"]].set_axis(told.index) for name in ("earthed", "left_isolated"))
    told = told.assign(was=earthed.where(told["column"].eq("earthed"), isolated).astype("str"))
    against = told["was"].eq("yes") & told["value"].eq("no")
    return told.loc[told["was"].isna() | against].reset_index(drop=True)


def _read(notes: pd.Series[str]) -> pd.DataFrame:
    """One row a note and column that it speaks of: pos, column, value, phrase."""
    reader = safety_reader()
    texts = notes.str.slice(0, reader.table.characters_read)
    telling = np.flatnonzero(texts.str.contains(TOLD, case=False, regex=True).fillna(False).to_numpy(dtype=bool))
    of_row, unique = pd.factorize(texts.iloc[telling])
    read = read_many(np.asarray(unique, dtype=object).tolist(), reader.table.lexicon, reader.meanings, tuple(SAFETY))
    earth = pd.Series(unique, dtype="str").str.contains(EARTH, case=False, regex=True).to_numpy(dtype=bool)
    found = []
    for name, said in read.columns.items():
        place = np.full(len(unique), -1)
        place[said.notes] = np.arange(len(said.notes))
        place = np.where(earth, place, -1) if name == "earthed" else place
        at = place[of_row]
        rows = {"pos": telling[at >= 0], "value": said.values[at[at >= 0]], "phrase": said.phrases[at[at >= 0]]}
        found.append(pd.DataFrame(rows).assign(column=name))
    told = pd.concat(found, ignore_index=True)[list(COLUMNS)].astype({"column": "str", "value": "str", "phrase": "str"})
    return told.sort_values("pos", kind="stable", ignore_index=True)
