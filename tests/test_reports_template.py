"""The blank workbooks and the data dictionary say what the models say, column by column."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from reports.template import BOOKS, DICTIONARY, data_dictionary_markdown, write_template
from schemas.column import Column
from schemas.results import RESULT_COLUMNS
from schemas.tables import COLUMNS

EVERY = [column for columns in COLUMNS.values() for column in columns]
LONGEST_LIST = 255  # characters that a drop-down's list may have in the file format


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    where = tmp_path_factory.mktemp("blank")
    assert write_template(where) == [where / name for name in BOOKS]
    return where


@pytest.fixture(scope="module")
def sheets(folder: Path) -> dict[str, Any]:
    return {sheet.title: sheet for name in BOOKS for sheet in load_workbook(folder / name)}


def place(sheets: dict[str, Any], column: Column) -> tuple[Any, str]:
    heads = {cell.value: cell for cell in sheets[column.table][1]}
    return heads[column.name], heads[column.name].column_letter


def test_every_table_has_its_sheet() -> None:
    assert sorted(table for tables in BOOKS.values() for table in tables) == sorted(COLUMNS)


@pytest.mark.parametrize("table", COLUMNS)
def test_sheets_are_blank_but_for_the_headers(sheets: dict[str, Any], table: str) -> None:
    assert [cell.value for cell in sheets[table][1]] == [column.name for column in COLUMNS[table]]
    assert sheets[table].max_row == 1
    assert sheets[table].freeze_panes == "B2"


@pytest.mark.parametrize("column", EVERY, ids=lambda c: f"{c.table}.{c.name}")
def test_header_notes_say_meaning_unit_bounds_and_example(sheets: dict[str, Any], column: Column) -> None:
    head, _ = place(sheets, column)
    note = head.comment.text
    assert column.meaning in note
    assert ("Required." in note) == column.required
    for part in (f"Unit: {column.unit}." if column.unit else "", column.bounds, column.example, *(column.words or ())):
        assert part in note


@pytest.mark.parametrize("column", [c for c in EVERY if c.words], ids=lambda c: f"{c.table}.{c.name}")
def test_drop_downs_offer_exactly_the_words(sheets: dict[str, Any], column: Column) -> None:
    _, letter = place(sheets, column)
    checks = [c for c in sheets[column.table].data_validations.dataValidation if f"{letter}2" in c.sqref]
    assert [c.type for c in checks] == ["list"]
    assert checks[0].formula1.strip('"').split(",") == list(column.words or ())
    assert len(checks[0].formula1) <= LONGEST_LIST


@pytest.mark.parametrize(
    "column", [c for c in EVERY if c.kind == "number" and c.high is not None], ids=lambda c: f"{c.table}.{c.name}"
)
def test_numbers_are_held_to_their_bounds(sheets: dict[str, Any], column: Column) -> None:
    _, letter = place(sheets, column)
    (check,) = [c for c in sheets[column.table].data_validations.dataValidation if f"{letter}2" in c.sqref]
    assert check.type == ("whole" if column.whole else "decimal")
    assert (float(check.formula1), float(check.formula2)) == (column.low, column.high)
    assert column.bounds in check.error


@pytest.mark.parametrize("column", [c for c in EVERY if c.kind == "id"], ids=lambda c: f"{c.table}.{c.name}")
def test_numbers_of_things_keep_their_leading_zeros(sheets: dict[str, Any], column: Column) -> None:
    _, letter = place(sheets, column)
    assert sheets[column.table].column_dimensions[letter].number_format == "@"


def test_the_dictionary_lists_every_column(folder: Path) -> None:
    for name, tables in BOOKS.items():
        rows = list(load_workbook(folder / name)[DICTIONARY].iter_rows(min_row=2, values_only=True))
        assert [row[:2] for row in rows] == [(t, c.name) for t in tables for c in COLUMNS[t]]


def test_the_same_bytes_again(folder: Path, tmp_path: Path) -> None:
    for path in write_template(tmp_path):
        assert path.read_bytes() == (folder / path.name).read_bytes()


@pytest.mark.parametrize("column", EVERY, ids=lambda c: f"{c.table}.{c.name}")
def test_the_markdown_has_every_column(column: Column) -> None:
    section = data_dictionary_markdown().split(f"**{column.table}**")[1].split("**")[0]
    (line,) = [line for line in section.split("\n") if line.startswith(f"| `{column.name}`")]
    assert column.meaning in line
    assert ("\\*" in line) == column.required
    assert line.count("|") == 5


def test_the_markdown_has_every_result_table() -> None:
    for table, columns in RESULT_COLUMNS.items():
        (line,) = [line for line in data_dictionary_markdown().split("\n") if line.startswith(f"| `{table}.csv`")]
        assert all(f"`{column.name}`" in line for column in columns)
