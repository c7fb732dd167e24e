"""Header words: put into one form, their unit split off, and looked up among the usual names of columns."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections import defaultdict
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache, lru_cache
from pathlib import Path
from typing import Final

from schemas.column import Column

SYNONYMS: Final = Path(__file__).with_name("synonyms.toml")
EXACT, USUAL, WORDS, CLOSE, MAYBE, VALUES = 1.0, 0.95, 0.9, 0.8, 0.6, 0.5  # how sure a match is
CLOSE_ENOUGH = 0.86  # share of letters in common, as difflib counts
FILLING = frozenset("the of a an is was in on at to for and or y n yes no".split())

# short forms and the word they stand for, on both sides of every comparison
SHORT: Final = {
    "temp": "temperature", "temps": "temperature", "tmp": "temperature", "nr": "number", "num": "number", "no": "number",
    "nos": "number", "ref": "reference", "refs": "reference", "dt": "date", "prop": "property", "amb": "ambient",
    "eng": "engineer", "engr": "engineer", "qty": "quantity", "hrs": "hours", "hr": "hours", "hour": "hours",
    "addr": "address", "desc": "description", "descr": "description", "instal": "installed", "install": "installed",
    "inst": "installed", "repl": "replaced", "replacement": "replaced", "htg": "heating", "ch": "heating", "cyl": "cylinder",
    "dist": "distance", "comp": "completed", "compl": "completed", "comments": "comment", "notes": "note", "wires": "wire",
    "ports": "port", "parts": "part", "val": "valve", "valves": "valve", "vlv": "valve", "vol": "voltage", "volts": "voltage",
    "mfr": "manufacturer", "mfg": "manufacturer", "manuf": "manufacturer", "dimension": "size", "jobs": "job", "wk": "week",
    "gray": "grey", "actuators": "actuator", "isolator": "isolators", "lat": "last", "reqd": "required", "uom": "unit",
}  # fmt: skip

# a unit as it stands in a header, and the word that the value parser takes for it
UNITS: Final = {
    "°c": "°C", "ºc": "°C", "degc": "°C", "deg c": "°C", "degrees c": "°C", "celsius": "°C", "centigrade": "°C", "c": "°C",
    "°f": "°F", "ºf": "°F", "degf": "°F", "deg f": "°F", "degrees f": "°F", "fahrenheit": "°F", "f": "°F",
    "mm": "mm", "millimetres": "mm", "cm": "cm", "centimetres": "cm", "m": "m", "metres": "m", "meters": "m", "mtrs": "m",
    "in": "inches", "ins": "inches", "inch": "inches", "inches": "inches", '"': "inches", "ft": "feet", "feet": "feet", "foot": "feet",
    "yrs": "years", "years": "years", "year": "years", "yr": "years", "y": "years", "months": "months", "mths": "months",
    "£": "£", "gbp": "£", "£ gbp": "£", "£ ex vat": "£", "£ exc vat": "£", "£ excl vat": "£", "£ net": "£", "pounds": "£", "ex vat": "", "excl vat": "",
    "exc vat": "", "pence": "pence", "p": "pence", "min": "minutes", "mins": "minutes", "minutes": "minutes", "h": "hours", "hrs": "hours", "hr": "hours",
    "hours": "hours", "days": "days", "day": "days", "weeks": "weeks", "wks": "weeks", "a": "A", "amps": "A", "amp": "A", "ma": "mA", "v": "V", "volts": "V",
    "dd/mm/yyyy": "", "dd/mm/yy": "", "dd-mm-yyyy": "", "yyyy-mm-dd": "", "date": "", "y/n": "", "yes/no": "", "y or n": "",
}  # fmt: skip
BARE_UNITS: Final = frozenset(
    ["°c", "ºc", "degc", "deg c", "°f", "ºf", "degf", "deg f", "mm", "cm", "inches", "inch", "ft", "feet", "metres", "yrs", "years", "£", "gbp", "mins", "minutes", "amps"]
)  # fmt: skip
BRACKETS = re.compile(r"[\(\[\{]([^\(\)\[\]\{\}]{1,20})[\)\]\}]")
TAIL = re.compile(
    r"(?:^|[\s,/\-–:])(" + "|".join(sorted(map(re.escape, BARE_UNITS), key=len, reverse=True)) + r")\.?\s*$"
)
CAMEL = re.compile(r"(?<=[a-z0-9])(?=[A-Z])")


@dataclass(frozen=True, slots=True)
class Match:
    """One column that a header may mean."""

    column: str
    sure: float  # 0 to 1
    reason: str


def key(text: str) -> str:
    """Bring header words into one form: small letters, plain words, short forms written out."""
    plain = unicodedata.normalize("NFKC", CAMEL.sub(" ", text) if not text.isupper() else text).casefold()
    plain = plain.replace("w/c", "w c").replace("#", " number ").replace("'", "").replace("’", "")
    return " ".join(SHORT.get(word, word) for word in re.findall(r"[^\W_]+", plain))


def words(text: str) -> frozenset[str]:
    """The telling words of a header, in no order."""
    return frozenset(key(text).split()) - FILLING


@lru_cache(maxsize=4096)
def unit_of(text: str) -> tuple[str, str]:
    """Split a header into its words and its unit; the unit is empty where none is written.

    "Ambient (°F)" gives ("Ambient", "°F"); "Cost £" gives ("Cost", "£").
    """
    for found in BRACKETS.finditer(text):
        inside = found.group(1).strip().casefold().removesuffix(".").removeprefix("in ")
        if inside in UNITS:
            rest = (text[: found.start()] + " " + text[found.end() :]).strip()
            return (rest or text), UNITS[inside]
    tail = TAIL.search(text.casefold())
    if tail and tail.start() > 0:
        return text[: tail.start()].strip(), UNITS[tail.group(1)]
    if "£" in text:
        return text.replace("£", " ").strip() or text, "£"
    return text, ""


@dataclass(frozen=True)
class Names:
    """The names of one table's columns: how each header key is understood."""

    own: dict[str, str]  # key of the canonical name → column
    usual: dict[str, tuple[str, ...]]  # key of a usual name → columns
    by_words: dict[frozenset[str], tuple[str, ...]]
    maybe: dict[str, tuple[str, ...]]


