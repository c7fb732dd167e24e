"""Visits: all the jobs of a home in one, with one call-out, hours and parts summed, ranked."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import pandas as pd

from audit.choice.prices import Prices
from audit.model import Facts
from audit.plan.parts import listed, named
from audit.plan.split import in_trips
from audit.plan.waiting import MENDS, came_back, faults, ranked, without_heat
from audit.policy import Policy
from audit.repeats.text import joined_by
from schemas import words
from schemas.results import SEVERITY_ORDER
from schemas.work_list import ACTION_OF, HOME, OTHER

TOGETHER = ("full", "relocate", "repipe")  # work that may need several people at once
OF_HOME = [
    *("postcode", "scheme", "patch", "address", "access_note", "gas_check_due", "priority_household"),
    *("easting", "northing"),
]
RANKED_BY = (
    "Ranked: danger first, the shortest visit first; then homes without heat or hot water; then faults by what a "
    "week's wait costs; then what saves money, by benefit per hour. Of equals, the likelier to fail within 13 "
    "weeks comes first, then priority households, then by the home's number. The weeks go to danger and to homes "
    "without heat or hot water first, then so that waiting costs least in all: a long visit can stand behind "
    "several short ones that save more in its hours."
)


def visits(
    facts: Facts,
    jobs: pd.DataFrame,
    prices: Prices,
    policy: Policy,
    room: pd.Series | None = None,
    apart: Collection[str] = (),
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return one row a visit, most urgent first (`RANKED_BY`), rank from 1; and the parts.

    Hours are those of its jobs and, once, `hours.visit`; cost is that of its jobs and one call-out. A home has one
    visit, but where that would be longer than `room` (hours by home_id), or `apart` asks for its danger alone,
    another visit, with a call-out of its own, which its benefit pays for.

    Returns:
        The visits, and one row a visit and part: rank, part, name (what it must fit), voltage, pieces.
    """
    work = jobs.assign(
        worst=jobs["severity"].map(SEVERITY_ORDER).astype("int64"), drains=jobs["drain_down"].eq("yes")
    ).sort_values(["home_id", "worst", "valve_id"], kind="stable", na_position="first")  # the first drains for all
    room = pd.Series(dtype="float64") if room is None else room
    work = _with_people(work, prices, policy)
    work = in_trips(work.reset_index(drop=True), room, apart, prices, policy)
    number = work.groupby(["home_id", "trip"], sort=True).ngroup()
    parts = named(work, facts).assign(visit=lambda lines: number.to_numpy()[lines["job"]])
    made = _made(work, number, parts, prices, policy)
    homes = facts.homes.drop_duplicates("home_id").set_index("home_id")[OF_HOME]
    made = made.join(homes, on="home_id", how="left")
    again = made["home_id"].map(came_back(facts, policy)).astype("float64").fillna(0.0).where(made["trip"].eq(0), 0.0)
    made = made.assign(
        came_back=again, no_heat=made["home_id"].isin(without_heat(facts, policy)) & made["severity"].isin(MENDS)
    )
    order = ranked(made, policy)
    rank = pd.Series(np.arange(1, len(order) + 1), index=order)
    parts = parts.assign(rank=parts["visit"].map(rank))[["rank", "part", "name", "voltage", "pieces"]]
    parts = parts.groupby(["rank", "part", "name", "voltage"], sort=True)["pieces"].sum().reset_index()
    return made.loc[order].assign(rank=rank).reset_index(drop=True), parts


def _with_people(work: pd.DataFrame, prices: Prices, policy: Policy) -> pd.DataFrame:
    """Add `people` who must be there at once: the hours of each count, in the team's week and in the money."""
    people = pd.Series(1.0, index=work.index)
    for task in TOGETHER:
        asked = work["option"].eq(task) | work["tasks"].fillna("").str.split("; ").map(
            lambda tasks, task=task: task in tasks
        )
        people = people.mask(asked, people.clip(lower=policy.number(f"people.{task}")))
    more = work["hours"] * (people - 1.0)
    labour = more * prices.cost["labour_hour"]
    return work.assign(
        people=people,
        hours=work["hours"] + more,
        cost_gbp=work["cost_gbp"] + labour,
        benefit_gbp=work["benefit_gbp"] - labour,
        more_gbp=labour,
    )


