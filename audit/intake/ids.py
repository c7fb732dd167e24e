"""One number for one thing: blanks and lost leading zeros made alike across tables and files, and said."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from schemas.checks import place_in, unknown

# what is numbered → the columns that hold its number, the one that lists it first
NUMBERED = {
    "home": (("homes", "home_id"), ("valves", "home_id"), ("visits", "home_id")),
    "valve": (("valves", "valve_id"), ("visits", "valve_id")),
    "visit": (("visits", "visit_id"),),
}
Frames = dict[str, pd.DataFrame]
NONE = pd.Series(dtype="str")


def join_ids(frames: Frames, pieces: Mapping[str, int]) -> tuple[Frames, list[str]]:
    """Write the same number the same way everywhere.

    Two spellings are one number where they differ in capitals, blanks or leading zeros only, and no single sheet lists
    both. A home given by its UPRN is given its own number.

    Args:
        frames: Typed tables, with source columns.
        pieces: From how many sheets each table was put together.

    Returns:
        The tables with joined numbers, and a sentence for each sheet that was changed.
    """
    said: list[str] = []
    for thing, places in NUMBERED.items():
        places = tuple(place for place in places if len(frames[place[0]]))
        if not places:
            continue
        table, column = places[0]
        instead = _among_lists(frames[table], column) if pieces[table] > 1 else NONE
        if len(instead):
            frames, told = _rewritten(frames, places[:1], instead, thing)
            said += told
        for place in places[1:]:
            instead = _as_listed(frames[place[0]][place[1]], frames[table][column])
            if len(instead):
                frames, told = _rewritten(frames, (place,), instead, thing)
                said += told
    frames, told = _from_uprn(frames)
    return frames, said + told


def fold(ids: pd.Series[str]) -> pd.Series[str]:
    """What is left of numbers without capitals, blanks and leading zeros: H 00042 and h42 are alike."""
    array = pc.utf8_upper(pa.array(ids, type=pa.large_string(), from_pandas=True))
    array = pc.replace_substring_regex(array, r"\s+", "")
    array = pc.replace_substring_regex(array, r"^([A-Z]*[-/]?)0+([0-9])", r"\1\2")
    return pd.Series(pd.array(array, dtype="str"), index=ids.index)


def _among_lists(frame: pd.DataFrame, column: str) -> pd.Series[str]:
    """For each spelling in the lists themselves that stands for another: the one to write instead.

    Only spellings of different sheets are joined; the longest stands, for zeros are lost and never found.
    """
    listed = frame[[column, "source_file", "source_sheet"]].dropna(subset=[column]).drop_duplicates()
    spelled = listed.drop_duplicates(column)[column]
    keys = pd.Series(fold(spelled).array, index=pd.Index(spelled))
    several = keys[keys.duplicated(keep=False)]
    listed = listed[listed[column].isin(several.index)]
    listed = listed.assign(key=several.reindex(listed[column]).array, length=listed[column].str.len())
    in_sheet = listed.groupby(["key", "source_file", "source_sheet"], sort=False)[column].transform("nunique")
    apart = listed[~listed["key"].isin(listed["key"][in_sheet > 1])]
    best = apart.sort_values("length", ascending=False, kind="stable").drop_duplicates("key").set_index("key")[column]
    wanted = several.map(best).dropna()
    return wanted[wanted.index != wanted.to_numpy()]


def _as_listed(ids: pd.Series[str], listed: pd.Series[str]) -> pd.Series[str]:
    """For each spelling that no list has: the listed one that it can only mean."""
    stray = ids[unknown(ids, listed)].drop_duplicates()
    if stray.empty:
        return NONE
    spelled = listed.dropna().drop_duplicates()
    keys = fold(spelled)
    single = ~keys.duplicated(keep=False)
    by_key = pd.Series(spelled[single].array, index=pd.Index(keys[single]))
    return pd.Series(fold(stray).map(by_key).array, index=pd.Index(stray), dtype="str").dropna()


def _rewritten(
    frames: Frames, places: tuple[tuple[str, str], ...], instead: pd.Series[str], thing: str
) -> tuple[Frames, list[str]]:
    said = []
    for table, column in places:
        values = frames[table][column]
        where = place_in(values, instead.index.to_series()) >= 0
        new = values.array.copy()
        new[where] = values[where].map(instead).array
        told = f"{thing} numbers were joined with others that differ in leading zeros or blanks only"
        said += _sentences(frames[table][where], values[where], new[where], told)
        frames = {**frames, table: frames[table].assign(**{column: new})}
    return frames, said


def _sentences(rows: pd.DataFrame, old: pd.Series[str], new: Any, told: str) -> list[str]:
    """One sentence a sheet: how many, and an example."""
    part = pd.DataFrame({"file": rows["source_file"], "sheet": rows["source_sheet"].fillna("")})
    part = part.assign(old=old.array, new=new, count=1)
    grouped = part.groupby(["file", "sheet"], sort=False)
    each = grouped.agg({"old": "first", "new": "first", "count": "sum"}).reset_index()
    places = (each["file"] + (", sheet '" + each["sheet"] + "'").where(each["sheet"].ne(""), "")).tolist()
    examples = zip(places, each["count"], each["old"], each["new"], strict=True)
    return [f"{place}: {count:,} {told} (such as {was} → {now})." for place, count, was, now in examples]


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
        stray = unknown(values, homes["home_id"])
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
