"""The commands as a user meets them: exit status, one clear sentence, earlier outputs untouched."""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

import openpyxl
import pytest

import reports
from audit import writing
from audit.cli import entry
from audit.errors import CannotUse
from reports import run_record
from tests.reported import small_results

ROOT = Path(__file__).resolve().parent.parent
HOMES = "home_id,postcode\nH1,ZZ99 1AA\nH2,ZZ99 1AB\n"
VALVES = "valve_id,home_id,head_kind,head_fitted\nV1,H1,zone,2010-05-01\nV2,H2,zone,2024-05-01\n"
AS_OF = ["--as-of", "2026-09-30"]


def valve_audit(*words: str | Path) -> subprocess.CompletedProcess[str]:
    """The command in this process, which has the table libraries loaded already."""
    out, err = io.StringIO(), io.StringIO()
    status: int | str | None = 0
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(out), redirect_stderr(err):
        patch.setattr(sys, "argv", ["valve-audit", *(str(word) for word in words)])
        try:
            entry()
        except SystemExit as ended:
            status = ended.code
    return subprocess.CompletedProcess(sys.argv, int(status or 0), out.getvalue(), err.getvalue())


def process(*words: str | Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """The command in a process of its own, as a user starts it."""
    command = [sys.executable, "-m", "audit", *(str(word) for word in words)]
    return subprocess.run(command, capture_output=True, text=True, cwd=ROOT, env=os.environ | environment)


@pytest.fixture
def books(tmp_path: Path) -> Path:
    return two_homes(tmp_path / "books")


@pytest.fixture(scope="module")
def audited(tmp_path_factory: pytest.TempPathFactory) -> tuple[subprocess.CompletedProcess[str], Path]:
    """One whole audit of the two homes, and its folder, which is not to be changed."""
    folder = tmp_path_factory.mktemp("audited")
    words = ("run", two_homes(folder / "books"), "--out", folder / "out", *AS_OF)
    return process(*words, PYTHONHASHSEED="1"), folder / "out"


def two_homes(folder: Path) -> Path:
    folder.mkdir()
    (folder / "homes.csv").write_text(HOMES)
    (folder / "valves.csv").write_text(VALVES)
    return folder


def refused(done: subprocess.CompletedProcess[str], *words: str) -> None:
    """One sentence on stderr with these words, nothing on stdout, exit status 2."""
    assert done.returncode == 2, done.stderr
    assert done.stdout == ""
    lines = [line for line in done.stderr.splitlines() if not line.startswith("[")]
    assert len(lines) == 1, done.stderr
    assert "Traceback" not in done.stderr
    assert "defect" not in done.stderr
    for word in words:
        assert word in lines[0]


def test_the_whole_audit_of_two_homes(audited: tuple[subprocess.CompletedProcess[str], Path]) -> None:
    done, out = audited
    assert done.returncode == 0, done.stderr
    assert "valves: 2 rows in = 2 used + 0 merged + 0 returned" in done.stdout
    findings = (out / "findings.csv").read_text()
    assert "head-past-service-life" in findings
    assert "V1" in findings
    assert json.loads((out / "run.json").read_text())["as_of"] == "2026-09-30"


def empty_workbook(folder: Path) -> Path:
    path = folder / "empty.xlsx"
    openpyxl.Workbook().save(path)
    return path


def text_file(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.write_text(text)
    return path


UNUSABLE = {
    "missing file": (lambda folder: folder / "nowhere.xlsx", ("nowhere.xlsx",)),
    "wrong extension": (lambda folder: text_file(folder, "books.docx", "x"), ("books.docx", ".xlsx")),
    "empty workbook": (empty_workbook, ("empty.xlsx",)),
    "empty text file": (lambda folder: text_file(folder, "empty.csv", ""), ("empty.csv",)),
    "no recognisable sheet": (lambda folder: text_file(folder, "lunch.csv", "day,dish\nMon,soup\n"), ("lunch.csv",)),
    "text named xlsx": (lambda folder: text_file(folder, "text.xlsx", HOMES), ("text.xlsx",)),
}


@pytest.mark.parametrize("case", UNUSABLE)
def test_an_input_that_cannot_be_used(case: str, tmp_path: Path) -> None:
    make, words = UNUSABLE[case]
    refused(valve_audit("run", make(tmp_path), "--out", tmp_path / "out", *AS_OF), *words)
    assert not (tmp_path / "out").exists()


def test_ids_repeated_with_different_facts_leave_nothing(books: Path, tmp_path: Path) -> None:
    (books / "homes.csv").write_text("home_id,postcode\nH1,ZZ99 1AA\nH1,ZZ99 1AB\n")
    (books / "valves.csv").write_text("valve_id,home_id\nV1,H1\n")
    refused(valve_audit("run", books, "--out", tmp_path / "out", *AS_OF), "homes")


def test_an_id_repeated_returns_both_rows_and_goes_on(books: Path, tmp_path: Path) -> None:
    (books / "homes.csv").write_text(HOMES + "H3,ZZ99 1AC\nH3,ZZ99 1AD\n")
    done = valve_audit("check", books, *AS_OF)
    assert done.returncode == 1
    assert "homes: 4 rows in = 2 used + 0 merged + 2 returned" in done.stdout


def test_an_unreadable_date_is_said_with_its_place(books: Path, tmp_path: Path) -> None:
    (books / "visits.csv").write_text("visit_id,home_id,reported\nJ1,H1,2026-01-05\nJ2,H1,31/02/2026\n")
    done = valve_audit("check", books, *AS_OF)
    assert done.returncode == 1
    line = next(line for line in done.stdout.splitlines() if "31/02/2026" in line)
    assert "visits.csv" in line
    assert "row 3" in line
    assert "reported" in line


def test_a_clean_check_ends_with_0(books: Path) -> None:
    assert valve_audit("check", books, *AS_OF).returncode == 0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[age]\nhead_life = 3\n", ("age.head_life",)),
        ("[age]\nhead_service_life = 400\n", ("age.head_service_life", "400", "years")),
        ("[age]\nhead_service_life = 'old'\n", ("age.head_service_life", "years")),
        ("head_service_life = 4\n", ("head_service_life",)),
        ("[age\n", ("TOML",)),
    ],
)
def test_a_policy_that_cannot_be_used(text: str, words: tuple[str, ...], books: Path, tmp_path: Path) -> None:
    own = text_file(tmp_path, "own.toml", text)
    refused(valve_audit("run", books, "--out", tmp_path / "out", "--policy", own, *AS_OF), "own.toml", *words)


