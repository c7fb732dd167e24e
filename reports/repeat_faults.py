"""`repeat-faults.xlsx`: the analyst's book. Call-outs that are one fault coming back, in date order."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import pandas as pd

from reports.findings_sheet import FINDINGS, kept
from reports.front import Section, add_front, how_read, numbers, to_do, when
from reports.groups_sheets import add_groups
from reports.look import Field
from reports.native_charts import bars, lines
from reports.native_charts import place as place_chart
from reports.readings_sheet import add_readings
from reports.workbook import Book
from schemas.results import CAUTIONS, Results

TITLE: Final = "Repeat faults: motorised heating valves"
ON_PAPER: Final = 30  # rows of a long sheet that are printed; who needs more reads them on a screen
CHAINS_ON_PAPER: Final = 12  # with their visits
SEVERAL: Final = "several-valves-one-home"
CHAINS: Final = (
    Field("chain", "Chain"),
    Field("home_id", "Home"),
    Field("state", "State", "prose", 12),
    Field("last", "Last report", "date"),
    Field("call_outs", "Call-outs", "whole", 9),
    Field("cost_gbp", "Cost recorded (£)", "money"),
    Field("likely_root", "Likely root", "prose", 20),
    Field("strength", "Strength", "word", 10),
    Field("evidence", "Speaks for it", "prose", 40),
    Field("next_step", "Next step", "prose", 30),
    Field("against", "Speaks against it", "prose", 30, paper=False),
    Field("runner_up", "Next best", "prose", 22, paper=False),
    Field("system", "System", paper=False),
    Field("first", "First report", "date", paper=False),
    Field("days_without_heat", "Days without heat (days)", "whole", paper=False),
    Field("rank_by_cost", "Rank by cost", "whole", paper=False),
    Field("rank_by_days", "Rank by days without heat", "whole", paper=False),
    Field("parts_fitted", "Parts fitted", "prose", 20, paper=False),
    Field("valves", "Valves", "prose", 22, paper=False),
    Field("symptoms", "Reported, in order", "prose", 30, paper=False),
    Field("visits", "Visits", "whole", paper=False),
    Field("no_access", "No access", "whole", paper=False),
    Field("days_open", "Days open (days)", "whole", paper=False),
    Field("window_days", "Smallest window that holds it (days)", "whole", paper=False),
    Field("repeats_short", "Of its call-outs within the short window", "whole", paper=False),
)
STEPS: Final = (
    Field("chain", "Chain"),
    Field("entry", "Entry", width=9),
    Field("home_id", "Home"),
    Field("reported", "Reported", "date"),
    Field("visit_id", "Visit"),
    Field("valve_id", "Valve"),
    Field("symptom", "Symptom", "word", 14),
    Field("outcome", "Outcome", "word", 12),
    Field("cause", "Cause", "word", 11),
    Field("action", "Action", "word", 11),
    Field("words", "Likely root and next step; or what the visit showed", "prose", 44),
    Field("kind", "Kind", "word", paper=False),
    Field("completed", "Completed", "date", paper=False),
    Field("cost_gbp", "Cost (£)", "money", paper=False),
    Field("wait_days", "Days since it was put right", "whole", paper=False),
    Field("notes", "Note", "prose", 30, paper=False),
)
MONTHS: Final = (
    Field("month", "Month", "month", 14),
    Field("call_outs", "Call-outs", "whole", 12),
    Field("repeats", "Repeats, long window", "whole", 12),
    Field("repeat_share", "Share, long window", "share", 12),
    Field("share_low", "At least (95 %)", "share", 12),
    Field("share_high", "At most (95 %)", "share", 12),
    Field("repeats_short", "Repeats, short window", "whole", 12),
    Field("short_share", "Share, short window", "share", 12),
    Field("short_low", "At least (95 %)", "share", 12),
    Field("short_high", "At most (95 %)", "share", 12),
)


def write(results: Results, path: Path, max_rows: int) -> None:
    """Write the analyst's workbook.

    Args:
        results: Everything the audit found.
        path: The file.
        max_rows: Longest sheet; longer tables are cut and name their CSV.
    """
    book = Book(TITLE, results.as_of)
    _read_first(book, results)
    chains = results.tables["chains"]
    limits: dict[str, Any] = {"max_rows": max_rows, "csv": "chains.csv"}
    note = "What is left to do first, then dearest first; 'Rank by days' orders them by days without heat."
    book.table(
        "Chains",
        "Chains of call-outs that are one fault coming back",
        chains,
        kept(CHAINS, chains),
        note=note,
        paper_rows=ON_PAPER,
        **limits,
    )
    steps = with_visits(chains, results.summaries["chain_visits"])
    steps = steps.assign(strong=steps["entry"].eq("chain"))
    book.table(
        "Chains and visits",
        "Each chain with its visits beneath, in date order",
        steps,
        kept(STEPS, steps),
        note="A row 'chain' sums up; the rows 'visit' beneath it are what happened. Filter on Entry to see either. "
        "Days since it was put right: from the last attempt's completion to the next report; the rule repeat-call-out "
        "counts from report to report.",
        freeze=2,
        strong="strong",
        paper_rows=_rows_of_first(steps["strong"], CHAINS_ON_PAPER),
        **limits,
    )
    findings = results.tables["findings"]
    family = results.rules.loc[results.rules["family"].eq("repeats"), "rule"]
    repeats = findings.loc[findings["rule"].isin(family) & findings["rule"].ne(SEVERAL)]
    several = findings.loc[findings["rule"].eq(SEVERAL)]
    limits |= {"csv": "findings.csv", "paper_rows": ON_PAPER}
    note = "Days of repeat-call-out are from report to report."
    book.table("Findings", "Repeat findings, most urgent first", repeats, kept(FINDINGS, repeats), note=note, **limits)
    note = "Different valves of one home failing close together: test the water and the wiring centre first."
    book.table(
        "Several valves", "Homes where several valves fail", several, kept(FINDINGS, several), note=note, **limits
    )
    add_groups(book, results, max_rows, ON_PAPER)
    _held(book, results)
    _months(book, results)
    _clues(book, results)
    add_readings(book, results.tables["readings"], max_rows, ON_PAPER)
    book.save(path)


def with_visits(chains: pd.DataFrame, visits: pd.DataFrame) -> pd.DataFrame:
    """Lay each chain's visits beneath its own row: chains in their order, visits by report.

    Returns:
        Columns of `STEPS`; `entry` is "chain" or "visit", `words` the likely root and next step, or what it showed.
    """
    order = pd.Series(range(len(chains)), index=chains["chain"])
    homes = chains.set_index("chain")["home_id"]
    heads = chains.assign(
        entry="chain",
        reported=chains["first"],
        completed=chains["last"],
        words=chains["likely_root"].astype("str") + ". " + chains["next_step"].astype("str"),
    )
    beneath = visits.assign(entry="visit", home_id=visits["chain"].map(homes), words=visits["shows"])
    both = pd.concat([heads, beneath], ignore_index=True)
    both = both.assign(place=both["chain"].map(order), below=both["entry"].eq("visit"))
    both = both.sort_values(["place", "below", "reported", "visit_id"], kind="stable", ignore_index=True)
    return both.reindex(columns=[field.name for field in STEPS])


def _rows_of_first(starts: pd.Series, count: int) -> int:
    """How many rows the first so many groups take, each of which begins where `starts` is true."""
    return int(starts.cumsum().le(count).sum())


def _read_first(book: Book, results: Results) -> None:
    add_front(
        book,
        "Read first",
        TITLE,
        (
            Section(
                "What this is",
                (
                    (
                        "The chains",
                        "Call-outs of one home and heating system, each reported within the long window after the last "
                        "completed attempt; several of a day, or while one is open, counted once. No-access and "
                        "planned visits are shown and not counted. The likely root is what the pattern suggests, with "
                        "what speaks against it; it is to be proved on site and says nothing of a person.",
                    ),
                    *when(results),
                ),
            ),
            Section("In numbers", numbers(results.summaries["headline"], ("visits_read", "chains", "homes"))),
            to_do(results),
            Section("Windows", _windows(results.policy)),
            Section(
                "Cautions for whoever does the work", [(f"Caution {n}", text) for n, text in enumerate(CAUTIONS, 1)]
            ),
            how_read(results),
        ),
    )


def _windows(policy: pd.DataFrame) -> list[tuple[object, str]]:
    rows = policy.loc[policy["name"].str.startswith("repeats.")].to_dict("records")
    return [(f"{row['value']:g} {row['unit']}", f"{row['meaning']} Source: {row['source']}.") for row in rows]


def _held(book: Book, results: Results) -> None:
    """Shares of fixes that held, by what was done, with a chart of those that held the long window."""
    table = results.summaries["fixes_held"]
    if table.empty:
        return
    fields = [
        Field("action", "What was done", "word", 20),
        Field("fixes", "Fixes", "whole"),
        Field("came_back", "Followed by a call-out", "whole"),
    ]
    for place in (1, 2, 3):
        days = f"{table[f'days_{place}'].iloc[0]:g} days"
        fields += [
            Field(f"held_{place}", f"Held {days}", "share", 12),
            Field(f"low_{place}", "At least (95 %)", "share", 11),
            Field(f"high_{place}", "At most (95 %)", "share", 11),
        ]
    layout = book.table(
        "Fixes that held",
        "Completed call-outs after which nothing came back, by what was done",
        table,
        fields,
        note="Any later call-out of the home's system ends it. Recent fixes count as long as they were watched. "
        "Harder faults get other work, so the rows compare faults, not people.",
    )
    chart = bars(
        layout,
        f"{fields[6].header}, by what was done",
        "action",
        ("held_2",),
        ("What was done", "Share that held"),
        lying=True,
    )
    place_chart(chart, layout.sheet, f"A{layout.last_row + 2}", 22)


def _clues(book: Book, results: Results) -> None:
    """The points behind the likely roots."""
    table = results.summaries["clues"]
    fields = [
        Field("clue", "Clue", "prose", 40),
        *(Field(name, name.capitalize(), "number", 13) for name in table.columns[1:]),
    ]
    note = "Points for (+) and against (-) each root, assumed; seen twice or more, half as much again."
    book.table("How roots are weighed", "What each clue says", table, fields, note=note)


def _months(book: Book, results: Results) -> None:
    layout = book.table(
        "By month",
        "Call-outs and repeats by month of report",
        results.summaries["months"],
        MONTHS,
        note="The last 36 months. A repeat is reported within the window after the last completed attempt in the same "
        "home and system; limits after Wilson.",
    )
    chart = lines(layout, "Call-outs by month", "month", ("call_outs", "repeats"), ("Month of report", "Call-outs"))
    chart.x_axis.number_format = "mmm yy"
    place_chart(chart, layout.sheet, "L5", 22)
    shares = lines(
        layout,
        "Share of repeats by month",
        "month",
        ("repeat_share", "short_share"),
        ("Month of report", "Share of call-outs"),
    )
    shares.x_axis.number_format = "mmm yy"
    shares.y_axis.number_format = "0%"
    place_chart(shares, layout.sheet, "L24", 22)
