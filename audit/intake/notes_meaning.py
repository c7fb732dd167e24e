"""What a note means: of all that its phrases say, one value a column, each with the places of the words that say it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final, NamedTuple

from audit.intake.notes_phrases import RENEWALS, Found, Saying, phrases, sayings
from audit.intake.notes_table import PhraseTable
from audit.intake.notes_words import COMMA, SENTENCE

THREE_PORT: Final = frozenset({"three_port", "mid_position", "diverter"})
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


def meaning(codes: str, table: PhraseTable) -> Meaning:
    """Read the codes of one note, as `Lexicon.tag` gives them."""
    kept = _without_modifiers(codes, table)
    short = "".join(codes[place] for place in kept)
    found = list(phrases(short, table))
    heard = sayings(short, found, table) if found else []
    untouched = tuple((kept[first], kept[last]) for first, last in _untouched(short, found))
    chosen = _settle(heard, _valves(codes, kept, heard, table), table, understood=not untouched)
    return Meaning({column: (value, _spans(by, kept)) for column, (value, by) in chosen.items()}, untouched)


def _without_modifiers(codes: str, table: PhraseTable) -> list[int]:
    """Return the places that count: of "2 port head", the head."""
    kept = list(range(len(codes)))
    while dropped := {m.start() for m in table.modifiers.finditer(codes)}:
        kept = [place for at, place in enumerate(kept) if at not in dropped]
        codes = "".join(code for at, code in enumerate(codes) if at not in dropped)
    return kept


def _untouched(codes: str, found: Iterable[Found]) -> Iterable[Span]:
    """Yield first and last place of each clause that no phrase touches."""
    touched = bytearray(len(codes))
    for start, end, _ in found:
        touched[start:end] = b"\1" * (end - start)
    begin = 0
    for place, code in enumerate(codes + SENTENCE):
        if code in (SENTENCE, COMMA):
            if place > begin and 1 not in touched[begin:place]:
                yield begin, place - 1
            begin = place + 1


def _spans(by: Iterable[Saying], kept: list[int]) -> tuple[Span, ...]:
    """Return the places of the words: of the part spoken of, where it stands before, and of the phrase."""
    spans: list[Span] = []
    for saying in sorted(by, key=lambda saying: saying.start):
        if saying.part_at < saying.start:
            spans.append((kept[saying.part_at], kept[saying.part_at]))
        spans.append((kept[saying.start], kept[saying.end - 1]))
    return tuple(dict.fromkeys(spans))


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
        if entries:
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
            word = "fixed"
        overtaken = word in {"parts_needed", "no_access"} and renewed > by.start
        denied = word == "no_fault_found" and (renewed >= 0 or causes - {"none_found", "control", "other"})
        if not overtaken and not denied:
            outcomes.append((word, by))
    if outcomes:
        said["outcome"] = outcomes


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


def _valves(codes: str, kept: list[int], heard: list[Saying], table: PhraseTable) -> Valves:
    """Return kinds and sizes that the note names; "mid position" as where a valve stood is no kind."""
    stood = [(kept[saying.start], kept[saying.end - 1]) for saying in heard if "position" in saying.says]
    kinds = [
        table.kinds[code]
        for place, code in enumerate(codes)
        if code in table.kinds
        and not (table.kinds[code] == {"mid_position"} and any(first <= place <= last for first, last in stood))
    ]
    return Valves(frozenset().union(*kinds), frozenset(table.sizes[code] for code in codes if code in table.sizes))


def _name_parts(chosen: Chosen, said: Said, valves: Valves, table: PhraseTable) -> None:
    """Name the parts used, where action, kind and size leave one item of the rates."""
    items: list[tuple[str, Saying]] = []
    if "action" in chosen:
        action, by = chosen["action"]
        if item := _item(action, valves, table):
            items.append((item, by[0]))
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
