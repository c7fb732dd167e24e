"""The forecast in sums and in words: what each policy costs to the horizon, which is the cheapest, what was assumed."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from audit.choice.prices import Prices, pounds
from audit.forecast.ahead import Ahead, HeadsPay
from audit.forecast.doubt import limits
from audit.forecast.year_table import cold_share, month_table
from audit.life.season import Season
from audit.policy import Policy
from schemas import words

NOTHING = 0.5  # GBP: policies that differ by less cost the same


def told(
    ahead: Ahead, as_of: pd.Timestamp, season: Season, basis: str, head: HeadsPay, prices: Prices, policy: Policy
) -> dict[str, pd.DataFrame]:
    """Return forecast_months, forecast_totals and forecast_said, see `audit.forecast.years.forecast`.

    `basis` says whether lives were fitted or assumed.
    """
    totals = _totals(ahead, head)
    cheapest = _cheapest(totals, policy, years=ahead.failures().shape[1])
    assumed = _assumed(ahead, season, basis, head, prices, policy)
    about = ["Which is the cheapest"] * len(cheapest) + ["What was assumed"] * len(assumed)
    return {
        "forecast_months": month_table(ahead, as_of, season),
        "forecast_totals": totals,
        "forecast_said": pd.DataFrame({"about": about, "sentence": [*cheapest, *assumed]}, dtype="str"),
    }


def _totals(ahead: Ahead, head: HeadsPay) -> pd.DataFrame:
    """One row a policy: sums over the horizon, present value, and the saving against fixing on failure, GBP."""
    worth, drawn = ahead.of("present_value_gbp").sum(axis=-1), ahead.present_drawn().sum(axis=-1)
    named = {
        "failures": (ahead.failures_drawn().sum(axis=-1), ahead.failures().sum(axis=-1)),
        "spend": (ahead.spend_drawn().sum(axis=-1), ahead.spend().sum(axis=-1)),
        "present_value": (drawn, worth),
        "saving": (ahead.present_saved(), worth[0] - worth),
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
        cheapest=np.where(table["present_value"].rank(method="first").eq(1), "yes", "no"),
    )


def policy_name(policy: str, age: float) -> str:
    """Return a policy as it is spoken."""
    if policy != "heads_at_age":
        return policy.replace("_", " ")
    return f"heads at {age:g} years" if math.isfinite(age) else "heads at no age"


def _cheapest(totals: pd.DataFrame, policy: Policy, years: int) -> list[str]:
    rate = f"{policy.number('money.discount_rate'):.1%}".replace(".0%", "%").replace("%", " %")
    best = totals.loc[totals["cheapest"].eq("yes")].iloc[0]
    rest = totals.loc[totals["cheapest"].eq("no")].sort_values("present_value", kind="stable")
    first = totals.iloc[0]
    dearer = ", ".join(
        f"{row['name']} costs {_more(row['present_value'] - best['present_value'])}" for row in rest.to_dict("records")
    )
    said = [
        f"{_capital(best['name'])} is the cheapest over {years} years: {_big(best['present_value'])} in today's worth "
        f"(discounted at {rate} a year; the allowance for homes without heat is in it); {dearer}."
    ]
    if best["policy"] != first["policy"]:
        said.append(
            f"Against {first['name']} it saves {_big(best['saving'])} in today's worth, or "
            f"{best['saving'] / first['present_value']:.1%} (80 %, for the doubt of the lives: "
            f"{_big(best['saving_low'])} to {_big(best['saving_high'])})."
        )
    said += [
        f"{_capital(row['name'])}: {_big(row['spend'])} spent over {years} years, not discounted (80 %: "
        f"{_big(row['spend_low'])} to {_big(row['spend_high'])}), {_big(row['first_year_spend'])} of it in the first; "
        f"{row['failures']:,.0f} failures (80 %: {row['failures_low']:,.0f} to {row['failures_high']:,.0f})."
        for row in totals.to_dict("records")
    ]
    return said


def _assumed(ahead: Ahead, season: Season, basis: str, head: HeadsPay, prices: Prices, policy: Policy) -> list[str]:
    years = ahead.failures().shape[1]
    renewed = ahead.of("renewed_with_heating")[0].sum()
    winter, priced = cold_share(season), policy.number("money.winter_share")
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
            f" {renewed:,.0f} valves are new when their home's heating is renewed, on the date recorded; what that "
            "renewal costs is not counted here."
            if renewed >= 0.5
            else ""
        ),
        f"By the season of the log {winter:.0%} of failures fall from 1 November to 30 April; the allowance for homes "
        f"without heat counts {priced:.0%} of failures (money.winter_share).",
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


def _more(amount: float) -> str:
    return "the same" if amount < NOTHING else f"{_big(amount)} more"


def _big(amount: float) -> str:
    """An amount to three or four figures: £195.8 million, £4,850."""
    if abs(amount) >= 1e6:
        return f"{pounds(round(amount / 1e6, 1 if abs(amount) >= 1e8 else 2))} million"
    places = 2 - math.floor(math.log10(max(abs(amount), 100.0)))
    return pounds(round(amount, places) + 0.0)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
