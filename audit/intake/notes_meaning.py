"""What a note means: of all that its phrases say, one value a column, each with the places of the words that say it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, NamedTuple

from audit.intake.notes_phrases import BLAMED, RENEWALS, Before, Found, Heard, Saying, listen, parts_named, phrases
from audit.intake.notes_table import PhraseTable
from audit.intake.notes_words import COMMA, SENTENCE

THREE_PORT: Final = frozenset({"three_port", "mid_position", "diverter"})
MID: Final = frozenset({"mid_position"})
LAST_SAID: Final = frozenset({"earthed"})  # found missing, then proved: what is said last is how it was left
MARKS: Final = COMMA + SENTENCE
CLAUSE: Final = re.compile(f"[^{MARKS}]*[{MARKS}]|[^{MARKS}]+")
REMEMBERED: Final = 200_000  # clauses and what clauses say together, kept with what they mean
Span = tuple[int, int]  # first and last term
Said = dict[str, list[tuple[str, Saying]]]  # by column: values and the phrases that say them
Chosen = dict[str, tuple[str, list[Saying]]]  # by column: the value and the phrases behind it


class Valves(NamedTuple):
    """Kinds and sizes of valve that a note names, words of the phrase table."""

    kinds: frozenset[str]
    sizes: frozenset[str]


class Meaning(NamedTuple):
    """By column the value and the places of its words, and the clauses that no phrase touched."""

    values: Mapping[str, tuple[str, tuple[Span, ...]]]
    untouched: tuple[Span, ...]


@dataclass(frozen=True, eq=False, slots=True)
class Statement:
    """What a phrase says, whatever its words; one object for each thing that can be said."""

    says: Mapping[str, str]
    rooted: bool


class Clause(NamedTuple):
    """One clause read; places are counted from where it begins.

    `places`, for each statement: of the part that it speaks of (or BLAMED, ONLY), of its first term and its last.
    """

    statements: tuple[Statement, ...]
    places: tuple[tuple[int, int, int], ...]
    untouched: tuple[Span, ...]
    valves: Valves
    after: Before
    blamed_at: int
    only_at: int


class Meanings:
    """Reads notes by one phrase table; what clauses mean, and what comes of them together, is worked out once."""

    def __init__(self, table: PhraseTable) -> None:
        self.table = table
        self._statements: dict[tuple[frozenset[tuple[str, str]], bool], Statement] = {}
        self.clause = lru_cache(REMEMBERED)(self._read_clause)
        self._found = lru_cache(REMEMBERED)(self._find)
        self._heard = lru_cache(REMEMBERED)(self._listen)
        self.settled = lru_cache(REMEMBERED)(self._settle)

    def meaning(self, codes: str) -> Meaning:
        """Read the codes of one note, as `Lexicon.tag` gives them."""
        clauses = CLAUSE.findall(codes)
        statements: list[Statement] = []
        places: list[tuple[int, int, int]] = []
        origins: list[tuple[int, int, int]] = []  # where the clause begins; the only part and the part blamed before it
        read: list[tuple[int, Clause]] = []
        before, begin, only_at, blamed_at = Before(), 0, 0, 0
        for number, own in enumerate(clauses, 1):
            clause = self.clause(own, "".join(clauses[number : number + self.table.reach(own)]), before)
            read.append((begin, clause))
            statements += clause.statements
            places += clause.places
            earlier = begin, only_at, blamed_at
            origins += [earlier] * len(clause.statements)
            only_at, blamed_at = _place(clause.only_at, earlier), _place(clause.blamed_at, earlier)
            before, begin = clause.after, begin + len(own)
        untouched = tuple((begin + a, begin + b) for begin, clause in read for a, b in clause.untouched)
        spans = [_spans(*one) for one in zip(places, origins, strict=True)]
        settled = self.settled(tuple(statements), _all_valves(clause.valves for _, clause in read), not untouched)
        return Meaning(
            {
                column: (value, tuple(dict.fromkeys(span for order in by for span in spans[order])))
                for column, value, by in settled
            },
            untouched,
        )

    def _read_clause(self, own: str, rest: str, before: Before) -> Clause:
        """Read a clause after `before`; what came before matters to few, and so does what follows."""
        kept, count, found = self._found(own, rest, before.taken)
        short = "".join((own + rest)[place] for place in kept)
        reaches = bool(found) and found[-1][1] >= count
        asks = any(self.table.phrases[number].of_same for _, _, number in found)  # for a part named before
        told = before if asks else before._replace(blamed="", parts="")
        heard = self._heard(short[:count], short[count:] if reaches else "", found, told)
        after = heard.after
        if not asks:
            only_at, parts = parts_named(short, count, before, self.table)
            after = after._replace(blamed=before.blamed if heard.blamed_at == BLAMED else after.blamed, parts=parts)
            heard = heard._replace(only_at=only_at)
        words = count - (short[count - 1] in MARKS)
        return Clause(
            statements=tuple(self._statement(saying) for saying in heard.sayings),
            places=tuple((_kept(one.part_at, kept), kept[one.start], kept[one.end - 1]) for one in heard.sayings),
            untouched=((kept[0], kept[words - 1]),) if words and not found and not before.taken else (),
            valves=self._valves(own, _stood(heard, kept, before)),
            after=after,
            blamed_at=_kept(heard.blamed_at, kept),
            only_at=_kept(heard.only_at, kept),
        )

    def _find(self, own: str, rest: str, taken: int) -> tuple[list[int], int, tuple[Found, ...]]:
        """Return the places that count, how many of them are of the clause itself, and the phrases among them."""
        kept = _without_modifiers(own + rest, self.table)
        count = sum(place < len(own) for place in kept)
        short = "".join((own + rest)[place] for place in kept)
        return kept, count, tuple(phrases(short, taken, count, self.table))

    def _listen(self, own: str, rest: str, found: tuple[Found, ...], before: Before) -> Heard:
        return listen(own, rest, found, before, self.table)

    def _valves(self, own: str, stood: list[Span]) -> Valves:
        """Return kinds and sizes that a clause names; "mid position" as where a valve stood is no kind."""
        kinds = [
            self.table.kinds[code]
            for at, code in enumerate(own)
            if code in self.table.kinds
            and not (self.table.kinds[code] == MID and any(first <= at <= last for first, last in stood))
        ]
        return Valves(
            frozenset().union(*kinds), frozenset(self.table.sizes[code] for code in own if code in self.table.sizes)
        )

    def _statement(self, saying: Saying) -> Statement:
        key = frozenset(saying.says.items()), saying.rooted
        return self._statements.setdefault(key, Statement(saying.says, saying.rooted))

    def _settle(
        self, statements: Sequence[Statement], valves: Valves, understood: bool
    ) -> list[tuple[str, str, list[int]]]:
        """Return column, value and which statements say it; where they stand does not matter, only their order."""
        heard = [Saying(at, at + 1, one.says, at, one.rooted) for at, one in enumerate(statements)]
        chosen = _settle(heard, valves, self.table, understood=understood)
        return [(column, value, sorted(saying.start for saying in by)) for column, (value, by) in chosen.items()]


def _kept(place: int, kept: list[int]) -> int:
    return kept[place] if place >= 0 else place


def _place(place: int, earlier: tuple[int, int, int]) -> int:
    """Return a place of a clause as one of the note; `earlier` ends with those of ONLY and BLAMED."""
    return earlier[0] + place if place >= 0 else earlier[place]


def _spans(places: tuple[int, int, int], earlier: tuple[int, int, int]) -> tuple[Span, ...]:
    """Return the places of a statement's words: of the part spoken of, where it stands before, and of the phrase."""
    part, first, last = places
    begin = earlier[0]
    span = begin + first, begin + last
    if part < first:
        part_at = _place(part, earlier)
        return (part_at, part_at), span
    return (span,)


