"""Numbers joined across tables and sheets: which spellings are one, which are not, and what is said."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from audit import intake
from audit.intake.ids import fold
from tests.messy import delimited


@pytest.mark.parametrize(
    ("one", "other", "alike"),
    [
        ("00042", "42", True),
        ("H00042", "h42", True),
        ("H 00042", "H42", True),
        ("H-0042", "H-42", True),
        ("H00042", "H420", False),
        ("100", "1", False),
        ("0", "00", True),
        ("V1-01", "V1-1", False),
        ("A1B01", "A1B1", False),
    ],
)
def test_what_is_alike(one: str, other: str, alike: bool) -> None:
    keys = fold(pd.Series([one, other], dtype="str"))
    assert (keys[0] == keys[1]) is alike


def read(folder: Path, homes: list[str], visits: list[str], more: list[str] | None = None) -> intake.Reading:
    files = [delimited(folder / "homes.csv", [["home_id", "scheme"], *([h, f"S{n}"] for n, h in enumerate(homes))])]
    if more:
        files.append(delimited(folder / "more.csv", [["home_id", "patch"], *([h, "North"] for h in more)]))
    jobs = [[f"J{n}", h, "2024-05-01"] for n, h in enumerate(visits)]
    return intake.read([*files, delimited(folder / "visits.csv", [["visit_id", "home_id", "reported"], *jobs])])


@pytest.mark.parametrize(
    ("case", "homes", "visits", "known"),
    [
        ("zeros lost in the log", ["00042", "00117"], ["42", "117"], ["00042", "00117"]),
        ("zeros too many in the log", ["42"], ["00042"], ["42"]),
        ("both are listed, so both are homes", ["042", "42"], ["042", "42"], ["042", "42"]),
        ("a third spelling of two listed homes is not guessed", ["042", "42"], ["0042"], []),
        ("an unknown home stays unknown", ["00042"], ["43"], []),
        ("a prefix in the list only", ["PROP-00042", "PROP-00117"], ["42", "117"], ["PROP-00042", "PROP-00117"]),
        ("a prefix in the log only", ["42", "117"], ["P/42", "P/0117"], ["42", "117"]),
        ("two prefixes in the list", ["A-42", "B-42"], ["42"], []),
        ("numbers of another scheme", ["PROP-1", "PROP-2"], ["1", "7"], []),
        ("letters behind the number", ["PROP-1A", "PROP-2"], ["2"], []),
    ],
)
def test_homes_of_the_log(case: str, homes: list[str], visits: list[str], known: list[str], tmp_path: Path) -> None:
    assert read(tmp_path, homes, visits).tables["visits"]["home_id"].tolist() == known


def test_a_returned_row_shows_the_number_as_it_stood(tmp_path: Path) -> None:
    problems = read(tmp_path, ["00042"], ["0043"]).problems
    assert problems["value"].tolist() == ["0043"]


def test_two_lists_are_joined_and_the_zeros_win(tmp_path: Path) -> None:
    reading = read(tmp_path, ["42", "117"], ["117"], more=["00042", "00117"])
    homes = reading.tables["homes"]
    assert homes["home_id"].tolist() == ["00042", "00117"]
    assert homes["patch"].tolist() == ["North", "North"]
    assert reading.tables["visits"]["home_id"].tolist() == ["00117"]


def test_what_was_joined_is_said_with_a_count_and_an_example(tmp_path: Path) -> None:
    said = read(tmp_path, ["00042", "00117"], ["42", "117"]).said
    told = "visits.csv: 2 home numbers were joined with others that differ in leading zeros or blanks only"
    assert f"{told} (such as 42 → 00042)." in said


def test_without_a_list_of_homes_the_register_gives_the_prefix(tmp_path: Path) -> None:
    valves = delimited(tmp_path / "v.csv", [["valve_id", "home_id"], ["V1", "PROP-00042"], ["V2", "PROP-00117"]])
    jobs = [["visit_id", "home_id", "reported"], ["J1", "42", "2024-05-01"], ["J2", "117", "2024-05-01"]]
    reading = intake.read([valves, delimited(tmp_path / "j.csv", jobs)])
    assert reading.tables["visits"]["home_id"].tolist() == ["PROP-00042", "PROP-00117"]
    assert reading.tables["homes"]["home_id"].tolist() == ["PROP-00042", "PROP-00117"]


def test_jobs_that_name_their_home_by_its_address(tmp_path: Path) -> None:
    """Short forms, commas and postcodes make no difference; an address that two homes share names neither."""
    homes = [["Home", "Address"], ["1", "Flat 2, 14 Example Road"], ["2", "15 Example Rd."], ["3", "Twin House"],
             ["4", "Twin House"]]  # fmt: skip
    jobs = [["Job No", "Address", "Reported"], ["J1", "FLAT 2 14 Example Rd, ZZ99 1AA", "2024-05-01"],
            ["J2", "15, Example Road", "2024-05-01"], ["J3", "Twin House", "2024-05-01"]]  # fmt: skip
    reading = intake.read([delimited(tmp_path / "h.csv", homes), delimited(tmp_path / "j.csv", jobs)])
    assert reading.tables["visits"]["home_id"].tolist() == ["1", "2"]
    assert reading.counts.set_index("table").loc["visits", "returned"] == 1
