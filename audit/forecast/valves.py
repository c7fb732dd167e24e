"""One row a valve with what its years ahead depend on: lives, ages, prices, and when its heating is renewed."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from audit.choice.asked import leaking, quarters_to_renewal
from audit.choice.assumed_life import LIVED
from audit.choice.bill import bill, cost, fitted
from audit.choice.options import attendance, no_heat
from audit.choice.prices import Prices
from audit.choice.work import among
from audit.model import Facts
from audit.policy import Policy

BILLED: Final = ("isolation", "head_part", "valve_part", "wrong_kind")
MONEY: Final = ("motor", "head", "full", "head_failure", "body_failure")


def priced_valves(facts: Facts, lived: pd.DataFrame, prices: Prices, policy: Policy) -> pd.DataFrame:
    """Return one row a valve: LIVED, MONEY (GBP, each a visit of its own, failures with the allowance for lost heat).

    And `drains` (a whole valve needs a drain-down), `has_motor` (it can be renewed on its own), `weak` (the lever is
    stiff, the body leaks or does not let go of its head: only a whole valve mends it), and `due` (quarters to the
    renewal of the home's heating, at most the policy's horizon).
    """
    valves = facts.valves
    none = pd.Series(False, index=valves.index)
    known = valves.assign(**fitted(valves, none).drop(columns=["kind_taken", "body_taken"]), wrong_kind=False)
    kind = known.groupby(list(BILLED), dropna=False, sort=True).ngroup()
    first = ~kind.duplicated()
    costs = _costs(known.loc[first], prices, policy).set_axis(kind.loc[first]).loc[kind].set_axis(valves.index)
    ages = lived.loc[valves["valve_id"], list(LIVED)].set_axis(valves.index)
    weak = valves["lever"].eq("stiff") | valves["head_detachable"].eq("no") | among(valves["valve_id"], leaking(facts))
    return pd.concat([ages, costs], axis=1).assign(
        has_motor=valves["motor_replaceable"].eq("yes"),
        weak=weak,
        due=quarters_to_renewal(valves["heating_renewal_due"], facts.as_of, policy),
    )


def _costs(kinds: pd.DataFrame, prices: Prices, policy: Policy) -> pd.DataFrame:
    """MONEY and `drains` of each kind of valve, as the options are costed."""
    no_tasks = pd.DataFrame(index=kinds.index)
    billed = {
        option: bill(kinds, pd.Series(option, index=kinds.index, dtype="str"), no_tasks, policy)
        for option in ("motor", "head", "full")
    }
    work = {option: cost(each, prices) for option, each in billed.items()}
    failing = attendance(prices, policy) + no_heat(policy)
    return pd.DataFrame(
        {
            **{option: each + prices.cost["call_out"] for option, each in work.items()},
            "head_failure": work["head"] + failing,
            "body_failure": work["full"] + failing,
            "drains": billed["full"]["drain_down"].astype(np.float64),
        }
    )
