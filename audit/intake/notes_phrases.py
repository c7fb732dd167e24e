"""The phrases of a clause, left to right: which part each speaks of, and which of them negation, past or plan silence.

A note is read clause by clause. What earlier clauses leave behind is a `Before` and nothing else, so that the same
clause after the same `Before` is read once, however many notes hold it. A phrase may reach over marks into the clauses
that follow; those are given as `rest`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final, NamedTuple

from audit.intake.notes_table import Cue, Part, Phrase, PhraseTable
from audit.intake.notes_words import SENTENCE

RENEWALS: Final = frozenset({"full", "head", "motor", "other_part"})
NO_PART: Final = Part("", {})
ROOT_REACH: Final = 3  # "because of" counts for a cause named this many terms after it
BLAMED: Final = -1  # stands for the place, in an earlier clause, of the part blamed last
ONLY: Final = -2  # stands for the last place, in earlier clauses, of the only part that they name
SEVERAL: Final = "*"  # for the code of the only part, where there are more
Found = tuple[int, int, int]  # start and end in the codes, number of the phrase


class Saying(NamedTuple):
    """One phrase of a clause: places of its first term and after its last, and what it says."""

    start: int
    end: int
    says: Mapping[str, str]
    part_at: int  # place of the part that it speaks of (or BLAMED, ONLY), or of its first term
    rooted: bool  # names a cause after "because of" and the like


class Before(NamedTuple):
    """What the clauses before one leave behind; places are counted from where it begins."""

    taken: int = 0  # its first terms belong to a phrase that began before
    deed_end: int = -1  # a phrase that said what was done ended here; -1: before the clause
    root_ago: int = 0  # "because of" stands this many terms before; 0: not within reach
    cues: frozenset[str] = frozenset()  # of those that reach over the sentence, the ones said in it
    blamed: str = ""  # code of the part blamed last
    parts: str = ""  # code of the only part named; SEVERAL
    stood: int = 0  # its first terms say where a valve stood


class Heard(NamedTuple):
    """What a clause says, what it leaves behind, and where the parts of `after` stand in it."""

    sayings: tuple[Saying, ...]
    after: Before
    blamed_at: int
    only_at: int


def listen(own: str, rest: str, found: tuple[Found, ...], before: Before, table: PhraseTable) -> Heard:
    """Read one clause (its codes with the mark that ends it) after `before`; the phrases `found` begin in it.

    `rest` are the clauses that follow; they may be left out where no phrase reaches the end of its own.
    """
    size = len(own)
    heard, blamed_at, blamed = _sayings(own + rest, found, before, table)
    only_at, parts = parts_named(own, size, before, table)
    taken = max([before.taken, *(end for _, end, _ in found[-1:])])
    last = heard[-1] if heard else Saying(0, 0, {}, 0, rooted=False)
    deed_end = (last.end if "action" in last.says else -1) if heard else before.deed_end
    stood = last.end if "position" in last.says else before.stood
    roots = [size - m.start() for m in table.root.finditer(own)][-1:]
    root_ago = roots[0] if roots else before.root_ago and before.root_ago + size
    after = Before(
        taken=max(0, taken - size),
        deed_end=max(-1, deed_end - size),
        root_ago=root_ago if root_ago <= ROOT_REACH else 0,
        cues=frozenset() if own.endswith(SENTENCE) else _sentence_cues(own, before, table),
        blamed=blamed,
        parts=parts,
        stood=max(0, stood - size),
    )
    return Heard(tuple(heard), after, blamed_at, only_at)


def phrases(codes: str, start: int, stop: int, table: PhraseTable) -> Iterator[Found]:
    """Yield the phrases that begin from `start` to `stop`, left to right.

    None overlap; the one of most terms wins, then the first of the table.
    """
    place = start
    matchers = table.matchers
    while place < stop:
        best = None
        for match, ranks in matchers.get(codes[place], ()):
            if (found := match(codes, place)) and found.lastindex:
                candidate = ranks[found.lastindex - 1], found.end()
                if best is None or candidate < best:
                    best = candidate
        if best is None:
            place += 1
            continue
        (_, number), end = best
        yield place, end, number
        place = end


def _sayings(codes: str, found: Sequence[Found], before: Before, table: PhraseTable) -> tuple[list[Saying], int, str]:
    """Return what the phrases say once parts are named and cues have had their effect; and the part blamed last."""
    present = [cue for cue in table.cues if cue.name in before.cues or cue.pattern.search(codes)]
    bounds = [m.start() for m in table.breaks.finditer(codes)] if present else []
    heard: list[Saying] = []
    free_from, blamed_at, blamed = before.taken, BLAMED, before.blamed
    for start, end, number in found:
        phrase = table.phrases[number]
        if phrase.continues and not _continues(heard, start, before):
            continue
        at, code, says = start, codes[start], phrase.says
        if phrase.of_part:
            at, code, says = _name_part(phrase, codes, (start, end), (blamed_at, blamed), before, table)
        if says.get("cause", "none_found") != "none_found" and code in table.part_of:
            blamed_at, blamed = at, code
        for cue in present:
            if says and _near(cue, codes, (start, end), free_from, bounds, before, table):
                says = _silence(says, cue)
        free_from = end
        if says:
            heard.append(Saying(start, end, says, at, "cause" in says and _rooted(codes, start, end, before, table)))
    return heard, blamed_at, blamed


def _continues(heard: list[Saying], start: int, before: Before) -> bool:
    """Whether the phrase right before `start` said what was done, so that "… and a stat" is done as well."""
    if not heard:
        return before.deed_end == start
    return heard[-1].end == start and "action" in heard[-1].says


def _rooted(codes: str, start: int, end: int, before: Before, table: PhraseTable) -> bool:
    near = table.root.search(codes, max(0, start - ROOT_REACH), end) is not None
    return near or 0 < before.root_ago <= ROOT_REACH - start


def _sentence_cues(own: str, before: Before, table: PhraseTable) -> frozenset[str]:
    """Return the cues that reach over the sentence, said in it up to the end of the clause."""
    here = [cue.name for cue in table.cues if cue.reach == "sentence" and cue.pattern.search(own)]
    return before.cues.union(here)


def _silence(says: Mapping[str, str], cue: Cue) -> Mapping[str, str]:
    """Leave out what the cue silences; a renewal that is only planned is a part to be brought."""
    left = {c: v for c, v in says.items() if c not in cue.silences and f"{c}={v}" not in cue.silences}
    if cue.name == "plan":
        return left | {"outcome": "parts_needed"} if says.get("action") in RENEWALS else left
    if "action" in cue.silences:
        left.pop("deed", None)
    return left


def _name_part(
    phrase: Phrase, codes: str, span: tuple[int, int], blamed: tuple[int, str], before: Before, table: PhraseTable
) -> tuple[int, str, Mapping[str, str]]:
    """Put the words of the part in place of "part.…", "also.…" and "same.…"; return place and code of the part."""
    says, start = phrase.says, span[0]
    match = table.parts_pattern.search(codes, *span)
    at = match.start() if match else start
    code = codes[at]
    if phrase.of_same and not match:
        only = parts_named(codes, start, before, table)
        if blamed[1]:
            at, code = blamed
        elif only[1] not in {"", SEVERAL}:
            at, code = only
    part = table.part_of.get(code, NO_PART) if match or at < start else NO_PART
    if part.name == "elsewhere":
        return start, codes[start], {"deed": "yes"} if "action" in says else {}
    if match and says.get("outcome") == "parts_needed" and part.means["action"] not in RENEWALS:
        return at, code, {}
    if not phrase.refers:
        return at, code, says
    named = {column: _word(value, part) for column, value in says.items()}
    if "action" in named and not named["action"]:
        named["deed"] = "yes"
    return at, code, {column: value for column, value in named.items() if value}


def parts_named(codes: str, end: int, before: Before, table: PhraseTable) -> tuple[int, str]:
    """Return where the one part named before `end` stands last, with its code; SEVERAL if there are more."""
    if before.parts == SEVERAL:
        return ONLY, SEVERAL
    places = dict.fromkeys(before.parts, ONLY) | {
        m.group(): m.start() for m in table.parts_pattern.finditer(codes, 0, end)
    }
    if len({table.part_of[code].name for code in places}) > 1:
        return ONLY, SEVERAL
    return max(((place, code) for code, place in places.items()), default=(ONLY, ""))


def _word(value: str, part: Part) -> str:
    _, refers, what = value.partition(".")
    return part.means.get(what, "") if refers else value


def _near(
    cue: Cue, codes: str, span: tuple[int, int], free_from: int, bounds: list[int], before: Before, table: PhraseTable
) -> bool:
    """Whether the cue stands near enough to the phrase to silence it."""
    search, (start, end) = cue.pattern.search, span
    if cue.reach == "sentence":
        return cue.name in before.cues or search(codes, 0, start) is not None
    if not cue.before:  # a phrase of two clauses counts for its last
        low = max((b for b in bounds if b < end), default=0)
        high = min((b for b in bounds if b >= end), default=len(codes))
        return any(search(codes, *piece) for piece in ((low, start), (max(low, start), end), (end, high)))
    low = max((b for b in bounds if b < start), default=0)
    if cue.reach == "words":
        low = max(low, free_from, start - table.words_before)
        low = max((m.end() for m in table.stops.finditer(codes, low, start)), default=low)
    return search(codes, low, start) is not None
