"""The life of heads and bodies, fitted from a portfolio's own records: the whole stock, its groups, every valve."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from audit.life.bodies import count_bodies
from audit.life.check import curve_of, gaps, known_bodies, known_heads
from audit.life.counting import count_lives
from audit.life.effective_age import Heat, estimate_heat, pace, place_temperature
from audit.life.grid import CELLS, Floats, Ints
from audit.life.groups import Leaves, Prior, Tree, drawn, tree, within
from audit.life.homes import fit_homes
from audit.life.lifetimes import Lives, PartLives, lives
from audit.life.likelihood import LogLikelihood, Peak, climb, find_peak, limits
from audit.life.season import Season
from audit.life.timeline import home_of
from audit.life.weibull import age_at
from audit.model import Facts
from audit.policy import Policy
from audit.threads import one_thread
from schemas.results import RESULT_COLUMNS

LEVEL = 0.90  # of every interval
HEAD_LEVELS = (
    (("head_kind", "{}"), ("wires", "{} wires"), ("body_size_mm", "{} mm")),
    (("make", "{}"),),
    (("batch", "batch {}"),),
)
BODY_LEVELS = ((("ports", "{} ports"), ("body_size_mm", "{} mm")), (("make", "{}"),))
NEAR = 1e-3  # error allowed in the limits, as a share of their distance from the fit
COARSE = 120  # cells, enough to weigh one pace against another, and for a stock of few valves
FEW = 5_000  # valves, whose doubt is far greater than what coarse cells add
ENOUGH = 25_000  # valves, likewise


@dataclass(frozen=True)
class PartLife:
    """The life of every valve's head or body, aligned with `facts.valves`.

    `shape`, `scale` and `age` (today) serve `chance_fail`; scale and age are in effective years: years on the season's
    clock, for heads times the pace of their place. An unknown age is NaN. `row` is the group's row in `LifeFit.table`.
    """

    shape: Floats
    scale: Floats
    age: Floats
    row: Ints


@dataclass(frozen=True)
class LifeFit:
    """What the records say of lives.

    `table` has the columns of RESULT_COLUMNS["life"]. `pace` (valves,): years that a head ages a year on the season's
    clock `season`, so that the effective years of a head from one day to another are
    `pace * (season.years(later) - season.years(sooner))`, of a body the same without pace. `curves`: the survival
    curves without a formula beside the fit (part, age_years, at_risk, failures, survival, error, fitted). `said`: what
    the reader must know. `lives`: what it was fitted to.
    """

    table: pd.DataFrame
    head: PartLife
    body: PartLife
    pace: Floats
    season: Season
    heat: Heat
    curves: pd.DataFrame
    said: tuple[str, ...]
    lives: Lives


def life(facts: Facts, policy: Policy) -> LifeFit:
    """Fit the lives of heads and bodies from valves and visits known on the as-of date."""
    with one_thread():
        return _life(facts, policy)


def _life(facts: Facts, policy: Policy) -> LifeFit:
    known = lives(facts, policy)
    degrees = place_temperature(facts.valves)
    heat = _heat(known.head, degrees, policy)
    fast = _pace(degrees, heat.step, policy)
    least = int(policy.number("life.group_valves"))
    head_tree, body_tree = (tree(facts.valves, levels, least) for levels in (HEAD_LEVELS, BODY_LEVELS))
    cells = COARSE if len(facts.valves) < FEW else CELLS
    heads, made_heads = count_lives(known.head, fast, head_tree.leaf, cells=cells)
    homes, body_lives = fit_homes(known.body, home_of(facts), _prior("body", policy))
    bodies, made_bodies = count_bodies(body_lives, homes.past, body_tree.leaf, cells=cells)
    assumed = _prior("head", policy)
    start = assumed.log_shape, assumed.log_scale
    head_fits = _fits("head", heads, heads.log_likelihoods, made_heads, head_tree, policy, start)
    start = float(homes.centre[0]), float(homes.centre[1])
    body_fits = _fits("body", homes, bodies.log_likelihoods, made_bodies, body_tree, policy, start)
    head_rows, head_curve = _checked(known_heads(known.head, fast), head_fits, head_tree, policy)
    body_rows, body_curve = _checked(known_bodies(body_lives, bodies, body_fits), body_fits, body_tree, policy)
    table = pd.concat([head_rows, body_rows], ignore_index=True)[[column.name for column in RESULT_COLUMNS["life"]]]
    return LifeFit(
        table=table,
        head=_of_valves(head_rows, head_tree, known.head_age * fast, 0),
        body=_of_valves(body_rows, body_tree, known.body_age, len(head_rows)),
        pace=fast,
        season=known.season,
        heat=heat,
        curves=pd.concat([head_curve.assign(part="head"), body_curve.assign(part="body")], ignore_index=True),
        said=(*known.said, *_said(table, heat)),
        lives=known,
    )


def _pace(degrees: Floats, step: float, policy: Policy) -> Floats:
    return pace(degrees, policy.number("life.reference_temp"), step, policy.number("life.fastest_pace"))


def _heat(heads: PartLives, degrees: Floats, policy: Policy) -> Heat:
    """Estimate the doubling step where enough heads in hot places failed, on an even sample of a large stock."""
    sample = heads.sampled(-(-len(degrees) // ENOUGH)) if len(degrees) > ENOUGH else heads
    hot = degrees > policy.number("life.reference_temp")
    failed = np.concatenate([x.loc[x["failed"], "valve"] for x in (sample.openings, sample.later)]).astype(np.int64)
    if min(hot[failed].sum(), (~hot)[failed].sum()) < policy.number("life.minimum_failures"):
        return Heat(policy.number("life.doubling_step"))
    prior = _prior("head", policy)
    peaks: dict[float, tuple[Floats, Floats]] = {}  # place and bend of the peak at each rate tried
    whole = np.zeros(len(degrees), dtype=np.int64)

    def profile(rate: float) -> float:
        fast = _pace(degrees, 1 / rate if rate else math.inf, policy)
        counts, made = count_lives(sample, fast, whole, cells=COARSE)
        start, bend = [prior.log_shape, prior.log_scale], None
        if peaks:
            rates = sorted(peaks)
            start = [np.interp(rate, rates, along) for along in zip(*(peaks[x][0] for x in rates), strict=True)]
            bend = peaks[min(rates, key=lambda other: abs(other - rate))][1]
        at, height, bend = climb(lambda x, y: counts(x, y) + prior(x, y), start[0], start[1], bend=bend, near=1e-3)
        peaks[rate] = at, bend
        return height + float(made["clock"].sum())

    return estimate_heat(profile, policy)


def _prior(part: str, policy: Policy) -> Prior:
    shape, scale = (math.log(policy.number(f"life.{part}_{name}")) for name in ("shape", "scale"))
    spread = policy.number("life.prior_spread")
    return Prior(shape, scale, spread, spread)


def _fits(
    part: str,
    likelihood: LogLikelihood,
    surfaces: Leaves,
    made: pd.DataFrame,
    groups: Tree,
    policy: Policy,
    start: tuple[float, float],
) -> pd.DataFrame:
    """Return one row a group: what it was made from, the life and its doubt. Assumed lives where failures are few.

    `likelihood` is that of the whole stock, `surfaces` gives each group's; the search begins at `start` (log scale).
    """
    prior = _prior(part, policy)
    total = within(made[["valves", "failures", "exposure_years"]].to_numpy(float), groups.parent)
    frame = pd.DataFrame(total, columns=["valves", "failures", "exposure_years"])
    frame.insert(0, "group", groups.names)
    frame.insert(0, "part", part)
    if total[0, 1] < policy.number("life.minimum_failures"):
        variance = np.square([prior.shape_spread, prior.scale_spread])
        assumed = Peak(prior.log_shape, prior.log_scale, 0.0, np.diag(variance))
        return frame.assign(**_row(assumed, _limits(assumed, prior), prior), basis="assumed")

    def height(x: float, y: float) -> float:
        return likelihood(x, y) + prior(x, y)

    whole = find_peak(height, *start)
    rows = [_row(whole, _limits(whole, height), prior)]
    if len(groups.names) > 1:
        spread = policy.number("life.group_spread")
        fits = drawn(surfaces, groups.parent, whole, (spread, spread), LEVEL)
        rows += [_row(*fit) for fit in fits]
    return frame.assign(**pd.DataFrame(rows), basis="fitted")


def _limits(peak: Peak, height: LogLikelihood) -> Floats:
    """Return the limits (2, 2) of log shape and log scale."""
    return np.array([limits(height, peak, axis=axis, level=LEVEL, near=NEAR) for axis in (0, 1)])


def _row(peak: Peak, limits: Floats, prior: Prior) -> dict[str, float]:
    """Return the columns that describe a life and its doubt; limits (2, 2) of log shape and log scale."""
    (low_shape, high_shape), (low_scale, high_scale) = np.exp(limits)
    return {
        "shape": peak.shape,
        "shape_low": low_shape,
        "shape_high": high_shape,
        "scale_years": peak.scale,
        "scale_low": low_scale,
        "scale_high": high_scale,
        "median_years": float(age_at(0.5, peak.shape, peak.scale)),
        "b10_years": float(age_at(0.1, peak.shape, peak.scale)),
        "prior_weight": prior.weight(peak),
        "log_shape_error": peak.errors[0],
        "log_scale_error": peak.errors[1],
        "log_correlation": peak.correlation,
    }


def _checked(
    known: pd.DataFrame, fits: pd.DataFrame, groups: Tree, policy: Policy
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Add the distance from the survival curve to each group's row; return also the whole stock's curve."""
    least = policy.number("life.at_risk")
    shape, scale = fits["shape"].to_numpy(float), fits["scale_years"].to_numpy(float)
    found = gaps(known, groups.leaf, groups.parent, shape, scale, least)
    curve = curve_of(known, least)
    table = pd.DataFrame(
        {
            "age_years": curve.age,
            "at_risk": curve.at_risk,
            "failures": curve.failures,
            "survival": curve.survival,
            "error": curve.error,
            "fitted": np.exp((curve.from_age / scale[0]) ** shape[0] - (curve.age / scale[0]) ** shape[0]),
        }
    )
    return fits.assign(curve_gap=found[:, 0], curve_gap_limit=found[:, 1]), table


def _of_valves(rows: pd.DataFrame, groups: Tree, age: Floats, offset: int) -> PartLife:
    of = groups.leaf
    return PartLife(rows["shape"].to_numpy(float)[of], rows["scale_years"].to_numpy(float)[of], age, of + offset)


def _said(table: pd.DataFrame, heat: Heat) -> tuple[str, ...]:
    told = [
        f"{part.capitalize()}: {failures:.0f} failures are too few to fit a life; the policy's assumed life is used."
        for part, failures in _assumed(table)
    ]
    if heat.from_data:
        effect = "no effect" if math.isinf(heat.step) else f"a doubling every {heat.step:.1f} °C"
        told.append(
            f"Heat: the records show {effect} (90 %: {heat.low:.1f} to {heat.high:.1f} °C; likelihood-ratio test "
            f"against the policy's step p = {heat.p_policy:.2g}), which is used in its place."
        )
    return tuple(told)


def _assumed(table: pd.DataFrame) -> Sequence[tuple[str, float]]:
    first = table.loc[table["basis"].eq("assumed")].drop_duplicates("part")
    return list(zip(first["part"], first["failures"], strict=True))
