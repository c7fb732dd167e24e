"""Measures the fit of lives on planted stocks: `python -m tests.studies.study_life shortcuts|coverage|bias`.

shortcuts: one stock of 10,000 valves (shape 2.4, scale 11 years, log from 2019), fitted in full and in three ways that
    look harmless. coverage: how often the 90 % limits hold the truth, stocks of 500 homes. bias: 10,000 homes.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace

import numpy as np
import pandas as pd

from audit.life import life
from audit.life.counting import count_lives
from audit.life.lifetimes import PartLives, lives
from audit.life.likelihood import find_peak
from audit.life.weibull import fit_weibull
from audit.policy import load_policy
from tests.studies.planted import Planted, facts

START = (np.log(2.0), np.log(8.0))  # where the search begins: not the truth
MIXED = Planted(  # everything at once
    valves=1_000, motor_share=0.1, other_rate=0.01, body_scale=34.0, hot_share=0.1, summer_share=0.25
)
TRUTH = {"head": (MIXED.shape, MIXED.scale), "body": (MIXED.body_shape, MIXED.body_scale)}


def exact(heads: PartLives, age: pd.Series[float] | None) -> tuple[float, float, float]:
    """Fit lives of known age, and openings of the ages given; returns shape, scale and failures."""
    later = heads.later
    if age is not None:
        of = heads.openings.assign(entered=age, ended=age + heads.openings["span"]).dropna(subset=["entered"])
        later = pd.concat([later, of.loc[of["span"] > 0, later.columns]])
    fit = fit_weibull(later["ended"], later["failed"], later["entered"])
    return fit.shape, fit.scale, fit.failures


def shortcuts() -> None:
    """Print the table of the full fit beside the shortcuts."""
    known = lives(facts(Planted(), seed=1), load_policy()).head
    began = time.perf_counter()
    counts, made = count_lives(known, np.ones(Planted().valves), np.zeros(Planted().valves, dtype=np.int64))
    peak = find_peak(counts, *START)
    took = time.perf_counter() - began
    opening = known.openings
    rows = [
        ("renewal process, overwritten starts summed over", peak.shape, peak.scale, float(made["failures"].sum())),
        ("heads of overwritten start dropped", *exact(known, opening["age"])),
        ("the body's date for an overwritten start", *exact(known, opening["age"].fillna(opening["origin"]))),
        ("only lives begun inside the log", *exact(known, None)),
    ]
    print(f"{'planted: shape 2.4, scale 11 years':52}{'shape':>8}{'scale':>8}{'failures':>10}")
    for name, shape, scale, failures in rows:
        print(f"{name:52}{shape:8.3f}{scale:8.2f}{failures:10.0f}")
    print(f"the full fit took {took:.2f} s")


def one(seed: int, truth: Planted) -> pd.DataFrame:
    """Fit one stock; returns the rows of the whole."""
    table = life(facts(truth, seed), load_policy()).table
    return table.loc[table["group"].eq("all")].assign(seed=seed)


def coverage(seeds: int = 200) -> None:
    """Print how often the limits hold the truth."""
    rows = []
    for seed in range(seeds):
        rows.append(one(seed, MIXED))
        if seed % 20 == 19:
            report(pd.concat(rows), seed + 1)


def bias(seeds: int = 14) -> None:
    """Print the mean error at 10,000 homes."""
    report(pd.concat([one(seed, replace(MIXED, valves=20_000)) for seed in range(seeds)]), seeds)


def report(rows: pd.DataFrame, seeds: int) -> None:
    """Print mean estimate and coverage by part and parameter."""
    for part, (shape, scale) in TRUTH.items():
        of = rows.loc[rows["part"].eq(part)]
        for name, low, high, truth in (
            ("shape", "shape_low", "shape_high", shape),
            ("scale_years", "scale_low", "scale_high", scale),
        ):
            held = of[low].le(truth) & of[high].ge(truth)
            off = 100 * (of[name].mean() / truth - 1)
            print(f"{seeds} seeds, {part} {name}: truth {truth:g}, mean {of[name].mean():.3f} ({off:+.1f} %), ", end="")
            print(
                f"failures {of['failures'].mean():.0f}, held by the 90 % limits {100 * held.mean():.1f} %", flush=True
            )


if __name__ == "__main__":
    {"shortcuts": shortcuts, "coverage": coverage, "bias": bias}[sys.argv[1]]()