def _named(work: pd.DataFrame, told: pd.Series) -> pd.Series:
    """Put the valve before what is told of it; what is told of the whole home stands alone."""
    return (work["valve_id"] + ": " + told).where(work["valve_id"].notna() & told.ne("."), told.mask(told.eq(".")))


def _made(work: pd.DataFrame, number: pd.Series, parts: pd.DataFrame, prices: Prices, policy: Policy) -> pd.DataFrame:
    work = work if "begun" in work else work.assign(begun=work["trip"])
    work = work.assign(lasts=1.0 - work["chance_fail_quarter"].fillna(0.0), faults=faults(work))
    by_visit = work.groupby(number, sort=True)
    made = by_visit.agg(
        home_id=("home_id", "first"),
        trip=("trip", "first"),
        severity=("severity", "first"),
        hours=("hours", "sum"),
        cost_gbp=("cost_gbp", "sum"),
        benefit_gbp=("benefit_gbp", "sum"),
        more_gbp=("more_gbp", "sum"),
        lasts=("lasts", "prod"),
        faults=("faults", "sum"),
        drains=("drains", "any"),
        people=("people", "max"),
        stretch=("stretch", "first"),
        stretches=("stretches", "first"),
        begun=("begun", "first"),
    )
    of = made.groupby("home_id")["trip"].transform("max") + 1
    place = parts["part"].map({item: at for at, item in enumerate(words.RATE_ITEM)})
    lines = parts.assign(place=place).sort_values(["visit", "place", "name"], kind="stable")
    call_out = prices.cost["call_out"]
    code = pd.Series(_codes(work), index=work.index, dtype="str")
    which = "visit " + (made["trip"] + 1).astype("str") + " of " + of.astype("str")
    return made.assign(
        chance_fail_quarter=(1.0 - made["lasts"]).round(6),
        of_visits=which.where(of.gt(1), "").astype("str"),
        visit_number=made["home_id"] + "-P" + (made["trip"] + 1).astype("str"),
        work=joined_by(number, code, "; "),
        puts_right=joined_by(number, _rules(work), "; ").reindex(made.index),
        jobs=joined_by(number, _named(work, work["what"]), "\n"),
        why=joined_by(number, _named(work, work["reason"] + "."), "\n"),
        parts=listed(lines, "visit", "part").reindex(made.index).fillna("").astype("str"),
        parts_named=listed(lines, "visit", "name").reindex(made.index).fillna("").astype("str"),
        hours=(made["hours"] + policy.number("hours.visit") * made["people"]).round(4),  # no crumbs of decimal sums
        cost_gbp=(made["cost_gbp"] + call_out).round(2),
        benefit_gbp=(made["benefit_gbp"] - call_out * made["trip"].gt(0)).round(2),
        drain_down=pd.Series(np.where(made["drains"], "yes", "no"), dtype="str", index=made.index),
    )


def _rules(work: pd.DataFrame) -> pd.Series:
    """Each job that is done as 'valve = rule, rule', to be read back; missing where it puts no finding right."""
    if "puts_right" not in work:
        return pd.Series(index=work.index, dtype="str")
    done = work["stretch"].eq(work["stretches"]) & work["puts_right"].notna()
    return (work["valve_id"].fillna(HOME) + " = " + work["puts_right"].astype("str")).where(done)


def _codes(work: pd.DataFrame) -> list[str]:
    """Each job as 'valve = action, action', for the sheets of the teams to be read back."""
    done = work["stretch"].eq(work["stretches"])  # work that goes on is not yet done
    option, tasks = work["option"].fillna("leave").where(done, "leave"), work["tasks"].fillna("").where(done, "")
    rows = zip(work["valve_id"].fillna(HOME), option, tasks, strict=True)
    return [f"{valve} = {', '.join(_actions(option, tasks))}" for valve, option, tasks in rows]


def _actions(option: str, tasks: str) -> list[str]:
    asked = [task for task in ([] if option == "leave" else [option]) + tasks.split("; ") if task]
    return list(dict.fromkeys(ACTION_OF.get(task, OTHER) for task in asked)) or [OTHER]
