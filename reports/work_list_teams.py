"""One sheet a team: visits in week and street order, danger first, with boxes to tick, outcome, readings, tests."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from reports.look import SEVERITY_WORD, Field
from reports.work_list_quarter import choices
from schemas import words as w
from schemas.results import CAUTIONS
from schemas.work_list import BOX, NUMBER, PUTS_RIGHT, ROOM

if TYPE_CHECKING:
    import pandas as pd

    from reports.workbook import Book

TEAM: Final = (
    Field("done", "Done", width=8),
    Field("place", "Week and home", "prose", 17),
    Field("jobs", "What to do, and why", "prose", 43),
    Field("know", "Parts, hours, to know", "prose", 23),
    Field("tests", "Tests after the work", "prose", 23),
    Field("outcome", "Outcome", width=11),
    Field("done_on", "Done on", width=10),
    Field("earthed", "Earth proved (yes/no)", width=10),
    Field("readings", "Readings (°C)", "prose", 13),
    Field("notes", "Notes", width=14),
    Field("week_starting", "Week", "date", 13, paper=False),
    Field("hours", "Hours (h)", "number", 8, paper=False),
    Field("visit_number", NUMBER, width=16, paper=False),
    Field("work", "Valves and work", width=30, paper=False),
    Field("puts_right", PUTS_RIGHT, width=30, paper=False),
)
BEFORE_POWER: Final = ("lever out of its filling position", "drive dead: it springs back", "earth continuity")
AT_LAST: Final = ("only with the earth proved, drive live: it travels, the end switch makes", "readings written down")
AFTER_WATER: Final = ("no weep", "vented, inhibitor dosed")
AFTER_SETTING: Final = ("store, tap and bath tap read", "nobody can be scalded")
PLACE: Final = ("mark", "week", "home_id", "address", "postcode")  # what one cell holds, a line each
KNOW: Final = ("parts", "time", "fault", "of_visits", "days", "gas_note", "access_note", "history")
NO_SHEET: Final = re.compile(r"[\[\]:*?/\\'\x00-\x1f]")


def add_teams(book: Book, planned: pd.DataFrame, max_rows: int) -> int:
    """Add the sheets, as many whole teams as `max_rows` visits allow; returns how many teams have none."""
    if planned["team"].isna().all():
        return 0
    visits = _prepared(planned)
    left = max_rows
    missing = 0
    for place, (team, rows) in enumerate(visits.groupby("team", sort=True), 1):
        if len(rows) > left:
            missing += 1
            continue
        left -= len(rows)
        name = NO_SHEET.sub(" ", f"{place} {team}")[:31].strip()
        layout = book.table(name, f"{team}", rows, TEAM, note=NOTE, freeze=2, strong="danger")
        choices(layout, "done", f"{BOX},☑")
        choices(layout, "outcome", ",".join(w.OUTCOME))
        choices(layout, "earthed", ",".join(w.YES_NO))
    return missing


NOTE: Final = " ".join(("In week and street order, danger first.", *CAUTIONS))


def _prepared(planned: pd.DataFrame) -> pd.DataFrame:
    street = planned["address"].astype("str").str.replace(r"^\s*\d+\w*\s*", "", regex=True).fillna("")
    number = planned["address"].astype("str").str.extract(r"(\d+)", expand=False).astype("float64").fillna(0.0)
    danger = planned["severity"].eq("danger")
    keys = planned.assign(street=street, number=number, code=planned["postcode"].fillna(""), danger=danger)
    order = ["team", "week_starting", "danger", "code", "street", "number", "home_id"]
    keys = keys.sort_values(order, ascending=[name != "danger" for name in order], kind="stable")
    water = keys["drain_down"].eq("yes") | keys["parts"].fillna("").str.contains("valve_", regex=False)
    return keys.assign(
        done=BOX,
        place=_lines(
            keys.assign(
                mark=keys["danger"].map({True: SEVERITY_WORD["danger"].upper()}),
                week=keys["week_starting"].dt.strftime("w/c %d %b %Y"),
            ),
            PLACE,
        ),
        jobs=_lines(keys.assign(why="Why: " + keys["why"].astype("str")), ["jobs", "why"]),
        know=_lines(
            keys.assign(
                parts="Parts: " + keys["parts_named"].where(keys["parts_named"].ne("")),
                time=keys["hours"].map("{:.1f} h".format, na_action="ignore"),
                fault=keys["severity"].where(keys["severity"].eq("fault")),
            ),
            KNOW,
        ),
        tests=_tests(water, _warmth(keys["jobs"])),
        readings=ROOM,
    )


def _lines(frame: pd.DataFrame, columns: Sequence[str]) -> pd.Series:
    """The texts of a row below each other, the missing ones left out."""
    texts = [frame[column].astype("str").fillna("") for column in columns]
    whole: pd.Series[Any] = texts[0]
    for text in texts[1:]:
        whole = whole.mask(text.ne(""), whole + "\n" + text).mask(whole.eq(""), text)
    return whole


def _warmth(jobs: pd.Series) -> pd.Series:
    """Whether a visit measures or sets how hot the water is."""
    said = "|".join(re.escape(w.TASK[task]) for task in ("set_temperature", "near_boiling"))
    return jobs.str.contains(said, case=False, regex=True, na=False)


def _tests(water: pd.Series, warmth: pd.Series) -> pd.Series:
    """The boxes for each visit: `water` is let out or a body changed, `warmth` is the water's temperature set."""
    kinds = water.astype("int64") + 2 * warmth.astype("int64")
    lists = {
        wet + 2 * warm: (*BEFORE_POWER, *AFTER_WATER * wet, *AFTER_SETTING * warm, *AT_LAST)
        for wet in (0, 1)
        for warm in (0, 1)
    }
    texts = {kind: "\n".join(f"{BOX} {test}" for test in tests) for kind, tests in lists.items()}
    return kinds.map(texts).astype("str")
