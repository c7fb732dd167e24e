"""From the options' benefit to the plan's, line by line: what each step adds or takes, so that the sums agree."""

from __future__ import annotations

from typing import Final

import pandas as pd

from audit.choice import bill as bills
from audit.choice.options import fault_surcharge
from audit.choice.prices import Prices
from audit.plan.split import AGAIN
from audit.policy import Policy

COLUMNS: Final = ("line", "count", "of", "benefit_gbp", "total")
Line = tuple[str, int, str, float, bool]
OPTIONS, JOBS, VISITS, PLAN = (
    "Options: the most that any possible one saves, valve by valve",
    "Jobs",
    "Visits, were all of them done at once",
    "Plan: the visits planned, in their weeks",
)


def of_jobs(options: pd.DataFrame, jobs: pd.DataFrame, prices: Prices, policy: Policy) -> pd.DataFrame:
    """Return the lines from the best benefit of the options to the benefit of the jobs; columns as COLUMNS.

    Args:
        options: The `options` table.
        jobs: The `jobs` table.
        prices: For the call-outs and drain-downs that jobs share.
        policy: For what a drain-down takes, and what leaving a fault adds.
    """
    possible = options.loc[options["feasible"].eq("yes")]
    best = possible.groupby("valve_id")["benefit_gbp"].max()
    picked = options.loc[options["chosen"].eq("yes")].set_index("valve_id")["benefit_gbp"]
    less = picked.sub(best, fill_value=0.0)
    renews = jobs["option"].ne("leave")
    needed = jobs["tasks"].fillna("").ne("") & jobs["tasks"].ne("change_head_kind")
    again = jobs["what"].fillna("").str.contains(AGAIN, regex=False)
    shared = bills.drain_hours(policy) * prices.cost["labour_hour"] + prices.cost["inhibitor"]
    moved = renews & jobs["tasks"].fillna("").str.contains("relocate", regex=False)  # one call-out for both
    calls = int(renews.sum() + needed.sum() - moved.sum()) - int(jobs["home_id"].nunique())
    lines: list[Line] = [
        (OPTIONS, int(best.gt(0).sum()), "valves", float(best.sum()), True),
        (
            "not chosen: nothing asks for it, or it does not pay for a visit",
            int(less.abs().gt(0).sum()),
            "valves",
            float(less.sum()),
            False,
        ),
        (
            "work that is needed besides: the dearer call-outs that it spares",
            int(needed.sum()),
            "jobs",
            float(needed.sum()) * fault_surcharge(prices, policy),
            False,
        ),
        ("call-outs that jobs of one home share", calls, "call-outs", calls * prices.cost["call_out"], False),
        ("drain-downs that jobs of one home share", int(again.sum()), "jobs", float(again.sum()) * shared, False),
    ]
    whole = float(jobs["benefit_gbp"].sum())
    rest = round(whole, 2) - sum(round(line[3], 2) for line in lines)
    lines.append(("nothing is counted below nought; pennies rounded", len(jobs), "jobs", rest, False))
    return _table([*lines, (JOBS, len(jobs), "jobs", whole, True)])


def of_plan(jobs: pd.DataFrame, visits: pd.DataFrame, prices: Prices) -> pd.DataFrame:
    """Return the lines from the benefit of the jobs, which `of_jobs` ends with, to that of the plan.

    Args:
        jobs: The `jobs` table.
        visits: One row a visit: home_id, trip, status, benefit_gbp, `whole_gbp` (were it done at once), `more_gbp`
            (labour of further people), `joins` (with a gas safety check).
        prices: For the call-outs that gas safety checks spare.
    """
    planned = visits["status"].eq("planned")
    people = round(-float(visits["more_gbp"].sum()), 2)
    whole = round(float(visits["whole_gbp"].sum()), 2)
    again = visits["trip"].gt(0)
    left = round(-float(visits.loc[~planned, "whole_gbp"].sum()), 2)
    joined = int((visits["joins"] & planned).sum())
    spared = round(joined * prices.cost["call_out"], 2)
    benefit = round(float(visits.loc[planned, "benefit_gbp"].sum()), 2)
    lines: list[Line] = [
        ("work for several people at once: their hours", int(visits["more_gbp"].gt(0).sum()), "visits", people, False),
        (
            "return visits: a call-out each, and draining anew",
            int(again.sum()),
            "visits",
            whole - people - round(float(jobs["benefit_gbp"].sum()), 2),
            False,
        ),
        (VISITS, len(visits), "visits", whole, True),
        ("left out", int((~planned).sum()), "visits", left, False),
        ("gas safety checks that are joined: call-outs spared", joined, "visits", spared, False),
        ("waiting for their weeks", int(planned.sum()), "visits", benefit - whole - left - spared, False),
        (PLAN, int(planned.sum()), "visits", benefit, True),
    ]
    return _table(lines)


def _table(lines: list[Line]) -> pd.DataFrame:
    table = pd.DataFrame(lines, columns=list(COLUMNS)).astype({"line": "str", "of": "str", "count": "int64"})
    return table.assign(benefit_gbp=table["benefit_gbp"].round(2) + 0.0)
