"""The trade's names for the allowed words: one spelling for every text, and the table of names."""

from __future__ import annotations

import itertools
import re
import tomllib
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final

from schemas.column import Column

TABLE: Final = Path(__file__).with_name("words.toml")
NEGATIONS: Final = frozenset(["no", "not", "non", "without", "never", "un", "none", "nothing", "nor"])
SAME: Final = {"part": "item"}  # columns that share a section of the table
_SINGLE_LETTERS: Final = re.compile(r"\b([a-z])[/.](?=[a-z]\b)")  # c/h, d.h.w.
_JOINT: Final = re.compile(r"(?<=\d)(?=[a-z])|(?<=[a-z])(?=\d)")  # 22mm, zone2
_NOT_WORD: Final = re.compile(r"[^a-z0-9]+")
_CHOICE: Final = re.compile(r"\{(\w+)\}|\(([^)]*)\)")


@dataclass(frozen=True)
class Names:
    """The names of one column: key of each name to the words it may mean (two: ambiguous)."""

    words: Mapping[str, frozenset[str]]
    negated: frozenset[str]  # keys of names with a negation in them
    never: Mapping[str, frozenset[str]]  # word to the tokens of texts that are no slip of its names
    by_start: Mapping[tuple[str, int], list[str]]  # first letter and length to the keys that have them
    letters: Mapping[str, int]  # key to the set of its letters, see `letters_of`

    def never_close(self, meant: Iterable[str], text: Iterable[str]) -> str:
        """The first of the words `meant` that a text with these tokens may not be read as for its spelling, or none."""
        found = frozenset(text)
        return next((word for word in sorted(meant) if found & self.never.get(word, frozenset())), "")


@cache
def table() -> dict[str, Any]:
    """The table of names as written."""
    return tomllib.loads(TABLE.read_text(encoding="utf-8"))


def tokens(text: str) -> list[str]:
    """The words of a text in one spelling: small letters, no punctuation, no plural s, abbreviations written out."""
    spelling = table()["spelling"]
    text = unicodedata.normalize("NFKC", text).lower().replace("'", "").replace("’", "")
    text = _SINGLE_LETTERS.sub(r"\1", text).replace("&", " and ").replace("+", " and ")
    plain = _JOINT.sub(" ", _NOT_WORD.sub(" ", text)).split()
    single = [w[:-1] if len(w) > 3 and w.endswith("s") and not w.endswith("ss") else w for w in plain]
    full = " ".join(spelling["short"].get(w, w) for w in single).split()
    return [w for w in full if w not in spelling["drop"]]


def key(text: str) -> str:
    """The words of a text run together, so that a blank more or less makes no difference."""
    return "".join(tokens(text))


def denies(words: Iterable[str]) -> bool:
    """True where a negation stands among the words."""
    return not NEGATIONS.isdisjoint(words)


def names_of(column: Column) -> Names:
    """The names of the column's words."""
    return _names(column.name, tuple(column.words or ()))


def is_yes_no(column: Column) -> bool:
    """True where the column's words are yes and no, and perhaps one more that nobody writes by hand."""
    return set(column.words or ()) >= {"yes", "no"}


@cache
def _names(name: str, words: tuple[str, ...]) -> Names:
    found: dict[str, set[str]] = {}
    negated = set()
    for section in _sections(name, words):
        for word, names in table().get(section, {}).items():
            for name_key, denies in itertools.chain.from_iterable(_expand(n) for n in names):
                found.setdefault(name_key, set()).add(word)
                negated.update([name_key] if denies else [])
    found = {k: v & set(words) for k, v in found.items() if k and v & set(words)}
    for word in words:
        found[key(word)] = {word}  # the word itself always means itself
    barred = table()["spelling"]["never"]
    never = {word: frozenset(barred[f"{name}.{word}"]) for word in words if f"{name}.{word}" in barred}
    by_start: dict[tuple[str, int], list[str]] = {}
    for name_key in found:
        by_start.setdefault((name_key[0], len(name_key)), []).append(name_key)
    letters = {name_key: letters_of(name_key) for name_key in found}
    return Names({k: frozenset(v) for k, v in found.items()}, frozenset(negated), never, by_start, letters)


def letters_of(text: str) -> int:
    """The set of letters and digits of a key, one bit each."""
    return sum(1 << int(letter, 36) for letter in set(text))


def _sections(name: str, words: tuple[str, ...]) -> list[str]:
    own = "live" if name.endswith("_live") else SAME.get(name, name)
    return ["yes_no", own] if set(words) >= {"yes", "no"} else [own]


def _expand(template: str) -> Iterator[tuple[str, bool]]:
    """Key of every text that a template with {groups} and (choices|) stands for, and whether it has a negation."""
    groups = table()["groups"]
    parts: list[list[str]] = []
    end = 0
    for found in _CHOICE.finditer(template):
        parts += [[template[end : found.start()]], groups[found[1]] if found[1] else found[2].split("|")]
        end = found.end()
    parts.append([template[end:]])
    for choice in itertools.product(*([_key_of_piece(text) for text in part] for part in parts)):
        yield "".join(name_key for name_key, _ in choice), any(denies for _, denies in choice)


@cache
def _key_of_piece(text: str) -> tuple[str, bool]:
    found = tokens(text)
    return "".join(found), denies(found)
