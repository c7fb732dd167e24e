"""A danger is never lost: what notes and boxes say of an earth, and what becomes of it from run to run."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
from openpyxl import load_workbook

from audit import intake, pipeline
from audit.facts import facts
from audit.findings import findings
from audit.intake.notes_dangers import explain_danger
from audit.telling import returned_danger_lines
from reports import page, returned_rows
from reports.work_list_teams import add_teams
from reports.workbook import Book
from tests.frames import default_policy, found, portfolio
from tests.reported import small_results

NOTES = """
no earth                                                     -> no
not earthed                                                  -> no
earth missing                                                -> no
erth missing                                                 -> no
head isolated only, NO EARTH at head, electrician needed     -> no, isolated
found no earth at head, left isolated                        -> no, isolated
earth proved                                                 -> yes
earth continuity ok                                          -> yes
earthed ok                                                   -> yes
cpc proved                                                   -> yes
earth reconnected and proved                                 -> yes
no earth at head. Earth connected and proved                 -> yes
earth connected but not proved                               -> no
earth proved at first, no earth now                          -> no
unable to prove the earth                                    -> no
earth to be proved                                           -> no
electrician to connect earth                                 -> no
no continuity on earth                                       -> no
earth not ok                                                 -> no
proved dead, no earth                                        -> no
no earth at head, fitted new head                            -> no
no earth at head, new head fitted and tested ok              -> no
no earth at head - heating working fine                      -> no
no earth at head, earth ok at boiler                         -> no
earth reconnected, tested                                    -> done
earth disconnected, reconnected                              -> done
no earth at head, connected cpc, tested                      -> done
boiler earth ok                                              ->
earth proved last year                                       ->
tenant says earth ok                                         ->
if earth ok leave on                                         ->
head shorting to earth, new head                             ->
fixed, no earth issues                                       ->
no leak, earth ok                                            -> yes
head left isolated                                           -> isolated
isolated leaking valve, return with new valve                ->
"""


def test_notes_say_whether_the_earth_was_missing_or_proved() -> None:
    for line in NOTES.strip().splitlines():
        note, _, said = (part.strip() for part in line.partition("->"))
        told = explain_danger(note)
        read = [told.get("earthed", ""), "isolated" if "left_isolated" in told else ""]
        assert ", ".join(filter(None, read)) == said, note


# the work list that a first run wrote for V1 (no earth): outcome, note, box → whether the danger is still there,
# and words of its statement
BACK = (
    ("fixed", "", "", True, "Marked fixed on 6 October 2026, but the earth was not written as proved"),
    ("fixed", "", "yes", False, ""),
    ("fixed", "", "no", True, "found without a proved earth on 6 October 2026"),
    ("fixed", "earth connected and proved", "", False, ""),
    ("fixed", "earth reconnected", "", True, "not written as proved"),
    ("fixed", "head isolated only, NO EARTH at head, electrician needed", "", True, "left isolated on 6 October 2026"),
    ("fixed", "not earthed", "", True, "found without a proved earth"),
    ("fixed", "not earthed", "yes", True, "found without a proved earth"),
    ("fixed", "no earth at head. Earth connected and proved", "yes", False, ""),
    ("fixed", "tested, all ok", "", True, "not written as proved"),
    ("temporary", "", "", True, "recorded as not earthed"),
    ("temporary", "", "yes", False, ""),
    ("no_access", "", "", True, "recorded as not earthed"),
    ("parts_needed", "left isolated", "", True, "left isolated on 6 October 2026"),
    ("", "", "yes", False, ""),
    ("", "", "no", True, "found without a proved earth"),
)
DAY = dt.datetime(2026, 10, 6)


Found = dict[str, str]  # by home, the statements of its dangers


def judged(folder: Path, as_of: dt.date, *more: Path) -> tuple[Found, pd.DataFrame]:
    """The dangers found in the books and the lists given, and the visits that were read."""
    book, results = pipeline.read([folder / "books", *more], as_of, default_policy())
    table = findings(facts(book, as_of, default_policy()), default_policy(), book.absent)
    rows = table.loc[table["severity"].eq("danger")]
    return dict(zip(rows["home_id"], rows["statement"], strict=True)), results.clean["visits"]


def books(folder: Path, homes: str, valves: str, visits: str = "") -> Path:
    (folder / "books").mkdir(parents=True)
    tables = {"homes": homes, "valves": valves, "visits": visits}
    for name, text in tables.items():
        if text:
            (folder / "books" / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


def filled(path: Path, homes: Sequence[str]) -> Path:
    """A team's sheet that orders the earth of V<home> in each home, filled in as BACK says."""
    planned = small_results().tables["planned-visits"]
    row = planned.loc[planned["home_id"].eq("H2")]
    work = {"home_id": homes, "visit_number": [f"{h}-P1" for h in homes], "work": [f"V{h} = earth" for h in homes]}
    book = Book("Work list", dt.date(2026, 9, 30))
    add_teams(book, row.loc[row.index.repeat(len(homes))].reset_index(drop=True).assign(**work), 1000)
    book.save(path)
    made = load_workbook(path)
    sheet = made.worksheets[0]
    at = {cell.value: cell.column for cell in sheet[4]}
    of_home = {
        line: row
        for row in range(5, sheet.max_row + 1)
        for line in sheet.cell(row, at["Week and home"]).value.split("\n")
    }
    for home, (outcome, note, box, _, _) in zip(homes, BACK, strict=True):
        cells = {"Outcome": outcome, "Done on": DAY, "Notes": note, "Earth proved (yes/no)": box}
        for header, value in cells.items():
            sheet.cell(of_home[home], at[header]).value = value or None
    made.save(path)
    return path


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> tuple[Found, Found, pd.DataFrame]:
    """The dangers before and after a work list was filled in, a home for each line of BACK and one more; its visits."""
    homes = [f"H{n:02}" for n in range(len(BACK) + 1)]
    folder = books(
        tmp_path_factory.mktemp("dangers"),
        "home_id,postcode\n" + "".join(f"{home},ZZ99 1AA\n" for home in homes),
        "valve_id,home_id,head_kind,earthed\n" + "".join(f"V{home},{home},zone,no\n" for home in homes),
    )
    before, _ = judged(folder, dt.date(2026, 9, 30))
    return before, *judged(folder, dt.date(2026, 10, 7), filled(folder / "work-list.xlsx", homes[:-1]))


