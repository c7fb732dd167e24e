"""How far later costs by class lie from each valve's own: `python -m tests.studies.choice_classes [HOMES] [VALVES]`.

Costs the options of an invented stock, then solves the programme anew for each of an even sample of its valves alone,
and prints how far the two lie apart, and how often another option comes out cheapest.
"""

from __future__ import annotations

import sys
from unittest import mock

import numpy as np
import pandas as pd

from audit.choice import ahead, fitted, options, prices
from audit.life import life
from audit.model import Facts, Portfolio
from audit.policy import load_policy
from schemas import words
from tests.benchmarks.choice import judged


def asked(portfolio: Portfolio, known: Facts, found: pd.DataFrame) -> pd.DataFrame:
    """What `costs_ahead` is asked for this stock."""
    policy = load_policy()
    kept: list[pd.DataFrame] = []

    def listen(valves: pd.DataFrame, policy: object) -> ahead.Ahead:
        kept.append(valves)
        return ahead.Ahead(np.zeros((len(valves), 4)), np.full((len(valves), 4), ahead.NEVER))

    lived = fitted(life(known, policy), known, policy)
    with mock.patch.object(sys.modules["audit.choice.options"], "costs_ahead", listen):
        options(known, found, lived, prices(portfolio.rates, policy), policy)
    return kept[0].reset_index(drop=True)


def main(homes: int, size: int) -> None:
    """Print the distance between classes and valves."""
    policy = load_policy()
    valves = asked(*judged(homes))
    by_class = ahead.costs_ahead(valves, policy).later
    rows = np.linspace(0, len(valves) - 1, size).astype(int)
    own = [ahead.costs_ahead(valves.iloc[[row]].reset_index(drop=True), policy).later[0] for row in rows]
    now = valves.loc[rows, ["motor", "head", "full"]].to_numpy()
    totals = [np.column_stack([x[:, 0], x[:, 1:] + now]) for x in (by_class[rows], np.array(own))]
    whole = np.isin(words.OPTION, ["leave", "full"])  # all that a frail valve has
    possible = np.isfinite(totals[1]) & (whole | ~valves.loc[rows, ["frail"]].to_numpy())
    apart = np.where(possible, np.abs(by_class[rows] - np.array(own)), np.nan)
    best = [np.where(possible, total, np.inf).argmin(axis=1) for total in totals]
    lost = totals[1][np.arange(size), best[0]] - totals[1][np.arange(size), best[1]]
    print(f"{len(valves):,} valves, {size:,} of them alone: GBP apart mean {np.nanmean(apart):.2f}, "
          f"99 % {np.nanquantile(apart, 0.99):.2f}, worst {np.nanmax(apart):.2f}")  # fmt: skip
    print(f"another option cheapest: {(best[0] != best[1]).mean():.2%}; what that loses: mean {lost.mean():.3f}, "
          f"worst {lost.max():.2f}")  # fmt: skip


if __name__ == "__main__":
    given = [int(text) for text in sys.argv[1:]]
    main(*(given + [130_000, 400][len(given) :]))
