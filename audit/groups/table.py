"""The `groups` table: which groups fail too often, by how much, and what that costs."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from audit.choice.prices import Prices
from audit.groups.exposure import exposures
from audit.groups.tested import counted, judged, matched
from audit.life import LifeFit
from audit.model import Facts
from audit.policy import Policy
from audit.rules.hits import number_text, word_text
from schemas.results import RESULT_COLUMNS

PLACE, PRODUCT = "place", "product"
GROUPINGS: Final = {  # how the valves are grouped, and which view of them serves; see `audit.groups.exposure`
    "scheme": PLACE,
    "make and model": PRODUCT,
    "batch": PRODUCT,
    "year fitted": PRODUCT,
    "location": PLACE,
    "kind of head": PLACE,
    "contractor file": PLACE,
}
COLUMNS: Final = [column.name for column in RESULT_COLUMNS["groups"]]


def groups(facts: Facts, fit: LifeFit, prices: Prices, policy: Policy) -> pd.DataFrame:
    """Compare the failures of every group with those that the life of the whole stock lets expect of its own valves.

    Args:
        facts: What was known on the as-of date.
        fit: The lives of the stock.
        prices: The price of a call-out, where the log records no cost.
        policy: Least failures expected, least ratio, share of false names.

    Returns:
        Columns of `RESULT_COLUMNS["groups"]`, one row a group tried: named ones first, dearest first.
    """
    views = exposures(facts, fit, policy)
    labels = labelled(facts)
    least = policy.number("groups.least_expected")
    tried = []
    for name, view in GROUPINGS.items():
        frame = views[view]
        strata = _strata(facts.valves, frame["band"], name, view)
        frame = frame.assign(expected=matched(frame, strata))
        kept = frame["years"].gt(0) & labels[name].notna()
        tried.append(counted(frame.loc[kept], labels.loc[kept, name], least).assign(grouped_by=name))
    table = pd.concat(tried, ignore_index=True)
    table = judged(table, policy.number("repeats.batch_false_share") / 100, policy.number("groups.least_ratio"))
    excess = table["observed"] - table["expected"]
    table = table.assign(excess_call_outs=excess, excess_cost_gbp=excess * cost_of_failure(facts, prices))
    order = ["named", "excess_cost_gbp", "grouped_by", "group"]
    return table.sort_values(order, ascending=[False, False, True, True], ignore_index=True)[COLUMNS]


def labelled(facts: Facts) -> pd.DataFrame:
    """Return the group of each valve in every grouping, missing where nothing is recorded."""
    valves = facts.valves
    make = valves["make"] + (" " + valves["model"]).fillna("")
    batch = valves["batch"] + (", " + valves["make"]).fillna("")
    words = {name: word_text(valves[name]) for name in ("location", "head_kind")}
    table = pd.DataFrame(
        {
            "scheme": valves["scheme"],
            "make and model": make,
            "batch": batch,
            "year fitted": number_text(valves["body_fitted"].dt.year),
            "location": words["location"],
            "kind of head": words["head_kind"],
            "contractor file": valves["scheme"].map(_file_of_scheme(facts)),
        }
    )
    return table[list(GROUPINGS)]


def _file_of_scheme(facts: Facts) -> pd.Series:
    """The file that holds most visits of each scheme: whose homes are whose does not hang on who called."""
    scheme, schemes = pd.factorize(facts.visits["scheme"])
    file, files = pd.factorize(facts.visits["source_file"], sort=True)
    known = (scheme >= 0) & (file >= 0)
    shape = len(schemes), max(len(files), 1)
    count = np.bincount(scheme[known] * shape[1] + file[known], minlength=shape[0] * shape[1]).reshape(shape)
    most = shape[1] - 1 - count[:, ::-1].argmax(axis=1)  # of equal ones the last by name
    return pd.Series(files.take(most), index=schemes)


def _strata(valves: pd.DataFrame, band: pd.Series, name: str, view: str) -> list[pd.Series]:
    """Valves that are matched together: of one kind (save where kinds are compared) and one band of age.

    A head that does not come off takes its body along, and with it the register's word of what stood there.
    """
    parts = [band] if name == "kind of head" else [band, valves["head_kind"]]
    return [*parts, valves["head_detachable"]] if view == PRODUCT else parts


def named_batches(facts: Facts, table: pd.DataFrame) -> pd.DataFrame:
    """Return the valves of the batches named, with what was seen of their batch; the dearest batch first.

    Args:
        facts: The valves.
        table: What `groups` gave of them.

    Returns:
        One row a valve: valve_id, batch (its code), group, observed, expected (failures of the batch).
    """
    named = table.loc[table["grouped_by"].eq("batch") & table["named"].eq("yes"), ["group", "observed", "expected"]]
    place = named.assign(place=range(len(named))).set_index("group")
    valves = facts.valves[["valve_id", "batch"]].assign(group=labelled(facts)["batch"])
    valves = valves.loc[valves["group"].isin(named["group"])]
    valves = valves.join(place, on="group").sort_values("place", kind="stable", ignore_index=True)
    return valves[["valve_id", "batch", "group", "observed", "expected"]]


def cost_of_failure(facts: Facts, prices: Prices) -> float:
    """The mean cost recorded of a fault, all its visits together, GBP; a call-out's price where none is recorded."""
    visits = facts.visits[["episode", "cost_gbp"]]
    rows = visits.loc[facts.visits["is_fault"] & visits["cost_gbp"].notna()]
    costs = rows.groupby("episode")["cost_gbp"].sum()
    mean = float(costs.mean()) if len(costs) else float("nan")
    return mean if np.isfinite(mean) else prices.cost["call_out"]