def test_an_as_of_date_that_is_none(books: Path, tmp_path: Path) -> None:
    refused(valve_audit("run", books, "--out", tmp_path / "out", "--as-of", "31/31/2026"), "--as-of", "31/31/2026")


def test_an_output_that_cannot_be_written_leaves_the_earlier_run(
    books: Path, audited: tuple[subprocess.CompletedProcess[str], Path], tmp_path: Path
) -> None:
    out = shutil.copytree(audited[1], tmp_path / "out")
    before = (out / "findings.csv").read_bytes()
    (out / "work-list.xlsx").unlink()
    (out / "work-list.xlsx").mkdir()  # stands for a file that another program holds open
    (books / "valves.csv").write_text(VALVES.replace("2010", "2025"))
    refused(valve_audit("run", books, "--out", out, *AS_OF), "work-list.xlsx")
    assert (out / "findings.csv").read_bytes() == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["books", "out"]


def filled_in(out: Path) -> bytes:
    """Write an outcome where a planner would; returns the bytes of the saved book."""
    book = openpyxl.load_workbook(out / "work-list.xlsx")
    book["Visits"]["B5"] = "no"
    book.save(out / "work-list.xlsx")
    return (out / "work-list.xlsx").read_bytes()


def test_a_work_list_that_was_filled_in_is_not_replaced(
    books: Path, audited: tuple[subprocess.CompletedProcess[str], Path], tmp_path: Path
) -> None:
    out = shutil.copytree(audited[1], tmp_path / "out")
    writing.keep_filled_in([books], out)  # as the audit wrote it: replaced like the rest
    held = filled_in(out)
    done = valve_audit("run", books, "--out", out, *AS_OF)
    refused(done, "work-list.xlsx", "changed since the audit wrote it", "choose another --out")
    assert "reading the books" not in done.stderr  # said before any work
    assert (out / "work-list.xlsx").read_bytes() == held
    copy = tmp_path / "copy.xlsx"
    copy.write_bytes(held)
    writing.keep_filled_in([books, copy], out)  # given along: what was filled in counts, and is not lost


