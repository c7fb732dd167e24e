"""The ordinary mistakes of record keeping, planted so that each is known; a row has at most one."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from audit.sample import draw
from audit.sample.draw import Bools

Cells = Sequence[object]  # text, a pandas Timestamp, or None for an empty cell
Writer = Callable[[pd.DataFrame, np.random.Generator], Cells]
WORDS_IN_NUMBER = "text in a number cell"
AGAIN = "the same row again"  # the mistake that adds a row
TOTAL = "a total row at the end"
BOOK = ("xlsx",)  # only where cells have types
NBSP = "\u00a0"
MANY = 100


@dataclass(frozen=True)
class Mistake:
    """One kind of mistake: the share of rows that have it, where it can be made, what is written instead."""

    name: str
    table: str
    column: str
    share: float
    written: Writer
    where: Callable[[pd.DataFrame], pd.Series[bool]] | None = None
    forms: tuple[str, ...] = ("xlsx", "csv")


def _say(*texts: str | None) -> Writer:
    """One of these texts, whatever stood there."""
    return lambda rows, rng: [texts[i] for i in rng.integers(0, len(texts), len(rows))]


def _as(column: str, *patterns: str) -> Writer:
    """The value itself within one of these patterns, such as `approx {}`."""

    def written(rows: pd.DataFrame, rng: np.random.Generator) -> Cells:
        chosen = rng.integers(0, len(patterns), len(rows))
        return [patterns[i].format(_plain(value)) for i, value in zip(chosen, rows[column], strict=True)]

    return written


def _plain(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _lower(column: str) -> Writer:
    return lambda rows, rng: list(rows[column].str.lower())


def _before(column: str, least: int, most: int) -> Writer:
    """A date some days before another column's."""

    def written(rows: pd.DataFrame, rng: np.random.Generator) -> Cells:
        days = pd.to_timedelta(rng.integers(least, most, len(rows)), unit="D")
        return list(rows[column] - days)

    return written


def _ten_years_on(rows: pd.DataFrame, rng: np.random.Generator) -> Cells:
    return list(rows["reported"] + pd.DateOffset(years=10))


def _as_written(column: str, form: str) -> Writer:
    return lambda rows, rng: list(rows[column].dt.strftime(form))


def _yes_no(column: str) -> Writer:
    ways = {"yes": ("Y", "YES", "y", "Yes ", "TRUE"), "no": ("N", "NO", "n", " No", "FALSE")}
    return lambda rows, rng: [ways[word][rng.integers(0, 5)] for word in rows[column]]


def _neighbour(column: str) -> Writer:
    """The id of the first row of the table, which has it already."""
    return lambda rows, rng: [rows.attrs["first"][column]] * len(rows)


def _closed_up(rows: pd.DataFrame, rng: np.random.Generator) -> Cells:
    return list(rows["postcode"].str.replace(" ", ""))


def _tenfold(column: str) -> Writer:
    return lambda rows, rng: [f"{10 * value:g}" for value in rows[column]]


def _stale(rows: pd.DataFrame) -> pd.Series[bool]:
    return rows["head_fitted"] > rows["body_fitted"] + pd.Timedelta(days=365)


def _several(rows: pd.DataFrame) -> pd.Series[bool]:
    return rows["valve_id"].notna() & rows["home_id"].duplicated(keep=False)


def _no_valve(rows: pd.DataFrame) -> pd.Series[bool]:
    return rows["valve_id"].isna()


