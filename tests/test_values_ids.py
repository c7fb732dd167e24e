"""Ids: kept as text, in one spelling, joined where a spreadsheet lost their zeros."""

from __future__ import annotations

import datetime as dt

import pandas as pd
import pytest

from audit.intake.values import join_ids, parse
from tests.values_cases import cells, check, column, read

SPELLINGS = """
    V00042-1        -> V00042-1
    00123           -> 00123
    '00124 '        -> 00124
    '\\xa000125'    -> 00125
    v2              -> V2
    'H\\u200b1'     -> H1
    '\\ufeffH2'     -> H2
    A–1             -> A-1
    'a  b'          -> A B
    '\\'00127'      -> 00127
    H3/2            -> H3/2
    1E5             -> 1E5
    1234.0          -> 1234 | repaired: the .0 behind the id
    1,235           -> 1235 | repaired: the commas in the id
    1.00023E+11     -> -    | bad: the digits of this id are lost
    1.00023e11      -> -    | bad: the digits of this id are lost
    1E+11           -> -    | bad: the digits of this id are lost
    #N/A            -> -    | bad: the spreadsheet error #N/A
    N/A             -> -
    tbc             -> -
"""


def test_every_spelling() -> None:
    check("valves.valve_id", SPELLINGS)


def test_number_cells_are_ids_without_a_point() -> None:
    parsed = read("valves.valve_id", 1234.0, 42, 100023336956.0, 1e15, 1234567890123456)
    assert parsed.values.tolist()[:3] == ["1234", "42", "100023336956"]
    assert list(parsed.bad["pos"]) == [3, 4]
    assert "keeps 15 digits" in parsed.bad["reason"][0]


def test_a_date_was_an_id_once() -> None:
    parsed = read("valves.valve_id", dt.datetime(2026, 2, 1), dt.time(1, 2))
    assert list(parsed.bad["reason"].str.contains("made a date or time of this id")) == [True, True]


def test_one_spelling_is_said_and_ids_that_meet_are_named() -> None:
    parsed = read("valves.home_id", "h1", "H1", "H1 ", "H2")
    assert parsed.values.tolist() == ["H1", "H1", "H1", "H2"]
    assert parsed.said == (
        "home_id: capitals, blanks and hidden characters made alike in 2 ids; 1 id stood in more than one spelling, "
        "such as 'h1' and 'H1' and 'H1 '.",
    )


def test_a_long_column_is_read_as_its_cells_are() -> None:
    text = [f"J{n:06d}" for n in range(1000)]
    text[3], text[5], text[7], text[9] = "j000003", "", "1.2E+09", "n/a"
    quick = parse(cells(*text, kind="str"), column("visits.visit_id"))
    slow = parse(cells(*text), column("visits.visit_id"))
    pd.testing.assert_series_equal(quick.values, slow.values)
    pd.testing.assert_frame_equal(quick.bad, slow.bad)
    assert quick.values[3] == "J000003"


# ---------------------------------------------------------------- leading zeros lost in one file, kept in another
def ids(*values: str | None) -> pd.Series:
    return pd.Series(list(values), dtype="str")


def test_lost_zeros_are_given_back() -> None:
    joined = join_ids([ids("00123", "00045", "H7"), ids("123", "45", "00046", None, "h7")])
    assert joined.columns[0].tolist() == ["00123", "00045", "H7"]
    assert joined.columns[1].tolist()[:3] == ["00123", "00045", "00046"]
    wanted = pd.DataFrame({"column": 1, "pos": [0, 1], "value": ["123", "45"], "joined": ["00123", "00045"]})
    pd.testing.assert_frame_equal(joined.changes.astype(wanted.dtypes), wanted)
    assert joined.said == ("2 ids without leading zeros that another file kept, such as 123 = 00123.",)


@pytest.mark.parametrize(
    "columns",
    [
        [ids("00123", "123"), ids("123")],  # one file has both: two homes
        [ids("00123"), ids("0123"), ids("123")],  # which of the two?
    ],
)
def test_what_is_not_clear_is_left_and_said(columns: list[pd.Series]) -> None:
    joined = join_ids(columns)
    assert [c.tolist() for c in joined.columns] == [c.tolist() for c in columns]
    assert joined.changes.empty
    assert joined.said == ("1 id with and without leading zeros may not be the same and were left, such as 123.",)


def test_nothing_to_join() -> None:
    joined = join_ids([ids("1", "2"), ids("3", None), ids()])
    assert joined.changes.empty
    assert joined.said == ()


def test_joining_twice_changes_nothing_more() -> None:
    once = join_ids([ids("0007", "12"), ids("7", "012")])
    twice = join_ids(once.columns)
    assert twice.changes.empty
    assert [c.tolist() for c in once.columns] == [["0007", "012"], ["0007", "012"]]


def test_an_id_of_zeros_alone_is_left() -> None:
    assert join_ids([ids("0"), ids("000")]).changes.empty
