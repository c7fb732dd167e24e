"""The forecast in sums and in words: what each policy costs to the horizon, which is the cheapest, what was assumed."""

from __future__ import annotations

import math
from collections.abc import Hashable
from typing import Any

import numpy as np
import pandas as pd

from audit.choice.prices import Prices, pounds
from audit.forecast.ahead import Ahead, HeadsPay
from audit.forecast.doubt import limits
from audit.forecast.year_table import month_table, side_by_side
from audit.life.season import Season
from audit.policy import Policy
from schemas import words

NOTHING = 0.5  # GBP: policies that differ by less cost the same


def told(
    table: pd.DataFrame,
    ahead: Ahead,
    as_of: pd.Timestamp,
    season: Season,
    basis: str,
    head: HeadsPay,
    prices: Prices,
    policy: Policy,
) -> dict[str, pd.DataFrame]:
    """Return what `audit.forecast.years.forecast` returns for the reports.

    `table` is the `forecast` table, `basis` says whether lives were fitted or assumed.
    """
    totals = _totals(ahead, head)
    cheapest = _cheapest(totals, policy, years=ahead.failures().shape[1])
    assumed = _assumed(ahead, season, basis, head, prices, policy)
    about = ["Which is the cheapest"] * len(cheapest) + ["What was assumed"] * len(assumed)
    return {
        "forecast_months": side_by_side(month_table(ahead, as_of, season), "month"),
        "forecast_totals": totals,
        "forecast_by_year": side_by_side(table, "year"),
        "forecast_said": pd.DataFrame({"about": about, "sentence": [*cheapest, *assumed]}, dtype="str"),
    }


def _totals(ahead: Ahead, head: HeadsPay) -> pd.DataFrame:
    """One row a policy: sums over the horizon, present value, and how much dearer than the cheapest, GBP."""
    worth, drawn = ahead.of("present_value_gbp").sum(axis=-1), ahead.present_drawn().sum(axis=-1)
    best = int(np.argmax(worth <= worth.min() + NOTHING))
    named = {
        "failures": (ahead.failures_drawn().sum(axis=-1), ahead.failures().sum(axis=-1)),
        "spend": (ahead.spend_drawn().sum(axis=-1), ahead.spend().sum(axis=-1)),
        "present_value": (drawn, worth),
        "dearer": (ahead.present_dearer(best), worth - worth[best]),
    }
    table = pd.DataFrame({"policy": pd.Series(list(words.RENEWAL_POLICY), dtype="str")})
    table["name"] = [policy_name(name, head.age) for name in table["policy"]]
    for name, (each, mean) in named.items():
        table[name], (table[f"{name}_low"], table[f"{name}_high"]) = mean, limits(each, mean)
    return table.assign(
        drain_downs=ahead.of("drain_downs").sum(axis=-1),
        no_heat_gbp=ahead.of("no_heat_gbp").sum(axis=-1),
        first_year_spend=ahead.spend()[:, 0],
        head_age_years=head.age if math.isfinite(head.age) else np.nan,
        cheapest=np.where(table.index == best, "yes", "no"),
    )


def policy_name(policy: str, age: float) -> str:
    """Return a policy as it is spoken."""
    if policy != "heads_at_age":
        return policy.replace("_", " ")
    return f"heads at {age:g} years" if math.isfinite(age) else "heads at no age"


