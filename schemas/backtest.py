"""What a backtest gives: an earlier day's ranking, scored against what failed next. Imports no table library."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    import pandas as pd

ORDER: Final = {
    "benefit": "by what acting in those 13 weeks saves against leaving (£); where nothing is saved, by the chance "
    "of failing",
    "chance of failing": "by the chance that head or body fails within the 13 weeks",
    "oldest first": "by the age of the head, as far as it was known",
    "most visited first": "by call-outs and return visits to the home in the year before",
    "random": "in any order: any share of the valves holds that share of the failed ones",
}
TOP: Final = 0.10  # the share of the valves that the summaries speak of


def first_order(capture: pd.DataFrame) -> str:
    """The order that the ranking stands in: by benefit, or where no valve has one by the chance of failing."""
    return str(capture["order"].iloc[0])


@dataclass(frozen=True)
class Backtest:
    """Everything that the reports of a backtest write; nothing in it needs computing any more."""

    version: str
    on: dt.date  # the earlier day
    end: dt.date  # the last of the 13 weeks after it
    as_of: dt.date  # nothing later was used, not even to tell what failed
    policy_sha256: str
    inputs: pd.DataFrame  # name, sha256, rows
    said: pd.DataFrame  # about, sentence
    figures: pd.DataFrame  # name, value, unit: the numbers that matter
    capture: pd.DataFrame  # order, share, valves, failed, caught, cost_gbp, hours, times_random, three measures
    calibration: pd.DataFrame  # tenth, valves, chances, expected, observed, ratio, each with 90 % limits
    ranking: pd.DataFrame  # every valve then in service, by `first_order`, with what became of it
