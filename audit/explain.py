"""`explain`: one home's or valve's whole story, from the register to the plan, as plain text."""

from __future__ import annotations

import textwrap

import pandas as pd

from audit.errors import CannotUse
from audit.model import Facts
from schemas.column import Column
from schemas.results import CAUTIONS, Results
from schemas.tables import COLUMNS, SOURCE
from schemas.words import spoken

WIDTH = 110
UNIT_ENDINGS = {"°C": "_c", "mm": "_mm", "m": "_m", "V": "_v", "A": "_a", "GBP": "_gbp"}
TIMELINE = ("kind", "symptom", "outcome", "cause", "action", "parts", "lever", "rules_put_right", "notes")
AS_WRITTEN = ("notes", "rules_put_right")  # shown as it stands


def story(asked: str, facts: Facts, results: Results) -> list[str]:
    """Tell what is known and concluded of one home or valve.

    Args:
        asked: A home_id or valve_id, in any case.
        facts: What was known on the as-of date.
        results: The finished tables.

    Raises:
        CannotUse: no home or valve has that number.
    """
    home_id, valve_id = _find(asked, facts)
    home = facts.homes.loc[facts.homes["home_id"].eq(home_id)].iloc[0]
    valves = facts.valves.loc[facts.valves["home_id"].eq(home_id)]
    if valve_id:
        valves = valves.loc[valves["valve_id"].eq(valve_id)]
    visits = facts.visits.loc[facts.visits["home_id"].eq(home_id)]
    lines = [f"Home {home_id} as known on {results.as_of:%d %B %Y}", *_register(home, "homes")]
    for _, valve in valves.iterrows():
        lines += ["", f"Valve {valve['valve_id']}", *_register(valve, "valves"), *_ages(valve)]
        lines += _findings(results, "valve_id", valve["valve_id"])
        lines += _options(results, valve["valve_id"])
    lines += ["", f"Visits ({len(visits)})", *_timeline(visits)]
    lines += _readings(results, home_id)
    lines += _chains(results, home_id)
    lines += _findings(results, "home_id", home_id, whole_home=True)
    lines += _plan(results, home_id)
    lines += ["", "Cautions", *(line for caution in CAUTIONS for line in _wrap(f"- {caution}"))]
    return lines


def _find(asked: str, facts: Facts) -> tuple[str, str]:
    wanted = asked.strip().upper()
    homes = facts.homes["home_id"]
    home = homes.loc[homes.str.upper().eq(wanted)]
    if len(home):
        return str(home.iloc[0]), ""
    valve = facts.valves.loc[facts.valves["valve_id"].str.upper().eq(wanted), ["home_id", "valve_id"]]
    if len(valve):
        return str(valve.iloc[0]["home_id"]), str(valve.iloc[0]["valve_id"])
    raise CannotUse(
        f"{asked}: no home or valve has this number in what was read; check it, or look in returned-rows.xlsx."
    )


def _register(row: pd.Series, table: str) -> list[str]:
    told = [f"{_name(c)} {_value(row[c.name], c)}" for c in COLUMNS[table] if not _missing(row.get(c.name))]
    where = ", ".join(str(row[name]) for name in SOURCE if name in row and not _missing(row[name]) and row[name] != "")
    return [*_wrap("; ".join(told) + "."), f"  (read from {where})"]


def _ages(valve: pd.Series) -> list[str]:
    told = []
    for part in ("head", "body"):
        years, basis = valve[f"{part}_age_years"], valve[f"{part}_age_basis"]
        if _missing(years):
            told.append(f"  {part}: age unknown")
        else:
            told.append(f"  {part}: {years:.1f} years, since {valve[f'{part}_since']:%d %b %Y} (from {basis})")
    return told


def _findings(results: Results, key: str, value: str, *, whole_home: bool = False) -> list[str]:
    found = results.tables["findings"]
    rows = found.loc[found[key].eq(value)]
    if whole_home:
        rows = rows.loc[rows["valve_id"].isna() | rows["valve_id"].eq("")]
    lines = [""] if len(rows) else []
    for row in rows.to_dict("records"):
        lines += _wrap(f"Finding {row['rank']:.0f}, {row['severity']}: {row['rule']}. {row['statement']}")
        lines += _wrap(f"Limit from: {row['limit_source']}.", indent="    ")
        lines += _wrap(f"To do: {row['action']}", indent="    ")
    return lines


def _options(results: Results, valve_id: str) -> list[str]:
    table = results.tables["options"]
    rows = table.loc[table["valve_id"].eq(valve_id)]
    lines = ["", "Options"] if len(rows) else []
    for row in rows.to_dict("records"):
        why = "" if _missing(row["chosen_why"]) else f". Why chosen: {row['chosen_why']}"
        mark = "chosen " if row["chosen"] == "yes" else ""
        if row["feasible"] != "yes":
            lines += _wrap(f"{row['option']}: not possible, {row['why_not']}")
            continue
        lines += _wrap(
            f"{row['option']}: {mark}now £{row['cost_now_gbp']:,.2f}, later £{row['expected_later_gbp']:,.2f}, "
            f"£{row['annual_gbp']:,.2f} a year; chance of failing within 13 weeks {row['chance_fail_quarter']:.1%}, "
            f"within a year {row['chance_fail_year']:.1%}. {'' if _missing(row['working']) else _words(row['working'])}"
            f"{why}"
        )
    return lines