@pytest.mark.parametrize("record", ["", "[]", '{"written": 3}', '{"written": {"work-list.xlsx": "0"}}'])
def test_a_work_list_without_its_record_counts_as_filled_in(books: Path, tmp_path: Path, record: str) -> None:
    text_file(tmp_path, "work-list.xlsx", "somebody's")
    text_file(tmp_path, "run.json", record)
    with pytest.raises(CannotUse, match="changed since the audit wrote it"):
        writing.keep_filled_in([books], tmp_path)


def test_a_check_into_the_folder_of_a_run_keeps_the_record_of_its_work_list(
    audited: tuple[subprocess.CompletedProcess[str], Path], tmp_path: Path
) -> None:
    out = shutil.copytree(audited[1], tmp_path / "out")
    reports.write(small_results(), out, read_only=True)
    assert run_record.recorded(out) == run_record.digests(out) == run_record.recorded(audited[1])


def test_an_output_folder_that_is_a_file(books: Path, tmp_path: Path) -> None:
    out = text_file(tmp_path, "out", "x")
    refused(valve_audit("run", books, "--out", out, *AS_OF), "out")


def test_the_same_input_gives_the_same_bytes(
    books: Path, audited: tuple[subprocess.CompletedProcess[str], Path], tmp_path: Path
) -> None:
    """Another process, which orders its sets otherwise."""
    once, again = audited[1], tmp_path / "again"
    assert valve_audit("run", books, "--out", again, *AS_OF).returncode == 0
    files = sorted(path.relative_to(once) for path in once.rglob("*") if path.is_file())
    assert files
    for path in files:
        assert (once / path).read_bytes() == (again / path).read_bytes(), path


def test_explain_tells_a_valves_story(books: Path) -> None:
    done = valve_audit("explain", "v1", books, *AS_OF)
    assert done.returncode == 0, done.stderr
    assert "head-past-service-life" in done.stdout
    assert "Cautions" in done.stdout


def test_explain_speaks_plainly(books: Path) -> None:
    """Words of the vocabulary come as the workbooks show them; what people wrote stays as it is."""
    (books / "valves.csv").write_text(
        "valve_id,home_id,head_kind,head_fitted,arrangement,location,circuit,lever\n"
        "V1,H1,zone_changeover,2010-05-01,two_port_zones,airing_cupboard,hot_water,stiff\n"
    )
    (books / "visits.csv").write_text(
        "visit_id,home_id,valve_id,reported,completed,kind,symptom,outcome,action,parts,notes\n"
        "J1,H1,V1,2026-02-02,2026-02-03,call_out,no_hot_water,no_fault_found,reset_lever,head_zone,tag H1_no_heating\n"
    )
    told = valve_audit("explain", "H1", books, *AS_OF).stdout
    assert re.findall(r"\w*[a-z0-9]_[a-z0-9]\w*", told) == ["H1_no_heating"]
    for words in ("two-port zones", "airing cupboard", "no hot water", "reset lever", "22 mm two-port valve"):
        assert words in told.replace("\n    ", " ")


def test_explain_of_an_unknown_number(books: Path) -> None:
    refused(valve_audit("explain", "V9", books, *AS_OF), "V9")


@pytest.mark.parametrize("command", ["run", "check"])
def test_nothing_is_written_into_a_folder_that_is_read(command: str, books: Path) -> None:
    before = {path.name: path.read_bytes() for path in books.iterdir()}
    refused(valve_audit(command, books, "--out", books, *AS_OF), "another --out")
    refused(valve_audit(command, books / "homes.csv", books / "valves.csv", "--out", books, *AS_OF), "another --out")
    assert {path.name: path.read_bytes() for path in books.iterdir()} == before


@pytest.mark.parametrize("command", ["template", "sample"])
def test_books_that_are_there_are_never_replaced(command: str, books: Path) -> None:
    before = {path.name: path.read_bytes() for path in books.iterdir()}
    refused(valve_audit(command, books), "homes.csv", "empty folder")
    assert {path.name: path.read_bytes() for path in books.iterdir()} == before


def test_a_quarter_in_the_past_is_refused(books: Path, tmp_path: Path) -> None:
    done = valve_audit("run", books, "--out", tmp_path / "out", *AS_OF, "--quarter-start", "2026-09-28")
    refused(done, "--quarter-start 2026-09-28", "before the as-of date 2026-09-30")
