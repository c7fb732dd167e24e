"""The ranking against the planted truth: `python -m tests.studies.ranking [homes] [seed]`.

A sample is invented and stood on 13 weeks before its last day. Beside the true chance of every valve then in service
(planted lives, ages, paces and season) stand our rankings, once from the register as it stood on that day, which is
what an audit of that day would read, and once as `backtest` must make them, from the last register with its dates
overwritten.
"""

from __future__ import annotations

import datetime as dt
import sys
import time
from dataclasses import replace

import numpy as np
import pandas as pd

from audit import sample
from audit.backtest import score
from audit.backtest.capture import capture
from audit.backtest.score import Score
from audit.model import Portfolio
from audit.policy import load_policy
from audit.sample import Sample
from audit.sample.season import wear
from schemas.backtest import first_order

ON, WEEKS = dt.date(2025, 9, 30), 13
EPOCH = pd.Timestamp(0)


def days(dates: pd.Series) -> np.ndarray:
    """Days since 1970."""
    return ((dates - EPOCH) / pd.Timedelta(days=1)).to_numpy(float)


def true_chances(made: Sample) -> pd.Series:
    """The planted chance of failing in the 13 weeks after ON of every valve then in service, by valve_id."""
    lives = made.truth["lives"]
    on = (pd.Timestamp(ON) - EPOCH).days
    there = (days(lives["began"]) <= on) & (days(lives["ended"]) > on)
    lives = lives.loc[there]
    pace = made.truth["valves"].set_index("valve_id")["years_a_year"].reindex(lives["valve_id"]).to_numpy()
    fast = np.where(lives["part"].eq("head"), pace, 1.0)
    now, end = wear(np.array([on + 1.0, on + 1.0 + 7 * WEEKS]))
    age = lives["began_age_years"] + fast * (now - wear(days(lives["began"])))
    hazard = ((age + fast * (end - now)) / lives["scale_years"]) ** lives["shape"] - (
        age / lives["scale_years"]
    ) ** lives["shape"]
    return -np.expm1(-hazard.groupby(lives["valve_id"]).sum())


def as_it_stood(made: Sample) -> Portfolio:
    """The books with the register's dates as they were on ON."""
    book = sample.portfolio(made)
    lives = made.truth["lives"]
    lives = lives.loc[(lives["began"] <= pd.Timestamp(ON)) & lives["began_age_years"].eq(0)]
    began = lives.groupby(["part", "valve_id"])["began"].max()
    dates = {f"{part}_fitted": book.valves["valve_id"].map(began[part]) for part in ("head", "body")}
    return replace(book, valves=book.valves.assign(**dates))


def expected_share(rows: pd.DataFrame, truth: pd.Series) -> float:
    """What the first 10 % by our chance hold of the true chances, as a share of what the first 10 % by those hold."""
    true = rows["valve_id"].map(truth).fillna(0.0)
    first = rows["chance"].rank(ascending=False, pct=True) <= 0.1
    return float(true[first].sum() / true[true.rank(ascending=False, pct=True) <= 0.1].sum())


def report(name: str, found: Score, truth: pd.Series, seconds: float) -> None:
    """Print what each order catches, as a share of what the true chances catch."""
    rows = found.ranking
    true = capture([rows.assign(chance=rows["valve_id"].map(truth).fillna(0.0))])
    true = true.loc[true["order"].eq("chance of failing")].set_index("share")["caught_share"]
    table = found.capture.pivot(index="order", columns="share", values="caught_share").loc[
        found.capture["order"].unique()
    ]
    print(f"\n{name}: {len(rows):,} valves, {rows['failed'].sum():,} failed, {seconds:.0f} s CPU")
    print(f"dates drawn back: {found.undated[0]:.1%} of the valves, {found.undated[1]:.1%} of the failed")
    print(pd.concat([true.rename("true chance").to_frame().T, table]).round(4).to_string())
    top, first = table[0.1], first_order(found.capture)
    ratio = top / true[0.1]
    print(f"first 10 %, of the true chance: {first} {ratio[first]:.3f}, chance {ratio['chance of failing']:.3f}")
    others = ("oldest first", "most visited first", "random")
    print(first, "catches", ", ".join(f"{top[first] / top[other]:.2f} times {other}" for other in others))
    print(f"the same without the luck of the draw, in failures to be expected: {expected_share(rows, truth):.3f}")
    line = found.slope
    expected = found.calibration["expected"].sum()
    print(f"slope {line.value:.3f} ({line.low:.3f} to {line.high:.3f}); seen to expected", end=" ")
    print(f"{rows['failed'].sum() / expected:.3f}")


def main(homes: int, seed: int) -> None:
    """Print both scores."""
    policy = load_policy()
    as_of = ON + dt.timedelta(weeks=WEEKS)
    made = sample.make(homes, seed, as_of)
    truth = true_chances(made)
    for name, book in (("register as it stood", as_it_stood(made)), ("dates overwritten", sample.portfolio(made))):
        start = time.process_time()
        report(name, score(book, ON, as_of, policy), truth, time.process_time() - start)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20_000, int(sys.argv[2]) if len(sys.argv) > 2 else 1)
