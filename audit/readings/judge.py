"""From what was read to a verdict: which parts could read like this, and which reading would tell them apart best."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import combinations
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from audit.readings.faults import BODY, LATCHED, PARTS, SOUND, SPRING, SPRING_OR_BODY
from audit.readings.wiring import AXES, MODELS, fits

Codes = tuple[int, ...]  # one value's place on each axis of AXES; its length means: not read
# Ties between readings are broken in this order: wires first, then what is felt and seen, then the demands.
ASKED: Final = (
    "brown_live", "white_live", "grey_live", "orange_live", "position", "lever", "own", "other", "elsewhere",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Judged:
    """The verdict on one combination of readings.

    `next_axes` names the reading to take next (two where no single one tells); `clash` the reading without which one
    fault would fit; `possible` and `ruled_out` hold what the fault tables say of each fault, `sound` whether a
    sound valve could read the same.
    """

    verdict: str
    part: str
    next_axes: tuple[str, ...]
    clash: str
    sound: bool
    possible: tuple[str, ...]
    ruled_out: tuple[str, ...]


@cache
def judge(model: str, codes: Codes, askable: frozenset[str]) -> Judged:
    """Judge one combination of readings.

    Args:
        model: A key of `MODELS`.
        codes: What was read, in the order of `AXES`.
        askable: Axes that could still be read.
    """
    fit = _fit(model, codes)
    parts = _parts(model, fit)
    verdict, part = _verdict(parts, everything=bool(fit.all()))
    unread = tuple(axis for axis in ASKED if axis in askable)
    clash = _clash(model, codes) if verdict == "contradictory" else ""
    faults = [(fault.says, bool(yes)) for fault, yes in zip(MODELS[model], fit, strict=True) if fault.part != SOUND]
    return Judged(
        verdict=verdict,
        part=part,
        next_axes=() if verdict in ("named", "contradictory") else _next(model, codes, parts, unread),
        clash=clash,
        sound=bool(parts[PARTS.index(SOUND)]),
        possible=tuple(text for text, yes in faults if yes),
        ruled_out=tuple(text for text, yes in faults if not yes),
    )


def _fit(model: str, codes: Codes) -> NDArray[np.bool_]:
    index: Any = (slice(None), *codes)
    found: NDArray[np.bool_] = fits(model)[index]
    return found


def _parts(model: str, fit: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which of PARTS could be what is seen."""
    named = {fault.part for fault, yes in zip(MODELS[model], fit, strict=True) if yes}
    return np.array([part in named for part in PARTS])


def _verdict(parts: NDArray[np.bool_], *, everything: bool) -> tuple[str, str]:
    names = {part for part, yes in zip(PARTS, parts, strict=True) if yes}
    if not names:
        return "contradictory", ""
    if SOUND in names:
        return ("cannot_tell" if everything else "none_found"), ""
    if names == {SPRING, BODY}:
        return "named", SPRING_OR_BODY
    if len(names) == 1 and LATCHED not in names:
        return "named", names.pop()
    return "cannot_tell", ""


def _next(model: str, codes: Codes, parts: NDArray[np.bool_], unread: tuple[str, ...]) -> tuple[str, ...]:
    """The reading that can tell something and whose worst answer leaves fewest parts; ties in the order of ASKED.

    Where no single reading tells anything, the best pair.
    """
    now = int(parts.sum())
    for size in (1, 2):
        answers = {axes: _left(model, codes, parts, axes) for axes in combinations(unread, size)}
        telling = {axes: max(left) for axes, left in answers.items() if min(left) < now}
        if telling:
            return min(telling, key=lambda axes: telling[axes])
    return ()


def _left(model: str, codes: Codes, parts: NDArray[np.bool_], axes: tuple[str, ...]) -> list[int]:
    """How many parts remain after each answer that reading `axes` can give."""
    places = [list(AXES).index(axis) for axis in axes]
    answers: list[int] = []
    for answer in np.ndindex(*(len(AXES[axis]) for axis in axes)):
        changed = list(codes)
        for place, value in zip(places, answer, strict=True):
            changed[place] = value
        remaining = int((_parts(model, _fit(model, tuple(changed))) & parts).sum())
        if remaining:
            answers.append(remaining)
    return answers


def _clash(model: str, codes: Codes) -> str:
    """The first reading without which some fault would fit; empty where dropping one is not enough."""
    for axis in ASKED:
        place = list(AXES).index(axis)
        dropped = (*codes[:place], len(AXES[axis]), *codes[place + 1 :])
        if dropped != codes and _fit(model, dropped).any():
            return axis
    return ""
