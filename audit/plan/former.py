"""What the planner settled in the last work list: visits kept in their team and week, and visits taken out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import pandas as pd

from audit.plan.problem import CRUMB, NOWHERE, Flags, Whole
from audit.plan.windows import Windows
from audit.repeats.text import short_day

COLUMNS: Final = (
    *("visit_number", "home_id", "include", "keep", "team", "week_starting", "status", "why", "history"),
    *("outcome", "done_on", "unused", "puts_right", "denied", "place"),
)
NAMED: Final = 20  # rows named in sentences


def no_former() -> pd.DataFrame:
    """An empty former plan."""
    return former_frame({})


def former_frame(columns: Mapping[str, Any] | pd.DataFrame) -> pd.DataFrame:
    """A former plan with typed columns, one row a visit; columns that are not given are missing."""
    frame = pd.DataFrame(dict(columns), columns=list(COLUMNS))
    dates = dict.fromkeys(("week_starting", "done_on"), "datetime64[us]")
    return frame.astype({name: dates.get(name, "str") for name in COLUMNS})


@dataclass(frozen=True)
class Wishes:
    """For each visit (n): whether the planner took it out, and the slot that it has to be in (NOWHERE: free).

    `kept` are those whose slot the planner chose; `split` is longer than a week, and no team has weeks in a row for it.
    """

    barred: Flags
    slot: Whole
    kept: Flags
    split: Flags

    @property
    def out(self) -> Flags:
        """Visits that may be nowhere."""
        return np.asarray(self.barred | self.split)

    def on(self, there: Windows, week: Whole) -> Windows:
        """The windows with the planner's will in them; `week` is the week of each slot."""
        allowed = there.allowed & ~self.out[:, None]
        kept = np.flatnonzero(self.slot != NOWHERE)
        allowed[kept, week[self.slot[kept]]] = True
        return replace(there, allowed=allowed)


def single(former: pd.DataFrame, homes: pd.Series) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Return the former plan with one row a visit of a home that there is, and what has to be said of the others."""
    numbered = former["visit_number"].notna()
    told = [
        (~numbered, "has no visit number in its row, which was not used"),
        (numbered & former["visit_number"].duplicated(), "has a row already, which counts"),
        (
            former["home_id"].notna() & ~former["home_id"].isin(homes),
            "is to a home that is not known, and was not used",
        ),
    ]
    said, bad = [], pd.Series(False, index=former.index)
    for rows, reason in told:
        new = rows & ~bad
        said += [f"{row['place']}: {_named(row)}{reason}." for row in former.loc[new].to_dict("records")]
        bad |= rows
    return former.loc[~bad].reset_index(drop=True), _few(said)


def wishes(
    former: pd.DataFrame, visits: pd.DataFrame, slots: pd.DataFrame, there: Windows, travel: float
) -> tuple[Wishes, tuple[str, ...]]:
    """Find each kept visit its slot, in the order of the ranking; what cannot be kept is said and left free.

    Args:
        former: The former plan, one row a visit.
        visits: The visits, ranked.
        slots: The slots, as `audit.plan.slots.usable` gives them.
        there: Windows of the visits.
        travel: Hours that a slot spends for each area; reckoned here by visit, to be on the safe side.
    """
    by = former.set_index("visit_number").reindex(visits["visit_number"]).reset_index(drop=True)
    barred = by["include"].eq("no").to_numpy(dtype=bool)
    both = by.loc[barred & by["keep"].eq("yes").to_numpy()]
    chosen = np.full(len(visits), NOWHERE, dtype=np.int64)
    room = slots["hours"].tolist()
    said = [
        f"{row['place']}: {_named(row)}has Include no and Keep yes: it is taken out, and Keep is passed over."
        for row in both.to_dict("records")
    ]
    first = pd.Timestamp(there.weeks[0])
    forced = (by["status"].eq("left_out") & by["include"].eq("yes")).to_numpy()
    keep = (by["keep"].eq("yes").to_numpy() | forced) & ~barred
    past = keep & ~forced & by["week_starting"].lt(first).to_numpy()
    if past.any():
        said.append(
            f"{past.sum():,} of the visits kept in the last work list stood in weeks before {first:%-d %B %Y} and are "
            "planned afresh."
        )
    asks = by.assign(at=range(len(by)), forced=forced, patch=visits["patch"].array, area=visits["area"].array)
    areas: list[set[str]] = [set() for _ in room]
    for row in asks.loc[keep & ~past].to_dict("records"):
        at = int(row["at"])
        week, why_not = (0, "") if row["forced"] else _week(row, there)
        open_slots = [] if why_not else _anywhere(row, slots, there) if row["forced"] else _of_team(row, slots)
        why_not = why_not or ("" if row["forced"] else _no_team(row, slots, open_slots))
        for slot in open_slots:
            week = _week_of(slot, slots, there)
            needs = there.hours[at, week] + there.allowance[at] + travel * (row["area"] not in areas[slot])
            if needs <= room[slot] + CRUMB:
                chosen[at], room[slot] = slot, room[slot] - needs
                areas[slot].add(row["area"])
                break
        if chosen[at] == NOWHERE and row["forced"]:
            said.append(
                f"{row['place']}: {_named(row)}cannot be put in (Include: yes): no team open to it has the hours."
            )
        elif chosen[at] == NOWHERE:
            why_not = why_not or _no_room(row, there.hours[at, week] + there.allowance[at], open_slots, room)
            said.append(f"{row['place']}: {_named(row)}cannot be kept where it stood: {why_not}; it is planned afresh.")
        elif not row["forced"] and there.arrival[at] > row["week_starting"]:
            said.append(
                f"{row['place']}: {_named(row)}is kept in the {_of(row)}, before its parts come "
                f"({there.arrival[at]:%-d %B %Y}, ordered today); see that they are there."
            )
    return Wishes(barred, chosen, chosen != NOWHERE, np.zeros(len(visits), dtype=bool)), _few(said)


def _named(row: dict[Any, Any]) -> str:
    return f"the visit to {row['home_id']} " if isinstance(row["home_id"], str) else "the visit "


def _of(row: dict[Any, Any]) -> str:
    return f"week of {row['week_starting']:%-d %B %Y}"


def _week(row: dict[Any, Any], there: Windows) -> tuple[int, str]:
    """The week's number in the quarter, or why it cannot be kept."""
    starts = row["week_starting"]
    if starts is pd.NaT or starts != starts:
        return 0, "no week is given"
    first = pd.Timestamp(there.weeks[0])
    week = (starts - first).days // 7
    if week >= len(there.weeks):
        last = pd.Timestamp(there.weeks[-1])
        return 0, f"the {_of(row)} lies outside the quarter, whose last week is that of {last:%-d %B %Y}"
    if there.cold[int(row["at"])] and not there.allowed[int(row["at"]), week]:
        return 0, "it drains down in a priority household, and that week is in the cold months"
    return week, ""


