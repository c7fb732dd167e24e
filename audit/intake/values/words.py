"""Words: the trade's many names read as the column's own words, with every reading said."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from audit.intake.values.cells import Cells
from audit.intake.values.names import Names, denies, is_yes_no, names_of, tokens
from audit.intake.values.parsed import Asked, Ints, Judged, Notes
from audit.intake.values.spelling import closest
from audit.intake.values.yes_no import leading, marks, read_crosses

# where a remark may be cut off, the clearest cuts first
_CUTS: Final = tuple(
    re.compile(cut)
    for cut in (
        r"[()\[\]]",
        r"\s[-–—]+\s|:|\n|^[a-z]{0,2}\d+\s*[.)]\s*|^[a-z]{1,2}\d+\s+",
        r"[;,.]\s*",
        r"[/|]|\s[-–—]|[-–—]\s",
    )
)
_POINT_ZERO: Final = re.compile(r"^(\d+)\.0+$")
_LONGEST: Final = 120  # letters; a longer text is a note, not a word
_MOST: Final = 20_000  # different texts that are looked at
_CLOSE_TRIED: Final = 2000  # distinct unknown texts tried for slips; a column with more holds no words


@dataclass(frozen=True, slots=True)
class Reading:
    """What one text was read as: the word (None: not understood), and a reason where it was put right or refused."""

    word: str | None = None
    repair: str = ""
    bad: str = ""


TOO_MANY: Final = Reading(bad=f"the column has more than {_MOST:,} different texts, too many for words")


def judge_words(found: Cells, asked: Asked) -> Judged:
    """The column's words (str) of the distinct cells; every name that is not the word itself is said."""
    names = names_of(asked.column)
    texts = [_POINT_ZERO.sub(r"\1", text.strip()) for text in found.text.to_list()]
    rare = _rare(found.count, texts)
    read = [TOO_MANY if n in rare else _read(text, names, asked) for n, text in enumerate(texts)]
    if is_yes_no(asked.column):
        read = [Reading(*cross) if cross else r for cross, r in zip(_crosses(texts, read), read, strict=True)]
    _try_slips(texts, read, found.count, names, asked)
    judged = Judged(pd.array([r.word for r in read], dtype="str"), Notes(len(found)), Notes(len(found)))
    mend = "use one of: " + ", ".join(asked.column.words or ())
    bad, repaired = (np.array([bool(getattr(r, kind)) for r in read], dtype=bool) for kind in ("bad", "repair"))
    judged.bad.add(bad, [r.bad for r in read if r.bad], mend)
    judged.repaired.add(repaired, [r.repair for r in read if r.repair], mend)
    judged.said += _said(texts, read, found.count, asked)
    return judged


def _rare(count: Ints, texts: list[str]) -> set[int]:
    """The rarest texts of a column that has too many different ones to be a column of words."""
    if len(texts) <= _MOST:
        return set()
    return set(sorted(range(len(texts)), key=lambda n: (-int(count[n]), texts[n]))[_MOST:])


def _read(text: str, names: Names, asked: Asked) -> Reading:
    """The word that a text names as a whole, without a remark beside it, or by one of its parts."""
    if len(text) > _LONGEST:
        return Reading(bad="a note stands here instead of a word")
    marked = marks(text) if is_yes_no(asked.column) else None
    if marked:
        return Reading(marked)
    found = tokens(text)
    if found and found[-1] == "and":  # a plus sign behind the name
        found = found[:-1]
    words = names.words.get("".join(found))
    if not words:
        return _by_parts(text, names, asked)
    if len(words) > 1:
        return Reading(bad=f"may mean {' or '.join(sorted(words))}")
    (word,) = words
    return Reading(word, repair="marked as uncertain" if text.endswith("?") else "")


def _by_parts(text: str, names: Names, asked: Asked) -> Reading:
    """One part of the text names a word and the rest says nothing against it: "Yes - double checked"."""
    for cut in _CUTS:
        pieces = [part for part in cut.split(text.lower()) if part.strip()]
        if len(pieces) < 2:
            continue
        parts = [tokens(part) for part in pieces]
        known = [names.words.get("".join(part), frozenset()) for part in parts]
        words = frozenset().union(*known) - {"other"}  # "see note" beside a text is a remark, not its meaning
        if len(words) > 1:
            return Reading(bad=f"names more than one word: {', '.join(sorted(words))}")
        if words:
            against = any(denies(part) for part, meant in zip(parts, known, strict=True) if not meant)
            return Reading() if against else _shortened(*words)
    word = leading(tokens(text)) if is_yes_no(asked.column) else None
    return _shortened(word) if word else Reading()


def _shortened(word: str) -> Reading:
    return Reading(word, repair=f"read as {word}; the rest of the text is not kept")


def _crosses(texts: list[str], read: list[Reading]) -> list[tuple[str | None, str, str] | None]:
    """Readings of the crosses in a yes/no column, by what its other cells say; None for all other cells."""
    return read_crosses(texts, {r.word for r in read if r.word})


def _try_slips(texts: list[str], read: list[Reading], count: Ints, names: Names, asked: Asked) -> None:
    """Read spelling slips, the most frequent texts first; what stays unknown is refused."""
    unknown = [n for n, r in enumerate(read) if not (r.word or r.bad)]
    unknown.sort(key=lambda n: (-int(count[n]), texts[n]))
    per_slip = asked.policy.number("intake.letters_per_slip")
    for place, n in enumerate(unknown):
        close = closest(tokens(texts[n]), names, per_slip) if place < _CLOSE_TRIED else None
        if close is None:
            read[n] = Reading(bad="not a word that this column knows")
        elif never := names.never_close(close.words, tokens(texts[n])):
            read[n] = Reading(bad=f"close to {never}, but it names more than that")
        elif len(close.words) > 1:
            read[n] = Reading(bad=f"close to {' and to '.join(sorted(close.words))}")
        else:
            (word,) = close.words
            read[n] = Reading(word, repair=f"read as {word}, {close.confidence:.0%} of the letters agree")


def _said(texts: list[str], read: list[Reading], count: Ints, asked: Asked) -> list[str]:
    """One sentence with every name that was read as a word, and how many cells hold it."""
    pairs: dict[tuple[str, str], int] = {}
    for text, r, cells in zip(texts, read, count, strict=True):
        if r.word and not r.repair and re.sub(r"[\s_-]+", "_", text.lower()) != r.word:
            pairs[text, r.word] = pairs.get((text, r.word), 0) + int(cells)
    listed = ", ".join(f"{text!r} = {word} ({cells})" for (text, word), cells in sorted(pairs.items()))
    return [f"{asked.name}: names read as the column's words: {listed}."] if listed else []
