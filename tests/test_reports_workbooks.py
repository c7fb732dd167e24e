"""The workbooks, as outlines a reader can follow; and that text from users stays text."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from openpyxl import load_workbook

import reports
from reports.findings_sheet import kept
from reports.look import INK, MAX_CELL, QUIET, SEVERITY_FILL, SEVERITY_WORD, STRONG, Field
from reports.work_list_teams import _tests
from reports.workbook import Book
from schemas.results import CAUTIONS
from tests.contrast import contrast
from tests.outline import BOOKS, GOLDEN, outlines
from tests.reported import AS_OF, FORMULA, small_results

OURS = (  # functions, references, words of the rates, the words yes and no, and nothing else
    r"(?:SUMPRODUCT|SUMIFS|SUM|AND|ABS|MIN|EXP|'What if'!|'What-if working'!|"
    r"COUNTIF|IF|N|MAX|INDEX|MATCH|Visits!|Pieces!|'Left out'!|&quot;(?:as computed|[a-z_0-9]*)&quot;|"
    r'"(?:as computed|[a-z_0-9]*)"|\$?[A-Z]{1,2}\$?\d+|&gt;|&lt;|[0-9.(),:+*/^=-])*'
)


@pytest.fixture(scope="module")
def found() -> dict[str, str]:
    return outlines()


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("out")
    reports.write(small_results(), folder)
    return folder


@pytest.mark.parametrize("name", sorted(path.name for path in GOLDEN.iterdir()))
def test_files_are_as_agreed(found: dict[str, str], name: str) -> None:
    assert found[name] == (GOLDEN / name).read_bytes().decode("utf-8")


def test_every_workbook_has_a_golden_outline(found: dict[str, str]) -> None:
    assert set(found) == {path.name for path in GOLDEN.iterdir()}


@pytest.mark.parametrize("name", BOOKS)
def test_no_text_of_a_user_is_a_formula_or_a_link(out: Path, name: str) -> None:
    """Our own formulas stand in two workbooks, and reckon with cells; none of them holds a text from outside."""
    with zipfile.ZipFile(out / f"{name}.xlsx") as archive:
        for part in archive.namelist():
            if part.startswith("xl/worksheets/"):
                xml = archive.read(part).decode()
                assert "<hyperlink" not in xml
                found = re.findall(r"<f>(.*?)</f>", xml)
                assert not found or name in ("work-list", "stock-summary")
                assert all(re.fullmatch(OURS, formula) for formula in found), found


@pytest.mark.parametrize(
    ("sheet", "cell", "formula"),
    [
        ("Quarter", "B3", '=COUNTIF(Visits!$B$5:$B$6,"yes")'),
        ("Quarter", "B10", '=IF(N(B18)>0,B14/B18,"")'),
        ("Parts to order", "E5", '=IF(C5="","",MAX(0,D5-C5))'),
        ("Pieces", "B5", "=INDEX(Visits!$B$5:$B$6,MATCH($A5,Visits!$A$5:$A$6,0))"),
    ],
)
def test_sums_of_the_work_list_are_live(out: Path, sheet: str, cell: str, formula: str) -> None:
    book = load_workbook(out / "work-list.xlsx")
    assert book[sheet][cell].value == formula
    assert book["Visits"].data_validations.dataValidation[0].formula1 == '"yes,no"'


def test_a_team_has_a_sheet_with_boxes_and_tests(out: Path) -> None:
    sheet = load_workbook(out / "work-list.xlsx")["1 Team 1"]
    assert [sheet.cell(row, 2).value for row in (5, 6)] == [  # danger first
        f"◆ DANGER\nw/c 05 Oct 2026\nH2\n{FORMULA}\nZZ99 1AB",
        "w/c 05 Oct 2026\nH1\n1 Example Road\nZZ99 1AA",
    ]
    assert sheet["A5"].value == "☐"
    assert [sheet.cell(row, 3).value for row in (5, 6)] == [
        "Put the earth right.\nWhy: not earthed",
        "Renew the zone head.\nWhy: too hot; 14 years",
    ]
    assert "☐ earth continuity" in sheet["E5"].value
    assert all(caution in sheet["A2"].value for caution in CAUTIONS)
    assert "no_access" in sheet.data_validations.dataValidation[1].formula1


def test_setting_the_water_is_proved_at_store_and_taps() -> None:
    dry, wet, warm, both = _tests(pd.Series([False, True, False, True]), pd.Series([False, False, True, True]))
    assert dry.count("☐") == 5
    assert ("no weep" in wet, "no weep" in warm, "no weep" in both) == (True, False, True)
    assert ("bath tap read" in wet, "bath tap read" in warm, "bath tap read" in both) == (False, True, True)


@pytest.mark.parametrize("name", BOOKS)
def test_archives_hold_no_clock(out: Path, name: str) -> None:
    with zipfile.ZipFile(out / f"{name}.xlsx") as archive:
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        core = archive.read("docProps/core.xml").decode()
    assert set(re.findall(r"\d{4}-\d\d-\d\dT[\d:]+Z", core)) == {"2026-09-30T00:00:00Z"}


@pytest.mark.parametrize("name", BOOKS)
def test_every_sheet_prints_on_a4_with_its_name_and_page(out: Path, name: str) -> None:
    for sheet in load_workbook(out / f"{name}.xlsx"):
        assert (sheet.page_setup.paperSize, sheet.page_setup.orientation, sheet.page_setup.fitToWidth) == (
            9, "landscape", 1,
        )  # fmt: skip
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        assert sheet.title in sheet.oddFooter.left.text
        assert "&P" in sheet.oddFooter.right.text


@pytest.mark.parametrize("name", BOOKS)
def test_charts_lie_clear_of_cells(out: Path, name: str) -> None:
    for sheet in load_workbook(out / f"{name}.xlsx"):
        for chart in sheet._charts:
            start = chart.anchor._from
            assert start.col >= sheet.max_column or start.row >= sheet.max_row, sheet.title


def one_cell(tmp_path: Path, value: object, field: Field) -> Any:
    book = Book("Test", AS_OF)
    book.table("One", "One", pd.DataFrame({"x": [value]}), [field])
    book.save(tmp_path / "one.xlsx")
    return load_workbook(tmp_path / "one.xlsx")["One"]["A5"]


@pytest.mark.parametrize(
    "text",
    [
        FORMULA, "=1+1", "+44", "-x", "@sum", "{=1}", "http://example.org", "a & b < c > d", ' "quoted" ', "  two  ",
        "line\nbreak", "tab\there", "00123", "1e5", "TRUE", "#N/A", "-3.5", "£5 – 22 °C", "<![CDATA[x]]>", "&amp;",
    ],
)  # fmt: skip
def test_text_is_read_back_as_text(tmp_path: Path, text: str) -> None:
    cell = one_cell(tmp_path, text, Field("x", "X"))
    assert (cell.value, cell.data_type) == (text, "s")


@pytest.mark.parametrize(
    ("text", "kept_text"),
    [
        ("a\x00b\x0bc\x1fd", "a\ufffdb\ufffdc\ufffdd"), ("a\ufffeb", "a\ufffdb"), ("a\r\nb\rc", "a\nb\nc"),
        ("x" * MAX_CELL, "x" * MAX_CELL), ("x" * (MAX_CELL + 1), "x" * (MAX_CELL - 8) + " … (cut)"),
    ],
    ids=["control characters", "no character", "line ends", "just fits", "too long"],
)  # fmt: skip
def test_text_that_a_cell_cannot_hold_is_cleaned(tmp_path: Path, text: str, kept_text: str) -> None:
    assert one_cell(tmp_path, text, Field("x", "X", "prose")).value == kept_text


@pytest.mark.parametrize(
    ("value", "form", "read"),
    [
        (0.1 + 0.2, "number", 0.3), (12.0, "whole", 12), (-2.675, "money", -2.675), (0.125, "share", 0.125),
        (pd.Timestamp("2026-02-28"), "date", pd.Timestamp("2026-02-28")), (7, "any", 7), ("=x", "any", "=x"),
        (pd.Timestamp("1900-03-01"), "date", pd.Timestamp("1900-03-01")), (float("nan"), "number", None),
        (float("inf"), "money", None), (pd.NaT, "date", None), (None, "text", None), ("", "text", None),
        (pd.Timestamp("2026-02-28T09:45"), "time", pd.Timestamp("2026-02-28T09:45")),
        ("mid_position", "word", "mid-position"), ("danger", "severity", "◆ danger"), ("odd", "severity", "odd"),
    ],
)  # fmt: skip
def test_values_keep_their_kind(tmp_path: Path, value: object, form: Any, read: object) -> None:
    assert one_cell(tmp_path, value, Field("x", "X", form)).value == read


def test_a_long_table_is_cut_and_says_where_the_rest_is(tmp_path: Path) -> None:
    book = Book("Test", AS_OF)
    layout = book.table(
        "Many", "Many", pd.DataFrame({"x": range(10)}), [Field("x", "X", "whole")], max_rows=3, csv="x.csv"
    )
    book.save(tmp_path / "many.xlsx")
    sheet = load_workbook(tmp_path / "many.xlsx")["Many"]
    assert sheet["A3"].value == "The first 3 of 10 rows are shown; x.csv holds them all."
    assert [sheet.cell(row, 1).value for row in range(5, 9)] == [0, 1, 2, None]
    assert (layout.header_row, layout.last_row) == (4, 7)


@pytest.mark.parametrize(
    ("rows", "area", "said"),
    [
        (10, "'Many'!$A$1:$A$7", "On paper: the first 3 of 10 rows; clear the print area to print them all."),
        (3, "", None),
    ],
)
def test_paper_takes_the_first_rows_of_a_long_table(tmp_path: Path, rows: int, area: str, said: str | None) -> None:
    book = Book("Test", AS_OF)
    book.table("Many", "Many", pd.DataFrame({"x": range(rows)}), [Field("x", "X", "whole")], paper_rows=3)
    book.save(tmp_path / "many.xlsx")
    sheet = load_workbook(tmp_path / "many.xlsx")["Many"]
    assert (sheet.print_area, sheet["A3"].value, sheet.max_row) == (area, said, 4 + rows)


def test_rows_beyond_one_piece_keep_their_place(tmp_path: Path) -> None:
    book = Book("Test", AS_OF)
    book.table("Many", "Many", pd.DataFrame({"x": range(20_003)}), [Field("x", "X", "whole")])
    book.save(tmp_path / "many.xlsx")
    values = load_workbook(tmp_path / "many.xlsx")["Many"].iter_rows(min_row=5, values_only=True)
    assert [row[0] for row in values] == list(range(20_003))


def test_columns_with_nothing_in_them_are_left_out() -> None:
    fields = (Field("a", "A"), Field("b", "B"), Field("c", "C"))
    frame = pd.DataFrame({"a": ["x"], "b": [None]})
    assert [field.name for field in kept(fields, frame)] == ["a"]
    assert kept(fields, frame.iloc[:0]) == list(fields)


def test_wrapped_rows_are_tall_enough(tmp_path: Path) -> None:
    book = Book("Test", AS_OF)
    frame = pd.DataFrame({"x": ["short", "word " * 40, "one\ntwo\nthree"]})
    book.table("Tall", "Tall", frame, [Field("x", "X", "prose", 22)])
    book.save(tmp_path / "tall.xlsx")
    rows = load_workbook(tmp_path / "tall.xlsx")["Tall"].row_dimensions
    # 200 characters in 22 wide: 23 a line, 9 lines of 12.75 points and 3 of air
    assert [rows[row].height for row in (5, 6, 7)] == [15.75, 9 * 12.75 + 3, 3 * 12.75 + 3]


@pytest.mark.parametrize("fill", [*SEVERITY_FILL.values(), STRONG, "FFFFFF"])
def test_text_stands_out_from_its_fill(fill: str) -> None:
    assert contrast(INK, fill) >= 4.5


def test_quiet_text_is_still_readable() -> None:
    assert contrast(QUIET, "FFFFFF") >= 4.5


def test_severities_differ_in_shape_not_only_in_colour() -> None:
    assert len({word[0] for word in SEVERITY_WORD.values()}) == len(SEVERITY_WORD)
    assert all(word.endswith(name) for name, word in SEVERITY_WORD.items())
