"""From what was read to a verdict: which parts could read like this, and which reading would tell them apart best."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import combinations
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from audit.readings.faults import BODY, LATCHED, PARTS, SOUND, SPRING, SPRING_OR_BODY
from audit.readings.wiring import AXES, MODELS, SHAPE, fits

Codes = tuple[int, ...]  # one value's place on each axis of AXES; its length means: not read
# Ties between readings are broken in this order: wires first, then what is felt and seen, then the demands.
ASKED: Final = (
    "brown_live", "white_live", "grey_live", "orange_live", "position", "lever", "own", "other", "elsewhere",
)  # fmt: skip
BIT: Final = {part: 1 << place for place, part in enumerate(PARTS)}
PLACE: Final = {axis: place for place, axis in enumerate(AXES)}


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
    parts = int(_parts(model)[codes])
    verdict, part = _verdict(parts, everything=bool(fit.all()))
    unread = tuple(axis for axis in ASKED if axis in askable)
    clash = _clash(model, codes) if verdict == "contradictory" else ""
    faults = [(fault.says, bool(yes)) for fault, yes in zip(MODELS[model], fit, strict=True) if fault.part != SOUND]
    return Judged(
        verdict=verdict,
        part=part,
        next_axes=() if verdict in ("named", "contradictory") else _next(model, codes, parts, unread),
        clash=clash,
        sound=bool(parts & BIT[SOUND]),
        possible=tuple(text for text, yes in faults if yes),
        ruled_out=tuple(text for text, yes in faults if not yes),
    )


def named_parts(model: str, codes: NDArray[np.int64]) -> tuple[NDArray[np.object_], NDArray[np.object_]]:
    """Judge many combinations at once, as `judge` does, by part alone.

    Args:
        model: A key of `MODELS`.
        codes: Shape (n, axes), as for `judge`.

    Returns:
        The part named, None where none is; and the parts that could still be at fault, in the order of their names with
        a space between, None where a sound valve could read the same. Each shape (n,).
    """
    seen, place = np.unique(_parts(model)[tuple(codes.T)], return_inverse=True)
    named = [_verdict(int(parts), everything=False)[1] or None for parts in seen]
    left = [None if parts & BIT[SOUND] else " ".join(sorted(_names(int(parts)))) for parts in seen]
    return np.array(named, dtype=object)[place], np.array(left, dtype=object)[place]


def _fit(model: str, codes: Codes) -> NDArray[np.bool_]:
    index: Any = (slice(None), *codes)
    found: NDArray[np.bool_] = fits(model)[index]
    return found


@cache
def _parts(model: str) -> NDArray[np.uint8]:
    """Which of PARTS could be what is seen, one bit a part, for every combination of readings: shape `SHAPE`."""
    found = np.zeros(SHAPE, dtype=np.uint8)
    for fault, fit in zip(MODELS[model], fits(model), strict=True):
        found[fit] |= BIT[fault.part]
    return found


def _names(parts: int) -> set[str]:
    return {part for part, bit in BIT.items() if parts & bit}


def _verdict(parts: int, *, everything: bool) -> tuple[str, str]:
    names = _names(parts)
    if not names:
        return "contradictory", ""
    if SOUND in names:
        return ("cannot_tell" if everything else "none_found"), ""
    if names == {SPRING, BODY}:
        return "named", SPRING_OR_BODY
    if len(names) == 1 and LATCHED not in names:
        return "named", names.pop()
    return "cannot_tell", ""


def _next(model: str, codes: Codes, parts: int, unread: tuple[str, ...]) -> tuple[str, ...]:
    """The reading that can tell something and whose worst answer leaves fewest parts; ties in the order of ASKED.

    Where no single reading tells anything, the best pair.
    """
    now = parts.bit_count()
    for size in (1, 2):
        answers = {axes: _left(model, codes, parts, axes) for axes in combinations(unread, size)}
        telling = {axes: max(left) for axes, left in answers.items() if min(left) < now}
        if telling:
            return min(telling, key=lambda axes: telling[axes])
    return ()


def _left(model: str, codes: Codes, parts: int, axes: tuple[str, ...]) -> list[int]:
    """How many parts remain after each answer that reading `axes` can give."""
    index: list[int | slice] = list(codes)
    for axis in axes:
        index[PLACE[axis]] = slice(len(AXES[axis]))
    remaining = np.bitwise_count(_parts(model)[tuple(index)] & np.uint8(parts)).ravel()
    counts: list[int] = remaining[remaining > 0].tolist()
    return counts


def _clash(model: str, codes: Codes) -> str:
    """The first reading without which some fault would fit; empty where dropping one is not enough."""
    for axis in ASKED:
        place = PLACE[axis]
        dropped = (*codes[:place], len(AXES[axis]), *codes[place + 1 :])
        if dropped != codes and _fit(model, dropped).any():
            return axis
    return ""
