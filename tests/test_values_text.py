"""Free text, missing cells and error cells."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from audit.intake.values import parse
from tests.values_cases import BY_NAME, cells, column, read

MARKS = [
    "",
    " ",
    "\u00a0",
    "NA",
    "n/a",
    "N/A",
    "N.A.",
    "-",
    "--",
    "TBC",
    "tbc",
    "unknown",
    "Not known",
    "none",
    "?",
    "nan",
    "null",
]
ERRORS = ["#N/A", "#REF!", "#DIV/0!", "#VALUE!", "#NAME?", "#NUM!", "#NULL!", "#SPILL!"]
ONE_OF_EACH = [
    *("valves.valve_id", "homes.scheme", "visits.reported", "valves.head_fitted", "valves.flow_temp_c"),
    *("visits.symptom", "valves.earthed", "homes.uprn", "homes.postcode"),
]


# ---------------------------------------------------------------- missing is not bad, an error is not missing
@pytest.mark.parametrize("name", [n for n in ONE_OF_EACH if n != "valves.earthed"])
def test_marks_for_nothing_known_are_missing_in_every_column(name: str) -> None:
    parsed = read(name, *MARKS, None, float("nan"), pd.NaT, pd.NA)
    assert parsed.values.isna().all()
    assert parsed.bad.empty
    assert parsed.repaired.empty
    assert "counted as missing: '--' (1), '-' (1)" in parsed.said[0] or "'-' (1), '--' (1)" in parsed.said[0]


@pytest.mark.parametrize("name", ONE_OF_EACH)
def test_errors_are_bad_in_every_column(name: str) -> None:
    parsed = read(name, *ERRORS, None)
    assert parsed.values.isna().all()
    assert list(parsed.bad["value"]) == ERRORS
    assert parsed.bad["reason"].str.contains("the spreadsheet error").all()


def test_none_is_missing_unless_the_column_knows_the_word() -> None:
    assert read("visits.symptom", "none").values.isna().all()
    assert read("visits.action", "None").values.tolist() == ["none"]
    assert read("visits.cause", "none").values.tolist() == ["none_found"]
    assert read("valves.isolation", "none").values.tolist() == ["no"]


# ---------------------------------------------------------------- text
@pytest.mark.parametrize(
    ("cell", "wanted"),
    [
        ('it\'s ok; "quoted", 50 %', 'it\'s ok; "quoted", 50 %'),
        ("two\nlines", "two\nlines"),
        ("two\r\nlines", "two\nlines"),
        ("two\rlines", "two\nlines"),
        ("two_x000D_\nlines", "two\nlines"),
        ("a\x00b", "a b"),
        ("a\x0b\x1fb", "a b"),
        ("a\u00a0b", "a b"),
        ("a\u200bb", "ab"),
        (" ends ", "ends"),
        ("'=1+1", "=1+1"),
        ("'-5 left", "-5 left"),
        ("'@home", "@home"),
        ("'quoted'", "'quoted'"),
        ("-5 left", "-5 left"),
        ("=1+1", "=1+1"),
        ("caf\u00e9 \u2013 \u00a35", "caf\u00e9 \u2013 \u00a35"),
        ("  inner   blanks stay  ", "inner   blanks stay"),
        (12.0, "12"),
        (12.5, "12.5"),
        (True, "TRUE"),
        (dt.date(2024, 1, 2), "2024-01-02"),
        (dt.datetime(2024, 1, 2, 3, 4), "2024-01-02 03:04:00"),
    ],
)
def test_text_is_kept_but_for_what_cannot_be_seen(cell: object, wanted: str) -> None:
    assert read("visits.notes", cell).values.tolist() == [wanted]


def test_what_was_made_plain_is_said() -> None:
    parsed = read("visits.notes", "a\x00b", "a\x00b", "clean", " ends")
    assert parsed.said == (
        "notes: blanks at the ends, no-break blanks, control characters or foreign line ends made plain in 3 texts.",
    )
    assert read("visits.notes", "clean").said == ()


def test_half_a_character_does_no_harm() -> None:
    assert read("visits.notes", "\ud800x").values.tolist() == ["?x"]


def test_a_long_column_is_read_as_its_cells_are() -> None:
    text = [f"job {n}: stuck head renewed, tested ok" for n in range(1000)]
    text[1], text[2], text[3], text[4] = "tbc", "'=1+1 and more than twenty letters", "", "#REF!"
    text[5], text[6] = "a note that ends in a blank ", "a note with a\u00a0no-break blank"
    quick = parse(cells(*text, kind="str"), column("visits.notes"))
    slow = parse(cells(*text), column("visits.notes"))
    pd.testing.assert_series_equal(quick.values, slow.values)
    pd.testing.assert_frame_equal(quick.bad, slow.bad)
    assert quick.values[2] == "=1+1 and more than twenty letters"
    assert list(quick.bad["pos"]) == [4]


# ---------------------------------------------------------------- postcodes and property numbers
@pytest.mark.parametrize(
    ("cell", "wanted"),
    [
        ("ZZ99 3AB", "ZZ99 3AB"),
        ("zz99 3ab", "ZZ99 3AB"),
        ("zz993ab", "ZZ99 3AB"),
        ("ZZ99\u00a0 3AB", "ZZ99 3AB"),
        ("ZZ9-3AB", "ZZ9 3AB"),
    ],
)
def test_postcodes_are_tidied(cell: str, wanted: str) -> None:
    parsed = read("homes.postcode", cell)
    assert parsed.values.tolist() == [wanted]
    assert parsed.repaired.empty


def test_a_letter_for_a_digit_in_a_postcode_is_put_right_and_said() -> None:
    parsed = read("homes.postcode", "ZZ99 OAB", "ZZ9 IAB")
    assert parsed.values.tolist() == ["ZZ99 0AB", "ZZ9 1AB"]
    assert len(parsed.repaired) == 2


def test_what_is_no_postcode_is_refused() -> None:
    assert list(read("homes.postcode", "see file", "ZZ99", 12, "xxZZ9 3AB").bad["pos"]) == [0, 1, 2, 3]


def test_uprns_are_equal_with_and_without_zeros() -> None:
    parsed = read("homes.uprn", "199356", "000000199356", 199356, "UPRN: 199356", "1234567890123", "12a", 0)
    assert parsed.values.tolist()[:4] == ["000000199356"] * 4
    assert list(parsed.bad["pos"]) == [4, 5, 6]


# ---------------------------------------------------------------- the shape of the answer
@pytest.mark.parametrize("name", ONE_OF_EACH)
def test_the_answer_has_the_index_the_length_and_the_type(name: str) -> None:
    raw = pd.Series(["rubbish", None, "n/a"], index=[7, 7, 9], name="their header", dtype="object")
    parsed = parse(raw, column(name))
    assert parsed.values.index.equals(raw.index)
    assert parsed.values.name == "their header"
    types = {"number": "float64", "date": "datetime64[us]", "time": "datetime64[us]"}
    assert str(parsed.values.dtype) == types.get(column(name).kind, "str")
    for rows in (parsed.bad, parsed.repaired):
        assert list(rows.columns) == ["pos", "value", "reason", "mend"]
        assert rows["pos"].dtype == np.int64


@pytest.mark.parametrize("name", [f"{table}.{own}" for table, own in BY_NAME])
@pytest.mark.parametrize("kind", ["object", "str"])
def test_an_empty_column_is_no_trouble(name: str, kind: str) -> None:
    for values in ([], [None, None], ["", ""]):
        parsed = parse(pd.Series(values, dtype=kind), column(name))
        assert len(parsed.values) == len(values)
        assert parsed.values.isna().all()
        assert parsed.bad.empty


def test_a_note_shows_the_beginning_of_a_very_long_cell() -> None:
    parsed = read("valves.flow_temp_c", "x" * 1_000_000)
    assert len(parsed.bad["value"][0]) == 250
