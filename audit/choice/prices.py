"""What things cost: the rates that were given, and the policy's assumed prices where none was."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import pandas as pd

from audit.policy import Policy
from schemas import words


@dataclass(frozen=True)
class Prices:
    """Prices in GBP excluding VAT by rate item, which of them are assumed, and where each comes from."""

    cost: Mapping[str, float]
    assumed: frozenset[str]
    source: Mapping[str, str]

    def of(self, items: pd.Series) -> pd.Series:
        """Return the price of each item of a text column; an empty item costs nothing."""
        return items.map({**self.cost, "": 0.0}).astype("float64")

    def caveat(self, items: Collection[str]) -> str:
        """Say which of `items` are assumed prices: ' (labour, inhibitor assumed)', or nothing."""
        names = [words.RATE_LABEL[item] for item in items if item in self.assumed]
        if not names:
            return ""
        every = len(names) == len(items) > 1
        return " (all prices assumed)" if every else f" ({', '.join(names)} assumed)"

    def said(self) -> tuple[str, ...]:
        """Say in one sentence which prices are assumed; nothing where all were given."""
        if not self.assumed:
            return ()
        listed = ", ".join(
            f"{words.RATE_LABEL[item]} {pounds(self.cost[item])}" for item in self.cost if item in self.assumed
        )
        return (f"Prices assumed, because no rates file gave them: {listed}; every cost that rests on one says so.",)


def prices(rates: pd.DataFrame, policy: Policy) -> Prices:
    """Take each rate item from `rates` (columns item, cost_gbp, source), or else from the policy's `rates.*`.

    A price counts as assumed while it is the policy's own default; one that a landlord set in a policy file does not.
    """
    given = rates.dropna(subset=["item", "cost_gbp"]).sort_values(["item", "cost_gbp"])
    given = given.drop_duplicates("item", keep="last")
    costs = dict(zip(given["item"], given["cost_gbp"].astype("float64"), strict=True))
    sources = dict(zip(given["item"], given["source"].fillna("the rates given"), strict=True))
    missing = {item: policy[f"rates.{item}"] for item in words.RATE_ITEM if item not in costs}
    return Prices(
        cost={item: costs[item] if item in costs else missing[item].number for item in words.RATE_ITEM},
        assumed=frozenset(item for item, limit in missing.items() if limit.source == "assumed"),
        source={item: sources[item] if item in costs else missing[item].source for item in words.RATE_ITEM},
    )


def pounds(amount: float) -> str:
    """Write an amount of money: £107, £52.25, £1,250; a minus sign stands before the pound sign."""
    pennies = f"{abs(amount):,.2f}".removesuffix(".00")
    return f"{'−' if round(amount, 2) < 0 else ''}£{pennies}"
