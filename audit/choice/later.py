"""What a valve will cost later, if every failure is mended as it comes: expected numbers, discounted.

The model. Time goes in quarters. In each, head and body may fail, with the Weibull chance of their age. A head that
fails is renewed, on a body within its service life; on an older one, or where the body fails, the whole valve is.
A renewed part starts at age nought, and may fail again. A *frail* valve (stiff, leaking, head not detachable) has no
use for a head alone: its first failure, of either part, renews the whole valve, and then it is like any other.
The numbers follow by counting one more quarter at a time, for every pair of ages at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.choice.asked import OLDEST_BODY, OLDEST_HEAD
from audit.choice.assumed_life import QUARTER, Lives
from audit.choice.money import discount_factor
from audit.policy import Policy

Numbers = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]

_HEAD = np.array([1.0, 0.0]).reshape(2, 1, 1)  # one head renewed
_FULL = np.array([0.0, 1.0]).reshape(2, 1, 1)  # one whole valve renewed


@dataclass(frozen=True)
class _Chances:
    """Chances of a quarter by (head age, body age) in quarters: a head renewed, the whole valve renewed."""

    head: Numbers
    full: Numbers
    either: Numbers  # anything fails at all


def failures_ahead(
    head: Whole, body: Whole, horizon: Whole, frail: npt.NDArray[np.bool_], known: Lives, policy: Policy
) -> tuple[Numbers, Numbers]:
    """Return the expected discounted numbers of heads and of whole valves renewed on failure, one each a valve.

    Args:
        head: Age of the head now, in quarters of a year.
        body: Age of the body now, in quarters of a year.
        horizon: How many quarters ahead to count, at least 1.
        frail: Whether the first failure renews the whole valve.
        known: The lives.
        policy: For the discount rate and the service life of a body.
    """
    last = int(horizon.max(initial=0))
    chances = _chances(int(head.max(initial=0)) + last, int(body.max(initial=0)) + last, known, policy)
    shape = (2, *chances.either.shape)
    mended, first = np.zeros(shape), np.zeros(shape)
    discount = float(discount_factor(QUARTER, policy.number("money.discount_rate")))
    counted = np.zeros((2, len(head)))
    rows = pd.Series(np.arange(len(head))).groupby(horizon).indices
    for quarters in range(1, last + 1):
        mended, first = _one_more(mended, first, chances, discount)
        here = rows.get(quarters)
        if here is not None:
            counted[:, here] = np.where(
                frail[here], first[:, head[here], body[here]], mended[:, head[here], body[here]]
            )
    return counted[0], counted[1]


def chance_of_failing(head: Whole, body: Whole, years: float, known: Lives) -> Numbers:
    """Return the chance that head or body, of these ages in quarters, fails within `years` years."""
    lasts = (1.0 - known.head.chance(head * QUARTER, years)) * (1.0 - known.body.chance(body * QUARTER, years))
    return np.asarray(1.0 - lasts)


def _chances(head_reach: int, body_reach: int, known: Lives, policy: Policy) -> _Chances:
    """Chances up to the ages, in quarters, that are reached within the horizon, and at most the oldest reckoned."""
    heads = np.arange(min(head_reach, round(OLDEST_HEAD / QUARTER)) + 1)[:, None] * QUARTER
    bodies = np.arange(min(body_reach, round(OLDEST_BODY / QUARTER)) + 1)[None, :] * QUARTER
    head, body = known.head.chance(heads, QUARTER), known.body.chance(bodies, QUARTER)
    only_head = head * (1.0 - body)
    sound = bodies < policy.number("age.body_service_life")
    return _Chances(head=only_head * sound, full=body + only_head * ~sound, either=only_head + body)


def _one_more(mended: Numbers, first: Numbers, chances: _Chances, discount: float) -> tuple[Numbers, Numbers]:
    """Count one quarter more: what happens in it, and then all that follows over the quarters counted so far."""
    new = mended[:, :1, :1]
    head_new = _older(mended[:, :1, :], head=False)
    none = 1.0 - chances.either
    after = none * _older(mended) + chances.head * (_HEAD + head_new) + chances.full * (_FULL + new)
    after_first = none * _older(first) + chances.either * (_FULL + new)
    return discount * after, discount * after_first


def _older(numbers: Numbers, *, head: bool = True) -> Numbers:
    """The same numbers one quarter on; the oldest stay the oldest."""
    on = np.concatenate([numbers[:, :, 1:], numbers[:, :, -1:]], axis=2)
    return np.concatenate([on[:, 1:], on[:, -1:]], axis=1) if head else on
