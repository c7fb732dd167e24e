"""Which files an input means; what is passed over is said, what cannot be read is a sentence."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from audit import intake
from audit.errors import CannotUse
from audit.intake.files import sources
from schemas.results import DICTIONARY_HEADERS
from tests.messy import ALL, headed, three, workbook


def refusal(*paths: Path) -> str:
    with pytest.raises(CannotUse) as caught:
        sources(list(paths))
    return str(caught.value)


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("gone.xlsx", None, "there is no such file or folder"),
        ("old.xls", b"x", "save it as .xlsx"),
        ("scan.pdf", b"x", "the spreadsheet that it was printed from"),
        ("plain", b"x", "'no extension' are not read"),
        ("empty.csv", b"", "the file is empty"),
        ("~$open.xlsx", b"x", "a workbook that is open elsewhere"),
    ],
)
def test_a_file_that_cannot_be_used(name: str, content: bytes | None, words: str, tmp_path: Path) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)
    assert words in refusal(tmp_path / name)


def test_an_empty_folder_is_a_sentence(tmp_path: Path) -> None:
    assert "holds no .xlsx, .ods, .csv or .parquet file" in refusal(tmp_path)


def test_no_input_is_a_sentence() -> None:
    assert "No input was given" in refusal()


def test_a_folder_means_its_tables_and_says_what_it_passed_over(tmp_path: Path) -> None:
    three(tmp_path)
    (tmp_path / "~$homes.xlsx").write_bytes(b"x")
    (tmp_path / "readme.md").write_text("x", encoding="utf-8")
    (tmp_path / "blank.csv").write_bytes(b"")
    (tmp_path / "deeper").mkdir()
    found, said = sources([tmp_path])
    assert [s.name for s in found] == ["homes.csv", "valves.csv", "visits.csv"]
    assert not any(s.named for s in found)
    assert [told.split(" was passed over")[0] for told in said] == ["~$homes.xlsx", "readme.md", "blank.csv"]


def test_a_file_given_twice_is_read_once(tmp_path: Path) -> None:
    homes = three(tmp_path)[0]
    assert len(sources([homes, homes, tmp_path])[0]) == 3


def test_files_of_one_name_are_told_apart(tmp_path: Path) -> None:
    for folder in ("north", "south"):
        (tmp_path / folder).mkdir()
        three(tmp_path / folder)
    names = [s.name for s in sources([tmp_path / "north", tmp_path / "south"])[0]]
    assert names == [f"{side}/{t}.csv" for side in ("north", "south") for t in ALL]


def test_inputs_are_listed_with_digest_and_rows(tmp_path: Path) -> None:
    files = three(tmp_path)
    inputs = intake.read(files).inputs
    assert inputs["name"].tolist() == ["homes.csv", "valves.csv", "visits.csv"]
    assert inputs["rows"].tolist() == [20, 40, 90]
    assert inputs["sha256"].tolist() == [hashlib.sha256(f.read_bytes()).hexdigest() for f in files]


def test_an_unrelated_file_is_refused_by_name_and_passed_over_in_a_folder(tmp_path: Path) -> None:
    three(tmp_path)
    other = tmp_path / "weather.csv"
    other.write_text("day,rain mm\n1,3\n2,4\n", encoding="utf-8")
    with pytest.raises(CannotUse, match=r"weather\.csv: no table of homes, valves"):
        intake.read([tmp_path / "homes.csv", other])
    assert any(told.startswith("weather.csv: passed over") for told in intake.read([tmp_path]).said)


@pytest.mark.parametrize("grid", [[], [["   "]]])
def test_an_empty_workbook_is_a_sentence(grid: list[list[str]], tmp_path: Path) -> None:
    with pytest.raises(CannotUse, match=r"book\.xlsx"):
        intake.read([workbook(tmp_path / "book.xlsx", {"Sheet1": grid})])


def test_progress_goes_from_start_to_end(tmp_path: Path) -> None:
    told: list[tuple[str, float]] = []
    intake.read(three(tmp_path), progress=lambda what, share: told.append((what, share)))
    assert told[0] == ("reading homes.csv", 0.0)
    assert [share for _, share in told] == sorted(share for _, share in told)
    assert all(0 <= share <= 1 for _, share in told)


def test_a_book_without_a_table_shows_its_headers_in_the_map(tmp_path: Path) -> None:
    path = workbook(tmp_path / "book.xlsx", {"Sheet1": [["Nummer", "Haus", "Ventil"], *headed("valves")[1:4]]})
    with pytest.raises(intake.Unclear) as asked:
        intake.read([path])
    found = asked.value.maps[0]
    assert (found.table, found.row) == ("none", 1)
    assert [h.text for h in found.unused] == ["Nummer", "Haus", "Ventil"]


def test_a_column_alone_is_passed_over_and_said(tmp_path: Path) -> None:
    three(tmp_path)
    (tmp_path / "list.csv").write_text("home_id\nH1\nH2\n", encoding="utf-8")
    told = (
        "list.csv: passed over, it has one column only, “home_id”; a table of ours needs at least one more beside it."
    )
    assert told in intake.read([tmp_path]).said


def test_the_dictionary_of_our_own_blank_workbooks_is_one_note(tmp_path: Path) -> None:
    pages = {table: headed(table) for table in ALL}
    pages["Data dictionary"] = [list(DICTIONARY_HEADERS), ["homes", "home_id", "yes", "The home.", "", "", "", "H1"]]
    reading = intake.read([workbook(tmp_path / "book.xlsx", pages)])
    about = [told for told in reading.said if "Data dictionary" in told]
    assert about == ["book.xlsx, sheet 'Data dictionary': passed over, it explains the columns."]


def test_columns_that_are_not_read_are_named(tmp_path: Path) -> None:
    files = three(tmp_path, homes=[[*row, "x" if n else "Colour of door"] for n, row in enumerate(headed("homes"))])
    told = intake.read(files).said
    assert any(t.startswith("homes.csv") and t.endswith("no column for it: “Colour of door”.") for t in told)