def _timeline(visits: pd.DataFrame) -> list[str]:
    lines = []
    for _, row in visits.iterrows():
        told = "; ".join(
            f"{_words(name)} {row[name] if name in AS_WRITTEN else _words(row[name])}"
            for name in TIMELINE
            if not _missing(row[name])
        )
        done = f", completed {row['completed']:%d %b %Y}" if not _missing(row["completed"]) else ", not completed"
        valve = f" {row['valve_id']}" if not _missing(row["valve_id"]) else ""
        lines += _wrap(f"{row['reported']:%d %b %Y} {row['visit_id']}{valve}{done}: {told}")
    return lines


def _readings(results: Results, home_id: str) -> list[str]:
    table = results.tables["readings"]
    rows = table.loc[table["home_id"].eq(home_id)]
    lines = ["", "Wire readings"] if len(rows) else []
    for row in rows.to_dict("records"):
        part = f" {_words(row['part'])}" if not _missing(row["part"]) else ""
        valve = f" {row['valve_id']}" if not _missing(row["valve_id"]) else ""
        lines += _wrap(f"{row['visit_id']}{valve}: {_words(row['verdict'])}{part}. {row['reasons']}")
    return lines


def _chains(results: Results, home_id: str) -> list[str]:
    """Each chain of the home as a dated line of events, with the reasoning beneath."""
    table = results.tables["chains"]
    rows = table.loc[table["home_id"].eq(home_id)].sort_values(["first", "chain"])
    visits = results.summaries.get("chain_visits")
    lines = ["", "Repeats"] if len(rows) else []
    for row in rows.to_dict("records"):
        lines += _wrap(
            f"{row['chain']}, {row['state']}: {row['call_outs']:.0f} call-outs from {row['first']:%d %b %Y} to "
            f"{row['last']:%d %b %Y}, {row['repeats_short']:.0f} of them within the short window; "
            f"{row['days_open']:.0f} days open, £{row['cost_gbp']:,.2f}."
        )
        if visits is not None:
            lines += _events(visits.loc[visits["chain"].eq(row["chain"])])
        strength = "" if _missing(row["strength"]) else f" ({row['strength']}, {row['points']:g} points)"
        lines += _wrap(f"Likely root: {row['likely_root']}{strength}.", indent="    ")
        for words, name in (
            ("For", "evidence"),
            ("Against", "against"),
            ("Next best", "runner_up"),
            ("To do", "next_step"),
        ):
            if not _missing(row[name]):
                lines += _wrap(f"{words}: {str(row[name]).removesuffix('.')}.", indent="    ")
    return lines


def _events(visits: pd.DataFrame) -> list[str]:
    lines = []
    for row in visits.to_dict("records"):
        later = "" if _missing(row["wait_days"]) else f" ({row['wait_days']:.0f} days since it was put right)"
        told = [
            _words(str(row[name]))
            for name in ("kind", "valve_id", "symptom", "outcome", "action")
            if not _missing(row[name])
        ]
        shown = "" if _missing(row["shows"]) else f": {row['shows']}"
        lines += _wrap(f"{row['reported']:%d %b %Y} {row['visit_id']}{later} {', '.join(told)}{shown}", indent="    ")
    return lines


def _plan(results: Results, home_id: str) -> list[str]:
    lines = []
    jobs = results.tables["jobs"]
    for row in jobs.loc[jobs["home_id"].eq(home_id)].to_dict("records"):
        lines += _wrap(
            f"Job {row['rank']:.0f}, {row['severity']}: {row['what']} {row['hours']:.1f} h. {_words(row['working'])}"
        )
    visits = results.tables["planned-visits"]
    for row in visits.loc[visits["home_id"].eq(home_id)].to_dict("records"):
        when = "" if _missing(row["week_starting"]) else f" in the week of {row['week_starting']:%d %b %Y}"
        team = "" if _missing(row["team"]) else f" by {row['team']}"
        size = f"{row['hours']:.1f} h, £{row['cost_gbp']:,.2f}"
        lines += _wrap(f"Visit {row['rank']:.0f}: {_words(row['status'])}{team}{when}, {size}. {row['reason']}")
    return ["", "What is planned", *lines] if lines else ["", "Nothing is planned here this quarter."]


def _words(name: str) -> str:
    """A word of the vocabulary, or a text made of such words, as the workbooks show it."""
    return spoken(name)


def _name(column: Column) -> str:
    """The column in words, without the unit at its end: the value carries that."""
    return _words(column.name.removesuffix(UNIT_ENDINGS.get(column.unit, "")))


def _value(value: object, column: Column) -> str:
    unit = f" {column.unit}" if column.unit else ""
    if isinstance(value, pd.Timestamp):
        return f"{value:%d %b %Y}"
    if isinstance(value, float):
        return f"{value:g}{unit}"
    return _words(str(value)) if column.kind == "word" else str(value)


def _missing(value: object) -> bool:
    return value is None or value is pd.NaT or (isinstance(value, float) and value != value) or value == ""


def _wrap(text: str, indent: str = "  ") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent + "  ")
