"""The phrases of a note, left to right: which part each speaks of, and which of them negation, past or plan silence."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final, NamedTuple

from audit.intake.notes_table import Cue, Part, Phrase, PhraseTable
from audit.intake.notes_words import SENTENCE

RENEWALS: Final = frozenset({"full", "head", "motor", "other_part"})
NO_PART: Final = Part("", {})
ROOT_REACH: Final = 3  # "because of" counts for a cause named this many terms after it
Found = tuple[int, int, int]  # start and end in the codes, number of the phrase


class Saying(NamedTuple):
    """One phrase of the note: places of its first term and after its last, and what it says."""

    start: int
    end: int
    says: Mapping[str, str]
    part_at: int  # place of the part that it speaks of, or of its first term
    rooted: bool  # names a cause after "because of" and the like


def phrases(codes: str, table: PhraseTable) -> Iterator[Found]:
    """Yield the phrases left to right; none overlap, the one of most terms wins, then the first of the table."""
    place, count = 0, len(codes)
    matchers = table.matchers
    while place < count:
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


def sayings(codes: str, found: Sequence[Found], table: PhraseTable) -> list[Saying]:
    """Return what the phrases say once parts are named and cues have had their effect."""
    present = [cue for cue in table.cues if cue.pattern.search(codes)]
    bounds = [m.start() for m in table.breaks.finditer(codes)] if present else []
    heard: list[Saying] = []
    free_from, blamed = 0, -1
    for start, end, number in found:
        phrase = table.phrases[number]
        if phrase.continues and not _continues(heard, start):
            continue
        part_at, says = _name_part(phrase, codes, start, end, blamed, table) if phrase.of_part else (start, phrase.says)
        if says.get("cause", "none_found") != "none_found" and codes[part_at] in table.part_of:
            blamed = part_at
        for cue in present:
            if says and _near(cue, codes, start, end, free_from, bounds, table):
                says = _silence(says, cue)
        free_from = end
        if says:
            rooted = "cause" in says and table.root.search(codes, max(0, start - ROOT_REACH), end) is not None
            heard.append(Saying(start, end, says, part_at, rooted))
    return heard


def _continues(heard: list[Saying], start: int) -> bool:
    """Whether the phrase right before `start` said what was done, so that "… and a stat" is done as well."""
    return bool(heard) and heard[-1].end == start and "action" in heard[-1].says


def _silence(says: Mapping[str, str], cue: Cue) -> Mapping[str, str]:
    """Leave out what the cue silences; a renewal that is only planned is a part to be brought."""
    left = {c: v for c, v in says.items() if c not in cue.silences and f"{c}={v}" not in cue.silences}
    if cue.name == "plan":
        return left | {"outcome": "parts_needed"} if says.get("action") in RENEWALS else left
    if "action" in cue.silences:
        left.pop("deed", None)
    return left


def _name_part(
    phrase: Phrase, codes: str, start: int, end: int, blamed: int, table: PhraseTable
) -> tuple[int, Mapping[str, str]]:
    """Put the words of the part in place of "part.…", "also.…" and "same.…"; return where the part stands."""
    says = phrase.says
    match = table.parts_pattern.search(codes, start, end)
    at = match.start() if match else start
    if phrase.of_same and not match:
        at = blamed if blamed >= 0 else _only_part(codes, start, table)
    part = table.part_of.get(codes[at], NO_PART) if match or at < start else NO_PART
    if part.name == "elsewhere":
        return start, {"deed": "yes"} if "action" in says else {}
    if match and says.get("outcome") == "parts_needed" and part.means["action"] not in RENEWALS:
        return at, {}
    if not phrase.refers:
        return at, says
    named = {column: _word(value, part) for column, value in says.items()}
    if "action" in named and not named["action"]:
        named["deed"] = "yes"
    return at, {column: value for column, value in named.items() if value}


def _only_part(codes: str, end: int, table: PhraseTable) -> int:
    """Return where the one part named before `end` stands last; `end` if there is none, or more than one."""
    places = {table.part_of[m.group()].name: m.start() for m in table.parts_pattern.finditer(codes, 0, end)}
    return next(iter(places.values())) if len(places) == 1 else end


def _word(value: str, part: Part) -> str:
    _, refers, what = value.partition(".")
    return part.means.get(what, "") if refers else value


def _near(cue: Cue, codes: str, start: int, end: int, free_from: int, bounds: list[int], table: PhraseTable) -> bool:
    """Whether the cue stands near enough to the phrase to silence it."""
    search = cue.pattern.search
    if cue.reach == "sentence":
        return search(codes, codes.rfind(SENTENCE, 0, start) + 1, start) is not None
    if not cue.before:  # a phrase of two clauses counts for its last
        low = max((b for b in bounds if b < end), default=0)
        high = min((b for b in bounds if b >= end), default=len(codes))
        return any(search(codes, *span) for span in ((low, start), (max(low, start), end), (end, high)))
    low = max((b for b in bounds if b < start), default=0)
    if cue.reach == "words":
        low = max(low, free_from, start - table.words_before)
        low = max((m.end() for m in table.stops.finditer(codes, low, start)), default=low)
    return search(codes, low, start) is not None
