"""Ids whose leading zeros were lost in one file and kept in another: one id again, where nothing speaks against it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from audit.intake.values.wording import counted


@dataclass(frozen=True)
class Joined:
    """The columns with joined ids, and what was done.

    `changes` has one row a changed cell: `column` (its number, from 0), `pos`, `value`, `joined`. `said` has a sentence
    for what was joined and one for what could not be.
    """

    columns: list[pd.Series[Any]]
    changes: pd.DataFrame
    said: tuple[str, ...]


def join_ids(columns: Sequence[pd.Series[Any]]) -> Joined:
    """Give ids of digits the leading zeros that another column still has: 123 becomes 00123.

    An id is joined only where exactly one longer form of it exists and no column holds both forms, which would make
    them two ids.
    """
    known = pd.concat([_forms(column, n) for n, column in enumerate(columns)], ignore_index=True)
    longer, unclear = _longer(known)
    joined = [_with(column, longer) for column in columns]
    changes = pd.concat([_changes(a, b, n) for n, (a, b) in enumerate(zip(columns, joined, strict=True))])
    return Joined(joined, changes.reset_index(drop=True), tuple(_said(changes, unclear)))


def _forms(column: pd.Series[Any], number: int) -> pd.DataFrame:
    """The distinct ids of digits in one column, and what is left of each without its leading zeros."""
    unique = pd.Series(column.dropna().unique(), dtype="str")
    digits = unique[unique.str.fullmatch(r"\d+").astype(bool)]
    return pd.DataFrame({"id": digits, "bare": digits.str.lstrip("0"), "column": number})


def _longer(known: pd.DataFrame) -> tuple[pd.Series[Any], pd.Series[Any]]:
    """For each id that lost its zeros the form that kept them, and the ids for which that is not clear."""
    forms = known.drop_duplicates(["bare", "id"]).groupby("bare")["id"].size()
    several = forms[(forms > 1) & (forms.index != "")]
    together = known.groupby(["column", "bare"])["id"].nunique()
    apart = together[together > 1].index.get_level_values("bare")
    clear = several[several.eq(2) & ~several.index.isin(apart)].index
    ids = known[known["bare"].isin(clear)].drop_duplicates("id").assign(length=lambda found: found["id"].str.len())
    kept = ids.sort_values("length").drop_duplicates("bare", keep="last").set_index("bare")["id"]
    lost = ids[~ids["id"].isin(kept)].set_index("id")["bare"].map(kept)
    return lost, several.index.difference(clear).to_series()


def _with(column: pd.Series[Any], longer: pd.Series[Any]) -> pd.Series[Any]:
    short = column.isin(longer.index)
    return column.where(~short, column.map(longer)) if short.any() else column


def _changes(before: pd.Series[Any], after: pd.Series[Any], number: int) -> pd.DataFrame:
    pos = np.flatnonzero((before != after).to_numpy(dtype=bool) & after.notna().to_numpy(dtype=bool))
    return pd.DataFrame({"column": number, "pos": pos, "value": before.array[pos], "joined": after.array[pos]})


def _said(changes: pd.DataFrame, unclear: pd.Series[Any]) -> list[str]:
    said = []
    if len(changes):
        example = f"{changes['value'].iloc[0]} = {changes['joined'].iloc[0]}"
        said.append(f"{counted(len(changes), 'id')} without leading zeros that another file kept, such as {example}.")
    if len(unclear):
        text = "with and without leading zeros may not be the same and were left, such as"
        said.append(f"{counted(len(unclear), 'id')} {text} {unclear.iloc[0]}.")
    return said