@cache
def names(table: str) -> Names:
    """Gather the names that a table's columns go by."""
    content = _content()
    own = {key(c.name): c.name for c in columns(table)}
    usual: defaultdict[str, list[str]] = defaultdict(list)
    for column, listed in content[table].items():
        source = content[listed].get(column, []) if isinstance(listed, str) else listed
        for word in source:
            usual[key(word)].append(column)
    by_words: defaultdict[frozenset[str], list[str]] = defaultdict(list)
    for name, found in [*((k, [c]) for k, c in own.items()), *usual.items()]:
        by_words[words(name)] += found
    maybe = {
        key(word): tuple(t.split(".")[1] for t in targets if t.startswith(f"{table}."))
        for word, targets in content["maybe"].items()
    }
    return Names(
        own,
        {name: tuple(dict.fromkeys(found)) for name, found in usual.items()},
        {name: tuple(dict.fromkeys(found)) for name, found in by_words.items() if name},
        {name: found for name, found in maybe.items() if found},
    )


@cache
def _content() -> dict[str, dict[str, list[str] | str]]:
    return tomllib.loads(SYNONYMS.read_text(encoding="utf-8"))


@cache
def columns(table: str) -> tuple[Column, ...]:
    """The canonical columns of a table."""
    from schemas.tables import COLUMNS

    return COLUMNS[table]


@cache
def group_words() -> dict[str, str]:
    """Words of a group cell above the headers, and the word that each puts before them."""
    content = _content()["groups"]
    return {key(word): group for group, listed in content.items() for word in listed}


@lru_cache(maxsize=65536)
def matches(table: str, header: str, group: str = "") -> tuple[Match, ...]:
    """List the columns that a header may mean, by its words alone, the surest first.

    Args:
        table: A canonical table.
        header: The header as written.
        group: The cell above it that heads several columns, empty where there is none.
    """
    if not header.strip() and not group.strip():
        return ()
    if group:
        joined = group_words().get(key(group), key(group))
        found = _by_words(table, f"{joined} {header}" if header.strip() else group)
        alone = tuple(m for m in _by_words(table, header) if m.column not in {f.column for f in found})
        return found + tuple(Match(m.column, m.sure - 0.02, m.reason) for m in alone)
    return _by_words(table, header)


def _by_words(table: str, header: str) -> tuple[Match, ...]:
    known = names(table)
    for text in dict.fromkeys((header, unit_of(header)[0], BRACKETS.sub(" ", header))):
        name = key(text)
        if name in known.own:
            return (Match(known.own[name], EXACT, "the column's own name"),)
        if name in known.usual:
            return tuple(Match(c, USUAL, f"“{header.strip()}” is a usual name for it") for c in known.usual[name])
    name = key(unit_of(header)[0])
    if name in known.maybe:
        return tuple(Match(c, MAYBE, f"“{header.strip()}” can mean it") for c in known.maybe[name])
    telling = words(unit_of(header)[0])
    if telling in known.by_words:
        return tuple(
            Match(c, WORDS, f"“{header.strip()}” has the words of a usual name") for c in known.by_words[telling]
        )
    return ()


@lru_cache(maxsize=4096)
def close_matches(table: str, header: str) -> tuple[Match, ...]:
    """List the columns whose names differ from the header by a slip of the keyboard."""
    name = key(unit_of(header)[0])
    if len(name) < 5:
        return ()
    known = names(table)
    near = get_close_matches(name, [*known.own, *known.usual], n=3, cutoff=CLOSE_ENOUGH)
    found: dict[str, Match] = {}
    for spelling in near:
        for column in (known.own[spelling],) if spelling in known.own else known.usual[spelling]:
            found.setdefault(column, Match(column, CLOSE, f"“{header.strip()}” is spelled almost like “{spelling}”"))
    return tuple(found.values())