def _without_modifiers(codes: str, table: PhraseTable) -> list[int]:
    """Return the places that count: of "2 port head", the head."""
    kept = list(range(len(codes)))
    while dropped := {m.start() for m in table.modifiers.finditer(codes)}:
        kept = [place for at, place in enumerate(kept) if at not in dropped]
        codes = "".join(code for at, code in enumerate(codes) if at not in dropped)
    return kept


def _settle(heard: list[Saying], valves: Valves, table: PhraseTable, *, understood: bool) -> Chosen:
    """Choose one value a column: the first of the table's order, then the root cause, then what is said first."""
    said = _by_column(heard)
    _settle_outcome(said, heard, understood=understood)
    chosen: Chosen = {}
    for column, ranks in table.ranks.items():
        entries = said.get(column, [])
        if column == "cause" and len({value for value, _ in entries} - {"none_found"}) > 1:
            entries = [
                entry for entry in entries if entry[1].rooted
            ]  # several blamed: only what the note calls the root
        if entries and column in LAST_SAID:
            value, by = max(entries, key=lambda entry: entry[1].start)
            chosen[column] = value, [by]
        elif entries:
            value, by = min(entries, key=lambda entry: (ranks[entry[0]], not entry[1].rooted, entry[1].start))
            chosen[column] = value, [by]
    for column, both, mean in table.together:
        entries = said.get(column, [])
        if both <= {value for value, _ in entries}:
            chosen[column] = mean, [next(by for value, by in entries if value == one) for one in sorted(both)]
    _drop_contradictions(chosen, valves.kinds)
    _name_parts(chosen, said, valves, table)
    return chosen


