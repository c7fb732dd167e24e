"""From a note's text to terms that the phrase table knows: words cut, slips put right, terms of several words found."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Final, NamedTuple

UNKNOWN: Final = "x"
SENTENCE: Final = "."
COMMA: Final = ","
REMEMBERED: Final = 200_000  # words kept with what they mean; more are worked out each time
CLAUSES: Final = 50_000  # clauses kept with their terms

# One pass without nested repeats, so that no text takes long.
TOKEN: Final = re.compile(
    r"\b[a-z](?:\.[a-z])+\b\.?"  # n.f.f. and h.w
    r"|\b[a-z]/[a-z]+(?:/[a-z]\b)?"  # h/w, u/s, z/valve, n/f/a
    r"|[a-z]+(?:['’][a-z]+)*"
    r"|\d+(?:[.,:/-]\d+)*"
    r"|\s[-–—]+(?=\s)|,|[–—]|->"
    r"|[.;!?\n\r]+|\s/\s|\|"
    r"|[&+/]"
)
CLAUSE_END: Final = re.compile(  # no term reaches over it
    r"[.,;!?](?=\s)|[\n\r]|\s/\s|\s[-–—]+(?=\s)|\||(?<!\d),|,(?!\d)"
)
LAST: Final = "\x02"  # ends a note among many
PIECE_END: Final = re.compile(  # as CLAUSE_END, but for the full stop of n.f.f., no mark; one set first is fast
    r"[,.;!?|\s\x02](?:(?<=[\n\r|\x02])|(?<=\s)(?:/\s|[-–—]+(?=\s))|(?<=[;!?])(?=\s)"
    r"|(?<=\.)(?<!\.[a-zA-Z]\.)(?=\s)|(?<=,)(?:(?<!\d,)|(?!\d)))"
)
MARKS: Final = dict.fromkeys(",-–—", COMMA) | dict.fromkeys(".;!?\n\r/|", SENTENCE)

Term = tuple[str, ...]


class Entry:
    """What a word stands for: its right spelling, its code, and the longer terms that begin with it, word by word."""

    __slots__ = ("code", "idle", "longer", "word")

    def __init__(self, word: str, code: str = UNKNOWN, *, idle: bool = False) -> None:
        self.word, self.code, self.idle = word, code, idle  # idle: counts for nothing
        self.longer: dict[str, Entry] = {}


class Tagged(NamedTuple):
    """A note as one character a term (`codes`), with the place of each: in its clause, and where that begins."""

    codes: str
    begins: Sequence[int]
    starts: Sequence[int]
    ends: Sequence[int]

    def words(self, text: str, span: tuple[int, int]) -> str:
        """Return the words of the text from one term to another."""
        first, last = span
        return text[self.begins[first] + self.starts[first] : self.begins[last] + self.ends[last]]


class Lexicon(dict[str, Entry]):
    """Every word met, with its entry; an unknown word is compared with the known ones once and remembered."""

    def __init__(
        self,
        terms: Mapping[Term, str],
        skip: Iterable[str],
        slips: Mapping[str, str],
        true_words: Iterable[str],
        slip_letters: int,
    ) -> None:
        super().__init__()
        for word in true_words:
            self[word] = Entry(word)
        for word in skip:
            self[word] = Entry(word, "", idle=True)
        for term, code in terms.items():
            self._add(term, code)
        for wrong, right in slips.items():
            self[wrong] = self.setdefault(right, Entry(right))
        known = {word for term in terms for word in term}
        self._near = _one_letter_off(word for word in known if len(word) >= slip_letters)
        self._slip_letters = slip_letters
        self._clause = lru_cache(CLAUSES)(self._tag_clause)

    def _add(self, term: Term, code: str) -> None:
        for word in term:
            self.setdefault(word, Entry(word))
        entry = self[term[0]]
        for word in term[1:]:
            entry = entry.longer.setdefault(word, Entry(word, ""))
        if len(term) > 1 or not entry.idle:
            entry.code = code

    def __missing__(self, word: str) -> Entry:
        entry = self._work_out(word)
        if len(self) < REMEMBERED:
            self[word] = entry
        return entry

    def _work_out(self, word: str) -> Entry:
        if (mark := MARKS.get(word.strip()[:1] or word[:1])) is not None:
            return Entry(word, mark)
        plain = word.replace("’", "'")
        if not plain[0].isdigit():
            plain = plain.replace(".", "")
        if plain != word:
            return self[plain]
        if len(plain) == 4 and plain.isdigit() and plain[:2] in {"19", "20"}:
            return self["year"]
        if len(plain) < self._slip_letters or not plain.isalpha():
            return Entry(word)
        near = [plain, *_shorter(plain)]
        right = [w for short in near for w in self._near.get(short, ()) if _is_slip(plain, w)]
        return self[min(right)] if right else Entry(word)

    def tag(self, text: str) -> Tagged:
        """Return the codes of the terms in `text` (longest term first), each with where it begins and ends.

        Clauses are tagged one by one and remembered: most of what people write, they have written before.
        """
        lower = text.lower()
        if len(lower) != len(text):  # a few letters change length; then lower only the plain ones
            lower = "".join(c.lower() if c.isascii() else c for c in text)
        codes = ""
        begins: list[int] = []
        starts: list[int] = []
        ends: list[int] = []
        begin = 0
        for end in [*[m.end() for m in CLAUSE_END.finditer(lower)], None]:
            clause = lower[begin:] if end is None else lower[begin:end] + " "  # a dash is a mark between spaces
            piece, first, last = self._clause(clause)
            codes += piece
            begins += [begin] * len(piece)
            starts += first
            ends += last
            begin = end or 0
        return Tagged(codes, begins, starts, ends)

    def _tag_clause(self, clause: str) -> tuple[str, tuple[int, ...], tuple[int, ...]]:
        words = [(self[m[0]], *m.span()) for m in TOKEN.finditer(clause)]
        codes, starts, ends = [], [], []
        place, count = 0, len(words)
        while place < count:
            entry, start, end = words[place]
            code = entry.code
            place += 1
            if entry.longer and place < count:
                longest = _longest(words, place, entry)
                if longest:
                    code, place = longest
                    end = words[place - 1][2]
            if code:
                codes.append(code)
                starts.append(start)
                ends.append(end)
        return "".join(codes), tuple(starts), tuple(ends)


def _longest(words: list[tuple[Entry, int, int]], place: int, entry: Entry) -> tuple[str, int] | None:
    """Return code and end of the longest term that begins before `place`; words that count for nothing are passed."""
    found = None
    for at in range(place, len(words)):
        word = words[at][0]
        further = entry.longer.get(word.word)
        if further is None:
            if word.idle:
                continue
            break
        entry = further
        if entry.code:
            found = entry.code, at + 1
        if not entry.longer:
            break
    return found


def _shorter(word: str) -> set[str]:
    return {word[:place] + word[place + 1 :] for place in range(len(word))}


def _one_letter_off(words: Iterable[str]) -> dict[str, list[str]]:
    """Map each word, and each word less one letter, to the words that it can come from."""
    near: defaultdict[str, list[str]] = defaultdict(list)
    for word in words:
        for short in _shorter(word) | {word}:
            near[short].append(word)
    return dict(near)


def _is_slip(wrong: str, right: str) -> bool:
    """Whether one letter is missing, too many or wrong, or two neighbours swapped; first letter and ending stand."""
    if wrong[0] != right[0]:
        return False
    if len(wrong) != len(right):
        return abs(len(wrong) - len(right)) == 1 and not (wrong.startswith(right) or right.startswith(wrong))
    off = [place for place, (a, b) in enumerate(zip(wrong, right, strict=True)) if a != b]
    if len(off) == 1:
        return off[0] < len(right) - 1
    return len(off) == 2 and off[1] == off[0] + 1 and wrong[off[0]] + wrong[off[1]] == right[off[1]] + right[off[0]]
