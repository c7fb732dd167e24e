"""How far a fitted life lies from the survival curve without a formula."""

from __future__ import annotations

import numpy as np
import pandas as pd

from audit.life.bodies import BodyCounts
from audit.life.grid import Floats, Ints
from audit.life.lifetimes import PartLives
from audit.life.survival import Curve, kaplan_meier, steady_from
from audit.life.weibull import hazard_sum

THIN = 0.1  # share of the most ever at risk, below which a curve is not read
HALL_WELLNER = 1.224  # 90 % band over all ages (Hall and Wellner 1980), on the safe side for censored lives


def known_heads(heads: PartLives, pace: Floats) -> pd.DataFrame:
    """Return head lives of known age in effective years: valve, entered, ended, failed."""
    later = heads.later
    fast = pace[later["valve"].to_numpy()]
    return later.assign(entered=later["entered"] * fast, ended=later["ended"] * fast)


def known_bodies(bodies: PartLives, counts: BodyCounts, fits: pd.DataFrame) -> pd.DataFrame:
    """Return body lives, columns as `known_heads`; an unseen start is drawn by lot from the ages that it may have had.

    The chance of each age is the one that the fit of the whole stock gives (Turnbull's self-consistency, with the fit
    in place of the curve).
    """
    opening = bodies.openings
    drawn = counts.drawn_ages(opening, float(fits["shape"].iloc[0]), float(fits["scale_years"].iloc[0]))
    age = opening["age"].fillna(drawn)
    seen = opening[["valve", "failed"]].assign(entered=age, ended=age + opening["span"])
    return pd.concat([seen, bodies.later], ignore_index=True)[["valve", "entered", "ended", "failed"]]


def curve_of(lives: pd.DataFrame, least: float) -> Curve:
    """Return the survival curve over the ages at which enough are at risk: `least`, and a tenth of the most ever."""
    return _curve(_columns(lives), least)


def _columns(lives: pd.DataFrame) -> list[Floats]:
    return [lives[name].to_numpy(float) for name in ("ended", "failed", "entered")]


def _curve(columns: list[Floats], least: float) -> Curve:
    whole = kaplan_meier(*columns)
    enough = max(least, THIN * float(whole.at_risk.max(initial=0.0)))
    begin = steady_from(whole, enough)
    curve = whole if begin == whole.from_age else kaplan_meier(*columns, from_age=begin)
    return curve.until_thin(enough)


def gap(curve: Curve, shape: float, scale: float) -> tuple[float, float]:
    """Return the farthest distance of fit and curve, and the limit there; NaN where there is no curve."""
    if not len(curve.age):
        return np.nan, np.nan
    after = curve.survival
    before = np.concatenate([[1.0], after[:-1]])
    fit = np.exp(hazard_sum(curve.from_age, shape, scale) - hazard_sum(curve.age, shape, scale))
    distance = np.maximum(np.abs(fit - after), np.abs(fit - before))
    place = int(np.argmax(distance))
    many = curve.at_risk.max()
    relative = (curve.error[place] / after[place]) ** 2 if after[place] > 0 else 0.0
    return float(distance[place]), float(HALL_WELLNER * (1 + many * relative) * after[place] / np.sqrt(many))


def gaps(lives: pd.DataFrame, leaf: Ints, parent: Ints, shape: Floats, scale: Floats, least: float) -> Floats:
    """Return gap and limit of every group (groups, 2), from the lives of its valves and of the groups that it holds."""
    found = np.full((len(parent), 2), np.nan)
    columns = _columns(lives)
    members = {group: [rows] for group, rows in lives.groupby(leaf[lives["valve"]]).indices.items()}
    for group in range(len(parent) - 1, -1, -1):
        rows = np.concatenate(members.get(group, [np.empty(0, dtype=np.int64)]))
        if parent[group] >= 0:
            members.setdefault(int(parent[group]), []).append(rows)
        found[group] = gap(_curve([column[rows] for column in columns], least), shape[group], scale[group])
    return found