def _anywhere(row: dict[Any, Any], slots: pd.DataFrame, there: Windows) -> list[int]:
    """The slots open to a visit, the first week first: its own patch's, or those that go anywhere."""
    own = slots["patch"].eq(row["patch"]) if isinstance(row["patch"], str) else pd.Series(True, index=slots.index)
    order: list[int] = slots.loc[own | slots["patch"].isna()].sort_values("week_starting", kind="stable").index.tolist()
    return [slot for slot in order if there.allowed[int(row["at"]), _week_of(slot, slots, there)]]


def _week_of(slot: int, slots: pd.DataFrame, there: Windows) -> int:
    """The week's number in the quarter of a slot."""
    days: int = (slots["week_starting"].loc[slot] - pd.Timestamp(there.weeks[0])).days
    return days // 7


def _of_team(row: dict[Any, Any], slots: pd.DataFrame) -> list[int]:
    """The team's slots of that week: its own patch first, then one that goes anywhere, then any."""
    day = (row["week_starting"] - slots["week_starting"]).dt.days
    mine = slots.loc[slots["team"].eq(row["team"]) & day.ge(0) & day.lt(7)]
    own, anywhere = mine["patch"].eq(row["patch"]), mine["patch"].isna()
    order: list[int] = [*mine.index[own], *mine.index[anywhere & ~own], *mine.index[~own & ~anywhere]]
    return order


def _no_team(row: dict[Any, Any], slots: pd.DataFrame, found: list[int]) -> str:
    if not isinstance(row["team"], str):
        return "no team is given"
    if not slots["team"].eq(row["team"]).any():
        return f"no team {row['team']} has hours in the quarter"
    return "" if found else f"{row['team']} has no hours in the {_of(row)}"


def _no_room(row: dict[Any, Any], needs: float, found: list[int], room: list[float]) -> str:
    left = max((room[slot] for slot in found), default=0.0)
    return f"it needs {needs:.4g} h, and {row['team']} has {max(left, 0.0):.4g} h left in the {_of(row)}"


def _few(said: list[str]) -> tuple[str, ...]:
    more = [f"{len(said) - NAMED:,} more rows of the last work list could not be followed."]
    return tuple(said[:NAMED] + (more if len(said) > NAMED else []))


def became(row: pd.DataFrame, begins: pd.Timestamp, as_of: pd.Timestamp) -> pd.Series:
    """What became of each visit of the former plan, as far as its week is past or somebody was there; else empty.

    Args:
        row: Rows of the former plan.
        begins: First day of the new quarter.
        as_of: Today.
    """
    outcome = row["outcome"].astype("str").str.replace("_", " ").fillna("done, no outcome written")
    there = outcome + " on " + short_day(row["done_on"])
    past = row["status"].eq("planned") & row["week_starting"].lt(begins)
    text = pd.Series("", index=row.index, dtype="str").mask(past, "not done")
    text = text.mask(past & (row["week_starting"] + pd.Timedelta(days=7)).gt(as_of), "its week not over yet")
    text = text.mask(used(row, as_of), there.mask(row["denied"].eq("yes"), there + ", but its note says otherwise"))
    why_not = "its day, " + short_day(row["done_on"]) + ", is after " + f"{as_of.day} {as_of:%b %Y}"
    why_not = row["unused"].astype("str").where(row["unused"].notna(), why_not)
    filled = row["unused"].notna() | row["done_on"].notna()
    return text.mask(filled & ~used(row, as_of), "not used: " + why_not)


def used(row: pd.DataFrame, as_of: pd.Timestamp) -> pd.Series:
    """Whether what was filled in for each visit of the former plan could be used."""
    found: pd.Series = row["done_on"].notna() & row["unused"].isna() & row["done_on"].lt(as_of + pd.Timedelta(days=1))
    return found
