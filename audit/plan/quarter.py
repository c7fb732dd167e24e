"""The plan of the quarter: visits with team and week, what was left out and what that costs."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pandas as pd

from audit.choice.prices import Prices
from audit.model import Facts
from audit.plan import gas
from audit.plan.changes import changes, with_history
from audit.plan.fitted import Work, days
from audit.plan.former import former_frame, single
from audit.plan.reasons import TAKEN_OUT
from audit.plan.reckoning import of_plan
from audit.plan.scenarios import Scenarios
from audit.plan.scenarios import planned as planned_under
from audit.plan.slots import usable
from audit.plan.stock import load, order
from audit.plan.visits import RANKED_BY, visits
from audit.plan.waiting import a_week
from audit.plan.windows import is_cold, quarter_weeks
from audit.policy import Policy
from schemas.results import RESULT_COLUMNS

NOTHING = Scenarios()
NO_STOCK = pd.DataFrame({"part": pd.Series(dtype="str"), "on_hand": [], "lead_time_days": []})


def quarter_start(as_of: dt.date) -> dt.date:
    """Return the first Monday after the as-of date."""
    return as_of + dt.timedelta(days=7 - as_of.weekday())


def plan(
    facts: Facts,
    jobs: pd.DataFrame,
    capacity: pd.DataFrame,
    prices: Prices,
    policy: Policy,
    quarter_start: dt.date,
    stock: pd.DataFrame = NO_STOCK,
    *,
    exact: bool = False,
    former: pd.DataFrame | None = None,
    asked: Scenarios = NOTHING,
) -> tuple[pd.DataFrame, dict[str, Any]]:
    """Return the `planned-visits` table, ranked, and the totals of the quarter.

    Visits go into the hours of `capacity` (columns team, patch, week_starting, hours): danger first, then so that the
    whole is worth most (`audit.plan.fit`). With an empty capacity every visit counts as planned, in one ranked list
    without team or week. `stock` has part, on_hand, lead_time_days; `exact` asks for the solver's proven best.
    `former` is the last work list as `intake.read` gives it: visits kept by the planner stay, those taken out stay out.
    `asked` are the scenarios to compare, and the budget that binds the plan.

    Returns:
        The table, and a dict: visits_planned, visits_left_out, danger_left_out, hours_there, hours_used, cost_gbp,
        benefit_gbp (of the planned), benefit_left_out_gbp, worth_gbp (what is made best), bound_gbp and gap_percent
        (of worth), method, hours_travel, hours_no_access, said (sentences the reader must see), and tables (by name:
        parts_load, parts_order, pieces, plan_changes, scenarios, benefit; see stock.py, changes.py, reckoning.py).
    """
    weeks = round(policy.number("quarter.weeks"))
    homes = facts.homes.drop_duplicates("home_id")
    last, told = single(former_frame({} if former is None else former), homes["home_id"])
    begins = pd.Timestamp(quarter_start)
    compared = pd.DataFrame(columns=[column.name for column in RESULT_COLUMNS["scenarios"]])
    if capacity.empty:
        table, parts = visits(facts, jobs, prices, policy)
        table, slots = _listed(table, last, begins, policy), capacity
        figures: dict[str, Any] = {}
        said: tuple[str, ...] = ("No capacity was given: the visits are one ranked list, without teams and weeks.",)
    else:
        slots, said = usable(capacity, quarter_start, weeks, homes["patch"])
        work = Work(facts, jobs, prices, policy, quarter_start, stock, exact, last, asked.budget)
        done, compared, more = planned_under(work, slots, asked)
        table, parts, figures = done.table, done.parts, done.figures
        said += (*done.said, *more)
    said += told
    table = with_history(table, last, begins, facts.as_of)
    table = table.assign(gas_note=gas.notes(table["gas_check_due"], table["week_starting"], facts.as_of))
    planned, danger = table["status"].eq("planned"), table["severity"].eq("danger")
    totals = {
        "visits_planned": int(planned.sum()),
        "visits_left_out": int((~planned).sum()),
        "danger_left_out": int((danger & ~planned).sum()),
        "hours_there": round(float(slots["hours"].sum()), 2),
        "hours_used": round(float(table.loc[planned, "hours"].sum()), 2),
        "cost_gbp": round(float(table.loc[planned, "cost_gbp"].sum()), 2),
        "benefit_gbp": round(float(table.loc[planned, "benefit_gbp"].sum()), 2),
        "benefit_left_out_gbp": round(float(table.loc[~planned, "benefit_gbp"].clip(lower=0.0).sum()), 2),
        "ranked_by": RANKED_BY,
        **figures,
        "said": (*said, *gas.said(homes.set_index("home_id")["gas_check_due"], facts.as_of)),
        "tables": {
            "parts_load": load(table.loc[planned], parts),
            "parts_order": order(table.loc[planned], parts, stock, facts.as_of),
            "pieces": parts,
            "scenarios": compared,
            "benefit": of_plan(jobs, table, prices),
            "plan_changes": changes(table, last, begins, facts.as_of),
            "slots": slots[["week_starting", "team", "patch", "hours"]],
        },
    }
    return table[[column.name for column in RESULT_COLUMNS["planned-visits"]]], totals


def _listed(ranked: pd.DataFrame, former: pd.DataFrame, begins: pd.Timestamp, policy: Policy) -> pd.DataFrame:
    cold = int(is_cold(quarter_weeks(begins, policy), policy).sum())
    barred = ranked["visit_number"].isin(former.loc[former["include"].eq("no"), "visit_number"])
    return ranked.assign(
        joins=False,
        whole_gbp=ranked["benefit_gbp"],
        include=pd.Series("no", index=ranked.index, dtype="str").where(barred),
        keep=pd.Series(np.nan, index=ranked.index, dtype="str"),
        team=pd.Series(np.nan, index=ranked.index, dtype="str"),
        week_starting=pd.Series(pd.NaT, index=ranked.index, dtype="datetime64[us]"),
        status=pd.Series("planned", index=ranked.index, dtype="str").mask(barred, "left_out"),
        reason=pd.Series("in the order of the ranking; no capacity was given", index=ranked.index, dtype="str").mask(
            barred, TAKEN_OUT
        ),
        days=days(ranked["hours"], ranked["people"], policy.number("plan.day")),
        allowance_h=0.0,
        wait_gbp=a_week(ranked, cold, policy),
        earliest_week=pd.Series(pd.NaT, index=ranked.index, dtype="datetime64[us]"),
    )
