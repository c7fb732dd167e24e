"""One number for one thing: blanks and lost leading zeros made alike across tables and files, and said."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

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
ZEROS = "numbers were joined with others that differ in leading zeros or blanks only"
PREFIX = "home numbers were joined with others by what follows their prefix"
NEARLY_ALL = 0.9  # of the homes with another prefix, this share must be found, or they are numbered otherwise
STREETS = {"RD": "ROAD", "ST": "STREET", "AVE?": "AVENUE", "CL": "CLOSE", "CT": "COURT", "DR": "DRIVE", "LN": "LANE",
           "GDNS": "GARDENS", "CRES": "CRESCENT", "TERR?": "TERRACE", "PL": "PLACE", "SQ": "SQUARE"}  # fmt: skip
Frames = dict[str, pd.DataFrame]
Plain = Callable[["pd.Series[str]"], "pd.Series[str]"]
NONE = pd.Series(dtype="str")


def join_ids(frames: Frames, pieces: Mapping[str, int], homes_listed: bool = True) -> tuple[Frames, list[str]]:
    """Write the same number the same way everywhere.

    Two spellings are one number where they differ in capitals, blanks or leading zeros only, and no single sheet lists
    both. Homes whose numbers have one prefix in one table and another, or none, in another are joined by what follows
    it. A home given by its UPRN or address is given its own number.

    Args:
        frames: Typed tables, with source columns.
        pieces: From how many sheets each table was put together.
        homes_listed: False where the homes are those that valves and visits name.

    Returns:
        The tables with joined numbers, and a sentence for each sheet that was changed.
    """
    frames, said = (frames, []) if homes_listed else _beside_the_register(frames)
    for thing, places in NUMBERED.items():
        places = tuple(place for place in places if len(frames[place[0]]))
        if not places:
            continue
        table, column = places[0]
        instead = _among_lists(frames[table], column) if pieces[table] > 1 else NONE
        if len(instead):
            frames, told = _rewritten(frames, places[:1], instead, f"{thing} {ZEROS}")
            said += told
        for place in places[1:]:
            instead = _as_listed(frames[place[0]][place[1]], frames[table][column])
            if len(instead):
                frames, told = _rewritten(frames, (place,), instead, f"{thing} {ZEROS}")
                said += told
    frames, told = _from_list(frames)
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
    frames: Frames, places: tuple[tuple[str, str], ...], instead: pd.Series[str], told: str
) -> tuple[Frames, list[str]]:
    said = []
    for table, column in places:
        values = frames[table][column]
        where = place_in(values, instead.index.to_series()) >= 0
        new = values.array.copy()
        new[where] = values[where].map(instead).array
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


def _beside_the_register(frames: Frames) -> tuple[Frames, list[str]]:
    """Where no homes are listed, write those of the log, and so the homes made of them, with the register's prefix."""
    listed = frames["valves"]["home_id"]
    said: list[str] = []
    for name in ("homes", "visits") if listed.notna().any() else ():
        values = frames[name]["home_id"]
        found = _by_prefix(values[unknown(values, listed)], listed)
        if len(found):
            frames, told = _rewritten(frames, ((name, "home_id"),), found, PREFIX)
            said += told
    return frames, said


def _by_prefix(stray: pd.Series[str], listed: pd.Series[str]) -> pd.Series[str]:
    """Read 12 as PROP-00012 where all homes of the list, and all that it lacks, have one prefix each."""
    if stray.empty:
        return NONE
    first, other = (_prefixed(ids.dropna().head(1))["prefix"].tolist() for ids in (listed, stray))
    if first == other:  # of a million ids as of one
        return NONE
    known, asked = _prefixed(listed), _prefixed(stray)
    if known["prefix"].nunique() > 1 or asked["prefix"].nunique() > 1:
        return NONE
    number = known.drop_duplicates("number", keep=False).set_index("number")["spelled"]
    found = asked.set_index("spelled")["number"].map(number).dropna().astype("str")
    return found if len(found) >= NEARLY_ALL * len(asked) else NONE


def _prefixed(ids: pd.Series[str]) -> pd.DataFrame:
    """Distinct ids as `spelled`, their `prefix` and the `number` behind it without leading zeros.

    An id of another form is a prefix of its own, so that such ids never have one in common.
    """
    spelled = ids.dropna().drop_duplicates().reset_index(drop=True)
    parts = spelled.str.extract(r"^(?P<prefix>\D*?)[\s/-]*0*(?P<number>\d+)$").assign(spelled=spelled)
    return parts.assign(prefix=parts["prefix"].fillna(spelled))


def _from_list(frames: Frames) -> tuple[Frames, list[str]]:
    """Give homes that are named by a number of another prefix, by their UPRN or by their address, their own number."""
    homes = frames["homes"][frames["homes"]["home_id"].notna()]
    said: list[str] = []
    for table in ("valves", "visits") if len(homes) else ():
        values = frames[table]["home_id"]
        stray = values[unknown(values, homes["home_id"])].drop_duplicates()
        for told in (PREFIX, *NAMED) if len(stray) else ():
            found = _by_prefix(stray, homes["home_id"]) if told == PREFIX else _named(stray, homes, *NAMED[told])
            if len(found):
                frames, more = _rewritten(frames, ((table, "home_id"),), found, told)
                stray = stray[~stray.isin(found.index)]
                said += more
    return frames, said


def _named(stray: pd.Series[str], homes: pd.DataFrame, column: str, plain: Plain) -> pd.Series[str]:
    """For each stray name the number of the one home whose UPRN or address it is."""
    listed = homes[homes[column].notna()]
    key = plain(listed[column])
    single = ~key.duplicated(keep=False)
    number = pd.Series(listed["home_id"][single].array, index=pd.Index(key[single]))
    return pd.Series(plain(stray).map(number).array, index=pd.Index(stray), dtype="str").dropna()


def _plain_uprn(uprns: pd.Series[str]) -> pd.Series[str]:
    return uprns.str.lstrip("0")


def plain_address(addresses: pd.Series[str]) -> pd.Series[str]:
    """Addresses in one spelling: letters and digits, usual short forms written out, no postcode behind."""
    text = addresses.str.upper().str.replace(r"[^A-Z0-9]+", " ", regex=True).str.strip()
    text = text.str.replace(r"\s*\b[A-Z]{1,2}[0-9][A-Z0-9]? ?[0-9][A-Z]{2}$", "", regex=True)  # BS 7666
    for short, word in STREETS.items():
        text = text.str.replace(rf"\b{short}\b", word, regex=True)
    return text.str.replace(" ", "")


NAMED: dict[str, tuple[str, Plain]] = {
    "homes given by UPRN were given the home's own number": ("uprn", _plain_uprn),
    "homes given by their address were given the home's own number": ("address", plain_address),
}
