"""A set of files is written whole, or the folder is as it was."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

import reports
from reports import folder
from tests.reported import small_results

EARLIER = {"a.txt": "old a", "b.txt": "old b", "clean/c.txt": "old c", "theirs.txt": "not ours"}


def fill(where: Path, files: dict[str, str]) -> None:
    for name, text in files.items():
        (where / name).parent.mkdir(parents=True, exist_ok=True)
        (where / name).write_text(text, encoding="utf-8")


def content(where: Path) -> dict[str, str]:
    return {str(p.relative_to(where)): p.read_text(encoding="utf-8") for p in where.rglob("*") if p.is_file()}


def write(out: Path) -> None:
    with folder.replacing(out) as fresh:
        fill(fresh, {"a.txt": "new a", "b.txt": "new b", "clean/c.txt": "new c", "clean/d.txt": "new d"})


def test_files_replace_earlier_ones_and_leave_others_alone(tmp_path: Path) -> None:
    fill(tmp_path, EARLIER)
    write(tmp_path)
    assert content(tmp_path) == {
        "a.txt": "new a", "b.txt": "new b", "clean/c.txt": "new c", "clean/d.txt": "new d", "theirs.txt": "not ours",
    }  # fmt: skip


def test_missing_folders_are_made(tmp_path: Path) -> None:
    write(tmp_path / "some" / "where")
    assert sorted(content(tmp_path / "some" / "where")) == ["a.txt", "b.txt", "clean/c.txt", "clean/d.txt"]


@pytest.mark.parametrize("fails_at", range(1, 9))
def test_a_failure_at_any_move_leaves_everything_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fails_at: int
) -> None:
    fill(tmp_path, EARLIER)
    moves = 0
    real = os.replace

    def replace(source: Path, target: Path) -> None:
        nonlocal moves
        moves += 1
        if moves == fails_at:
            raise PermissionError(13, "Permission denied", str(target))
        real(source, target)

    monkeypatch.setattr(folder.os, "replace", replace)
    if fails_at > 7:  # three earlier files moved aside, four new ones moved in
        write(tmp_path)
        return
    with pytest.raises(OSError, match="Permission denied") as caught:
        write(tmp_path)
    assert ".unfinished" not in str(caught.value.filename)
    assert content(tmp_path) == EARLIER


def test_a_failure_while_writing_leaves_everything_as_it_was(tmp_path: Path) -> None:
    fill(tmp_path, EARLIER)

    def half(out: Path) -> None:
        with folder.replacing(out) as fresh:
            fill(fresh, {"a.txt": "half"})
            raise ValueError("half way")

    with pytest.raises(ValueError, match="half way"):
        half(tmp_path)
    assert content(tmp_path) == EARLIER


def test_a_failure_removes_the_folders_it_made(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="half way"), folder.replacing(tmp_path / "new" / "out"):
        raise ValueError("half way")
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize("lock", [".~lock.b.txt#", "~$b.txt"])
def test_a_file_open_elsewhere_is_not_replaced(tmp_path: Path, lock: str) -> None:
    fill(tmp_path, EARLIER | {lock: ""})
    with pytest.raises(PermissionError, match="open in a spreadsheet program") as caught:
        write(tmp_path)
    assert caught.value.filename == str(tmp_path / "b.txt")
    assert content(tmp_path) == EARLIER | {lock: ""}


def test_a_folder_in_the_way_is_said(tmp_path: Path) -> None:
    (tmp_path / "b.txt").mkdir()
    with pytest.raises(IsADirectoryError, match="in the way") as caught:
        write(tmp_path)
    assert caught.value.filename == str(tmp_path / "b.txt")
    assert content(tmp_path) == {}


@pytest.mark.parametrize("out", ["file", "file/below"])
def test_a_file_where_the_folder_should_be_is_said(tmp_path: Path, out: str) -> None:
    (tmp_path / "file").write_text("kept", encoding="utf-8")
    with pytest.raises(NotADirectoryError, match="not a folder"):
        write(tmp_path / out)
    assert content(tmp_path) == {"file": "kept"}


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(PermissionError):
        write(tmp_path)
    tmp_path.chmod(0o700)


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The whole set, which is not to be changed."""
    out = tmp_path_factory.mktemp("written")
    reports.write(small_results(), out)
    return out


def test_the_whole_set_is_written(written: Path) -> None:
    assert sorted(content_names(written)) == [
        "chains.csv", "clean/capacity.csv", "clean/homes.csv", "clean/valves.csv", "clean/visits.csv", "columns.toml",
        "findings.csv", "forecast.csv", "groups.csv",
        "jobs.csv", "life.csv", "options.csv", "planned-visits.csv", "planned-visits.ics",
        "readings.csv", "repeat-faults.xlsx", "returned-rows.xlsx",
        "run.json", "scenarios.csv", "stock-summary.xlsx", "summary.html", "work-list.xlsx",
    ]  # fmt: skip


def test_reading_only_writes_what_was_read(tmp_path: Path) -> None:
    reports.write(small_results(), tmp_path, read_only=True)
    assert sorted(content_names(tmp_path)) == [
        "clean/capacity.csv", "clean/homes.csv", "clean/valves.csv", "clean/visits.csv", "columns.toml",
        "returned-rows.xlsx", "run.json",
    ]  # fmt: skip


def test_every_file_has_the_same_bytes_again(written: Path, tmp_path: Path) -> None:
    reports.write(small_results(), tmp_path)
    for name in content_names(written):
        assert (written / name).read_bytes() == (tmp_path / name).read_bytes(), name


def test_a_failing_report_leaves_the_earlier_ones(
    written: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(written, tmp_path, dirs_exist_ok=True)
    before = {name: (tmp_path / name).read_bytes() for name in content_names(tmp_path)}

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device", "summary.html")

    monkeypatch.setattr(reports.page, "write", fail)
    with pytest.raises(OSError, match="No space left"):
        reports.write(small_results(), tmp_path)
    assert {name: (tmp_path / name).read_bytes() for name in content_names(tmp_path)} == before


def content_names(where: Path) -> list[str]:
    return [str(p.relative_to(where)) for p in where.rglob("*") if p.is_file()]
