"""What was seen of each valve and what its life lets expect, over its own watched time.

Two views of one stock. `place`: whatever stood there, over all the watched time; for schemes, locations, kinds of head
and contractors. `product`: only since the body that stands there now went in, for make, batch and year of fitting,
because the register names no other: a failure that the present valve replaced is not its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from audit.groups.unseen import Floats, wear_unseen
from audit.life import LifeFit
from audit.life.grid import Ints
from audit.life.lifetimes import PartLives
from audit.life.watched import days
from audit.life.weibull import hazard_sum
from audit.model import Facts
from audit.policy import Policy

YEAR: Final = 365.25
BAND: Final = 5.0  # years: the stock's own rate is taken among places whose first part is as old to so many years


@dataclass(frozen=True)
class Life:
    """One Weibull life for all valves, scale in effective years, and each valve's pace (effective years a year)."""

    shape: float
    scale: float
    pace: Floats

    def wear(self, valve: Ints, entered: Floats, ended: Floats) -> Floats:
        """The cumulative hazard between two ages: the failures expected."""
        fast = self.pace[valve]
        sooner, later = (hazard_sum(fast * age, self.shape, self.scale) for age in (entered, ended))
        return np.asarray(later - sooner)


def exposures(facts: Facts, fit: LifeFit, policy: Policy) -> dict[str, pd.DataFrame]:
    """Count failures and expect them, valve by valve.

    A failure is a fault that ended in a new motor, head or valve for a cause in the valve; however many visits it
    took, and however often it came back within the repeat window, it counts once (`audit.life.replaced`). Expected is
    the cumulative hazard of the life of the whole stock over every age at which the valve's parts were watched.

    Returns:
        `place` and `product`: frames aligned with `facts.valves`: observed, raw (expected, before the stock's totals
        are matched), years (watched), band (of age).
    """
    whole = fit.table.drop_duplicates("part").set_index("part")
    shape, scale = (whole[name].astype("float64") for name in ("shape", "scale_years"))
    first, clock = fit.lives.first, fit.season.years
    body = clock(days(facts.valves["body_since"]))
    origin = _filled(first - np.where(body <= first, body, np.nan), fit.lives.head.openings["origin"].to_numpy())
    head = Life(shape["head"], scale["head"], fit.pace)
    sound = Life(shape["body"], scale["body"], np.ones(len(fit.pace)))
    spans = [*_spans(fit.lives.head, head, origin, first), *_spans(fit.lives.body, sound, origin, first)]
    slack = policy.number("life.date_slack") / YEAR
    since = np.where(body > first + slack, body - slack, np.where(np.isnan(body), np.inf, -np.inf))
    return {
        "place": _summed(spans, np.full(len(first), -np.inf), origin),
        "product": _summed(spans, since, np.where(body > first + slack, 0.0, origin)),
    }


def _filled(*origins: Floats) -> Floats:
    """The first known of several, else the stock's median."""
    found = origins[0]
    for other in origins[1:]:
        found = np.where(np.isnan(found), other, found)
    known = found[~np.isnan(found)]
    return np.where(np.isnan(found), np.median(known) if known.size else 0.0, found)


def _spans(lives: PartLives, life: Life, origin: Floats, first: Floats) -> list[pd.DataFrame]:
    """Every stretch of a part's life that was watched: valve, began (on the clock), observed, raw, years."""
    opening, later = lives.openings, lives.later
    valve = opening["valve"].to_numpy(np.int64)
    age, span = opening["age"].to_numpy(), opening["span"].to_numpy()
    failed = opening["failed"].to_numpy(bool)
    fast = life.pace[valve]
    unseen = wear_unseen(origin * fast, span * fast, failed, life.shape, life.scale)
    raw = np.where(np.isnan(age), unseen, life.wear(valve, np.nan_to_num(age), np.nan_to_num(age) + span))
    of_later = later["valve"].to_numpy(np.int64)
    entered, ended = later["entered"].to_numpy(), later["ended"].to_numpy()
    return [
        pd.DataFrame({"valve": valve, "began": first, "observed": failed, "raw": raw, "years": span}),
        pd.DataFrame(
            {
                "valve": of_later,
                "began": later["began"],
                "observed": later["failed"],
                "raw": life.wear(of_later, entered, ended),
                "years": ended - entered,
            }
        ),
    ]


def _summed(spans: list[pd.DataFrame], since: Floats, origin: Floats) -> pd.DataFrame:
    """Add up by valve the stretches that began on or after a moment on the clock; years are the head's."""
    total = {name: np.zeros(len(since)) for name in ("observed", "raw", "years")}
    for place, span in enumerate(spans):
        valve = span["valve"].to_numpy(np.int64)
        kept = span["began"].to_numpy() >= since[valve]
        for name, sums in total.items():
            if name != "years" or place < 2:
                weights = span[name].to_numpy(float) * kept
                sums += np.bincount(valve, weights=weights, minlength=len(since))
    return pd.DataFrame(total).assign(band=np.floor(origin / BAND))
