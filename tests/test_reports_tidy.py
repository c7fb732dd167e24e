"""Tidy CSV files: what each kind of value looks like, and that nothing becomes a formula or gets lost."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reports.tidy import safe_text, write_csv
from schemas.column import Column
from schemas.results import RESULT_COLUMNS
from tests.reported import small_results

COST = Column(table="t", name="price", kind="number", meaning="", unit="GBP a year")


def written(frame: pd.DataFrame, path: Path, *columns: Column, exact: bool = False) -> str:
    write_csv(frame, columns, path, exact=exact)
    return path.read_bytes().decode("utf-8")


@pytest.mark.parametrize(
    ("value", "cell"),
    [
        (12.0, "12"), (0.1 + 0.2, "0.3"), (1 / 3, "0.333333"), (-2.5, "-2.5"), (-0.0, "0"), (np.nan, ""),
        (np.inf, ""), (1234567.0, "1234567"), (0.00000001, "0"), (1e300, "1e+300"),
    ],
)  # fmt: skip
def test_numbers_have_no_noise(tmp_path: Path, value: float, cell: str) -> None:
    assert written(pd.DataFrame({"x": [value], "y": ["z"]}), tmp_path / "t.csv") == f"x,y\n{cell},z\n"


@pytest.mark.parametrize(
    ("value", "cell"),
    [(12.0, "12.00"), (0.1 + 0.2, "0.30"), (2.675, "2.68"), (-3.5, "-3.50"), (np.nan, ""), (1234.5, "1234.50")],
)
@pytest.mark.parametrize("name", ["cost_gbp", "price"])
def test_money_is_to_the_penny(tmp_path: Path, name: str, value: float, cell: str) -> None:
    got = written(pd.DataFrame({name: [value], "y": ["z"]}), tmp_path / "t.csv", *([COST] if name == "price" else []))
    assert got == f"{name},y\n{cell},z\n"


@pytest.mark.parametrize(
    ("moment", "cell"),
    [
        ("2026-02-28", "2026-02-28"), ("2026-02-28T09:45", "2026-02-28T09:45:00"), (None, ""),
        ("2026-02-28T00:00:01", "2026-02-28T00:00:01"),
    ],
)  # fmt: skip
def test_dates_are_iso_and_times_only_where_there_is_one(tmp_path: Path, moment: str | None, cell: str) -> None:
    frame = pd.DataFrame({"x": pd.to_datetime(pd.Series([moment])).astype("datetime64[us]"), "y": ["z"]})
    assert written(frame, tmp_path / "t.csv") == f"x,y\n{cell},z\n"


@pytest.mark.parametrize(
    ("text", "cell"),
    [
        ("plain", "plain"), ("=1+1", "'=1+1"), ("+44 123", "'+44 123"), ("-x", "'-x"), ("@sum", "'@sum"),
        ("-3.5", "-3.5"), ("-", "'-"), ("-1-cmd", "'-1-cmd"), ("\t=1", "'\t=1"), ("\x00=1", "'\x00=1"),
        ("'=1", "''=1"), ("a,b", '"a,b"'), ('say "x"', '"say ""x"""'), ("two\nlines", '"two\nlines"'),
        ("=a,b", "\"'=a,b\""), ("it's", "it's"), ("£5 – ok", "£5 – ok"), ("", ""),
    ],
)  # fmt: skip
def test_text_never_becomes_a_formula(tmp_path: Path, text: str, cell: str) -> None:
    assert written(pd.DataFrame({"x": [text], "y": ["z"]}, dtype="str"), tmp_path / "t.csv") == f"x,y\n{cell},z\n"


def test_a_line_break_at_the_start_is_escaped(tmp_path: Path) -> None:
    got = written(pd.DataFrame({"x": ["\r=1", "\n=1"]}, dtype="str"), tmp_path / "t.csv")
    assert got == 'x\n"\'\r=1"\n"\'\n=1"\n'


def test_columns_come_in_order_and_missing_ones_are_empty(tmp_path: Path) -> None:
    frame = pd.DataFrame({"own": ["x"], "failures": [3.0], "part": ["head"]})
    lines = written(frame, tmp_path / "t.csv", *RESULT_COLUMNS["life"]).split("\n")
    assert lines[0] == ",".join(column.name for column in RESULT_COLUMNS["life"]) + ",own"
    assert lines[1] == "head,,,3" + "," * (len(RESULT_COLUMNS["life"]) - 3) + "x"


def test_an_empty_table_is_its_header(tmp_path: Path) -> None:
    assert written(pd.DataFrame({"a": [], "b": []}), tmp_path / "t.csv") == "a,b\n"


def test_yes_and_no_and_whole_numbers(tmp_path: Path) -> None:
    frame = pd.DataFrame({"a": [True, False], "b": np.array([1, 2], dtype="int64"), "c": pd.Categorical(["x", "=y"])})
    assert written(frame, tmp_path / "t.csv") == "a,b,c\nyes,1,x\nno,2,'=y\n"


def test_exact_keeps_every_digit(tmp_path: Path) -> None:
    frame = pd.DataFrame({"x": [1 / 3], "cost_gbp": [12.345], "price_gbp": [12.5]})
    assert written(frame, tmp_path / "t.csv", exact=True) == "x,cost_gbp,price_gbp\n0.3333333333333333,12.345,12.50\n"


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=25)
@given(st.lists(st.text(st.characters(exclude_categories=["Cs"]), min_size=1), min_size=1, max_size=20))
def test_any_text_is_read_back(tmp_path: Path, texts: list[str]) -> None:
    got = written(pd.DataFrame({"x": pd.Series(texts, dtype="str")}), tmp_path / "t.csv")
    if any("\x00" in text for text in texts):
        return  # Python's own reader refuses NUL
    cells = [row[0] for row in csv.reader(io.StringIO(got, newline=""))][1:]
    back = [cell[1:] if safe_text(cell) != cell and cell.startswith("'") else cell for cell in cells]
    assert back == texts


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=25)
@given(st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=1, max_size=20))
def test_exact_numbers_are_read_back(tmp_path: Path, numbers: list[float]) -> None:
    got = written(pd.DataFrame({"x": numbers, "y": "z"}), tmp_path / "t.csv", exact=True)
    assert [float(line.split(",")[0]) for line in got.split("\n")[1:-1]] == numbers


def test_equal_tables_give_equal_bytes(tmp_path: Path) -> None:
    for name, frame in small_results().tables.items():
        assert written(frame, tmp_path / "a.csv", *RESULT_COLUMNS[name]) == written(
            frame.copy(), tmp_path / "b.csv", *RESULT_COLUMNS[name]
        )


def test_hostile_text_of_an_audit_is_escaped_in_every_table(tmp_path: Path) -> None:
    results = small_results()
    for name, frame in {**results.tables, **results.clean}.items():
        text = written(frame, tmp_path / f"{name}.csv", *RESULT_COLUMNS.get(name, ()))
        cells = [cell for row in csv.reader(io.StringIO(text, newline="")) for cell in row]
        assert not [cell for cell in cells if cell[:1] in ("=", "+", "@", "\t", "\r")]
