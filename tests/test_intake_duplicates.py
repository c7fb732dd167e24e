"""Several rows, one thing: what merges, what is updated, what is returned."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit import intake
from audit.intake.duplicates import settle
from audit.intake.exports import named_day
from audit.intake.problems import Table
from audit.intake.typed import empty_table
from tests.messy import delimited

HEAD = ["visit_id", "home_id", "reported", "attended", "completed", "outcome", "hours", "notes"]
OPEN = ["J1", "H1", "2024-05-01", "", "", "parts_needed", "", "ordered"]
ATTENDED = ["J1", "H1", "2024-05-01", "2024-05-02", "", "parts_needed", "", ""]
DONE = ["J1", "H1", "2024-05-01", "2024-05-02", "2024-05-09", "fixed", "1.5", ""]
OTHER_HOME = ["J1", "H2", "2024-05-01", "", "", "", "", ""]
OTHER_DAY = ["J1", "H1", "2024-06-01", "2024-06-02", "2024-06-09", "fixed", "1.5", ""]
DONE_OTHERWISE = ["J1", "H1", "2024-05-01", "2024-05-02", "2024-05-09", "temporary", "1.5", ""]


def read(folder: Path, *exports: list[list[str]]) -> intake.Reading:
    return intake.read([delimited(folder / f"{n}.csv", [HEAD, *rows]) for n, rows in enumerate(exports)])


def settled(exports: dict[str, list[list[str]]], turned: bool) -> tuple[pd.DataFrame, tuple[int, int]]:
    """The visits that stay of some logs, read in their order or from the last, and how many merged and returned."""
    names = list(exports)[::-1] if turned else list(exports)
    rows = [[*row, f"{name}.csv", at] for name in names for at, row in enumerate(exports[name], 2)]
    given = pd.DataFrame(rows, columns=[*HEAD, "source_file", "source_row"]).replace("", None)
    frame = empty_table("visits", len(given))
    frame = frame.assign(**{name: given[name].astype(frame[name].dtype) for name in given})
    table = Table("visits", frame, pd.factorize(given["source_file"])[0], [{}] * len(names))
    settle(table)
    clean = table.clean().sort_values("visit_id", ignore_index=True)
    return clean, (int(table.merged.sum()), int(table.returned.sum()))


def counted(reading: intake.Reading, table: str = "visits") -> tuple[int, int, int]:
    row = reading.counts.set_index("table").loc[table]
    return int(row["used"]), int(row["merged"]), int(row["returned"])


@pytest.mark.parametrize(
    ("case", "exports", "used", "merged", "returned"),
    [
        ("the same row twice in one file", [[DONE, DONE]], 1, 1, 0),
        ("the same row in two files", [[DONE], [DONE]], 1, 1, 0),
        ("open, then done", [[OPEN], [DONE]], 1, 1, 0),
        ("done, then an older export", [[DONE], [OPEN]], 1, 1, 0),
        ("open, attended, done", [[OPEN], [ATTENDED], [DONE]], 1, 2, 0),
        ("another home", [[DONE], [OTHER_HOME]], 0, 0, 2),
        ("another day", [[DONE], [OTHER_DAY]], 0, 0, 2),
        ("both done, otherwise", [[DONE], [DONE_OTHERWISE]], 0, 0, 2),
        ("a copy does not save a contradiction", [[DONE, DONE], [DONE_OTHERWISE]], 0, 0, 3),
        ("different numbers", [[DONE, ["J2", *DONE[1:]]]], 2, 0, 0),
    ],
)
def test_exports(case: str, exports: list[list[list[str]]], used: int, merged: int, returned: int) -> None:
    visits, gone = settled({str(n): rows for n, rows in enumerate(exports)}, False)
    assert (len(visits), *gone) == (used, merged, returned)


@pytest.mark.parametrize("exports", [[[OPEN], [ATTENDED], [DONE]], [[DONE], [OPEN], [ATTENDED]]])
def test_the_latest_stands_and_blanks_are_filled(exports: list[list[list[str]]], tmp_path: Path) -> None:
    reading = read(tmp_path, *exports)
    job = reading.tables["visits"].iloc[0]
    assert (job["outcome"], job["hours"], job["notes"]) == ("fixed", 1.5, "ordered")
    assert job["completed"] == pd.Timestamp("2024-05-09")


def test_an_update_names_both_values_and_where_the_new_one_is(tmp_path: Path) -> None:
    problems = read(tmp_path, [OPEN], [DONE]).problems
    told = problems[problems["effect"].eq("merged")].iloc[0]
    assert (told["file"], told["row"], told["value"]) == ("0.csv", 2, "J1")
    assert told["reason"] == "the later row counts, 1.csv, row 2: it says outcome “fixed” instead of “parts_needed”"


NEXT = ["J9", "H9", "2024-07-01", "2024-07-02", "2024-07-02", "fixed", "1", ""]  # a job of the following months
OLDER = ["J8", "H8", "2024-04-01", "2024-04-02", "2024-04-02", "fixed", "1", ""]
WORKED_ON = [*DONE[:4], "2024-05-12", "fixed", "2.5", ""]
AGAIN = [*DONE[:3], "2024-05-11", "2024-05-12", "fixed", "2.5", ""]
HOLE = ["J7", "H7", "2024-04-20", "", "", "", "", ""]


@pytest.mark.parametrize(
    ("case", "exports", "outcome"),
    [
        ("the later log goes on", {"a": [DONE], "b": [DONE_OTHERWISE, NEXT]}, "temporary"),
        ("the later log is one sheet on, and open jobs are amended too", {"a": [ATTENDED, OLDER],
            "b": [[*ATTENDED[:5], "no_access", "", ""], OLDER, NEXT]}, "no_access"),
        ("completed later", {"a": [DONE_OTHERWISE], "b": [WORKED_ON]}, "fixed"),
        ("dates in the names", {"log 2024-05-31": [DONE], "log 2024-06-30": [DONE_OTHERWISE]}, "temporary"),
        ("months in the names", {"June 2024": [DONE], "May 2024": [DONE_OTHERWISE]}, "fixed"),
        ("names and days disagree", {"June 2024": [DONE], "May 2024": [DONE_OTHERWISE, NEXT]}, ""),
        ("the names tell the same month", {"log 2024-05": [DONE], "log 31 May 2024": [DONE_OTHERWISE]}, ""),
        ("a selection of jobs, not a log of its time", {"a": [OLDER, HOLE, DONE, NEXT],
            "b": [OLDER, DONE_OTHERWISE]}, ""),
        ("another attendance", {"log 2024-05": [DONE], "log 2024-06": [AGAIN]}, ""),
        ("one sheet, and nothing came further", {"a": [DONE, WORKED_ON, NEXT]}, ""),
        ("a third export agrees with the first", {"a": [DONE], "b": [DONE_OTHERWISE, NEXT], "c": [DONE]}, "temporary"),
        ("a third export contradicts the last", {"a": [DONE], "b": [DONE_OTHERWISE, NEXT], "c": [DONE, NEXT]}, ""),
        ("another home, however late", {"log 2024-05": [DONE], "log 2024-06": [OTHER_HOME]}, ""),
    ],
)  # fmt: skip
@pytest.mark.parametrize("turned", [False, True])
def test_a_job_amended_in_an_export_that_was_made_later(
    case: str, exports: dict[str, list[list[str]]], outcome: str, turned: bool
) -> None:
    visits = settled(exports, turned)[0]
    found = visits.loc[visits["visit_id"].eq("J1"), "outcome"].tolist()
    assert found == ([outcome] if outcome else [])


@pytest.mark.parametrize(
    ("name", "first", "last"),
    [
        ("jobs_20240531", "2024-05-31", "2024-05-31"),
        ("jobs 2024-05-01 to 2024-06-30", "2024-06-30", "2024-06-30"),
        ("31.05.2024", "2024-05-31", "2024-05-31"),
        ("log-2024-02", "2024-02-01", "2024-02-29"),
        ("Sept 2023 call-outs", "2023-09-01", "2023-09-30"),
        ("1st May 2024", "2024-05-01", "2024-05-01"),
        ("register 2023", "2023-01-01", "2023-12-31"),
        ("order 1202405", "", ""),
        ("visits", "", ""),
    ],
)
def test_dates_in_names(name: str, first: str, last: str) -> None:
    assert tuple(map(str, named_day(name) or ("", ""))) == (first, last)


ROWS = st.tuples(
    st.sampled_from(["J1", "J2"]), st.just("H1"), st.just("2024-05-01"), st.sampled_from(["", "2024-05-02"]),
    st.sampled_from(["", "2024-05-02", "2024-05-09"]), st.sampled_from(["", "fixed", "temporary"]),
    st.sampled_from(["", "1", "2"]), st.sampled_from(["", "ordered", "chased"]),
)  # fmt: skip


@settings(max_examples=8, deadline=None)
@given(exports=st.lists(st.tuples(st.lists(ROWS, max_size=3), st.integers(2, 5)), min_size=2, max_size=3))
def test_the_order_of_the_exports_changes_nothing(exports: list[tuple[list[tuple[str, ...]], int]]) -> None:
    logs = {}
    for n, (rows, month) in enumerate(exports):
        day = f"2024-{month:02d}-20"
        logs[f"{n}"] = [*map(list, rows), [f"K{n}", "H1", day, day, day, "fixed", "1", ""]]
    (one, counts), (other, again) = settled(logs, False), settled(logs, True)
    assert counts == again
    pd.testing.assert_frame_equal(one, other)


def test_a_register_of_a_later_year_counts_and_one_without_a_year_does_not(tmp_path: Path) -> None:
    head = ["valve_id", "home_id", "head_fitted"]
    old, new = [head, ["V1", "H1", "2012-03-01"]], [head, ["V1", "H1", "2025-02-03"]]
    named = [delimited(tmp_path / f"register {year}.csv", grid) for year, grid in (("2024", old), ("2025", new))]
    assert intake.read(named).tables["valves"]["head_fitted"].tolist() == [pd.Timestamp("2025-02-03")]
    unnamed = [delimited(tmp_path / f"{name}.csv", grid) for name, grid in (("a", old), ("b", new))]
    assert counted(intake.read(unnamed), "valves") == (0, 0, 2)


def test_a_filled_blank_names_the_row_that_filled_it(tmp_path: Path) -> None:
    problems = read(tmp_path, [DONE, OPEN]).problems  # the job as it stands is row 2; its notes are those of row 3
    told = problems[problems["column"].eq("notes")].iloc[0]
    assert (told["row"], told["effect"]) == (2, "repaired")
    assert told["reason"].endswith("row 3")


def test_a_contradiction_names_the_columns(tmp_path: Path) -> None:
    problems = read(tmp_path, [DONE], [DONE_OTHERWISE]).problems
    assert problems["effect"].tolist() == ["returned", "returned"]
    assert problems["reason"].str.endswith("they differ in outcome").all()


def test_the_same_moment_with_and_without_its_time_is_no_contradiction(tmp_path: Path) -> None:
    with_time = [*DONE[:2], "2024-05-01 09:30", *DONE[3:]]
    assert counted(read(tmp_path, [OPEN], [with_time])) == (1, 1, 0)


def test_valves_that_complete_each_other_are_one(tmp_path: Path) -> None:
    one = delimited(tmp_path / "a.csv", [["valve_id", "home_id", "make"], ["V1", "H1", "Make A"]])
    two = delimited(tmp_path / "b.csv", [["valve_id", "home_id", "lever"], ["V1", "H1", "free"]])
    reading = intake.read([one, two])
    assert counted(reading, "valves") == (1, 1, 0)
    assert reading.tables["valves"][["make", "lever"]].iloc[0].tolist() == ["Make A", "free"]


def test_two_valves_of_one_number_are_both_returned(tmp_path: Path) -> None:
    grid = [["valve_id", "home_id", "make"], ["V1", "H1", "Make A"], ["V1", "H2", "Make A"]]
    assert counted(intake.read([delimited(tmp_path / "a.csv", grid)]), "valves") == (0, 0, 2)


def test_a_price_given_twice_alike_counts_once_and_otherwise_not_at_all(tmp_path: Path) -> None:
    valves = delimited(tmp_path / "v.csv", [["valve_id", "home_id", "make"], ["V1", "H1", "Make A"]])
    grid = [["item", "unit", "cost_gbp"], ["motor", "each", "30"], ["motor", "each", "30"],
            ["call_out", "visit", "40"], ["call_out", "visit", "45"]]  # fmt: skip
    reading = intake.read([valves, delimited(tmp_path / "r.csv", grid)])
    assert counted(reading, "rates") == (1, 1, 2)


def test_hours_of_one_team_are_copies_only_where_all_is_alike(tmp_path: Path) -> None:
    valves = delimited(tmp_path / "v.csv", [["valve_id", "home_id", "make"], ["V1", "H1", "Make A"]])
    grid = [["team", "week_starting", "hours"], ["Team 1", "2026-01-05", "30"], ["Team 1", "2026-01-05", "30"],
            ["Team 1", "2026-01-12", "30"]]  # fmt: skip
    assert counted(intake.read([valves, delimited(tmp_path / "c.csv", grid)]), "capacity") == (2, 1, 0)
