"""The last plan: what the planner settled on the sheets Visits and Left out, and what the teams did since."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import pandas as pd

from audit.intake.heads import words_of
from audit.intake.own_cells import cells as cells_of
from audit.intake.own_cells import column, columns
from audit.intake.sheet import Rows, Sheet
from audit.intake.values import parse
from audit.intake.values.yes_no import CROSSES
from audit.policy import Policy
from schemas import work_list as words

OUTCOME: Final = ("visit_number", "outcome", "done_on", "unused", "puts_right", "denied")


def read_plan(said: list[str], sheet: Sheet, header: int, policy: Policy) -> pd.DataFrame:
    """The planner's rows of the sheet Visits or Left out; what cannot be read is added to `said`."""
    at = columns(sheet, header, words.PLANNER)
    rows: Rows = np.arange(header + 1, sheet.grid.height)
    cells = {name: cells_of(sheet, place, rows) for name, place in at.items()}
    used = np.array([cell is not None for cell in cells["home_id"]], dtype=bool)
    kinds = {
        "include": column("homes", "priority_household"),
        "keep": column("homes", "priority_household"),
        "week_starting": column("homes", "gas_check_due"),
    }
    plan: dict[str, Any] = {}
    for name, cell in cells.items():
        plan[name] = [None if c is None else words_of(c) for c in cell[used]]
        if name in kinds:
            marked = [_mark(c, name, left_out="keep" not in at) for c in cell[used]]
            read = parse(pd.Series(marked, dtype=object), kinds[name], epoch_1904=sheet.epoch_1904, policy=policy)
            plan[name] = read.values.array
            said += [
                f"{sheet.place}, row {sheet.row_number(int(rows[used][pos]))}: {words.PLANNER[name]} “{value}” cannot "
                f"be read ({reason}); it was taken as empty."
                for pos, value, reason in read.bad[["pos", "value", "reason"]].itertuples(index=False)
            ]
    places = [f"{sheet.place}, row {sheet.row_number(int(row))}" for row in rows[used]]
    return pd.DataFrame(plan).assign(status="planned" if "keep" in at else "left_out", place=places)


def _mark(cell: object, name: str, *, left_out: bool) -> object:
    """A cross beside Keep, or beside a visit left out, means yes; beside a visit planned it may mean either."""
    if name not in ("include", "keep") or words_of(cell).lower() not in CROSSES:
        return cell
    return "yes" if name == "keep" or left_out else "x, which may mean yes or no"


def joined(plans: Sequence[pd.DataFrame], outcomes: Sequence[pd.DataFrame]) -> list[pd.DataFrame]:
    """The last plan, with the last outcome of each visit beside it."""
    if not plans:
        return []
    plan = pd.concat(plans, ignore_index=True)
    done = pd.concat([*outcomes, pd.DataFrame(columns=list(OUTCOME))], ignore_index=True)
    done = done.astype({name: "datetime64[us]" if name == "done_on" else "str" for name in OUTCOME})
    done = done.sort_values("done_on", kind="stable", na_position="first").drop_duplicates("visit_number", keep="last")
    return [plan.astype({"visit_number": "str"}).merge(done, on="visit_number", how="left")]


def last_plan(plans: Sequence[pd.DataFrame]) -> tuple[pd.DataFrame | None, list[str]]:
    """Of several work lists the newest by its own date, then the one that reaches furthest; which one is said.

    Of the others counts what was done, also where it was done after the newest was written.
    """
    if not plans:
        return None, []
    last = max(plans, key=lambda plan: (_dated(plan), _reaches(plan)))
    if len(plans) == 1:
        return last, []
    others = pd.concat([plan for plan in plans if plan is not last], ignore_index=True)
    later = others.loc[others["done_on"].ge(_dated(last))].drop_duplicates("visit_number", keep="last")
    more = later.set_index("visit_number")[list(OUTCOME[1:])].reindex(last["visit_number"]).set_axis(last.index)
    last = last.assign(**{name: last[name].where(last["done_on"].notna(), more[name]) for name in OUTCOME[1:]})
    place = str(last["place"].iloc[0]).split(",")[0] if len(last) else "the last of them"
    day = _dated(last)
    dated = "" if day == pd.Timestamp.min else f", as of {day.day} {day:%B %Y}"
    told = f"{len(plans)} work lists were given: the plan is carried on from the newest, {place}{dated}; of the others"
    return last, [f"{told} only what was done counts."]


def _dated(plan: pd.DataFrame) -> pd.Timestamp:
    """The date of a plan's list."""
    days = plan["as_of"].dropna() if "as_of" in plan else pd.Series(dtype="datetime64[us]")
    return pd.Timestamp(days.iloc[0]) if len(days) else pd.Timestamp.min


def _reaches(plan: pd.DataFrame) -> pd.Timestamp:
    """The last week of a plan."""
    weeks = plan["week_starting"].dropna() if "week_starting" in plan else pd.Series(dtype="datetime64[us]")
    return pd.Timestamp(weeks.max()) if len(weeks) else pd.Timestamp.min
