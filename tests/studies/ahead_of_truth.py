"""The years ahead against the planted truth: `python -m tests.studies.ahead_of_truth [homes] [seed]`.

A sample is written and read as a user's books would be; its lives are fitted and failures forecast. Beside them stand
the failures that the planted lives, ages and paces of the same valves would bring, everything fixed on failure.
"""

from __future__ import annotations

import datetime as dt
import sys
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd

from audit import pipeline, writing
from audit.choice import fitted, prices
from audit.choice.programme import Grid
from audit.facts import facts
from audit.forecast import forecast
from audit.forecast.ahead import FAILED
from audit.forecast.classes import Coarseness, stock_classes
from audit.forecast.decisions import fix_on_failure
from audit.forecast.flow import flow
from audit.forecast.valves import priced_valves
from audit.life import life
from audit.policy import load_policy

AS_OF = dt.date(2026, 9, 30)
HOW = Coarseness(Grid(), 24, 3)
YEARS = 30


def true_valves(truth: pd.DataFrame, valves: pd.DataFrame) -> pd.DataFrame:
    """The rows of `priced_valves` with the planted lives and ages in place of the fitted ones, in calendar years."""
    pace = truth["years_a_year"].to_numpy()
    return valves.assign(
        head_shape=truth["head_shape"].to_numpy(),
        head_scale=truth["head_scale_years"].to_numpy() / pace,
        head_age=truth["head_age_years"].to_numpy() / pace,
        body_shape=truth["body_shape"].to_numpy(),
        body_scale=truth["body_scale_years"].to_numpy(),
        body_age=truth["body_age_years"].to_numpy(),
    )


def main(homes: int, seed: int) -> None:
    """Print the failures of single years, true and forecast."""
    policy = load_policy()
    with tempfile.TemporaryDirectory() as folder:
        books = Path(folder)
        writing.write_sample(books, homes, seed, "csv")
        portfolio, _ = pipeline.read(sorted(books.glob("*.csv")), AS_OF, policy)
        truth = pd.read_csv(books / "truth" / "valves.csv").drop_duplicates("valve_id").set_index("valve_id")
    known = facts(portfolio, pd.Timestamp(AS_OF), policy)
    fit, priced = life(known, policy), prices(portfolio.rates, policy)
    lived = fitted(fit, known, policy)
    table, _ = forecast(known, lived, fit, priced, policy)
    table = table.loc[table["policy"].eq("fix_on_failure")].reset_index(drop=True)
    valves = true_valves(truth.loc[known.valves["valve_id"]], priced_valves(known, lived, priced, policy))
    true = np.zeros(YEARS)
    for each in stock_classes(valves, HOW, YEARS, 0.4):
        events = flow(each.bands, each.weak, each.chances(HOW.grid, np.zeros((1, 4))), fix_on_failure)
        true += events[:, 0, FAILED].sum(axis=1).reshape(YEARS, -1).sum(axis=1)
    beside = table[["year", "failures", "failures_low", "failures_high"]].assign(true=true)
    inside = beside["true"].between(beside["failures_low"], beside["failures_high"])
    print(beside.iloc[[0, 1, 2, 4, 9, 14, 19, 24, 29]].round(1).to_string(index=False))
    print(f"over {YEARS} years: forecast {table['failures'].sum() / true.sum():.4f} of the truth; ", end="")
    print(f"true year inside the 80 % interval: {inside.sum()} of {YEARS}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2_000, int(sys.argv[2]) if len(sys.argv) > 2 else 1)
