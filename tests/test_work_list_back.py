"""A work list that was filled in comes back: as visits, as the planner's will, and as what changed since."""

from __future__ import annotations

import datetime as dt
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from openpyxl import load_workbook

import reports
from audit import intake, pipeline
from audit.intake.work_list import TEAM_KNOWN
from audit.policy import load_policy
from audit.progress import Progress
from reports import repeat_faults, returned_rows, stock_summary, work_list
from reports.work_list_fields import LEFT_OUT, VISITS
from reports.work_list_teams import TEAM
from schemas import work_list as words
from schemas.results import Results
from tests.reported import small_results

HOMES = "home_id,postcode\nH1,ZZ99 1AA\nH2,ZZ99 1AB\nH3,ZZ99 2AA\n"
VALVES = "valve_id,home_id,head_kind,earthed\nV1,H1,zone,no\nV3,H2,zone,no\nV4,H3,zone,no\n"
SHEET = "1 Team 1"


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The results of a small audit."""
    out = tmp_path_factory.mktemp("written")
    reports.write(small_results(), out)
    return out


def filled(written: Path, folder: Path, **sheets: dict[int, dict[str, Any]]) -> Path:
    """A copy of the work list with cells filled in: by sheet and row, header and value."""
    book = load_workbook(written / "work-list.xlsx")
    for name, rows in sheets.items():
        sheet = book[SHEET if name == "team" else name.replace("_", " ")]
        columns = {cell.value: cell.column for cell in sheet[4]}
        for row, cells in rows.items():
            for header, value in cells.items():
                sheet.cell(row, columns[header]).value = value
    book.save(folder / "work-list.xlsx")
    return folder / "work-list.xlsx"


def read(folder: Path, *more: Path, visits: str = "") -> intake.Reading:
    """Read small books, a log where one is given, and further files."""
    books = folder / "books"
    books.mkdir(exist_ok=True)
    (books / "homes.csv").write_text(HOMES, encoding="utf-8")
    (books / "valves.csv").write_text(VALVES, encoding="utf-8")
    if visits:
        (books / "visits.csv").write_text(visits, encoding="utf-8")
    return intake.read([books, *more])


def test_the_headers_looked_for_are_those_written() -> None:
    written = {field.name: field.header for field in (*LEFT_OUT, *VISITS)}
    assert {name: written[name] for name in words.PLANNER} == words.PLANNER
    team = {field.name: field.header for field in TEAM}
    assert {name: team[name] for name in words.TEAM} == words.TEAM
    assert set(TEAM_KNOWN) <= set(words.TEAM)


@pytest.mark.parametrize("name", ["stock-summary.xlsx", "repeat-faults.xlsx", "returned-rows.xlsx", "findings.csv"])
def test_results_are_never_read_as_data(written: Path, tmp_path: Path, name: str) -> None:
    found = read(tmp_path, written / name)
    assert any(f"{name}: passed over, it is the " in sentence for sentence in found.said)
    assert found.counts["rows_in"].sum() == 6
    assert found.former is None


def test_a_whole_folder_of_results_adds_no_row(written: Path, tmp_path: Path) -> None:
    found = read(tmp_path, written)
    assert found.counts["rows_in"].sum() == 6
    assert found.former is not None
    assert found.former["visit_number"].tolist() == ["H2-P1", "H1-P1", "H3-P1"]
    assert found.former["status"].tolist() == ["planned", "planned", "left_out"]


# rows of the team's sheet, danger first, then by street: H2's visit (V3 = earth), H1's (V1 = head)
H2, H1 = 5, 6
FILLED = {
    H1: {"Outcome": "fixed", "Done on": dt.datetime(2026, 10, 6), "Notes": "tested",
        "Readings (°C)": "air 41\nflow 65.5 C\nstore 61\ntap ___"},
    H2: {"Outcome": "no access", "Done on": "7/10/2026"},
}  # fmt: skip
DAY = {"Outcome": "fixed", "Done on": dt.datetime(2026, 10, 6)}
LOG = (
    "visit_id,home_id,valve_id,reported,completed,kind,outcome,action\n"
    "J9,H1,V1,2026-10-06,2026-10-06,planned,fixed,head\n"
)
COLUMN = {field.header: place for place, field in enumerate(TEAM, 1)}
CELL = re.compile(r"<table:(?:covered-)?table-cell\b[^>]*?(?:/>|>.*?</table:(?:covered-)?table-cell>)", re.S)


def as_read(found: intake.Reading) -> pd.DataFrame:
    return found.tables["visits"].set_index("visit_id")


def is_complete(visits: pd.DataFrame, book: str = "work-list.xlsx") -> None:
    assert visits.index.tolist() == ["H2-P1-20261007", "H1-P1-20261006"]
    two, one = (visits.loc[number] for number in visits.index)
    day, next_day = pd.Timestamp("2026-10-06"), pd.Timestamp("2026-10-07")
    assert one[["home_id", "valve_id", "kind", "outcome", "action"]].tolist() == [
        "H1",
        "V1",
        "planned",
        "fixed",
        "head",
    ]
    assert one[["reported", "attended", "completed"]].tolist() == [day, day, day]
    assert one[["location_temp_c", "flow_temp_c", "store_temp_c"]].tolist() == [41, 65.5, 61]
    assert pd.isna(one["tap_temp_c"])
    assert one["notes"] == "tested"
    assert two[["home_id", "valve_id", "outcome", "attended"]].tolist() == ["H2", "V3", "no_access", next_day]
    assert two[["completed", "action"]].isna().all()
    assert one[["source_file", "source_sheet", "source_row"]].tolist() == [book, SHEET, H1]


def test_what_was_done_is_read_as_visits(written: Path, tmp_path: Path) -> None:
    found = read(tmp_path, filled(written, tmp_path, team=FILLED))
    is_complete(as_read(found))
    assert found.counts.set_index("table").loc["visits", ["rows_in", "used"]].tolist() == [2, 2]
    assert "work-list" not in intake.map_text(found.maps)
    former = found.former
    assert former is not None
    assert former["outcome"].fillna("").tolist() == ["no_access", "fixed", ""]


@pytest.mark.parametrize(
    ("cells", "column", "effect"),
    [
        ({"Outcome": "fixed"}, "Done on", "returned"),
        ({"Outcome": "fixed", "Done on": "last week"}, "Done on", "returned"),
        ({"Outcome": "fixed", "Done on": dt.datetime(2025, 10, 6)}, "Done on", "returned"),  # before the list's date
        ({"Outcome": "did it", "Done on": dt.datetime(2026, 10, 6)}, "Outcome", "repaired"),
        (DAY | {"Readings (°C)": "air hot"}, "Readings (°C)", "repaired"),
        (DAY | {"Readings (°C)": "48"}, "Readings (°C)", "repaired"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_returned_with_its_place(
    written: Path, tmp_path: Path, cells: dict[str, Any], column: str, effect: str
) -> None:
    found = read(tmp_path, filled(written, tmp_path, team={H1: cells}))
    told = found.problems.loc[found.problems["file"].eq("work-list.xlsx")]
    assert told[["sheet", "row", "column", "effect"]].to_numpy().tolist() == [[SHEET, H1, column, effect]]


def test_a_tick_alone_does_not_say_that_the_work_is_done(written: Path, tmp_path: Path) -> None:
    ticked = {H1: {"Done": "☑", "Done on": dt.datetime(2026, 10, 6)}}
    found = read(tmp_path, filled(written, tmp_path, team=ticked))
    assert as_read(found).loc["H1-P1-20261006", ["completed", "action"]].isna().all()
    assert any("ticked as done but without an outcome: 1 of its rows" in sentence for sentence in found.said)


def test_a_visit_that_the_log_has_too_counts_once(written: Path, tmp_path: Path) -> None:
    found = read(tmp_path, filled(written, tmp_path, team=FILLED), visits=LOG)
    assert as_read(found).index.tolist() == ["J9", "H2-P1-20261007"]
    assert found.problems["reason"].tolist() == ["the log has this visit as J9"]
    counts = found.counts.set_index("table").loc["visits", ["rows_in", "used", "merged", "returned"]]
    assert counts.tolist() == [3, 2, 1, 0]


def test_the_planners_choices_are_read(written: Path, tmp_path: Path) -> None:
    choices = {
        5: {"Keep": "Yes", "Week starting": dt.datetime(2026, 10, 12)},
        6: {"Include": "no", "Week starting": "soon"},
    }
    found = read(tmp_path, filled(written, tmp_path, Visits=choices, Left_out={5: {"Include": "yes"}}))
    former = found.former
    assert former is not None
    assert former["include"].tolist() == ["yes", "no", "yes"]
    assert former["keep"].fillna("").tolist() == ["yes", "", ""]
    assert former["week_starting"].tolist()[:2] == [pd.Timestamp("2026-10-12"), pd.NaT]
    assert any("sheet 'Visits', row 6: Week starting “soon” cannot be read" in sentence for sentence in found.said)


def test_a_cross_beside_keep_means_yes(written: Path, tmp_path: Path) -> None:
    choices = {5: {"Keep": "x"}, 6: {"Keep": "X", "Include": "x"}}
    found = read(tmp_path, filled(written, tmp_path, Visits=choices, Left_out={5: {"Include": "x"}}))
    assert found.former is not None
    assert found.former["keep"].fillna("").tolist() == ["yes", "yes", ""]
    assert found.former["include"].fillna("").tolist() == ["yes", "", "yes"]
    assert any("Include “x, which may mean yes or no” cannot be read" in sentence for sentence in found.said)


@pytest.mark.parametrize(
    ("note", "right"),
    [("tested", True), ("the fault stays", False), ("could not reach the pump", False), ("no fault since", True)],
)
def test_a_note_that_the_fault_stays_puts_nothing_right(written: Path, tmp_path: Path, note: str, right: bool) -> None:
    cells = DAY | {"Notes": note, "Findings put right": "V1 = head-past-service-life"}
    found = as_read(read(tmp_path, filled(written, tmp_path, team={H1: cells})))
    told = found.loc["H1-P1-20261006", "rules_put_right"]
    assert told == "head-past-service-life" if right else pd.isna(told)


def test_titles_are_those_of_the_books() -> None:
    books = {"stock-summary": stock_summary, "repeat-faults": repeat_faults, "returned-rows": returned_rows}
    assert {name: module.TITLE for name, module in (books | {"work-list": work_list}).items()} == words.TITLES


def test_a_log_of_the_users_own_is_never_taken_for_a_team_sheet(tmp_path: Path) -> None:
    """Its headers may well be ours: a visit number, an outcome, a day."""
    log = "Visit number,Home,Outcome,Done on,Reported\nJ1,H1,fixed,2026-10-06,2026-10-05\n"
    found = read(tmp_path, visits=log)
    assert found.former is None
    assert found.counts.set_index("table").loc["visits", "rows_in"] == 1


def test_two_runs_and_a_planner_between_them(tmp_path: Path) -> None:
    """Both heads have no earth. The first run plans both; one is made safe, the other is kept where it stands."""
    read(tmp_path)
    hours = "team,week_starting,hours\nTeam 1,2026-10-05,9\nTeam 1,2026-10-12,9\n"
    (tmp_path / "books" / "capacity.csv").write_text(hours, encoding="utf-8")
    first = audited(tmp_path, dt.date(2026, 9, 30))
    work_list.write(first, tmp_path / "work-list.xlsx", 1000)
    book = load_workbook(tmp_path / "work-list.xlsx")
    columns = {cell.value: cell.column for cell in book["Visits"][4]}
    rows = {book["Visits"].cell(row, columns["Home"]).value: row for row in (5, 6, 7)}
    book["Visits"].cell(rows["H2"], columns["Keep"]).value = "yes"
    book["Visits"].cell(rows["H2"], columns["Week starting"]).value = dt.datetime(2026, 10, 12)
    book["Visits"].cell(rows["H3"], columns["Include"]).value = "no"
    team = {cell.value: cell.column for cell in book[SHEET][4]}
    done = next(row for row in (5, 6, 7) if "H1" in book[SHEET].cell(row, team["Week and home"]).value.split("\n"))
    book[SHEET].cell(done, team["Outcome"]).value = "fixed"
    book[SHEET].cell(done, team["Done on"]).value = dt.datetime(2026, 10, 6)
    book[SHEET].cell(done, team["Earth proved (yes/no)"]).value = "yes"
    book.save(tmp_path / "work-list.xlsx")
    again = audited(tmp_path, dt.date(2026, 10, 7), tmp_path / "work-list.xlsx")
    changes = again.summaries["plan_changes"].set_index("home_id")
    assert changes["change"].to_dict() == {"H1": "done", "H2": "kept", "H3": "dropped"}
    assert changes.loc["H1", "reason"] == "fixed on 6 Oct 2026"
    assert (
        changes.loc["H3", "reason"].startswith("not done") or "taken out by the planner" in changes.loc["H3", "reason"]
    )
    assert again.tables["planned-visits"]["home_id"].tolist() == ["H2", "H3"]
    (tmp_path / "second").mkdir()
    work_list.write(again, tmp_path / "second" / "list-2.xlsx", 1000)
    newest = read(tmp_path, tmp_path / "second" / "list-2.xlsx")
    both = read(tmp_path, tmp_path / "work-list.xlsx", tmp_path / "second" / "list-2.xlsx")
    for found in (newest, both):  # the newest list alone holds what was done; with the older one it counts once
        assert as_read(found).index.tolist() == ["H1-P1-20261006"]
        assert as_read(found)["outcome"].tolist() == ["fixed"]
        assert found.problems.empty
    assert both.counts.set_index("table").loc["visits", ["rows_in", "used", "merged"]].tolist() == [2, 1, 1]
    assert any("the newest, list-2.xlsx" in sentence and "as of 7 October 2026" in sentence for sentence in both.said)


def audited(folder: Path, as_of: dt.date, *more: Path) -> Results:
    inputs = [folder / "books", *more]
    return pipeline.audit(inputs, as_of, load_policy(), None, Progress(pipeline.STEPS), years_ahead=False)[1]


@pytest.mark.skipif(shutil.which("soffice") is None, reason="LibreOffice is not installed")
def test_a_list_filled_in_and_saved_by_libreoffice_comes_back_whole(written: Path, tmp_path: Path) -> None:
    """LibreOffice reads our file, the cells are filled in its own format, and it writes the file that is read."""
    flat = converted(written / "work-list.xlsx", "fods", tmp_path / "flat")
    text = flat.read_text(encoding="utf-8")
    for row, cells in FILLED.items():
        for header, value in cells.items():
            text = with_cell(text, SHEET, row, COLUMN[header], value)
    text = with_cell(with_cell(text, "Visits", 6, 2, "no"), "Visits", 5, 3, "yes")
    flat.write_text(text, encoding="utf-8")
    saved = converted(flat, "xlsx", tmp_path / "saved")
    found = read(tmp_path, saved)
    is_complete(as_read(found))
    former = found.former
    assert former is not None
    assert former[["include", "keep"]].fillna("").to_numpy().tolist() == [["yes", "yes"], ["no", ""], ["no", ""]]
    assert former["week_starting"].tolist()[:2] == [pd.Timestamp("2026-10-05")] * 2
    assert former["history"][0] == "planned for w/c 7 Sep 2026, no access on 9 Sep 2026, planned again"


def converted(path: Path, kind: str, folder: Path) -> Path:
    """Open a file with LibreOffice and save it as another kind."""
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    command = ["soffice", profile, "--headless", "--convert-to", kind, "--outdir", str(folder), str(path)]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    return folder / f"{path.stem}.{kind}"


def with_cell(text: str, sheet: str, row: int, column: int, value: object) -> str:
    """The text of a flat spreadsheet with one cell filled in; rows and columns from 1, repeated cells taken apart."""
    start = text.index(f'<table:table table:name="{sheet}"')
    rows = list(re.finditer(r"<table:table-row\b.*?</table:table-row>", text[start:], re.S))
    at, found = 0, rows[0]
    for found in rows:
        again = re.search(r'table:number-rows-repeated="(\d+)"', found.group(0).split(">")[0])
        at += int(again.group(1)) if again else 1
        if at >= row:
            break
    cells = CELL.findall(found.group(0))
    single = []
    for cell in cells:
        again = re.search(r' table:number-columns-repeated="(\d+)"', cell.split(">")[0])
        single += [cell.replace(again.group(0), "", 1)] * min(int(again.group(1)), 50) if again else [cell]
    style = re.search(r'table:style-name="[^"]*"', single[column - 1].split(">")[0])
    single[column - 1] = _cell(style.group(0) if style else "", value)
    new = found.group(0)[: found.group(0).index(cells[0])] + "".join(single) + "</table:table-row>"
    return text[: start + found.start()] + new + text[start + found.end() :]


def _cell(style: str, value: object) -> str:
    if isinstance(value, dt.datetime):
        return f'<table:table-cell {style} office:value-type="date" office:date-value="{value:%Y-%m-%d}"/>'
    lines = "".join(f"<text:p>{line}</text:p>" for line in str(value).split("\n"))
    return f'<table:table-cell {style} office:value-type="string">{lines}</table:table-cell>'