def test_a_danger_is_cleared_by_its_proof_alone(runs: tuple[Found, Found, pd.DataFrame]) -> None:
    for n, (*told, stays, words) in enumerate(BACK):
        assert (f"H{n:02}" in runs[1]) == stays, told
        assert words in runs[1].get(f"H{n:02}", ""), (told, runs[1])


def test_no_danger_of_the_first_run_is_gone_in_the_second_without_its_proof(
    runs: tuple[Found, Found, pd.DataFrame],
) -> None:
    before, after, visits = runs
    assert len(before) == len(BACK) + 1
    assert before.keys() - after.keys() == set(visits.loc[visits["earthed"].eq("yes"), "home_id"])
    assert before.keys() >= after.keys()


# ---------------------------------------------------------------- logs, and dangers found by the way

EARTHS, ACTIONS, OUTCOMES = ("", "yes", "no", "unproved"), ("earth", "head"), ("fixed", "temporary", "")


def test_the_law_for_every_log() -> None:
    """A head recorded as not earthed is a danger unless the last word on it is yes, or an earth put right and fixed."""
    cases = list(itertools.product(EARTHS, ACTIONS, OUTCOMES, ("", "yes")))
    valves = [{"valve_id": f"V{n}", "home_id": f"H{n}", "earthed": "no"} for n in range(len(cases))]
    visits = [
        {"visit_id": f"J{n}", "home_id": f"H{n}", "valve_id": f"V{n}", "reported": "2026-01-05", "kind": "planned",
         "completed": "2026-01-06", "earthed": earthed, "action": action, "outcome": outcome, "left_isolated": off}
        for n, (earthed, action, outcome, off) in enumerate(cases)
    ]  # fmt: skip
    table = found(portfolio(valves=valves, visits=visits))
    there = set(table.loc[table["rule"].eq("not-earthed"), "valve_id"])
    for n, (earthed, action, outcome, off) in enumerate(cases):
        proved = earthed == "yes" or (not earthed and action == "earth" and outcome == "fixed" and not off)
        assert (f"V{n}" not in there) == proved, cases[n]


