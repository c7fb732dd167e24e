"""`work-list.xlsx`: the planner's book. What to do where, in which order, with which parts, and what was left out."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Final

from openpyxl.formatting.rule import DataBar, FormatObject, Rule
from openpyxl.styles import Color
from openpyxl.utils import get_column_letter

from reports.findings_sheet import add_to_act_on, kept
from reports.front import Section, add_front, how_read, numbers, pounds, to_do, when
from reports.look import Field, Form
from reports.work_list_fields import BENEFIT, CHANGES, JOBS, LEFT_OUT, PARTS, TO_ORDER, VISITS, WEEK
from reports.work_list_parts import add_pieces, live_fields, live_load, live_order
from reports.work_list_quarter import add_quarter, choices
from reports.work_list_scenarios import add_scenarios
from reports.work_list_teams import add_teams
from reports.workbook import Book, Layout
from schemas import words as w
from schemas.results import CAUTIONS, CHANGE, Results
from schemas.sentences import AFTER_COST_SAID, SAFE_NOW, danger_of
from schemas.tables import COLUMNS
from schemas.work_list import DONE_BEFORE, TITLES, done_header

if TYPE_CHECKING:
    import pandas as pd

TITLE: Final = TITLES["work-list"]
SHEETS: Final[tuple[tuple[str, str], ...]] = (
    ("Visits", "Every planned visit, most urgent first: where, what, why, which parts, how long, drain down or not."),
    ("Left out", "Visits that did not fit, why, and what it costs to leave them."),
    ("Quarter", "Hours used of hours there, by team and week; totals that follow changes on the sheet Visits."),
    ("Benefit", "From the options' benefit to the plan's, line by line, so that the sums agree."),
    ("Changes", "What changed since the last plan, and why; where a work list was given back."),
    ("Scenarios", "What more hours, other teams or a budget would bring: what each extra hour or pound buys."),
    ("Parts to load", "What to load, for each week and team, named by what it must fit."),
    ("Parts to order", "On hand, needed, short, and the day by which to order."),
    ("1 Team …", "One sheet a team, to print: boxes to tick, outcome, readings, tests after the work."),
    (DONE_BEFORE, "Visits of earlier lists, carried on, so that the newest list suffices."),
    ("Jobs", "Each job on its own, with the working of its cost."),
    (
        "Findings",
        "Every danger, fault and saving found: what was seen, the limit and where it comes from. Records to mend: "
        "returned-rows.xlsx.",
    ),
)
BACK: Final = (
    ("Fill in", "Outcome, day, readings and notes on the teams' sheets; Include and Keep on the sheets of visits."),
    ("Outcome fixed", "All the work listed for the visit is taken as done on that day; say in the notes what was not."),
    (
        "Keep: yes",
        "Holds a visit in its team and week in the next plan; change either, and it is held where you put it.",
    ),
    ("Include: no", "Keeps a visit out of the next plan too, until it says yes again."),
    ("Include: yes", "On the sheet Left out: puts the visit into the next plan, where its teams have the hours."),
    (
        "Next run",
        "Give the saved file, the newest list alone, along with the books. What was done is read as visits; what was "
        "not is planned again, with its history; the sheet Changes then says what changed, and why.",
    ),
)
NEEDED: Final = (
    "include",
    "keep",
    "team",
    "week_starting",
    "hours",
    "allowance_h",
    "cost_gbp",
    "benefit_gbp",
)  # by formulas
NUMBERS: Final = (
    "planned_visits",
    "planned_hours",
    "hours_there",
    "planned_cost",
    "planned_benefit",
    "planned_drain_downs",
    "left_out_visits",
    "left_out_benefit",
)


def write(results: Results, path: Path, max_rows: int) -> None:
    """Write the planner's workbook.

    Args:
        results: Everything the audit found.
        path: The file.
        max_rows: Longest sheet; longer tables are cut and name their CSV.
    """
    book = Book(TITLE, results.as_of)
    visits = results.tables["planned-visits"]
    planned = visits.loc[visits["status"].eq("planned")].assign(include="yes")
    left = visits.loc[visits["status"].eq("left_out")]
    _read_first(book, results)
    here = book.table(
        "Visits",
        "Planned visits, most urgent first",
        planned,
        [field for field in VISITS if field.name in NEEDED or field in kept(VISITS, planned)],
        note=f"{results.plan.get('ranked_by', '')} ◆ danger can hurt somebody, ▲ fault works wrongly or will, ● money "
        f"is cheaper done. Costs exclude VAT. {AFTER_COST_SAID}".strip(),
        max_rows=max_rows,
        csv="planned-visits.csv",
    )
    choices(here, "include", "yes,no")
    choices(here, "keep", "yes,no")
    out = book.table(
        "Left out",
        "Visits left out of the quarter",
        left,
        [field for field in LEFT_OUT if field.name == "include" or field in kept(LEFT_OUT, left)],
        note=f"{AFTER_COST_SAID} It is forgone while the visit waits. Anything with severity danger here needs hours "
        "found for it first. Include: no keeps a visit out of the next plan too; yes puts it in where its teams have "
        "the hours.",
        max_rows=max_rows,
        csv="planned-visits.csv",
    )
    choices(out, "include", "yes,no")
    live = len(planned) <= max_rows  # formulas over a part of the visits would tell wrong sums
    slots = results.summaries["slots"]
    if live and len(slots):
        add_quarter(book, here, slots, out, dict(results.plan))
    else:
        _by_week(book, results)
    _benefit(book, results)
    changes = results.summaries["plan_changes"]
    if len(changes):
        note = "Against the plan of the work list that was given: " + counted(changes, CHANGE) + "."
        book.table(
            "Changes", "Changes since the last plan", changes, kept(CHANGES, changes), note=note, max_rows=max_rows
        )
    add_scenarios(book, results.tables["scenarios"], _limit(results, "plan.fault_worth"))
    _parts(book, results, here if live else None)
    add_teams(book, planned, max_rows)
    _done_before(book, results)
    jobs = _spoken(results.tables["jobs"].head(max_rows + 1))
    title, note = "Jobs, most urgent first", AFTER_COST_SAID
    book.table("Jobs", title, jobs, kept(JOBS, jobs), note=note, max_rows=max_rows, csv="jobs.csv")
    add_to_act_on(book, results.tables["findings"], max_rows)
    if live:
        add_pieces(book, here, results.summaries["pieces"], planned)
    book.save(path)


def _done_before(book: Book, results: Results) -> None:
    """The visits that were read from work lists, so that the next run needs the newest list alone."""
    done = results.summaries.get("done_before")
    if done is None or done.empty:
        return
    kinds: dict[str, Form] = {"date": "date", "time": "date", "number": "number"}
    fields = [
        Field(column.name, done_header(column.name), kinds.get(column.kind, "text"), 16)
        for column in COLUMNS["visits"]
        if done[column.name].notna().any()
    ]
    note = "Read back by the next run as visits; nothing to fill in. Correct here what was wrong."
    book.table(DONE_BEFORE, "Visits done on earlier lists", done, fields, note=note)


def _sheets(results: Results) -> list[tuple[str, str]]:
    """The sheets that there are."""
    done = results.summaries.get("done_before")
    there = {
        "Done before": 0 if done is None else len(done),
        "Changes": len(results.summaries["plan_changes"]),
        "Scenarios": len(results.tables["scenarios"]),
    }
    return [row for row in SHEETS if there.get(row[0], 1)]


def _limit(results: Results, name: str) -> float:
    return float(results.policy.set_index("name")["value"].get(name, 0.0))


def counted(changes: pd.DataFrame, kinds: Mapping[str, str]) -> str:
    """How many visits changed in which way: 3 new, 2 moved."""
    found = changes["change"].value_counts()
    return ", ".join(f"{found[kind]:,} {kind}" for kind in kinds if kind in found.index)


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
                        "The list",
                        "Visits of the quarter to motorised heating valves, ranked: danger first, then faults, then "
                        "what is cheaper done than left. Made from the landlord's own records; what they do not "
                        "say, it does not know.",
                    ),
                    *when(results),
                ),
            ),
            Section("Danger not in the plan: make these homes safe first", _danger(results, "left_out")),
            Section(f"Danger in the plan: {SAFE_NOW}", _danger(results, "planned")),
            to_do(results),
            Section("The order of the list", _order(results)),
            Section("The quarter in numbers", numbers(results.summaries["headline"], NUMBERS)),
            Section(
                "Cautions for whoever does the work",
                [(f"Caution {place}", caution) for place, caution in enumerate(CAUTIONS, 1)],
            ),
            Section("Left out, by reason", _left_out(results.summaries["left_out"])),
            Section("Giving it back", BACK),
            Section("Sheets", _sheets(results)),
            Section("Options", [(option, meaning) for option, meaning in w.OPTION.items()]),
            how_read(results),
        ),
    )


DANGER_SHOWN: Final = 20  # homes named on the first sheet; the sheet of visits left out has them all


def _danger(results: Results, status: str) -> list[tuple[object, str]]:
    visits = results.tables["planned-visits"]
    danger = visits.loc[visits["severity"].eq("danger") & visits["status"].eq(status)]
    rows: list[tuple[object, str]] = [(home, f"{what}.") for home, what in danger_of(danger.head(DANGER_SHOWN))]
    more, sheet = len(danger) - len(rows), {"left_out": "Left out", "planned": "Visits"}[status]
    return [*rows, (f"and {more:,} more", f"All of them stand first on the sheet {sheet}.")] if more > 0 else rows


def _order(results: Results) -> list[tuple[object, str]]:
    ranked_by = results.plan.get("ranked_by")
    if not ranked_by:
        return []
    each = _limit(results, "plan.fault_worth")
    wait = (
        f"Over the quarter a visit that waits loses, evenly week by week, its benefit, £{each:,.0f} for each fault it "
        "mends, and as much for each time that the home's faults came back in the last 12 months (plan.fault_worth)."
    )
    same = (
        "A fault that has to be mended sooner or later saves, by being mended now, the dearer attendance of a call-out "
        "in the share of faults that become one (money.fault_call_out_share): the same for each valve. So many faults "
        "cost the same to wait, and the chance of failing tells them apart."
    )
    return [("Ranked", str(ranked_by)), ("A week's wait costs", wait), ("Equal costs", same)]


def _left_out(table: pd.DataFrame) -> list[tuple[object, str]]:
    return [
        (
            f"{row['visits']:,} visit{'s' if row['visits'] != 1 else ''}",
            f"{row['reason']}: {row['hours']:,.1f} h of work, benefit forgone {pounds(row['benefit_gbp'])}, "
            f"{row['danger']:,} of them danger",
        )
        for row in table.to_dict("records")
    ]


def _by_week(book: Book, results: Results) -> None:
    layout = book.table(
        "By week",
        "Hours used of the hours there",
        results.summaries["week_load"],
        WEEK,
        note="Hours hold the work and one attendance a visit. Weeks without capacity show no share.",
    )
    if layout.last_row > layout.header_row:
        letter = get_column_letter(layout.columns["share"])
        bar = Rule("dataBar", dataBar=DataBar(cfvo=[_at(0), _at(1)], color=Color("FF9FB8CC"), showValue=True))
        layout.sheet.conditional_formatting.add(f"{letter}{layout.header_row + 1}:{letter}{layout.last_row}", bar)


def _benefit(book: Book, results: Results) -> None:
    """How the sums of benefit hang together."""
    book.table(
        "Benefit",
        "From the options' benefit to the plan's",
        results.summaries["benefit"],
        BENEFIT,
        note=f"{AFTER_COST_SAID} VAT excluded. "
        "Each bold line is the one before it and the signed lines between, as the audit planned; it does not follow "
        "changes on other sheets.",
        strong="total",
    )


def _at(share: float) -> FormatObject:
    return FormatObject(type="num", val=share)


def _parts(book: Book, results: Results, here: Layout | None) -> None:
    """Parts to load and to order; where `here` is given the pieces follow the sheet Visits."""
    load, order = results.summaries["parts_load"], results.summaries["parts_order"]
    if here is not None:
        load, order = live_load(load, results.summaries["pieces"]), live_order(order, results.summaries["pieces"])
    note = f"Pieces for the visits of the week; a valve body comes with its head. {_fewest(results)}"
    book.table("Parts to load", "Parts to load", load, PARTS if here is None else live_fields(PARTS), note=note)
    note = "What the planned visits need, against what is in store; the lead time runs from the order to the van. "
    note += "The store's list does not tell voltages apart: what is on hand may be of any, so look before you order."
    book.table(
        "Parts to order", "Parts to order", order, TO_ORDER if here is None else live_fields(TO_ORDER), note=note
    )


def _fewest(results: Results) -> str:
    """Which kinds of head the quarter needs, and which of them can stand in for another."""
    kinds = [
        part for part in w.RATE_ITEM if part.startswith("head_") and part in set(results.summaries["pieces"]["part"])
    ]
    if not {"head_zone", "head_zone_changeover"} <= set(kinds):
        return ""
    return (
        f"The quarter needs {len(kinds)} kinds of head. {len(kinds) - 1} would do: a changeover head of the same "
        "voltage, its sixth wire made safe, does a zone head's work (common practice, no source)."
    )


def _spoken(jobs: pd.DataFrame) -> pd.DataFrame:
    """Parts in the words of the trade: zone head × 1, not head_zone × 1."""
    parts = jobs["parts"].astype("str")
    for item, label in w.RATE_LABEL.items():
        parts = parts.str.replace(f"{item} ×", f"{label} ×", regex=False)
    return jobs.assign(parts=parts)
