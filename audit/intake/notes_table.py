"""The phrase table of `phrases.toml`, checked and made ready for reading notes."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import product
from pathlib import Path
from typing import Any, Final, NamedTuple

from audit.errors import CannotUse
from audit.intake.notes_words import COMMA, SENTENCE, TOKEN, UNKNOWN, Lexicon, Term
from schemas import words as w

FILE: Final = Path(__file__).with_name("phrases.toml")
SAFETY_FILE: Final = FILE.with_name("dangers.toml")
FIRST_CODE: Final = 0xE000  # private characters: one a term
COLUMNS: Final[dict[str, Mapping[str, str]]] = {
    "symptom": w.SYMPTOM,
    "cause": w.CAUSE,
    "action": w.ACTION,
    "outcome": w.OUTCOME,
    "parts": w.RATE_ITEM,
    "lever": w.LEVER,
    "position": w.POSITION,
}
SAFETY: Final[dict[str, Mapping[str, str]]] = {  # what `dangers.toml` says
    "earthed": {"yes": "proved", "no": "no earth, or not proved", "done": "connected, nothing said of a proof"},
    "left_isolated": {"yes": "left isolated"},
}
SPECIAL: Final = {
    "cause": {"part.cause", "part.stuck", "same.cause", "same.stuck"},
    "action": {"part.action", "same.action", "same.mend", "same.reset", "also.action"},
    "outcome": {"works", "works_if_mended"},
}  # what a phrase may say besides the words of the tables
GLUE: Final = frozenset({"..", ",", "|", "!", "^"})  # pieces of a pattern that are not words
PIECE: Final = re.compile(r"\[([^\]]*)\]|(\S+)")


class Part(NamedTuple):
    """A part that notes name, and what it stands for: `cause`, `stuck`, `action`, `mend`, `reset` (absent: nothing)."""

    name: str
    means: Mapping[str, str]


class Phrase(NamedTuple):
    """What a phrase says, and how it hangs on a part: of its own words, or of those before."""

    says: Mapping[str, str]
    refers: bool  # a value is a word of the part: "part.cause"
    of_same: bool  # of a part named before: "same.action"
    continues: bool  # counts only right after a deed: "also.action"
    of_part: bool  # a part in its words matters


class Matcher(NamedTuple):
    """All patterns of one first element as one expression; `ranks`, by group: minus its words, number of the phrase."""

    match: Callable[[str, int], re.Match[str] | None]
    ranks: tuple[tuple[int, int], ...]


class Cue(NamedTuple):
    """Words that silence the columns named, for phrases near them."""

    name: str
    pattern: re.Pattern[str]
    reach: str
    before: bool
    silences: frozenset[str]


@dataclass(frozen=True)
class PhraseTable:
    """Everything that reading a note needs; made once from the file."""

    lexicon: Lexicon
    phrases: Sequence[Phrase]
    matchers: Mapping[str, Sequence[Matcher]]  # by first code
    part_of: Mapping[str, Part]  # by code
    parts_pattern: re.Pattern[str]
    modifiers: re.Pattern[str]
    cues: Sequence[Cue]
    breaks: re.Pattern[str]
    stops: re.Pattern[str]
    root: re.Pattern[str]
    kinds: Mapping[str, frozenset[str]]  # by code
    sizes: Mapping[str, str]  # by code
    part_items: Mapping[str, str]
    ranks: Mapping[str, Mapping[str, int]]
    together: Sequence[tuple[str, frozenset[str], str]]
    characters_read: int
    words_before: int
    marks_inside: Mapping[str, int]  # by first code: so many marks, at most, stand within one phrase

    def reach(self, clause: str) -> int:
        """Return how many clauses after it the phrases of a clause may reach into, at most."""
        return max((self.marks_inside.get(code, 0) for code in clause), default=0)


class _Builder:
    """Gives every term a code and turns lists and patterns into regular expressions over codes.

    Terms of the very same lists share a code, which keeps the expressions small.
    """

    def __init__(self, raw: Mapping[str, Any], file: str) -> None:
        self.raw, self.file = raw, file
        self.slips = {wrong.strip(): right for right, wrongs in raw["slips"].items() for wrong in wrongs.split(",")}
        self.skip = frozenset(word.strip() for word in raw["skip"].replace("\n", " ").split(","))
        if both := sorted(set(raw["words"]) & set(raw["part"])):
            raise CannotUse(f"{file}: {both[0]!r} stands under [words] and under [part]; rename one of them.")
        self.lists = {name: self.terms(text) for name, text in self._texts()}
        self.lists["part"] = [term for name in raw["part"] for term in self.lists[name]]
        self.lists["culprit"] = [
            term for name, part in raw["part"].items() if part["cause"] for term in self.lists[name]
        ]
        owners: dict[Term, set[str]] = {}
        for name, terms in self.lists.items():
            for term in terms:
                owners.setdefault(term, set()).add(name)
        shared: dict[frozenset[str], str] = {}
        self.codes = {
            term: shared.setdefault(frozenset(names), chr(FIRST_CODE + len(shared))) for term, names in owners.items()
        }
        plain = {self.codes[term] for term, names in owners.items() if all(name.startswith("word ") for name in names)}
        self.gap = UNKNOWN + "".join([*(self.list_codes(name.strip()) for name in raw["gap"].split(",")), *plain])
        self.marks = COMMA + SENTENCE + "".join(map(self.list_codes, ("and", "with", "breaks")))
        self.ends = self.marks + "".join(self.list_codes(name.strip()) for name in raw["ends"].split(","))

    def _texts(self) -> Iterator[tuple[str, str]]:
        """Yield every list of the table by name: words, parts, cues, kinds, sizes and the plain words of patterns."""
        yield from self.raw["words"].items()
        for group in ("part", "cue"):
            for name, entry in self.raw[group].items():
                lists = (self.raw["words"][name] for name in entry.get("lists", "").split())
                yield (name if group == "part" else f"cue {name}"), ",".join([entry["words"], *lists])
        for group in ("kind", "size"):
            for name, text in self.raw[group].items():
                yield f"{group} {name}", text
        yield "root", self.raw["root"]["words"]
        for phrase in self.raw["phrase"]:
            for pattern in phrase["like"]:
                for element in pattern.replace("[", " ").replace("]", " ").split():
                    if element[0] != "<" and element not in GLUE:
                        yield f"word {element}", element

    def terms(self, text: str) -> list[Term]:
        """Cut a comma-separated list into terms of plain words, slips put right."""
        found = []
        for item in text.split(","):
            words = (m.group().replace("’", "'") for m in TOKEN.finditer(" ".join(item.lower().split())))
            if term := tuple(self.slips.get(word, word) for word in words):
                found.append(term)
        return found

    def list_codes(self, name: str) -> str:
        """Return the codes of a list, each once."""
        if name not in self.lists:
            raise CannotUse(f"{self.file}: there is no list of words named {name!r}; add it under [words] or [part].")
        return "".join(dict.fromkeys(self.codes[term] for term in self.lists[name]))

    def start(self, element: str) -> str:
        """Return the codes that an element stands for."""
        if element.startswith("<"):
            return "".join(dict.fromkeys("".join(self.list_codes(name) for name in element.strip("<>").split("|"))))
        return self.list_codes(f"word {element}")

    def element(self, text: str) -> str:
        """Return one element of a pattern as a regular expression: a gap, a mark, a list or a word."""
        if text == "..":
            return f"[{self.gap}]{{0,{self.raw['gap_words']}}}?"
        if text == ",":
            return f"[{self.marks}]?"
        if text == "^":  # stands after the first term
            return f"(?:(?<=[{COMMA}{SENTENCE}{self.list_codes('breaks')}].)|(?<!..))"
        if text == "!":
            return f"(?=[{COMMA}{SENTENCE}]|$)"
        if text == "|":
            return f"(?=[{self.ends}]|$)"
        return f"[{self.start(text)}]"

    def variants(self, pattern: str) -> list[list[str]]:
        """Return the pattern with and without each of its optional pieces, as lists of elements."""
        pieces = [
            [optional.split(), []] if optional else [[plain]]
            for optional, plain in (m.groups() for m in PIECE.finditer(pattern))
        ]
        return [[element for piece in choice for element in piece] for choice in product(*pieces)]


def _phrase(entry: Mapping[str, Any], file: str) -> Phrase:
    says = {}
    for column, value in entry.items():
        if column in {"like", "deed"}:
            continue
        allowed = {*COLUMNS.get(column, {}), *SAFETY.get(column, {})} | SPECIAL.get(column, set())
        if value not in allowed:
            raise CannotUse(
                f"{file}: a phrase like {entry['like'][0]!r} says {column} = {value!r}; "
                f"the words allowed are {', '.join(sorted(allowed))}."
            )
        says[column] = value
    if entry.get("deed"):
        says["deed"] = "yes"
    of = {value.partition(".")[0] for value in says.values() if "." in value}
    of_part = bool(of) or "outcome" in says or "deed" in says
    return Phrase(says, refers=bool(of), of_same="same" in of, continues="also" in of, of_part=of_part)


def _matchers(build: _Builder) -> dict[str, tuple[Matcher, ...]]:
    """Return, by first code, an expression for each first element of a pattern; it tries the longest patterns first."""
    by_first: dict[str, list[tuple[int, int, str]]] = {}
    for number, phrase in enumerate(build.raw["phrase"]):
        for pattern in phrase["like"]:
            for elements in build.variants(pattern):
                first, *rest = [*elements[1:2], "^", *elements[2:]] if elements[0] == "^" else elements
                weight = 1 + sum(element not in GLUE for element in rest)
                by_first.setdefault(first, []).append((-weight, number, "".join(map(build.element, rest))))
    matchers: dict[str, list[Matcher]] = {}
    for first, found in by_first.items():
        ordered = sorted(dict.fromkeys(found), key=lambda one: one[:2])
        pattern = re.compile(".(?:" + "|".join(f"{rest}()" for _, _, rest in ordered) + ")")
        matcher = Matcher(pattern.match, tuple(one[:2] for one in ordered))
        for code in build.start(first):
            matchers.setdefault(code, []).append(matcher)
    return {code: tuple(found) for code, found in matchers.items()}


def _marks_inside(build: _Builder) -> dict[str, int]:
    marks: dict[str, int] = {}
    for phrase in build.raw["phrase"]:
        for elements in (variant for pattern in phrase["like"] for variant in build.variants(pattern)):
            for code in build.start(next(element for element in elements if element != "^")):
                marks[code] = max(marks.get(code, 0), elements.count(","))
    return marks


def _ranks(order: Mapping[str, str]) -> dict[str, dict[str, int]]:
    """Return, by column, the rank of each word: words before the same comma share one."""
    return {
        column: {word: rank for rank, words in enumerate(text.split(",")) for word in words.split()}
        for column, text in order.items()
    }


def _by_code(build: _Builder, group: str) -> dict[str, frozenset[str]]:
    found: dict[str, set[str]] = {}
    for name in build.raw[group]:
        for code in build.list_codes(f"{group} {name}"):
            found.setdefault(code, set()).add(name)
    return {code: frozenset(names) for code, names in found.items()}


def _modifiers(build: _Builder) -> re.Pattern[str]:
    parts = [
        f"[{build.list_codes(name)}](?=[{''.join(build.list_codes(target) for target in targets.split())}])"
        for name, targets in build.raw["modifier"].items()
    ]
    return re.compile("|".join(parts))


def _cues(build: _Builder) -> list[Cue]:
    return [
        Cue(
            name=name,
            pattern=re.compile(f"[{build.list_codes(f'cue {name}')}]"),
            reach=cue["reach"],
            before=bool(cue.get("before")),
            silences=frozenset(cue["silences"].split()),
        )
        for name, cue in build.raw["cue"].items()
    ]


def make_table(raw: Mapping[str, Any], file: str = FILE.name) -> PhraseTable:
    """Check the table and compile it.

    Raises:
        CannotUse: a list that is not there, or a word that the tables do not allow.
    """
    build = _Builder(raw, file)
    parts = {
        code: Part(name, {"stuck": part["cause"], **part})
        for name, part in reversed(raw["part"].items())
        for code in build.list_codes(name)
    }
    cues, modifiers = _cues(build), _modifiers(build)
    kinds, sizes = _by_code(build, "kind"), _by_code(build, "size")
    true_words = raw["not_slips"]["words"].replace(",", " ").split()
    return PhraseTable(
        lexicon=Lexicon(build.codes, build.skip, build.slips, true_words, raw["slip_letters"]),
        phrases=[_phrase(entry, file) for entry in raw["phrase"]],
        matchers=_matchers(build),
        part_of=parts,
        parts_pattern=re.compile(f"[{build.list_codes('part')}]"),
        modifiers=modifiers,
        cues=cues,
        breaks=re.compile(f"[{COMMA}{SENTENCE}{build.list_codes('breaks')}]"),
        stops=re.compile(f"[{build.list_codes('both')}]"),
        root=re.compile(f"[{build.list_codes('root')}]"),
        kinds=kinds,
        sizes={code: next(iter(names)) for code, names in sizes.items()},
        part_items=raw["parts"],
        ranks=_ranks(raw["order"]),
        together=[(one["column"], frozenset(one["both"]), one["mean"]) for one in raw["together"]],
        characters_read=raw["characters_read"],
        words_before=raw["words_before"],
        marks_inside=_marks_inside(build),
    )


@cache
def safety_table() -> PhraseTable:
    """Return the table of `dangers.toml`: its own phrases, in the words and cues of `phrases.toml`."""
    raw = tomllib.loads(FILE.read_text(encoding="utf-8"))
    own = tomllib.loads(SAFETY_FILE.read_text(encoding="utf-8"))
    cues = {name: {**cue, "silences": own["silences"].get(name, "")} for name, cue in raw["cue"].items()}
    merged = raw | {"phrase": own["phrase"], "order": own["order"], "together": [], "cue": cues}
    lists = {group: raw[group] | own[group] for group in ("words", "slips")}
    return make_table(merged | lists, SAFETY_FILE.name)


@cache
def default_table() -> PhraseTable:
    """Return the table of `phrases.toml`."""
    return make_table(tomllib.loads(FILE.read_text(encoding="utf-8")))
