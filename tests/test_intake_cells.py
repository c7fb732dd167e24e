"""The look at a sheet's bytes: reach and error cells are the same however the bytes are cut."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.intake.cells import UNCOMPUTED, Found
from audit.intake.ods import Walk
from audit.intake.sheet import letters
from tests import hostile

SHEET = (
    b'<?xml version="1.0"?><worksheet><sheetData>'
    b'<row r="1"><c r="A1" t="inlineStr"><is><t>valve_id</t></is></c><c r="B1" t="s"><v>0</v></c></row>'
    b'<row r="2" spans="1:3"><c r="A2" s="1" t="e"><v>#N/A</v></c><c r="B2" t="str"><f>A1&amp;"x"</f><v>x</v></c>'
    b'<c r="C2" t="e"><f>1/0</f><v>#DIV/0!</v></c></row>'
    b'<row r="7"><c r="AB7"><f>SUM(A1:A2)</f><v></v></c><c r="AC7"><f>A1</f></c><c r="AD7" t="str"><f>A9</f><v></v></c>'
    b'<c r="AE7" s="4"/></row>'
    b'<row r="9"><c r="B9" t="inlineStr"><is><t>a text with t="e" and r="ZZ99" in it</t></is></c></row>'
    b'</sheetData><mergeCells count="1"><mergeCell ref="A1:B1"/></mergeCells></worksheet>'
)
MARKS = {(1, 0): "#N/A", (1, 2): "#DIV/0!", (6, 27): UNCOMPUTED, (6, 28): UNCOMPUTED}


def cut(data: bytes, places: list[int]) -> list[bytes]:
    ends = sorted({min(p, len(data)) for p in places} | {0, len(data)})
    return [data[a:b] for a, b in itertools.pairwise(ends)]


@settings(deadline=None, max_examples=30)
@given(places=st.lists(st.integers(1, len(SHEET)), max_size=8))
def test_a_sheet_cut_anywhere_is_seen_alike(places: list[int]) -> None:
    found = Found()
    for piece in cut(SHEET, places):
        found.take(piece)
    found.end()
    assert found.marks == MARKS
    assert (found.rows, found.columns) == (99, 702)  # the text's r="ZZ99" counts as a cell, on the safe side


def test_errors_among_many_cells_are_each_found() -> None:
    rows = "".join(
        f'<row r="{n}"><c r="A{n}"><v>{n}</v></c><c r="B{n}" t="e"><v>#REF!</v></c></row>' for n in range(1, 3001)
    )
    found = Found()
    for piece in cut(rows.encode(), list(range(0, len(rows), 1024))):
        found.take(piece)
    found.end()
    assert found.marks == {(n, 1): "#REF!" for n in range(3000)}
    assert (found.rows, found.columns, found.cells) == (3000, 2, 6000)


OPEN = (
    hostile.OPEN_START
    + hostile.open_head()
    + hostile.open_row(hostile.open_cell("V1"), hostile.open_cell("#N/A", kind="error"), more='table:style-name="r"')
    + hostile.open_row('<table:table-cell table:number-columns-repeated="99"/>', more='table:number-rows-repeated="40"')
    + hostile.open_row(
        hostile.open_cell("x", 'table:number-columns-repeated="4"'), hostile.open_cell("Err:502", kind="error")
    )
    + hostile.OPEN_END
).encode()


@settings(deadline=None, max_examples=30)
@given(places=st.lists(st.integers(1, len(OPEN)), max_size=8))
def test_an_open_sheet_cut_anywhere_is_seen_alike(places: list[int]) -> None:
    walk = Walk()
    for piece in cut(OPEN, places):
        walk.take(piece)
    walk.end()
    table = walk.tables["Valves"]
    assert table.marks == {(1, 1): "#N/A", (42, 4): "Err:502"}
    assert (table.rows, table.columns) == (43, 5)


@pytest.mark.parametrize(
    ("column", "name"), [(0, "A"), (25, "Z"), (26, "AA"), (701, "ZZ"), (702, "AAA"), (16_383, "XFD")]
)
def test_the_name_of_a_column(column: int, name: str) -> None:
    assert letters(column) == name  # ECMA-376: the last column is XFD
