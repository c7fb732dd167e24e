"""Several rows, one thing: what merges, what is updated, what is returned."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from audit import intake
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
def test_exports(
    case: str, exports: list[list[list[str]]], used: int, merged: int, returned: int, tmp_path: Path
) -> None:
    assert counted(read(tmp_path, *exports)) == (used, merged, returned)


@pytest.mark.parametrize("exports", [[[OPEN], [ATTENDED], [DONE]], [[DONE], [OPEN], [ATTENDED]]])
def test_the_latest_stands_and_blanks_are_filled(exports: list[list[list[str]]], tmp_path: Path) -> None:
    reading = read(tmp_path, *exports)
    job = reading.tables["visits"].iloc[0]
    assert (job["outcome"], job["hours"], job["notes"]) == ("fixed", 1.5, "ordered")
    assert job["completed"] == pd.Timestamp("2024-05-09")


def test_an_update_says_what_stood_there_and_where_the_new_value_is(tmp_path: Path) -> None:
    problems = read(tmp_path, [OPEN], [DONE]).problems
    told = problems[problems["column"].eq("outcome")].iloc[0]
    assert (told["file"], told["row"], told["value"], told["effect"]) == ("0.csv", 2, "parts_needed", "repaired")
    assert told["reason"].endswith("1.csv, row 2")


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
