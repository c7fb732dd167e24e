"""How often groups are named rightly and wrongly: `python -m tests.studies.group_names [seeds] [homes]`.

Heads renewed whenever they fail, drawn by lot: Weibull lives, places fitted out over thirty years, a log of four years,
register dates as a register keeps them (the last one). Prints the share of falsely named groups without any effect,
and how often a batch of 300 valves failing at twice the rate, and a scheme of 60 homes at three times, are named.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np
import pandas as pd

from audit.groups.tested import counted, judged, matched
from audit.groups.unseen import Floats, wear_unseen

SHAPE, SCALE = 2.4, 11.0  # of the planted heads, years
TOLD = (2.3, 11.6)  # the life that the test is told: fitted lives miss by a little
YEARS = 4.0  # of the log
LEAST, FALSE_SHARE, RATIO = 3.0, 0.10, 1.2  # as in the policy
VALVES_A_HOME, SCHEME_HOMES, BATCH_VALVES = 2.5, 60, 300
KINDS = 3  # of heads, all of one life
BATCHES, BAD_SCHEME = {"a batch of 300 in its middle age": 30, "a young batch of 300": 1}, 40


@dataclass(frozen=True)
class Effect:
    """What is planted: how many times the hazard of one batch and one scheme is the others'."""

    batch: float = 1.0
    which: int = 0
    scheme: float = 1.0


def stock(homes: int, rng: np.random.Generator) -> pd.DataFrame:
    """Valves of `homes`: scheme, batch, kind, location, make, year, file, origin (years before the log)."""
    valves = round(homes * VALVES_A_HOME)
    home = np.arange(valves) % homes
    scheme = home // SCHEME_HOMES
    origin = np.repeat(rng.uniform(0.0, 30.0, scheme.max() + 1), 1)[scheme] * 0.9 + rng.uniform(0, 3, homes)[home]
    of_batch = np.empty(valves, dtype=np.int64)
    of_batch[np.argsort(origin, kind="stable")] = np.arange(valves) // BATCH_VALVES  # batches are bought in turn
    return pd.DataFrame(
        {
            "scheme": scheme,
            "batch": of_batch,
            "kind": rng.integers(0, KINDS, valves),
            "location": rng.integers(0, 9, valves),
            "make": rng.integers(0, 24, valves),
            "year": origin.astype(np.int64),
            "file": scheme % 3,
            "origin": origin,
        }
    )


def seen(valves: pd.DataFrame, rate: Floats, rng: np.random.Generator) -> pd.DataFrame:
    """Follow every head to the end of the log; count failures and what the told life expects of each valve.

    The head at the log's start is of known age only where it never failed in the log, as in a register.
    """
    scale = SCALE * rate ** (-1 / SHAPE)
    start = valves["origin"].to_numpy()
    now, began = np.zeros(len(valves)), np.zeros(len(valves))
    observed, raw = np.zeros(len(valves)), np.zeros(len(valves))
    alive = np.ones(len(valves), dtype=bool)
    end = start + YEARS
    while alive.any():
        began = np.where(alive, now, began)
        ends = now + scale * rng.weibull(SHAPE, len(valves))
        inside = alive & (ends > start)
        failed = inside & (ends <= end)
        opening = inside & (began < start)
        span = np.minimum(ends, end) - np.maximum(began, start)
        age = np.maximum(start - began, 0.0)
        wear = ((age + span) / TOLD[1]) ** TOLD[0] - (age / TOLD[1]) ** TOLD[0]
        unseen = wear_unseen(np.maximum(start, 0), np.maximum(span, 0), failed, *TOLD)
        raw += np.where(inside, np.where(opening & failed, unseen, wear), 0.0)
        observed += failed
        alive &= ends <= end
        now = np.where(alive, ends, now)
    return pd.DataFrame({"observed": observed, "raw": raw, "years": YEARS})


def names(homes: int, seed: int, effect: Effect) -> pd.DataFrame:
    """Try every group of one drawn stock; planted groups are number 1 of their grouping."""
    rng = np.random.default_rng(seed)
    valves = stock(homes, rng)
    bad_batch, bad_scheme = valves["batch"].eq(effect.which), valves["scheme"].eq(BAD_SCHEME)
    rate = np.where(bad_batch, effect.batch, 1.0) * np.where(bad_scheme, effect.scheme, 1.0)
    frame = seen(valves, rate, rng)
    band = pd.Series(np.floor(valves["origin"] / 5))
    tried = []
    for name in ("scheme", "batch", "kind", "location", "make", "year", "file"):
        strata = [band] if name == "kind" else [band, valves["kind"]]
        table = counted(frame.assign(expected=matched(frame, strata)), valves[name], LEAST)
        tried.append(table.assign(grouped_by=name))
    return judged(pd.concat(tried, ignore_index=True), FALSE_SHARE, RATIO)


def main(seeds: int = 200, homes: int = 10_000) -> None:
    """Print all three figures."""
    false, tried = [], 0
    for seed in range(1, seeds + 1):
        table = names(homes, seed, Effect())
        false.append(table["named"].eq("yes").any())  # whatever is named is false: the share is 0 or 1
        tried = len(table)
    print(
        f"no effect: {tried} groups tried a run; false share of the named, mean over {seeds} runs {np.mean(false):.1%}"
    )
    for word, effect, grouping, place in (
        *((f"{word} at twice the rate", Effect(2.0, n), "batch", n) for word, n in BATCHES.items()),
        ("a scheme of 60 homes at three times", Effect(scheme=3.0), "scheme", BAD_SCHEME),
    ):
        found, ratio, expected = [], [], []
        for seed in range(1, seeds + 1):
            table = names(homes, seed, effect)
            row = table.loc[table["grouped_by"].eq(grouping) & table["group"].eq(place)].iloc[0]
            found.append(row["named"] == "yes")
            ratio.append(row["ratio"])
            expected.append(row["expected"])
        print(
            f"{word}: named in {np.mean(found):.1%}; ratio {np.mean(ratio):.2f}, expected failures "
            f"{np.min(expected):.0f} to {np.max(expected):.0f}"
        )


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
