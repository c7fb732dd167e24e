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
from typing import Any, Final

from schemas.column import Column

SYNONYMS: Final = Path(__file__).with_name("synonyms.toml")
EXACT, USUAL, WORDS, CLOSE, MAYBE, VALUES = 1.0, 0.95, 0.9, 0.8, 0.6, 0.5  # how sure a match is
HALF = 0.5  # share of telling words in common from which a column is named as the nearest
CLOSE_ENOUGH = 0.86  # share of letters in common, as difflib counts
BRACKETS = re.compile(r"[\(\[\{]([^\(\)\[\]\{\}]{1,20})[\)\]\}]")
WITH_VAT = re.compile(
    r"\b(incs?|incl|including|includes|inclusive|inclusive of|with|w)[\s./]*vat\b"
    r"|\bvat[\s.-]*(inc|incl|included|inclusive)\b|\bgross\b"
)
INITIALS = re.compile(r"(?<=\b\w)\.(?=\w\b)")
CAMEL = re.compile(r"(?<=[a-z0-9])(?=[A-Z])")


@dataclass(frozen=True)
class Lexicon:
    """The words of synonyms.toml that belong to no column."""

    short: dict[str, str]  # short form → word
    units: dict[str, str]  # unit as headers write it → unit as the value parser knows it
    filling: frozenset[str]
    tail: re.Pattern[str]  # a unit at the end of a header, without brackets


@cache
def lexicon() -> Lexicon:
    """Read the words that belong to no column."""
    content = _content()
    units = {form: "" if unit == "none" else unit for unit, forms in content["units"].items() for form in forms}
    bare = sorted(map(re.escape, content["words"]["bare_units"]), key=len, reverse=True)
    return Lexicon(
        short={form: word for word, forms in content["short"].items() for form in forms},
        units=units,
        filling=frozenset(content["words"]["filling"]),
        tail=re.compile(r"[\s,/\-–:](" + "|".join(bare) + r")\.?\s*$"),
    )


@dataclass(frozen=True, slots=True)
class Match:
    """One column that a header may mean."""

    column: str
    sure: float  # 0 to 1
    reason: str


@lru_cache(maxsize=65536)
def key(text: str) -> str:
    """Bring header words into one form: small letters, plain words, short forms written out."""
    plain = unicodedata.normalize("NFKC", CAMEL.sub(" ", text) if not text.isupper() else text).casefold()
    plain = INITIALS.sub("", plain).replace("w/c", "w c").replace("#", " number ").replace("'", "").replace("’", "")
    short = lexicon().short
    return " ".join(short.get(word, word) for word in re.findall(r"[^\W_]+", plain))


def words(text: str) -> frozenset[str]:
    """The telling words of a header, in no order."""
    return frozenset(key(text).split()) - lexicon().filling


@lru_cache(maxsize=4096)
def unit_of(text: str) -> tuple[str, str]:
    """Split a header into its words and its unit; the unit is empty where none is written.

    "Ambient (°F)" gives ("Ambient", "°F"); "Cost £" gives ("Cost", "£").
    """
    units = lexicon().units
    for found in BRACKETS.finditer(text):
        inside = found.group(1).strip().casefold().removesuffix(".").removeprefix("in ")
        if inside in units:
            rest = (text[: found.start()] + " " + text[found.end() :]).strip()
            return (rest or text), units[inside]
    if tail := lexicon().tail.search(text.casefold()):
        return text[: tail.start()].strip(" ,/-–:"), units[tail.group(1)]
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
def _content() -> dict[str, dict[str, Any]]:
    return tomllib.loads(SYNONYMS.read_text(encoding="utf-8"))


@cache
def columns(table: str) -> tuple[Column, ...]:
    """The canonical columns of a table."""
    from schemas.tables import COLUMNS

    return COLUMNS[table]


@lru_cache(maxsize=4096)
def not_ours(header: str) -> bool:
    """Tell whether a header names something that the audit has no column for, whatever its cells look like."""
    return key(unit_of(header)[0]) in _not_ours() or with_vat(header)


@lru_cache(maxsize=4096)
def with_vat(header: str) -> bool:
    """Tell whether a header says that its amounts hold the tax; all costs of ours are without it."""
    return bool(WITH_VAT.search(INITIALS.sub("", header).casefold()))


@lru_cache(maxsize=4096)
def first_of_several(header: str) -> bool:
    """Tell whether a header that may mean several columns rather means the one listed first, other things equal."""
    return key(unit_of(header)[0]) in {key(word) for word in _content()["words"]["first_of_several"]}


@lru_cache(maxsize=4096)
def address_part(header: str) -> bool:
    """Tell whether a header names a part of an address: its flat, house number, street, line, town."""
    return key(header) in {key(word) for word in _content()["words"]["address_parts"]}


@cache
def _not_ours() -> frozenset[str]:
    return frozenset(map(key, _content()["words"]["not_ours"]))


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
    if (
        (not header.strip() and not group.strip())
        or with_vat(group)
        or (not_ours(header) and key(header) not in names(table).own)
    ):
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
        name = key(text) or ("gbp" if "£" in text else "")
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
    if len(name) < 5 or not_ours(header):
        return ()
    known = names(table)
    near = get_close_matches(name, [*known.own, *known.usual], n=3, cutoff=CLOSE_ENOUGH)
    found: dict[str, Match] = {}
    for spelling in near:
        for column in (known.own[spelling],) if spelling in known.own else known.usual[spelling]:
            found.setdefault(column, Match(column, CLOSE, f"“{header.strip()}” is spelled almost like “{spelling}”"))
    return tuple(found.values())


@lru_cache(maxsize=4096)
def nearest_columns(table: str, header: str, given: frozenset[str]) -> tuple[str, ...]:
    """Name up to three columns, none of them `given`, that share half their telling words with a header."""
    telling = words(unit_of(header)[0])
    if not telling or not_ours(header):
        return ()
    score: dict[str, float] = {}
    for name, found in names(table).by_words.items():
        for column in found:
            score[column] = max(score.get(column, 0.0), len(telling & name) / len(telling | name))
    near = [column for column in score if score[column] >= HALF and column not in given]
    return tuple(sorted(near, key=lambda column: -score[column])[:3])
