"""What was known on the as-of date: later rows are returned, later facts on earlier rows are blanked, and said."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import pandas as pd

from schemas.results import PROBLEM_COLUMNS
from schemas.tables import COLUMNS

# what a visit's row still says when nobody had been there yet
FROM_THE_REPORT: Final = ("visit_id", "home_id", "valve_id", "system", "reported", "attended", "kind", "symptom")
ON_SITE: Final = tuple(c.name for c in COLUMNS["visits"] if c.name not in FROM_THE_REPORT)
BLANKED: Final[tuple[tuple[str, str, str, tuple[str, ...]], ...]] = (  # table, date, its event, what goes with it
    ("valves", "body_fitted", "the body was fitted", ()),
    ("valves", "head_fitted", "the head was fitted", ()),
    ("valves", "location_temp_on", "the reading was taken", ("location_temp_c",)),
    ("valves", "flow_temp_on", "the reading was taken", ("flow_temp_c",)),
    ("visits", "attended", "the engineer was there", ("completed", *ON_SITE)),
    ("visits", "completed", "the job was finished", ON_SITE),
)
MEND: Final = "Nothing to mend if the date is right: it counts with a later --as-of. Otherwise correct the date."

Tables = dict[str, pd.DataFrame]


def known_on(tables: Mapping[str, pd.DataFrame], as_of: pd.Timestamp) -> tuple[Tables, pd.DataFrame]:
    """Keep what was known at the end of the as-of date.

    A visit reported later is returned. A visit attended or completed later keeps what the report said; that date and
    everything found or done on site is blanked. In the register a later date of a body, a head or a reading is blanked,
    with the reading; a valve whose body came later is returned where nothing shows that one was there before.

    Args:
        tables: The typed tables by name, with `source_file`, `source_sheet`, `source_row`.
        as_of: The as-of date; anything on that day, at any time, is known.

    Returns:
        The tables with the same columns, and the problems (`schemas.results.PROBLEM_COLUMNS`).
    """
    kept = dict(tables)
    problems: list[pd.DataFrame] = []
    end = as_of.normalize() + pd.Timedelta(days=1)
    visits, valves = kept["visits"], kept["valves"]
    later = visits["reported"] >= end
    kept["visits"] = _drop(visits, later, "visits", "reported", "the visit was reported", end, problems)
    new = (valves["body_fitted"] >= end) & ~_there_before(valves, kept["visits"], end)
    kept["valves"] = _drop(valves, new, "valves", "body_fitted", "the body was fitted", end, problems)
    for table, column, what, also in BLANKED:
        kept[table] = _blank(kept[table], table, column, what, also, end, problems)
    return kept, pd.concat([_no_problems(), *problems], ignore_index=True) if problems else _no_problems()


def _there_before(valves: pd.DataFrame, visits: pd.DataFrame, end: pd.Timestamp) -> pd.Series[bool]:
    """Which valves an earlier date, or a visit known by then, shows to have been there."""
    dated = (valves[["head_fitted", "location_temp_on", "flow_temp_on"]] < end).any(axis=1)
    return dated | valves["valve_id"].isin(visits["valve_id"].dropna())


def _drop(
    frame: pd.DataFrame,
    later: pd.Series[bool],
    table: str,
    column: str,
    what: str,
    end: pd.Timestamp,
    problems: list[pd.DataFrame],
) -> pd.DataFrame:
    if not later.any():
        return frame
    problems.append(_problem(frame[later], table, column, what, end, "returned"))
    return frame[~later].reset_index(drop=True)


def _blank(
    frame: pd.DataFrame,
    table: str,
    column: str,
    what: str,
    also: tuple[str, ...],
    end: pd.Timestamp,
    problems: list[pd.DataFrame],
) -> pd.DataFrame:
    later = frame[column] >= end
    if not later.any():
        return frame
    problems.append(_problem(frame[later], table, column, what, end, "repaired"))
    return frame.assign(**{name: frame[name].mask(later) for name in dict.fromkeys((column, *also))})


def _problem(rows: pd.DataFrame, table: str, column: str, what: str, end: pd.Timestamp, effect: str) -> pd.DataFrame:
    day = rows[column].dt.strftime("%Y-%m-%d").astype("str")
    used = "the row was not used" if effect == "returned" else "used without what was recorded that day or later"
    as_of = f"{end - pd.Timedelta(days=1):%Y-%m-%d}"
    return pd.DataFrame(
        {
            "table": table,
            "file": rows["source_file"],
            "sheet": rows["source_sheet"],
            "row": rows["source_row"],
            "column": column,
            "value": day,
            "reason": what + " on " + day + ", after the as-of date " + as_of + "; " + used + ".",
            "mend": MEND,
            "effect": effect,
        }
    )


def _no_problems() -> pd.DataFrame:
    return pd.DataFrame({c.name: pd.Series(dtype="float64" if c.kind == "number" else "str") for c in PROBLEM_COLUMNS})
