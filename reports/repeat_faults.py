"""`repeat-faults.xlsx`: the analyst's book. Call-outs that are one fault coming back, in date order."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import pandas as pd

from reports.front import Section, add_front, numbers, said, when
from reports.look import Field
from reports.native_charts import lines, place
from reports.work_list import FINDINGS, kept
from reports.workbook import Book
from schemas.results import CAUTIONS, Results

TITLE: Final = "Repeat faults: motorised heating valves"
SEVERAL: Final = "several-valves-one-home"
CHAINS: Final = (
    Field("chain", "Chain"),
    Field("home_id", "Home"),
    Field("system", "System"),
    Field("window_days", "Window (days)", "whole"),
    Field("first", "First report", "date"),
    Field("last", "Last report", "date"),
    Field("call_outs", "Call-outs", "whole"),
    Field("visits", "Visits", "whole"),
    Field("no_access", "No access", "whole"),
    Field("days_open", "Days open (days)", "whole"),
    Field("cost_gbp", "Cost recorded (£)", "money"),
    Field("parts_fitted", "Parts fitted", "prose", 20),
    Field("likely_root", "Likely root", "prose", 24),
    Field("evidence", "Evidence", "prose", 38),
    Field("next_step", "Next step", "prose", 38),
)
STEPS: Final = (
    Field("chain", "Chain"),
    Field("entry", "Entry", width=9),
    Field("home_id", "Home"),
    Field("reported", "Reported", "date"),
    Field("completed", "Completed", "date"),
    Field("visit_id", "Visit"),
    Field("valve_id", "Valve"),
    Field("kind", "Kind", "word"),
    Field("symptom", "Symptom", "word"),
    Field("outcome", "Outcome", "word"),
    Field("cause", "Cause", "word"),
    Field("action", "Action", "word"),
    Field("cost_gbp", "Cost (£)", "money"),
    Field("words", "Likely root and next step; or the note", "prose", 50),
)
MONTHS: Final = (
    Field("month", "Month", "month", 14),
    Field("call_outs", "Call-outs", "whole", 12),
    Field("repeats", "Of them repeats", "whole", 12),
    Field("repeat_share", "Repeats", "share", 12),
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
    book.table("Chains", "Chains of call-outs, by first report", chains, kept(CHAINS, chains), **limits)
    steps = with_visits(chains, results.summaries["chain_visits"])
    steps = steps.assign(strong=steps["entry"].eq("chain"))
    book.table(
        "Chains and visits",
        "Each chain with its visits beneath, in date order",
        steps,
        kept(STEPS, steps),
        note="A row 'chain' sums up; the rows 'visit' beneath it are what happened. Filter on Entry to see either.",
        freeze=2,
        strong="strong",
        **limits,
    )
    findings = results.tables["findings"]
    family = results.rules.loc[results.rules["family"].eq("repeats"), "rule"]
    repeats = findings.loc[findings["rule"].isin(family) & findings["rule"].ne(SEVERAL)]
    several = findings.loc[findings["rule"].eq(SEVERAL)]
    limits["csv"] = "findings.csv"
    book.table("Findings", "Repeat findings, most urgent first", repeats, kept(FINDINGS, repeats), **limits)
    note = "Different valves of one home failing close together: test the water and the wiring centre first."
    book.table(
        "Several valves", "Homes where several valves fail", several, kept(FINDINGS, several), note=note, **limits
    )
    _months(book, results)
    book.save(path)


def with_visits(chains: pd.DataFrame, visits: pd.DataFrame) -> pd.DataFrame:
    """Lay each chain's visits beneath its own row: chains by first report, visits by report.

    Returns:
        Columns of `STEPS`; `entry` is "chain" or "visit", `words` the likely root and next step, or the visit's note.
    """
    order = pd.Series(range(len(chains)), index=chains["chain"])
    homes = chains.set_index("chain")["home_id"]
    heads = chains.assign(
        entry="chain",
        reported=chains["first"],
        completed=chains["last"],
        words=chains["likely_root"].astype("str") + ". " + chains["next_step"].astype("str"),
    )
    beneath = visits.assign(entry="visit", home_id=visits["chain"].map(homes), words=visits["notes"])
    both = pd.concat([heads, beneath], ignore_index=True)
    both = both.assign(place=both["chain"].map(order), below=both["entry"].eq("visit"))
    both = both.sort_values(["place", "below", "reported", "visit_id"], kind="stable", ignore_index=True)
    return both.reindex(columns=[field.name for field in STEPS])


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
                        "Call-outs of one home and heating system that follow each other within the repeat window, "
                        "several of a day counted once. The likely root is what the pattern suggests, not a diagnosis.",
                    ),
                    *when(results),
                ),
            ),
            Section("In numbers", numbers(results.summaries["headline"], ("visits_read", "chains", "homes"))),
            Section("Windows", _windows(results.policy)),
            Section(
                "Cautions for whoever does the work", [(f"Caution {n}", text) for n, text in enumerate(CAUTIONS, 1)]
            ),
            Section("What was assumed, and what was missing", said(results)),
        ),
    )


def _windows(policy: pd.DataFrame) -> list[tuple[object, str]]:
    rows = policy.loc[policy["name"].str.startswith("repeats.")].to_dict("records")
    return [(f"{row['value']:g} {row['unit']}", f"{row['meaning']} Source: {row['source']}.") for row in rows]


def _months(book: Book, results: Results) -> None:
    layout = book.table(
        "By month",
        "Call-outs and repeats by month of report",
        results.summaries["months"],
        MONTHS,
        note="The last 36 months. A repeat follows a call-out of the same home and system within the long window.",
    )
    chart = lines(layout, "Call-outs by month", "month", ("call_outs", "repeats"), ("Month of report", "Call-outs"))
    chart.x_axis.number_format = "mmm yy"
    place(chart, layout.sheet, "F5", 22)
