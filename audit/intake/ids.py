"""One number for one thing: capitals, blanks and lost leading zeros made alike across tables and files, and said."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

# what is numbered → the columns that hold its number, the one that lists it first
NUMBERED = {
    "home": (("homes", "home_id"), ("valves", "home_id"), ("visits", "home_id")),
    "valve": (("valves", "valve_id"), ("visits", "valve_id")),
    "visit": (("visits", "visit_id"),),
}
Frames = dict[str, pd.DataFrame]
Fold = Callable[[pd.Series], pd.Series]


def join_ids(frames: Frames) -> tuple[Frames, list[str]]:
    """Write the same number the same way everywhere.

    Two spellings are one number where they differ in capitals or blanks only, or in leading zeros and no single sheet
    has both. A home given by its UPRN is given its own number.

    Args:
        frames: Typed tables, with source columns.

    Returns:
        The tables with joined numbers, and a sentence for each kind of change.
    """
    said: list[str] = []
    for thing, places in NUMBERED.items():
        spelled = _spellings(frames, places)
        if spelled.empty:
            continue
        ways: tuple[tuple[str, Fold], ...] = (("capitals or blanks", _alike), ("leading zeros", _without_zeros))
        for how, fold in ways:
            instead = _instead(spelled, fold, apart=fold is _without_zeros)
            if len(instead):
                frames, told = _rewritten(frames, places, instead, f"{thing} numbers were joined that differ in {how}")
                said += told
                spelled = _spellings(frames, places)
    frames, told = _from_uprn(frames)
    return frames, said + told


def _spellings(frames: Frames, places: tuple[tuple[str, str], ...]) -> pd.DataFrame:
    """Every spelling with the sheet it stands in, how often, and whether it stands in the list itself (rank 0)."""
    found = []
    for rank, (table, column) in enumerate(places):
        frame = frames[table]
        if not len(frame):
            continue
        if table == "visits" and column == "visit_id" and _sheets(frame) < 2:
            continue  # numbers of one sheet are its own affair; duplicates are settled later
        counted = frame.groupby(["source_file", "source_sheet", column], sort=False, observed=True, dropna=True).size()
        part = counted.rename("count").reset_index().rename(columns={column: "id"})
        found.append(part.assign(rank=rank))
    empty = pd.DataFrame({"id": pd.Series(dtype="str")})
    return pd.concat(found, ignore_index=True) if found else empty


def _sheets(frame: pd.DataFrame) -> int:
    return len(frame[["source_file", "source_sheet"]].drop_duplicates())


def _alike(ids: pd.Series) -> pd.Series:
    return _regex(ids.str.upper(), r"\s+", "")


def _without_zeros(ids: pd.Series) -> pd.Series:
    """Leading zeros of the number gone, whether letters stand before it or not."""
    return _regex(_alike(ids), r"^([A-Z]*[-/]?)0+([0-9])", r"\1\2")


def _regex(ids: pd.Series, pattern: str, by: str) -> pd.Series:
    array = pa.array(ids, type=pa.large_string(), from_pandas=True)
    return pd.Series(pd.array(pc.replace_substring_regex(array, pattern, by), dtype="str"), index=ids.index)


def _instead(spelled: pd.DataFrame, fold: Fold, *, apart: bool) -> pd.Series:
    """For each spelling to be changed, the listed one to write instead; with `apart`, not where one sheet lists both."""
    ids = spelled["id"].drop_duplicates()
    keys = pd.Series(fold(ids).array, index=pd.Index(ids))
    several = keys[keys.duplicated(keep=False)]
    part = spelled[spelled["id"].isin(several.index)]
    part = part.assign(key=several.reindex(part["id"]).array, length=part["id"].str.len())
    listed = part[part["rank"].eq(spelled["rank"].min())]
    if apart:
        in_sheet = listed.groupby(["key", "source_file", "source_sheet"], sort=False)["id"].transform("nunique")
        listed = listed[~listed["key"].isin(listed["key"][in_sheet > 1])]
    order = ["length", "count"] if apart else ["count", "length"]
    best = listed.sort_values(order, ascending=False, kind="stable").drop_duplicates("key").set_index("key")["id"]
    wanted = part.drop_duplicates("id").set_index("id")["key"].map(best).dropna()
    return wanted[wanted.index != wanted.to_numpy()]


def _rewritten(
    frames: Frames, places: tuple[tuple[str, str], ...], instead: pd.Series, told: str
) -> tuple[Frames, list[str]]:
    said = []
    for table, column in places:
        values = frames[table][column]
        where = values.isin(instead.index).to_numpy()
        if not where.any():
            continue
        new = values.array.copy()
        new[where] = values[where].map(instead).array
        said += _sentences(frames[table][where], values[where], new[where], told)
        frames = {**frames, table: frames[table].assign(**{column: new})}
    return frames, said


def _sentences(rows: pd.DataFrame, old: pd.Series, new: object, told: str) -> list[str]:
    """One sentence a sheet: how many, and an example."""
    part = rows[["source_file", "source_sheet"]].assign(old=old.array, new=new)
    grouped = part.groupby(["source_file", "source_sheet"], sort=False, dropna=False)
    sizes, first = grouped.size(), grouped.first()
    said = []
    for (file, sheet), count in sizes.items():
        example = first.loc[(file, sheet)]
        place = f"{file}, sheet '{sheet}'" if sheet else str(file)
        said.append(f"{place}: {count:,} {told} (such as {example['old']} → {example['new']}).")
    return said


def _from_uprn(frames: Frames) -> tuple[Frames, list[str]]:
    """Give homes that are named by their UPRN their own number."""
    homes = frames["homes"]
    listed = homes[homes["uprn"].notna() & homes["home_id"].notna()]
    if listed.empty:
        return frames, []
    key = listed["uprn"].str.lstrip("0")
    single = ~key.duplicated(keep=False)
    by_uprn = pd.Series(listed["home_id"][single].array, index=pd.Index(key[single]))
    said: list[str] = []
    for table in ("valves", "visits"):
        values = frames[table]["home_id"]
        stray = (values.notna() & ~values.isin(homes["home_id"])).to_numpy()
        if not stray.any():
            continue
        found = values[stray].str.lstrip("0").map(by_uprn)
        where = np.flatnonzero(stray)[found.notna().to_numpy()]
        if len(where):
            new = values.array.copy()
            new[where] = found.dropna().array
            told = "homes given by UPRN were given the home's own number"
            said += _sentences(frames[table].iloc[where], values.iloc[where], new[where], told)
            frames = {**frames, table: frames[table].assign(home_id=new)}
    return frames, said