def _by_column(heard: list[Saying]) -> Said:
    """Gather by column; what does not work after a renewal is no complaint of the household, but a leak or noise is."""
    said: Said = {}
    renewed = next((saying.start for saying in heard if saying.says.get("action") in RENEWALS), None)
    for saying in heard:
        for column, value in saying.says.items():
            if column != "symptom" or renewed is None or saying.start < renewed or value in {"leak", "noise"}:
                said.setdefault(column, []).append((value, saying))
    return said


def _settle_outcome(said: Said, heard: list[Saying], *, understood: bool) -> None:
    """Turn "works" into fixed or no fault found, and drop what later deeds overtook.

    A note of which some clause was not understood may tell of a fault there: that it works is then no "no fault found".
    """
    renewed = max((by.start for value, by in said.get("action", ()) if value in RENEWALS), default=-1)
    mended = min((saying.start for saying in heard if _mends(saying.says)), default=None)
    causes = {value for value, _ in said.get("cause", ())}
    outcomes: list[tuple[str, Saying]] = []
    for value, by in said.pop("outcome", ()):
        word = value
        if value == "works" and mended is None:
            if "action" in said or causes - {"control"} or not understood:
                continue
            word = "no_fault_found"
            said.setdefault("cause", []).append(("none_found", by))
        elif value in {"works", "works_if_mended"}:
            if mended is None or mended > by.start:
                continue
            if value == "works_if_mended" and _complaint_stands(said, heard, by.start):
                continue
            word = "fixed"
        overtaken = word in {"parts_needed", "no_access"} and renewed > by.start
        denied = word == "no_fault_found" and (renewed >= 0 or causes - {"none_found", "control", "other"})
        if not overtaken and not denied:
            outcomes.append((word, by))
    if outcomes:
        said["outcome"] = outcomes


def _complaint_stands(said: Said, heard: list[Saying], place: int) -> bool:
    """Whether before `place` a complaint comes last, and no deed after it: what works then is another part."""
    last = max((by.start for _, by in said.get("symptom", ()) if by.start < place), default=-1)
    return last >= 0 and not any(last <= saying.start < place and _mends(saying.says) for saying in heard)


def _mends(says: Mapping[str, str]) -> bool:
    """Whether something was done, or found at fault; a wrong setting alone is neither."""
    cause = says.get("cause", "none_found")
    return "deed" in says or says.get("action", "none") != "none" or cause not in {"none_found", "control"}


def _drop_contradictions(chosen: Chosen, kinds: frozenset[str]) -> None:
    """A lever put back is not latched; ports A and B are of three-port valves, open and closed of two-port ones."""
    word = {column: value for column, (value, _) in chosen.items()}
    if word.get("lever") == "latched":
        as_found = "cause" in chosen["lever"][1][0].says  # not as left
        later = word.get("outcome") == "fixed" or "action" in word
        if word.get("action") in {"reset_lever", "head", "full"} or (as_found and later):
            del chosen["lever"]
    if word.get("cause") == "none_found" and word.get("outcome") != "no_fault_found":
        del chosen["cause"]
    position = word.get("position")
    two_port_word_on_three_port = position in {"open", "closed"} and kinds and kinds <= THREE_PORT
    if two_port_word_on_three_port or (position in {"a", "b", "mid"} and kinds == {"zone"}):
        del chosen["position"]


def _stood(heard: Heard, kept: list[int], before: Before) -> list[Span]:
    """Return the spans that say where a valve stood."""
    spans = [(kept[one.start], kept[one.end - 1]) for one in heard.sayings if "position" in one.says]
    return [*spans, (0, kept[before.stood - 1])] if before.stood else spans


def _all_valves(valves: Iterable[Valves]) -> Valves:
    each = list(valves)
    return Valves(frozenset().union(*(one.kinds for one in each)), frozenset().union(*(one.sizes for one in each)))


def _name_parts(chosen: Chosen, said: Said, valves: Valves, table: PhraseTable) -> None:
    """Name the parts used, where action, kind and size leave one item of the rates."""
    items: list[tuple[str, Saying]] = []
    if "action" in chosen:
        action, by = chosen["action"]
        if item := _item(action, valves, table):
            items.append((item, by[0]))
    elif valves.kinds:
        return  # a valve or head was perhaps fitted as well, in words not understood
    items += said.get("parts", [])[:1]
    if items:
        chosen["parts"] = ", ".join(item for item, _ in items), [by for _, by in items]


def _item(action: str, valves: Valves, table: PhraseTable) -> str | None:
    kinds, sizes = valves
    three = kinds & THREE_PORT
    if action == "motor":
        return table.part_items["motor"]
    if three and kinds - three:
        return None
    if action == "full" and kinds and len(sizes) == 1:
        return table.part_items.get(f"full {'three_port' if three else 'zone'} {next(iter(sizes))}")
    precise = "changeover" if "changeover" in kinds else "".join(sorted(kinds - {"three_port"}))
    return table.part_items.get(f"{action} {precise}")
