"""Annotated copies: the keeper of the records gets the own workbook back, with marks and nothing else changed."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill
from openpyxl.worksheet.datavalidation import DataValidation

from audit import intake
from audit.intake.columns import Choice, ColumnMap, Header
from audit.intake.places import with_cells
from reports import annotated, returned_rows
from reports.annotated import annotate
from schemas.results import MARKS_TITLE, Results
from tests.reported import small_results

AS_OF = dt.date(2026, 9, 30)
RED, AMBER = "thick", "mediumDashed"  # a mark is known by its border, whatever the eye makes of its colour
HEADS = ("Asset no", "Property ref", "Date fitted (head)", "Date fitted (body)", "Ambient temp (°C)", "Twice", "Make")


@pytest.fixture
def register(tmp_path: Path) -> Path:
    """A register as a contractor keeps it: title, merged cells, formulas, formats, comments, a hidden sheet."""
    book = Workbook()
    sheet = book.active
    sheet.title = "Reg'ister"
    sheet["A1"], sheet["A1"].font = "Heating valves", Font(bold=True, size=16)
    sheet.merge_cells("A1:C1")
    for place, text in enumerate(HEADS, 1):
        sheet.cell(3, place, text)
    for row in range(4, 8):
        sheet.cell(row, 1, f"V{row}")
        sheet.cell(row, 2, f"H{row}")
        sheet.cell(row, 3, dt.datetime(2015, 3, row)).number_format = "dd/mm/yyyy"
        sheet.cell(row, 5, 40.25 + row)
        sheet.cell(row, 6, f"=E{row}*2")
    sheet["G4"].value, sheet["G4"].data_type = "=1+1", "s"
    sheet["G5"].fill = PatternFill("solid", fgColor="00FF00")
    sheet["A5"].comment = Comment("ask Team 1", "keeper")
    sheet["C6"].value = "31/02/2019"
    sheet["C7"].value, sheet["C7"].number_format = -4, "dd/mm/yyyy"
    sheet.merge_cells("G6:G7")
    sheet.column_dimensions["B"].width = 31
    sheet.column_dimensions["D"].number_format = "@"
    sheet.column_dimensions["D"].width = 12
    check = DataValidation(type="list", formula1='"a,b"')
    check.add("G4:G9")
    sheet.add_data_validation(check)
    sheet.freeze_panes = "B4"
    book.create_sheet("Old").sheet_state = "hidden"
    book["Old"]["A1"] = "left from 2019"
    path = tmp_path / "register.xlsx"
    book.save(path)
    return with_results(path, {f"E{row}*2": f"{2 * (40.25 + row)}" for row in range(4, 8)})


def with_results(path: Path, results: Mapping[str, str]) -> Path:
    """Put the last results of formulas into a workbook, as a spreadsheet program leaves them there."""
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    for formula, value in results.items():
        for empty in (b"<v></v>", b"<v/>", b"<v />"):
            old = b"<f>%s</f>%s" % (formula.encode(), empty)
            new = b"<f>%s</f><v>%s</v>" % (formula.encode(), value.encode())
            parts = {name: data.replace(old, new) for name, data in parts.items()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return path


def problem(cell: str, effect: str = "repaired", **more: Any) -> dict[str, Any]:
    row = float("".join(filter(str.isdigit, cell)))
    told = {"table": "valves", "file": "register.xlsx", "sheet": "Reg'ister", "row": row, "column": "C", "field": "c"}
    words = {"value": "was", "reason": "it is so", "mend": "change it"}
    return {**told, **words, "cell": cell, "effect": effect, **more}


def copied(path: Path, *problems: dict[str, Any]) -> Any:
    return load_workbook(io.BytesIO(annotate(path, pd.DataFrame(problems), AS_OF)))


def cells(book: Any) -> dict[tuple[str, str], tuple[Any, ...]]:
    """Everything of every cell but fill, border and comment."""
    return {
        (sheet.title, c.coordinate): (c.value, c.data_type, c.number_format, c.font.b, c.font.sz, c.alignment.wrap_text)
        for sheet in book.worksheets
        for row in sheet.iter_rows()
        for c in row
    }


def test_nothing_else_is_changed(register: Path) -> None:
    before, after = load_workbook(register), copied(register, problem("A4"), problem("C6", "returned"))
    assert after.sheetnames == ["Marks", *before.sheetnames]
    kept = {key: told for key, told in cells(after).items() if key[0] != "Marks"}
    assert kept == cells(before)
    for sheet in before.worksheets:
        again = after[sheet.title]
        assert again.sheet_state == sheet.sheet_state
        assert again.merged_cells.ranges == sheet.merged_cells.ranges
        assert again.freeze_panes == sheet.freeze_panes
        assert [d.sqref for d in again.data_validations.dataValidation] == [
            d.sqref for d in sheet.data_validations.dataValidation
        ]
        widths = {name: d.width for name, d in sheet.column_dimensions.items()}
        assert {name: again.column_dimensions[name].width for name in widths} == widths


def test_formulas_keep_their_last_results(register: Path) -> None:
    book = load_workbook(io.BytesIO(annotate(register, pd.DataFrame([problem("A4")]), AS_OF)), data_only=True)
    assert [book["Reg'ister"][f"F{row}"].value for row in range(4, 8)] == [88.5, 90.5, 92.5, 94.5]


def test_a_number_that_is_no_date_stays_though_its_format_says_date(register: Path) -> None:
    with zipfile.ZipFile(io.BytesIO(annotate(register, pd.DataFrame([problem("A4")]), AS_OF))) as archive:
        assert b"<v>-4</v>" in archive.read("xl/worksheets/sheet2.xml")


def test_a_mark_is_a_border_a_fill_and_words(register: Path) -> None:
    sheet = copied(register, problem("E4"), problem("C6", "returned", reason="no such day", mend="correct it"))[
        "Reg'ister"
    ]
    assert sheet["C6"].border.left.style == sheet["C6"].border.top.style == RED
    assert sheet["E4"].border.left.style == sheet["E4"].border.bottom.style == AMBER
    assert sheet["C6"].fill.fgColor.rgb != sheet["E4"].fill.fgColor.rgb
    assert sheet["C6"].comment.text == "Returned: no such day. Mend: correct it.\n(valve-audit)"
    assert sheet["E4"].comment.text.startswith("Repaired: ")
    marked = {c.coordinate for row in sheet.iter_rows() for c in row if c.border.left.style}
    assert marked == {"C6", "E4"}


def test_several_problems_of_a_cell_are_one_mark_and_the_worst_counts(register: Path) -> None:
    twice = problem("C6", reason="first", mend="a"), problem("C6", "returned", reason="second", mend="b")
    cell = copied(register, *twice, twice[0])["Reg'ister"]["C6"]
    assert cell.border.left.style == RED
    assert cell.comment.text == "Repaired: first. Mend: a.\nReturned: second. Mend: b.\n(valve-audit)"


def test_a_comment_that_was_there_stays_and_is_added_to(register: Path) -> None:
    comment = copied(register, problem("A5", reason="so", mend="do"))["Reg'ister"]["A5"].comment
    assert comment.text == "ask Team 1\n\nRepaired: so. Mend: do.\n(valve-audit)"
    assert comment.author == "keeper"


def test_a_cell_hidden_by_a_merge_is_marked_where_it_shows(register: Path) -> None:
    sheet = copied(register, problem("G7"), problem("B1", "returned"))["Reg'ister"]
    assert (sheet["G6"].border.left.style, sheet["A1"].border.left.style) == (AMBER, RED)


def test_an_empty_cell_takes_the_format_of_its_column(register: Path) -> None:
    assert copied(register, problem("D5"))["Reg'ister"]["D5"].number_format == "@"


def test_marks_of_an_earlier_copy_are_taken_away(register: Path, tmp_path: Path) -> None:
    first = tmp_path / "first.xlsx"
    first.write_bytes(
        annotate(register, pd.DataFrame([problem("A5"), problem("E4"), problem("C6", "returned")]), AS_OF)
    )
    book = copied(first, problem("E4", reason="still", mend="do"))
    sheet = book["Reg'ister"]
    assert book.sheetnames == ["Marks", "Reg'ister", "Old"]
    assert sheet["A5"].comment.text == "ask Team 1"
    assert sheet["C6"].comment is None
    assert sheet["E4"].comment.text == "Repaired: still. Mend: do.\n(valve-audit)"
    assert {c.coordinate for row in sheet.iter_rows() for c in row if c.border.left.style} == {"E4"}
    assert sheet["G5"].fill.fgColor.rgb == "0000FF00"


def test_the_first_sheet_lists_and_links_every_mark(register: Path) -> None:
    book = copied(register, problem("E7", value="x"), problem("C6", "returned"), problem("A4"))
    marks = book.worksheets[0]
    assert marks["A1"].value == MARKS_TITLE
    rows = [[cell.value for cell in row] for row in marks.iter_rows(min_row=7)]
    assert rows[0] == [
        *("What", "Cell", "Sheet", "Row", "Column", "What stood there"),
        *("Why it could not be used as it stood", "How to mend it"),
    ]
    assert [row[:4] for row in rows[1:]] == [
        ["Repaired", "A4", "Reg'ister", 4],
        ["Returned", "C6", "Reg'ister", 6],
        ["Repaired", "E7", "Reg'ister", 7],
    ]
    assert [marks[f"B{n}"].hyperlink.location for n in (8, 9, 10)] == [
        "'Reg''ister'!A4",
        "'Reg''ister'!C6",
        "'Reg''ister'!E7",
    ]
    assert (marks.freeze_panes, marks.auto_filter.ref, marks.print_title_rows) == ("C8", "A7:H10", "$7:$7")
    assert (marks.page_setup.paperSize, marks.page_setup.orientation, marks.page_setup.fitToHeight) == (
        9,
        "landscape",
        0,
    )
    assert [sheet.sheet_view.tabSelected for sheet in book.worksheets] == [True, False, False]


def test_a_sheet_named_marks_of_the_users_own_stays(tmp_path: Path) -> None:
    book = Workbook()
    book.active.title = "Marks"
    book.active["A1"] = "my own"
    book.save(tmp_path / "own.xlsx")
    again = copied(tmp_path / "own.xlsx", problem("A1", sheet="Marks"))
    assert again.sheetnames == ["Marks1", "Marks"]
    assert again["Marks"]["A1"].value == "my own"
    assert again["Marks"]["A1"].comment is not None


@settings(max_examples=15, deadline=None)
@given(st.text(max_size=60), st.text(min_size=1, max_size=60))
def test_no_text_becomes_a_formula(tmp_path_factory: pytest.TempPathFactory, value: str, reason: str) -> None:
    path = tmp_path_factory.mktemp("any") / "a.xlsx"
    book = Workbook()
    book.active.title = "S"
    book.save(path)
    told = problem("B2", sheet="S", value="=" + value, reason="@" + reason, mend="+1", column="-1")
    again = copied(path, told)
    assert not [c.coordinate for sheet in again for row in sheet.iter_rows() for c in row if c.data_type == "f"]
    assert again["S"]["B2"].comment.text.startswith("Repaired: @")


def test_equal_input_gives_equal_bytes(register: Path) -> None:
    problems = pd.DataFrame([problem("A4"), problem("C6", "returned")])
    assert annotate(register, problems, AS_OF) == annotate(register, problems, AS_OF)


def test_what_a_copy_cannot_carry_is_said(register: Path) -> None:
    with zipfile.ZipFile(register, "a") as archive:
        archive.writestr("xl/media/image1.png", b"no picture")
        archive.writestr("xl/charts/chart1.xml", b"<c/>")
    said = copied(register, problem("A4")).worksheets[0]["A5"].value
    assert said == "Not in this copy, but in the original: pictures. Drawn anew and perhaps different: charts."


# ---------------------------------------------------------------- the set of copies


def results(originals: Mapping[str, Path], problems: list[dict[str, Any]]) -> Results:
    return replace(small_results(), originals=dict(originals), problems=pd.DataFrame(problems))


def test_only_workbooks_with_something_to_mend_are_copied(register: Path, tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text("a,b\n1,2\n")
    originals = {"register.xlsx": register, "fine.xlsx": register, "same.xlsx": register, "log.csv": log}
    problems = [problem("A4"), problem("A2", file="log.csv", sheet=None), problem("A4", "merged", file="same.xlsx")]
    told = dict(annotated.write(results(originals, problems), tmp_path / "annotated", 100))
    assert [path.name for path in (tmp_path / "annotated").iterdir()] == ["register.xlsx"]
    assert told["register.xlsx"] == "1 place to mend, marked in annotated/register.xlsx."
    assert "only .xlsx workbooks are copied" in told["log.csv"]
    assert set(told) == {"register.xlsx", "log.csv"}


@pytest.mark.parametrize(
    ("content", "most_rows", "why"),
    [
        (None, 6, "7 rows are more than 6 (workbook.annotate_rows)"),
        (b"PK nonsense", 100, "it could not be written anew"),
    ],
)
def test_no_copy_is_said_and_stops_nothing(
    register: Path, tmp_path: Path, content: bytes | None, most_rows: int, why: str
) -> None:
    """The register fills seven rows in all: one, three to seven, and one of its hidden sheet."""
    if content:
        register.write_bytes(content)
    told = annotated.write(results({"register.xlsx": register}, [problem("A4")]), tmp_path / "annotated", most_rows)
    assert why in told[0][1]
    assert not (tmp_path / "annotated").exists()
    returned_rows.write(small_results(), tmp_path / "r.xlsx", told)
    front = load_workbook(tmp_path / "r.xlsx").worksheets[0]
    assert any(why in str(row[1].value) for row in front.iter_rows())


# ---------------------------------------------------------------- read again


def test_a_copy_is_read_like_the_original(register: Path, tmp_path: Path) -> None:
    reading = intake.read([register])
    problems = with_cells(reading.problems, reading.maps)
    assert problems["cell"].tolist() == ["C6", "C7"]
    copy = tmp_path / "copy" / "register.xlsx"
    copy.parent.mkdir()
    copy.write_bytes(annotate(register, problems, AS_OF))
    again = intake.read([copy])
    for name, table in reading.tables.items():
        pd.testing.assert_frame_equal(again.tables[name], table)
    pd.testing.assert_frame_equal(again.problems, reading.problems)
    assert set(again.said) - set(reading.said) == {
        "register.xlsx, sheet 'Marks': passed over, it lists the marks of an earlier audit."
    }


def test_a_mended_copy_has_nothing_left_to_mend(register: Path, tmp_path: Path) -> None:
    reading = intake.read([register])
    copy = tmp_path / "mended.xlsx"
    copy.write_bytes(annotate(register, with_cells(reading.problems, reading.maps), AS_OF))
    book = load_workbook(copy)
    for place in ("C6", "C7"):
        book["Reg'ister"][place].value = dt.datetime(2019, 2, 28)
    book.save(copy)
    assert intake.read([copy]).problems.empty


# ---------------------------------------------------------------- which cell


def table_map(row: int, *columns: tuple[str, str, str]) -> ColumnMap:
    chosen = tuple(
        Choice(name, Header(header, "", ord(letter) - 65, letter), 1.0, "") for name, header, letter in columns
    )
    return ColumnMap("log.xlsx", "Jobs", row, "visits", "", chosen)


@pytest.mark.parametrize(
    ("row", "column", "cell", "field", "header"),
    [
        (5.0, "Date", "C5", "reported", "Date"),
        (5.0, "reported", "C5", "reported", "Date"),  # named as the audit names it
        (25.0, "Date", "D25", "reported", "Date"),  # the second table of the sheet
        (20.0, "Date", "C20", "reported", "Date"),  # a header's own row belongs to no table above it
        (5.0, "notes", "B5", "notes", "notes"),  # no such column: the row's first cell
    ],
)
def test_a_problem_is_placed(row: float, column: str, cell: str, field: str, header: str) -> None:
    maps = [
        table_map(3, ("visit_id", "Job", "B"), ("reported", "Date", "C")),
        table_map(21, ("reported", "Date", "D"), ("visit_id", "Job", "E")),
    ]
    told = {"table": "visits", "file": "log.xlsx", "sheet": "Jobs", "row": row, "column": column}
    placed = with_cells(pd.DataFrame([told]), maps).iloc[0]
    assert (placed["cell"], placed["field"], placed["column"]) == (cell, field, header)


def test_a_problem_of_a_whole_file_has_no_cell() -> None:
    told = {"table": "visits", "file": "log.xlsx", "sheet": None, "row": None, "column": "Date"}
    placed = with_cells(pd.DataFrame([told]), [])
    assert placed["cell"].isna().all()
    assert placed["field"].tolist() == ["Date"]
