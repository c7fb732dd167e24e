"""Quality of the records: every number here can be counted by hand from the few rows above it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from audit import intake, pipeline
from audit.gaps import WANTED, gaps, percent
from audit.model import Portfolio
from audit.problem_kinds import kinds
from audit.quality import DIMENSIONS, TERMS, quality, records
from schemas.results import PROBLEM_COLUMNS
from schemas.tables import COLUMNS
from tests.frames import default_policy, known_facts, portfolio

AS_OF = dt.date(2026, 9, 30)
INVALID, CONTRADICTS = "this is not a date", "the head would be older than the body it sits on"
REPEATED, COPY = (
    "the same valve_id stands for different facts in several rows: they differ in make",
    "the row is a copy of x",
)
LATER = "the body was fitted on 2027-01-01, after the as-of date 2026-09-30; the row was not used."


def problem(table: str, row: int, field: str, reason: str, effect: str, value: str | None = "?") -> dict[str, Any]:
    where = {"table": table, "file": f"{table}.csv", "sheet": "", "row": float(row), "column": field, "field": field}
    return {**where, "value": value, "reason": reason, "mend": "mend", "effect": effect, "cell": f"A{row}"}


def counted(
    book: Portfolio, problems: Iterable[Mapping[str, Any]] = (), absent: Mapping[str, frozenset[str]] | None = None
) -> pd.DataFrame:
    columns = [column.name for column in PROBLEM_COLUMNS]
    told = pd.DataFrame([dict(line) for line in problems], columns=columns)
    told = told.astype({name: "str" for name in columns if name != "row"} | {"row": "float64"})
    tables = {table: getattr(book, table) for table in COLUMNS}
    return quality(tables, told, absent or {}, pd.Timestamp(AS_OF), default_policy())


def good_of(table: pd.DataFrame, group: str, dimension: str) -> tuple[int, int] | None:
    found = table.loc[table["group"].eq(group) & table["dimension"].eq(dimension)]
    assert len(found) <= 1
    return (int(found["good"].iloc[0]), int(found["of"].iloc[0])) if len(found) else None


HOMES = [
    {"home_id": "H1", "scheme": "Elm"},
    {"home_id": "H2", "scheme": "Oak", "postcode": "ZZ99 1AA"},
    {"home_id": "H3"},
]
VALVES = [
    {"valve_id": "V1", "home_id": "H1", "wires": "5", "make": "Make A"},  # row 2
    {"valve_id": "V2", "home_id": "H2"},  # row 3
]


def test_completeness_counts_wanted_cells_with_a_value() -> None:
    table = counted(portfolio(HOMES, VALVES))
    # homes: id, address, postcode, scheme, patch, gas check: 6 columns; 3 ids + 2 schemes + 1 postcode
    assert good_of(table, "homes.csv", "completeness") == (6, 18)
    # valves: the two ids and the eleven wanted; 2 + 2 ids and the wires; a make is not wanted
    assert good_of(table, "valves.csv", "completeness") == (5, 2 * 13)
    assert good_of(table, "all records", "completeness") == (11, 18 + 26)
    # Oak: H2 (id, scheme, postcode of 6) and V2 (two ids of 13)
    assert good_of(table, "Oak", "completeness") == (5, 19)
    assert good_of(table, "not recorded", "completeness") == (1, 6)
    assert good_of(table, "valves.make", "completeness") == (1, 2)


def test_columns_are_wanted_of_the_visits_that_can_have_them() -> None:
    visits = [
        {"visit_id": "J1", "home_id": "H1", "reported": "2026-01-01", "kind": "call_out", "symptom": "leak"},  # open
        {"visit_id": "J2", "home_id": "H1", "reported": "2026-01-01", "kind": "planned", "attended": "2026-01-02"},
        {"visit_id": "J3", "home_id": "H1", "reported": "2026-01-01", "attended": "2026-01-02", "outcome": "no_access"},
    ]
    table = counted(portfolio(visits=visits))
    assert good_of(table, "visits.symptom", "completeness") == (1, 2)  # J1 and J3, which has no kind
    assert good_of(table, "visits.outcome", "completeness") == (1, 2)  # J2 and J3 were attended
    assert good_of(table, "visits.cause", "completeness") == (0, 1)  # J2: at J3 nobody was let in


def test_a_column_that_no_file_has_is_left_out_unless_it_is_wanted() -> None:
    absent = {"valves": frozenset({"make", "earthed"})}
    table = counted(portfolio(HOMES, VALVES), absent=absent)
    assert good_of(table, "valves.make", "completeness") is None
    assert good_of(table, "valves.earthed", "completeness") == (0, 2)


def test_validity_holds_bad_cells_against_filled_ones() -> None:
    problems = [
        problem("valves", 2, "wires", "the value is given as approximate", "repaired"),  # put right, still there
        problem("valves", 3, "body_fitted", INVALID, "repaired"),  # taken away
        problem("valves", 3, "body_fitted", "another thing about it", "repaired"),  # the same cell
        problem("valves", 9, "valve_id", "the cell holds the spreadsheet error #N/A", "returned"),
        problem("valves", 10, "valve_id", "the cell is empty, and every row needs it (…)", "returned", None),
    ]
    table = counted(portfolio(HOMES, VALVES), problems)
    # filled: V1 has 4 cells, V2 has 2, one was taken away, one returned; the empty one was not filled
    assert good_of(table, "valves.csv", "validity") == (6 - 1, 6 + 2)
    assert good_of(table, "valves.body_fitted", "validity") == (0, 1)
    assert good_of(table, "valves.wires", "validity") == (0, 1)
    assert good_of(table, "Elm", "validity") == (5, 6)  # H1: id, scheme; V1: 4, one of them put right
    assert good_of(table, "Oak", "validity") == (5, 6)  # H2: 3 cells; V2: 2 and the one taken away
    assert good_of(table, "not recorded", "validity") == (1, 2)  # H3's id; the returned row has no scheme


def test_uniqueness_holds_copies_and_repeated_numbers_against_rows_read() -> None:
    problems = [
        problem("valves", 4, "valve_id", COPY, "merged"),
        problem("valves", 5, "valve_id", REPEATED, "returned"),
        problem("valves", 6, "valve_id", REPEATED, "returned"),
        problem("valves", 7, "home_id", "no home of that number is in the table homes", "returned"),
        problem("valves", 8, "body_fitted", LATER, "returned"),
    ]
    table = counted(portfolio(HOMES, VALVES), problems)
    assert good_of(table, "valves.csv", "uniqueness") == (2 + 2, 2 + 5)
    assert good_of(table, "valves.valve_id", "uniqueness") == (4, 7)
    assert good_of(table, "all records", "uniqueness") == (3 + 4, 3 + 7)
    assert good_of(table, "not recorded", "uniqueness") == (1 + 2, 1 + 5)


def test_consistency_counts_a_row_once_however_much_it_contradicts() -> None:
    problems = [
        problem("valves", 2, "head_fitted", CONTRADICTS, "repaired"),
        problem("valves", 2, "wires", "another row of the same valve_id has the value: x", "repaired"),
        problem("valves", 3, "wires", "another row of the same valve_id has the value: x", "repaired", ""),
        problem("valves", 7, "home_id", "no home of that number is in the table homes", "returned"),
        problem("valves", 8, "body_fitted", LATER, "returned"),
    ]
    table = counted(portfolio(HOMES, VALVES), problems)
    # V2's blank was filled, which contradicts nothing; a row dated later is no worse for it
    assert good_of(table, "valves.csv", "consistency") == (1 + 1, 2 + 2)
    assert good_of(table, "Elm", "consistency") == (1, 2)
    assert good_of(table, "valves.head_fitted", "consistency") == (0, 1)


@pytest.mark.parametrize(
    ("table", "row", "timely"),
    [
        ("homes", {"home_id": "H1", "gas_check_due": "2026-09-30"}, True),
        ("homes", {"home_id": "H1", "gas_check_due": "2026-09-29"}, False),
        ("homes", {"home_id": "H1"}, None),
        ("valves", {"location_temp_c": "40", "location_temp_on": "2024-09-30"}, True),  # 24 months
        ("valves", {"location_temp_c": "40", "location_temp_on": "2024-09-29"}, False),
        ("valves", {"location_temp_c": "40"}, False),
        ("valves", {}, None),
        ("visits", {"reported": "2026-09-02"}, True),  # 28 days
        ("visits", {"reported": "2026-09-01"}, False),
        ("visits", {"reported": "2026-01-01", "attended": "2026-01-02"}, True),
        ("visits", {"reported": "2026-01-01", "completed": "2026-01-02"}, True),
    ],
)
def test_what_is_timely(table: str, row: dict[str, str], timely: bool | None) -> None:
    ids = {"home_id": "H1"} | ({"visits": {"visit_id": "J1"}, "valves": {"valve_id": "V1"}}.get(table, {}))
    found = good_of(counted(portfolio(**{table: [{**ids, **row}]})), f"{table}.csv", "timeliness")
    assert found == (None if timely is None else (int(timely), 1))


def test_nothing_at_all_gives_nothing() -> None:
    assert counted(portfolio()).empty


# ---------------------------------------------------------------- on files

CSV = {
    "homes.csv": "home_id,scheme,postcode\nH1,Elm,ZZ99 1AA\nH2,Oak,ZZ9\nH2,Oak,ZZ9\n",
    "valves.csv": "valve_id,home_id,body_fitted,head_fitted,make,wires\n"
    "V1,H1,2010-01-01,2005-01-01,Make A,5\n"  # 2: its head is older than its body
    "V2,H1,2010-01-01,,Make A,5\n"  # 3 and 4: one number, two facts
    "V2,H1,2010-01-01,,Make B,5\n"
    "V3,H9,2010-01-01,,Make A,5\n"  # 5: no such home
    "V4,H2,2010-01-01,,Make A,many\n"  # 6
    ",H2,2010-01-01,,Make A,5\n"  # 7: no number
    "V5,H2,2027-01-01,,Make A,5\n",  # 8: later
    "visits.csv": "visit_id,home_id,valve_id,reported,attended,completed,kind,cost\n"
    "J1,H1,V9,2026-01-01,,2026-01-02,call out,80\n"  # 2: no such valve
    "J2,H1,V4,2026-01-01,,2026-01-02,call out,80\n"  # 3: the valve is in another home
    "J3,H1,V1,,,2026-01-02,call out,80\n"  # 4: not reported
    "J4,H1,V1,2026-01-05,,2026-01-02,call out,80\n"  # 5: done before it was reported
    "J5,H1,V1,2026-01-05,,,call out,80\n"  # 6 and 7: open, then done and dearer
    "J5,H1,V1,2026-01-05,2026-01-06,2026-01-07,call out,90\n",
}
KIND_OF = {
    ("homes", 3, "postcode"): "invalid",
    ("homes", 4, "postcode"): "invalid",
    ("homes", 4, "home_id"): "repeated",
    ("valves", 2, "head_fitted"): "contradicts",
    ("valves", 3, "valve_id"): "repeated",
    ("valves", 4, "valve_id"): "repeated",
    ("valves", 5, "home_id"): "contradicts",
    ("valves", 6, "wires"): "invalid",
    ("valves", 7, "valve_id"): "empty",
    ("valves", 8, "body_fitted"): "later",
    ("visits", 2, "valve_id"): "contradicts",
    ("visits", 3, "valve_id"): "contradicts",
    ("visits", 4, "reported"): "empty",
    ("visits", 5, "completed"): "contradicts",
    ("visits", 6, "visit_id"): "repeated",
}


@pytest.fixture(scope="module")
def read(tmp_path_factory: pytest.TempPathFactory) -> tuple[Portfolio, Any]:
    folder = tmp_path_factory.mktemp("books")
    for name, text in CSV.items():
        (folder / name).write_text(text)
    return pipeline.read([folder], AS_OF, default_policy())


def test_every_problem_of_a_reading_is_of_the_kind_that_it_says(read: tuple[Portfolio, Any]) -> None:
    problems = read[1].problems
    place = zip(problems["table"], problems["row"].astype("int64"), problems["field"], strict=True)
    found = dict(zip(place, kinds(problems["reason"]), strict=True))
    assert {key: found.get(key) for key in KIND_OF} == KIND_OF


def test_files_and_schemes_add_up_to_all(read: tuple[Portfolio, Any]) -> None:
    book, results = read
    table = quality(results.clean, results.problems, book.absent, pd.Timestamp(AS_OF), default_policy())
    sums = table.groupby(["grouped_by", "dimension"])[["good", "of"]].sum()
    for grouping in ("file", "scheme"):
        pd.testing.assert_frame_equal(sums.loc[grouping], sums.loc["all"])
    assert table["share"].between(0, 1).all()
    assert set(table.loc[table["grouped_by"].eq("all"), "dimension"]) == set(DIMENSIONS)
    rows = results.counts.set_index("table")["rows_in"]
    for name in ("homes", "valves", "visits"):
        unique = good_of(table, f"{name}.csv", "uniqueness")
        assert unique is not None
        assert unique[1] == rows[name]


def test_the_order_of_rows_changes_nothing(read: tuple[Portfolio, Any]) -> None:
    book, results = read
    given = (book.absent, pd.Timestamp(AS_OF), default_policy())
    backwards = {name: table.iloc[::-1].reset_index(drop=True) for name, table in results.clean.items()}
    turned = quality(backwards, results.problems.iloc[::-1].reset_index(drop=True), *given)
    pd.testing.assert_frame_equal(turned, quality(results.clean, results.problems, *given))


# ---------------------------------------------------------------- what gaps cost


def costs(book: Portfolio) -> dict[tuple[str, str], str]:
    table = gaps(known_facts(book, AS_OF), default_policy())
    return dict(zip(zip(table["table"], table["column"], strict=True), table["cost"], strict=True))


def test_heads_without_a_date_are_counted_and_what_dates_them_is_said() -> None:
    valves = [
        {"valve_id": "V1", "home_id": "H1", "head_fitted": "2015-01-01"},
        {"valve_id": "V2", "home_id": "H2", "body_fitted": "2012-01-01"},  # the head is at most as old
        {"valve_id": "V3", "home_id": "H3"},
    ]
    told = costs(portfolio(valves=valves))
    assert told["valves", "head_fitted"] == (
        "67 % of heads have no date: 2 valves cannot be aged from the register; "
        "a visit or the other part's date ages 1 of them."
    )


@pytest.mark.parametrize(
    ("on", "missing"), [("2024-09-30", False), ("2024-09-29", True), ("", True)], ids=["24 months", "older", "undated"]
)
def test_a_reading_counts_for_so_many_months(on: str, missing: bool) -> None:
    valve = {"valve_id": "V1", "home_id": "H1", "location_temp_c": "40", "location_temp_on": on}
    assert (("valves", "location_temp_c") in costs(portfolio(valves=[valve]))) is missing


def test_a_home_with_one_valve_names_it() -> None:
    call = {"home_id": "H1", "reported": "2026-09-15", "kind": "call_out"}
    one = [{"valve_id": "V1", "home_id": "H1"}]
    two = [*one, {"valve_id": "V2", "home_id": "H1"}]
    visits = [{**call, "visit_id": "J1"}]
    assert ("visits", "valve_id") not in costs(portfolio(valves=one, visits=visits))
    assert costs(portfolio(valves=two, visits=visits))["visits", "valve_id"] == (
        "100 % of call-outs do not say which valve: 1 visit cannot be laid to any valve."
    )


@pytest.mark.parametrize(("reported", "told"), [("2026-09-02", False), ("2026-09-01", True)])
def test_a_log_that_ends_early_is_said(reported: str, told: bool) -> None:
    found = costs(portfolio(visits=[{"visit_id": "J1", "home_id": "H1", "reported": reported}]))
    assert (("visits", "reported") in found) is told
    if told:
        assert found["visits", "reported"].startswith("The newest visit was reported on 1 September 2026: ")


def test_the_greatest_gap_comes_first() -> None:
    table = gaps(known_facts(portfolio(HOMES, VALVES), AS_OF), default_policy())
    assert table["share"].is_monotonic_decreasing
    assert (table["missing"] <= table["of"]).all()


@pytest.mark.parametrize(
    ("share", "text"),
    [
        (0.0, "0 %"),
        (0.004, "under 1 %"),
        (0.01, "1 %"),
        (0.41, "41 %"),
        (0.99, "99 %"),
        (0.996, "over 99 %"),
        (1.0, "100 %"),
    ],
)
def test_a_part_is_never_rounded_to_none_or_all(share: float, text: str) -> None:
    assert percent(share) == text


def test_what_is_wanted_is_a_column_and_has_words() -> None:
    for table, wants in WANTED.items():
        assert set(wants) <= {column.name for column in COLUMNS[table]}
        assert all(want.lack and want.cost for want in wants.values())


def test_the_page_gets_one_row_a_group_and_the_terms() -> None:
    book = portfolio(HOMES, VALVES)
    tables = {table: getattr(book, table) for table in COLUMNS}
    none = pd.DataFrame({c.name: pd.Series(dtype="float64" if c.kind == "number" else "str") for c in PROBLEM_COLUMNS})
    found = records(known_facts(book, AS_OF), tables, none, {}, default_policy())
    assert found["quality_side_by_side"]["group"].tolist() == [
        *("all records", "homes.csv", "valves.csv"),
        *("not recorded", "Elm", "Oak"),  # 1 of 6, 5 of 19 (the id and scheme of H1; ids and wires of V1), 5 of 19
    ]
    assert found["quality_terms"]["dimension"].tolist() == [term[0] for term in TERMS]


def test_a_register_alone_lists_its_homes_too(tmp_path: Path) -> None:
    (tmp_path / "valves.csv").write_text("valve_id,home_id,make,wires\nV1,H1,Make A,5\n")
    reading = intake.read([tmp_path / "valves.csv"])
    table = quality(
        reading.tables,
        reading.problems.assign(field="", cell=""),
        reading.absent,
        pd.Timestamp(AS_OF),
        default_policy(),
    )
    assert good_of(table, "valves.csv", "validity") == (4 + 1, 4 + 1)  # the home is known by its number
