"""Why a visit stands where it stands, or was left out, and what leaving it costs."""

from __future__ import annotations

import numpy as np
import pandas as pd

from audit.choice.prices import pounds
from audit.plan.problem import CRUMB, NOWHERE, Flags, Numbers, Placed, Problem, Whole, hours_used
from audit.plan.windows import Windows
from audit.repeats.text import short_day

TAKEN_OUT = "taken out by the planner (include: no)"


def why_here(
    visits: pd.DataFrame,
    at: pd.DataFrame,
    week: Whole,
    possible: Flags,
    there: Windows,
    *,
    joined: Flags,
    late: Flags,
    kept: Flags,
) -> pd.Series:
    """Why a planned visit has this team and week; where it is not the quarter's first week, why not.

    Args:
        visits: The visits, ranked.
        at: Their slots.
        week: Week of each, from 0.
        possible: Weeks in which its window is open and a team has the hours for it, shape (n, w).
        there: Their windows.
        joined: It joins a gas safety check there.
        late: Danger, later than it should be.
        kept: The planner keeps it there.
    """
    first, open_first = there.allowed.argmax(axis=1), possible.argmax(axis=1)
    soonest = short_day(pd.Series(there.weeks[open_first], index=at.index))
    why = ("could be from the week of " + soonest + ", but the hours till then save more with other visits").astype(
        "str"
    )
    why = why.mask(week == open_first, "the first week in which its teams have the hours")
    why = why.mask(week == first, "its first week")
    why = why.mask(visits["no_heat"], "home without heat or hot water: " + why)
    why = why.mask(joined, "joins the gas safety check: no call-out and no travel of its own")
    waits = (first > 0) & (week > 0)
    arrives = "its parts are there from " + short_day(there.arrival)
    why = why.mask(waits & there.cold, why + ", out of the cold months").astype("str")
    why = why.mask(waits & ~there.cold & there.arrival.notna(), why + ", " + arrives).astype("str")
    why = why.mask(late, "DANGER PLANNED LATE: no room sooner; make the home safe before")
    own = at["patch"].eq(visits["patch"]).fillna(False)
    team: pd.Series = pd.Series("a team open to it", index=at.index, dtype="str").mask(own, "its patch's own team")
    return (why + ", " + team).mask(kept & ~late, "kept here by the planner")


def left_out(
    visits: pd.DataFrame,
    most: pd.Series,
    there: Windows,
    worth: Numbers,
    *,
    barred: Flags,
    dear: Flags,
    split: Flags,
    spare: pd.Series,
) -> pd.Series:
    """Why a visit found no room, and what leaving it costs.

    Args:
        visits: The visits, ranked.
        most: Longest week of the teams that may come, less travel, in hours; 0 or less where there is none.
        there: Their windows.
        worth: GBP by week, −inf outside the window.
        barred: Taken out by the planner.
        split: Longer than any week, and not worth weeks in a row, or no team has them.
        dear: Costs more than is left of the budget.
        spare: Where teams of other patches have the hours (`spare_elsewhere`); missing where they have not.
    """
    needs = visits["hours"].map(lambda hours: f"{hours:.4g} h").astype("str")
    longest = most.map(lambda hours: f"{hours:.4g} h").astype("str")
    danger = visits["severity"].eq("danger")
    why = ("others are worth more for the hours there are, and none has " + needs + " left for it").astype("str")
    own = ("no team that works in " + visits["patch"].astype("str") + " has " + needs + " left for it").astype("str")
    why = why.mask(danger, "no week has " + needs + " left for it").mask(spare.notna(), own + spare)
    money = "others are worth more for the budget there is, and too little of it is left for " + visits["cost_gbp"].map(
        pounds
    ).astype("str")
    why = why.mask(dear, money.mask(danger, "the budget is spent"))
    worthless = pd.Series(worth.max(axis=1, initial=-np.inf), index=visits.index).le(0)
    why = why.mask(worthless & ~danger, "a visit for it alone costs more than it saves")
    never = np.asarray(~there.allowed.any(axis=1), dtype=bool)
    why = why.mask(never, "its parts come after the quarter")
    why = why.mask(
        np.asarray(never & there.cold, dtype=bool), "drain-down in a priority household, kept out of the cold months"
    )
    too_long = "needs " + needs + " in one go, longer than any week of its teams (" + longest + " without travel)"
    why = why.mask(most.lt(visits["hours"]), too_long + spare.fillna(""))
    why = why.mask(most.le(0.0), "no team has hours for its patch in the quarter" + spare.fillna(""))
    why = why.mask(split, "longer than any week of its teams, and no weeks in a row were found that are worth it")
    why = why.mask(barred, TAKEN_OUT)
    cost = visits["benefit_gbp"].map(pounds).astype("str")
    costs = "leaving it forgoes " + cost
    nothing = visits["benefit_gbp"].le(0)
    costs = costs.mask(nothing, "nothing is lost by leaving it")
    stays = ("leaving it costs about " + cost).mask(nothing, "no money is lost by leaving it") + " and the fault stays"
    costs = costs.mask(visits["severity"].eq("fault"), stays)
    costs = costs.mask(danger, "the danger stays: it must be made safe outside this plan")
    return why + "; " + costs


def spare_elsewhere(visits: pd.DataFrame, slots: pd.DataFrame, it: Problem, found: Placed, there: Windows) -> pd.Series:
    """Say for visits left out which team of another patch has the hours left, were it to come; missing where none has.

    Of the weeks closed to a patch the one with the most hours left is named, the first of equals.
    """
    free = it.room - hours_used(it, found.slot) - it.travel
    said: pd.Series = pd.Series(np.nan, index=visits.index, dtype="str")
    for line in np.unique(it.line[found.slot == NOWHERE]):
        closed = np.setdiff1d(np.arange(len(free)), it.open_to[line])
        if not len(closed):
            continue
        best = closed[free[closed].argmax()]
        week = it.week[best]
        fits = there.allowed[:, week] & (it.hours[:, week] <= free[best] + CRUMB)
        team, starts = slots.loc[best, "team"], slots["week_starting"]
        told = f"; {team} has {free[best] + it.travel:.4g} h left in the week of {short_day(starts).loc[best]}"
        said = said.mask((it.line == line) & (found.slot == NOWHERE) & fits, told + ", if it may work there")
    return said
