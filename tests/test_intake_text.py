"""Text files: rows keep the numbers that a spreadsheet shows, whatever stands between and around the cells."""

from __future__ import annotations

from pathlib import Path

import pytest

from audit import intake
from audit.intake.text import read_text
from audit.policy import load_policy

HEAD = "visit_id,home_id,reported,notes"


def rows_of(path: Path) -> tuple[list[list[object]], int]:
    import numpy as np

    sheet = read_text(path, path.name, load_policy())[0]
    grid = [[cell or "" for cell in row] for row in sheet.grid.rows(np.arange(sheet.grid.height))]
    return grid, sheet.first_row


@pytest.mark.parametrize(
    ("case", "content", "grid"),
    [
        ("commas", b"a,b\n1,2\n", [["a", "b"], ["1", "2"]]),
        ("no line end at the end", b"a,b\n1,2", [["a", "b"], ["1", "2"]]),
        ("semicolons with decimal commas", b"a;b\n1,5;2,5\n3,5;4\n", [["a", "b"], ["1,5", "2,5"], ["3,5", "4"]]),
        ("a delimiter in quotes", b'a,b\n"1,5",2\n', [["a", "b"], ["1,5", "2"]]),
        ("quotes doubled in quotes", b'a,b\n"say ""x""",2\n', [["a", "b"], ['say "x"', "2"]]),
        ("a blank line", b"a,b\n\n1,2\n", [["a", "b"], ["", ""], ["1", "2"]]),
        ("a short and a long row", b"a,b,c\n1,2\n1,2,3,4\n1,2,3\n",
         [["a", "b", "c", ""], ["1", "2", "", ""], ["1", "2", "3", "4"], ["1", "2", "3", ""]]),
        ("line ends in quotes", b'a,b\n"1\n2",3\n4,5\n', [["a", "b"], ["1\n2", "3"], ["4", "5"]]),
        ("carriage returns in quotes", b'a,b\r\n"1\r2",3\r\n', [["a", "b"], ["1\r2", "3"]]),
        ("latin letters", "a,b\ncaf\u00e9,\u00a3\n".encode("cp1252"), [["a", "b"], ["caf\u00e9", "\u00a3"]]),
        ("one column", b"a\n1\n2\n", [["a"], ["1"], ["2"]]),
    ],
)  # fmt: skip
def test_rows(case: str, content: bytes, grid: list[list[str]], tmp_path: Path) -> None:
    path = tmp_path / "x.csv"
    path.write_bytes(content)
    assert rows_of(path)[0] == grid


@pytest.mark.parametrize(
    ("case", "lines", "row"),
    [
        ("plain", [HEAD, "J1,H1,2024-05-01,x", "J2,,2024-05-01,x"], 3),
        ("a title and a blank line", ["Jobs", "", HEAD, "J1,H1,2024-05-01,x", "J2,,2024-05-01,x"], 5),
        ("a note of two lines before", [HEAD, 'J1,H1,2024-05-01,"x\ny"', "J2,,2024-05-01,x"], 3),
        ("a row too wide before", [HEAD, "J1,H1,2024-05-01,x,more,more", "J2,,2024-05-01,x"], 3),
        ("the delimiter named first", ["sep=,", HEAD, "J1,H1,2024-05-01,x", "J2,,2024-05-01,x"], 4),
    ],
)
def test_a_returned_row_has_the_number_that_a_spreadsheet_shows(
    case: str, lines: list[str], row: int, tmp_path: Path
) -> None:
    path = tmp_path / "jobs.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    problems = intake.read([path]).problems
    assert problems[problems["effect"].eq("returned")]["row"].tolist() == [row]


def test_a_late_byte_that_is_no_utf8_makes_the_whole_file_windows_text(tmp_path: Path) -> None:
    path = tmp_path / "jobs.csv"
    lines = [HEAD, *(f"J{n},H1,2024-05-01,plain" for n in range(20_000)), "Jx,H1,2024-05-01,caf\u00e9"]
    path.write_bytes("\n".join(lines).encode("cp1252"))
    reading = intake.read([path])
    assert reading.tables["visits"]["notes"].iloc[-1] == "caf\u00e9"
    assert "jobs.csv: read as Windows-1252 text." in reading.said


def test_rows_of_another_width_late_in_a_long_file_keep_their_place(tmp_path: Path) -> None:
    path = tmp_path / "jobs.csv"
    rows = [f"J{n},H1,2024-05-01,plain" for n in range(30_000)]
    rows[29_000] += ",one,two"
    rows[29_500] = "J29500,H1"
    path.write_text("\n".join([HEAD, *rows]), encoding="utf-8")
    reading = intake.read([path])
    assert reading.tables["visits"]["source_row"].tolist() == [n + 2 for n in range(30_000) if n != 29_500]
    assert reading.problems["row"].tolist() == [29_502]