MISTAKES: tuple[Mistake, ...] = (
    Mistake("postcode mistyped", "homes", "postcode", 0.006, _say("ZZ99 OAB", "ZZ9", "99ZZ 1AA", "see list")),
    Mistake("postcode without its gap", "homes", "postcode", 0.02, _closed_up),
    Mistake("yes or no in other words", "homes", "priority_household", 0.06, _yes_no("priority_household")),
    Mistake("date not settled", "homes", "heating_renewal_due", 0.01, _say("TBC", "n/a", "tbc")),
    Mistake("text like a formula", "homes", "access_note", 0.004, _say("=Key safe", "-ring first", "@back gate")),
    Mistake("head date missing", "valves", "head_fitted", 0.05, _say(None, None, "N/A", "unknown")),
    Mistake("body date missing", "valves", "body_fitted", 0.04, _say(None, None, "N/A", "TBC")),
    Mistake("head date before body date", "valves", "head_fitted", 0.005, _before("body_fitted", 60, 3000)),
    Mistake("register not brought up to date", "valves", "head_fitted", 0.01, _before("body_fitted", 0, 1), _stale),
    Mistake("date that does not exist", "valves", "body_fitted", 0.001, _say("31/02/2014", "00/00/0000")),
    Mistake("day and month as text", "valves", "head_fitted", 0.02, _as_written("head_fitted", "%d/%m/%Y"), forms=BOOK),
    Mistake("day and month as text", "valves", "body_fitted", 0.01, _as_written("body_fitted", "%d %b %Y"), forms=BOOK),
    Mistake("yes or no in other words", "valves", "isolation", 0.05, _yes_no("isolation")),
    Mistake("yes or no in other words", "valves", "earthed", 0.03, _yes_no("earthed")),
    Mistake(WORDS_IN_NUMBER, "valves", "location_temp_c", 0.006, _as("location_temp_c", "approx {}", "{} deg")),
    Mistake("decimal point lost", "valves", "location_temp_c", 0.001, _tenfold("location_temp_c")),
    Mistake("nothing said in words", "valves", "batch", 0.02, _say("N/A", "TBC", "-", "not legible")),
    Mistake("error cell", "valves", "make", 0.002, _say("#N/A")),
    Mistake("blanks around an id", "valves", "home_id", 0.01, _as("home_id", " {}", "{} ", "{}" + NBSP)),
    Mistake("id in small letters", "valves", "home_id", 0.01, _lower("home_id")),
    Mistake("id used twice", "valves", "valve_id", 0.0002, _neighbour("valve_id")),
    Mistake(AGAIN, "valves", "", 0.001, _say(None)),
    Mistake(AGAIN, "visits", "", 0.003, _say(None)),
    Mistake("home not in the asset list", "visits", "home_id", 0.002, _say("H999999", "VOID", "OFFICE"), _no_valve),
    Mistake("completed before reported", "visits", "completed", 0.002, _before("reported", 2, 40)),
    Mistake("reported after the as-of date", "visits", "reported", 0.0005, _ten_years_on),
    Mistake("date that does not exist", "visits", "reported", 0.0005, _say("31/02/2024", "30/02/2023", "??")),
    Mistake("date missing", "visits", "reported", 0.0005, _say(None)),
    Mistake("day and month as text", "visits", "reported", 0.02, _as_written("reported", "%d/%m/%Y"), forms=BOOK),
    Mistake("day and month as text", "visits", "completed", 0.01, _as_written("completed", "%d/%m/%y"), forms=BOOK),
    Mistake("valve not named", "visits", "valve_id", 0.025, _say(None), _several),
    Mistake(WORDS_IN_NUMBER, "visits", "hours", 0.002, _as("hours", "{} hrs", "approx {}")),
    Mistake(WORDS_IN_NUMBER, "visits", "cost_gbp", 0.002, _as("cost_gbp", "£{}", "{} + VAT", "GBP {}")),
    Mistake(WORDS_IN_NUMBER, "visits", "location_temp_c", 0.0005, _as("location_temp_c", "approx {}", "{}C")),
    Mistake("blanks around an id", "visits", "home_id", 0.008, _as("home_id", " {}", "{} ", "{}" + NBSP)),
    Mistake("id in small letters", "visits", "home_id", 0.008, _lower("home_id")),
    Mistake("nothing said in words", "visits", "cause", 0.01, _say("N/A", "-", "TBC")),
    Mistake("text like a formula", "visits", "notes", 0.001, _say("=new head", "-carded", "+ drained", "@1400 ok")),
)  # fmt: skip


def make_mistakes(tables: Mapping[str, pd.DataFrame], seed: int, form: str) -> pd.DataFrame:
    """Draw every mistake of the books.

    Returns:
        One row a mistake: table, row (place in the clean table), column, mistake, written (text, date or None), and
        true (what the cell should say). Every kind is there at least once in a table of MANY rows or more; one that
        fits nowhere is left out.
    """
    rng = draw.stream(seed, 8)
    free = {name: np.ones(len(table), dtype=bool) for name, table in tables.items()}
    found = [pd.DataFrame(columns=["table", "row", "column", "mistake", "written", "true"])]
    for mistake in MISTAKES:
        table = tables[mistake.table]
        rows = _rows(mistake, table, free[mistake.table], rng)
        if form in mistake.forms and rows.size:
            free[mistake.table][rows] = False
            found.append(_made(mistake, table, rows, rng))
    return pd.concat(found, ignore_index=True)


def _rows(mistake: Mistake, table: pd.DataFrame, free: Bools, rng: np.random.Generator) -> np.ndarray:
    """Rows for one mistake: not the first row, which others copy, and none that has a mistake already."""
    fits = free & (table[mistake.column].notna().to_numpy() if mistake.column else True)
    fits &= mistake.where(table).to_numpy() if mistake.where else True
    fits[:1] = False
    wanted = max(round(mistake.share * len(table)), int(len(table) >= MANY))
    return np.sort(rng.permutation(np.flatnonzero(fits))[:wanted])


def _made(mistake: Mistake, table: pd.DataFrame, rows: np.ndarray, rng: np.random.Generator) -> pd.DataFrame:
    chosen = table.iloc[rows]
    chosen.attrs["first"] = table.iloc[0].to_dict()
    written = pd.Series(list(mistake.written(chosen, rng)), dtype=object)
    true = chosen[mistake.column].to_numpy(dtype=object) if mistake.column else np.full(rows.size, None, dtype=object)
    made = pd.DataFrame({"table": mistake.table, "row": rows, "column": mistake.column, "mistake": mistake.name})
    return made.assign(written=written, true=true)