HOMES = "home_id,postcode,address\nH1,ZZ99 1AA,1 Road\nH2,ZZ99 1AB,2 Road\nA3,ZZ99 2AA,3 Road\nA3,ZZ99 2BB,9 Lane\n"
VALVES = """valve_id,home_id,head_kind,earthed,flow_temp_c,voltage_v
V1,H1,zone,yes,,
V2,H2,zone,yes,,
V3,H2,zone,,,
V4,A3,zone,no,,
V5,A3,zone,no,,24
V6,A3,zone,yes,103,
"""
LOG = """visit_id,home_id,valve_id,reported,completed,kind,outcome,action,notes
J1,H1,,2026-10-05,2026-10-06,planned,fixed,head,"found no earth at head, left isolated"
J2,H2,,2026-10-05,2026-10-06,planned,fixed,head,"found no earth at head, left isolated"
J3,A3,,2026-10-05,2026-10-06,planned,fixed,head,no earth at the head
"""


def test_a_danger_found_by_the_way_and_one_on_a_returned_row(tmp_path: Path) -> None:
    """The first is of its valve, or of the home where nobody wrote which; the other comes first on screen and paper."""
    folder = books(tmp_path, HOMES, VALVES, LOG)
    there, _ = judged(folder, dt.date(2026, 10, 31))
    assert there.keys() == {"H1", "H2"}
    assert "found without a proved earth on 6 October 2026" in there["H1"]
    assert "It was left isolated on 6 October 2026." in there["H1"]
    assert "does not say at which of 2 valves (which head?)" in there["H2"]
    told = (
        "V4, home A3 (valves.csv, row 5) is recorded as not earthed",
        "J3, home A3 (visits.csv, row 4) found no earth, or none proved on 05 Oct 2026",
        "V6, home A3 (valves.csv, row 7) records water at 103 °C, near boiling (above 95 °C)",
    )
    lines = [f"DANGER ON A RETURNED ROW: {what}: make it safe today, then mend the row." for what in told]
    results = pipeline.read([folder / "books"], dt.date(2026, 10, 31), default_policy())[1]
    assert returned_danger_lines(results) == lines
    both = {**small_results().summaries, **results.summaries}
    results = replace(small_results(), problems=results.problems, summaries=both)
    returned_rows.write(results, tmp_path / "returned-rows.xlsx")
    book = load_workbook(tmp_path / "returned-rows.xlsx")
    assert [row[1].value for row in book["Read first"].iter_rows(min_row=3, max_row=5)] == lines
    listed = book["All problems"]
    at = {cell.value: cell.column for cell in listed[4]}
    first = {(listed.cell(row, at["Table"]).value, listed.cell(row, at["Row"]).value) for row in (5, 6, 7)}
    assert first == {("valves", 5), ("valves", 7), ("visits", 4)}
    html = page.render(results)
    assert html.index("is recorded as not earthed: make it safe today") < html.index("In numbers")
    assert "<strong>Make it safe today.</strong>" in html


TWICE = "visit_id,home_id,valve_id,reported,completed,kind,outcome,action,earthed,notes\n"


@pytest.mark.parametrize(
    ("row", "earthed"),
    [
        ("J1,H1,V1,2026-10-05,2026-10-06,planned,fixed,earth,,", "unproved"),  # the log asks, and the cell is empty
        ("J1,H1,V1,2026-10-05,2026-10-06,planned,fixed,earth,y,", "yes"),
        ("J1,H1,V1,2026-10-05,2026-10-06,planned,fixed,earth,not earthed,", "no"),
        ("J1,H1,V1,2026-10-05,2026-10-06,planned,fixed,head,,earth proved", "yes"),
        ("J1,H1,V1,2026-10-05,2026-10-06,planned,fixed,head,yes,no earth", "no"),
    ],
)
def test_a_log_that_asks_for_the_earth(tmp_path: Path, row: str, earthed: str) -> None:
    other = "J2,H2,V2,2026-10-05,2026-10-06,planned,fixed,head,yes,\n"
    found_there = intake.read([books(tmp_path, HOMES, VALVES, TWICE + row + "\n" + other) / "books"])
    visits: pd.DataFrame = found_there.tables["visits"]
    assert visits.set_index("visit_id").loc["J1", "earthed"] == earthed