def _cheapest(totals: pd.DataFrame, policy: Policy, years: int) -> list[str]:
    span = "1 year" if years == 1 else f"{years} years"
    rate = f"{100 * policy.number('money.discount_rate'):g} %"
    best = totals.loc[totals["cheapest"].eq("yes")].iloc[0]
    rest = totals.loc[totals["cheapest"].eq("no")].sort_values("present_value", kind="stable").to_dict("records")
    said = [
        f"{_capital(best['name'])} is the cheapest over {span}: {as_said(best['present_value'])} in today's worth; "
        f"{', '.join(_dearer(row) for row in rest)}.",
        f"Today's worth is discounted at {rate} a year and holds the allowance for homes without heat. The 80 % "
        "interval of a difference carries the doubt of the lives; chance strikes the same valves under either policy.",
    ]
    said += [
        f"{_capital(row['name'])}: {as_said(row['spend'])} spent over {span}, not discounted (80 %: "
        f"{as_said(row['spend_low'])} to {as_said(row['spend_high'])}), {as_said(row['first_year_spend'])} of it in "
        f"the first; {row['failures']:,.0f} failures (80 %: {row['failures_low']:,.0f} to {row['failures_high']:,.0f})."
        for row in totals.to_dict("records")
    ]
    return said


def _assumed(ahead: Ahead, season: Season, basis: str, head: HeadsPay, prices: Prices, policy: Policy) -> list[str]:
    years = ahead.failures().shape[1]
    renewed = ahead.of("renewed_with_heating")[0].sum()
    winter, priced = season.cold, policy.number("money.winter_share")
    said = [
        "Fix on failure renews nothing before it fails: a failed head is mended by a new head, a failed body by a "
        "whole valve, on a call-out.",
        _heads(head),
        f"Least cost does each quarter what is cheapest for each valve by the ages of its head and body, reckoned to "
        f"year {years}. Nothing after that counts, so it renews little in its last years.",
        "A policy starts today: what it should have renewed already is renewed at once, and falls into the first year.",
        "Prices stay as they are today, without VAT and without inflation"
        + (", and some are assumed" if prices.assumed else "")
        + "; each piece of work is a visit of its own, with its call-out.",
        "The stock stays the same: no valve is added or taken away."
        + (
            f" Valves renewed with their home's heating, on the date recorded, count as new from then on "
            f"({renewed:,.0f} of them); what that costs is not counted here."
            if renewed >= 0.5
            else ""
        ),
        f"By the season of the log {100 * winter:.0f} % of failures fall from 1 November to 30 April; the allowance "
        f"for homes without heat counts {100 * priced:.0f} % of failures (money.winter_share).",
        f"80 % intervals carry chance and the doubt of the lives ({basis}); prices are taken as certain. Planned "
        "work is shown as expected.",
        "A valve whose age is not known counts as valves of a stock long renewed as they fail: some young, some old.",
    ]
    return said


def _heads(head: HeadsPay) -> str:
    costs = f"on average {pounds(round(head.planned, 2))} in time against {pounds(round(head.failing, 2))} at failure"
    if math.isfinite(head.age):
        return (
            f"Heads at {head.age:g} years renews every head that is this old: the one age at which that costs the "
            "whole stock least in the long run (age replacement, Barlow and Hunter 1960), from the lives of its heads "
            f"and {costs}, the allowance for a home without heat included."
        )
    why = "heads do not wear out" if not head.wears else f"{costs}; no age up to 30 years makes up for that"
    return f"Heads at an age: renewing heads by age never pays here ({why}), so this policy equals fix on failure."


def _dearer(row: dict[Hashable, Any]) -> str:
    """How much dearer than the cheapest one policy is, and how surely."""
    if row["dearer"] < NOTHING:
        return f"{row['name']} costs the same"
    low, high = as_said(row["dearer_low"]), as_said(row["dearer_high"])
    return f"{row['name']} costs {as_said(row['dearer'])} more (80 %: {low} to {high})"


def as_said(amount: float) -> str:
    """Return an amount to three or four figures: £195.8 million, £4,850."""
    if abs(amount) >= 1e6:
        digits = 1 if abs(amount) >= 1e8 else 2
        return f"{'−' if amount < 0 else ''}£{abs(amount) / 1e6:,.{digits}f} million"
    places = 2 - math.floor(math.log10(max(abs(amount), 100.0)))
    return pounds(round(amount, places) + 0.0)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
