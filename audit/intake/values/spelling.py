"""Spelling slips: the known name that differs from a text by a letter or two."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from audit.intake.values.names import Names, denies, letters_of

MOST_SLIPS: Final = 2


@dataclass(frozen=True, slots=True)
class Close:
    """The words that the nearest names mean, and the share of letters that agree."""

    words: frozenset[str]
    confidence: float


def closest(words: Sequence[str], names: Names, letters_per_slip: float) -> Close | None:
    """The nearest names of a text, or None if none is near enough.

    A near name starts with the same letter, has the same digits, has a negation if and only if the text has one, and
    differs by at most one slip for each `letters_per_slip` letters, two at most.
    """
    text = "".join(words)
    allowed = min(MOST_SLIPS, int(len(text) / letters_per_slip))
    if not allowed:
        return None
    negated, digits, letters = denies(words), _digits(text), letters_of(text)
    best, found = allowed + 1, set[str]()
    lengths = range(len(text) - allowed, len(text) + allowed + 1)
    for name in itertools.chain.from_iterable(names.by_start.get((text[0], length), ()) for length in lengths):
        if (letters & ~names.letters[name]).bit_count() > allowed:  # each letter that the name lacks is a slip
            continue
        if _digits(name) != digits or (name in names.negated) != negated:
            continue
        apart = slips(text, name, best)
        if apart < best:
            best, found = apart, set()
        if apart == best <= allowed:
            found |= names.words[name]
    return Close(frozenset(found), 1 - best / len(text)) if found else None


def _digits(text: str) -> str:
    return "".join(c for c in text if c.isdigit())


def slips(one: str, two: str, enough: int) -> int:
    """Letters changed, left out, put in, or swapped with their neighbour; counting stops above `enough`.

    Optimal string alignment distance, after F. J. Damerau, Communications of the ACM 7 (1964) 171.
    """
    before: list[int] = []
    last = list(range(len(two) + 1))
    for i, a in enumerate(one, 1):
        row = [i]
        for j, b in enumerate(two, 1):
            step = min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (a != b))
            if i > 1 and j > 1 and a == two[j - 2] and one[i - 2] == b:
                step = min(step, before[j - 2] + 1)
            row.append(step)
        if min(row) > enough:
            return enough + 1
        before, last = last, row
    return last[-1]
