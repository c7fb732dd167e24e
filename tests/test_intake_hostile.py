"""Files that do harm, or are not what they say: one sentence each, quickly, in little memory."""

from __future__ import annotations

import json
import resource
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from audit import intake
from audit.errors import CannotUse
from audit.intake import sheets
from audit.policy import load_policy
from tests import hostile

SECONDS, MIB = 10, 1024
BOMBS = (hostile.bomb_of_blanks, hostile.bomb_of_rows, hostile.bomb_of_cells, hostile.bomb_of_one_cell)
SMALL = [maker for maker in hostile.WORKBOOKS if maker not in BOMBS]
Maker = Callable[[Path], Path]


def named(maker: Maker) -> str:
    return maker.__name__


def refusal(path: Path) -> str:
    with pytest.raises(CannotUse) as caught:
        intake.read([path])
    return str(caught.value)


@pytest.mark.parametrize("maker", SMALL, ids=named)
def test_a_harmful_workbook_is_refused_in_one_sentence(maker: Maker, tmp_path: Path) -> None:
    told = refusal(maker(tmp_path / "book.xlsx"))
    assert told.startswith("book.xlsx")
    assert told.count("\n") == 0
    assert told.endswith(".")


@pytest.mark.parametrize("maker", hostile.OPEN, ids=named)
def test_a_harmful_open_workbook_is_refused_in_one_sentence(maker: Maker, tmp_path: Path) -> None:
    told = refusal(maker(tmp_path / "book.ods"))
    assert told.startswith("book.ods")
    assert told.count("\n") == 0


@pytest.mark.parametrize("maker", hostile.TEXTS, ids=named)
def test_a_harmful_text_file_is_refused_in_one_sentence(maker: Maker, tmp_path: Path) -> None:
    told = refusal(maker(tmp_path / "jobs.csv"))
    assert told.startswith("jobs.csv")
    assert told.count("\n") == 0


@pytest.mark.parametrize(
    ("maker", "words"),
    [
        (hostile.locked, "password"),
        (hostile.old_workbook, "old .xls workbook"),
        (hostile.text_as_workbook, "name it .csv"),
        (hostile.page_as_workbook, "a web page"),
        (hostile.last_cell, "cell XFD1048576 lies far away"),
        (hostile.far_down, "cell Y1048576 lies far away"),
        (hostile.long_cell, "a cell holds at most 32,767"),
        (hostile.truncated, "damaged or incomplete"),
        (hostile.other_zip, "holds no workbook"),
    ],
    ids=lambda given: given.__name__ if callable(given) else "",
)
def test_the_sentence_says_what_is_wrong(maker: Maker, words: str, tmp_path: Path) -> None:
    assert words in refusal(maker(tmp_path / "book.xlsx"))


@pytest.mark.parametrize(
    ("maker", "words"),
    [
        (hostile.nul_bytes, "line 3: holds a NUL byte"),
        (hostile.wide_text, "over 16,384 columns"),
        (hostile.long_text_cell, "row 2: a cell holds over 1,000,000 characters"),
        (hostile.open_quote, "row 2: a cell holds over 1,000,000 characters, or a quotation mark is never closed"),
        (hostile.workbook_as_text, "name it .xlsx"),
    ],
    ids=lambda given: given.__name__ if callable(given) else "",
)
def test_the_sentence_says_where_in_a_text_file(maker: Maker, words: str, tmp_path: Path) -> None:
    assert words in refusal(maker(tmp_path / "jobs.csv"))


CHECK_ALL = """
import contextlib, io, json, resource, sys, time
from audit.cli import entry
for path in sys.argv[1:]:
    said, start = io.StringIO(), time.monotonic()
    sys.argv = ["valve-audit", "check", path]
    with contextlib.redirect_stderr(said), contextlib.redirect_stdout(said):
        try:
            entry()
            status = 0
        except SystemExit as left:
            status = left.code
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    print(json.dumps([path, status, said.getvalue(), time.monotonic() - start, peak]))
"""


def test_every_harmful_file_ends_with_status_2_in_little_time_and_memory(tmp_path: Path) -> None:
    """One process meets them all, one after the other, and lives; its address space is bounded, to be safe."""
    makers = [(maker, "xlsx") for maker in hostile.WORKBOOKS] + [(maker, "csv") for maker in hostile.TEXTS]
    paths = [maker(tmp_path / f"{named(maker)}.{kind}") for maker, kind in makers]
    done = subprocess.run(
        [sys.executable, "-c", CHECK_ALL, *map(str, paths)],
        capture_output=True,
        text=True,
        timeout=240,
        check=True,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (4 << 30, 4 << 30)),
    )
    met = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(met) == len(paths) > 25
    for path, status, said, seconds, mib in met:
        name = Path(path).name
        told = [line for line in said.splitlines() if line.startswith("valve-audit: ")]
        assert (status, len(told)) == (2, 1), (name, status, said)
        assert name in told[0]
        assert "Traceback" not in said
        assert seconds < SECONDS, (name, seconds)
        assert mib < MIB, (name, mib)


def test_a_panic_of_the_fast_reader_is_a_sentence_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class PanicException(BaseException):  # what a panic below Python looks like: no Exception
        pass

    def panic(path: Path) -> None:
        raise PanicException("index out of bounds")

    path = hostile.workbook(tmp_path / "book.xlsx", hostile.sheet(hostile.honest()))
    monkeypatch.setattr(sheets, "CalamineWorkbook", type("Reader", (), {"from_path": staticmethod(panic)}))
    with pytest.raises(CannotUse, match="damaged"):
        sheets.read_workbook(path, "book.xlsx", load_policy())


def test_an_interrupt_is_not_swallowed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupt(path: Path) -> None:
        raise KeyboardInterrupt

    path = hostile.workbook(tmp_path / "book.xlsx", hostile.sheet(hostile.honest()))
    monkeypatch.setattr(sheets, "CalamineWorkbook", type("Reader", (), {"from_path": staticmethod(interrupt)}))
    with pytest.raises(KeyboardInterrupt):
        sheets.read_workbook(path, "book.xlsx", load_policy())


def test_a_stray_cell_far_below_does_no_harm(tmp_path: Path) -> None:
    rows = hostile.honest() + f'<row r="200000">{hostile.cell("C200000", "x")}</row>'
    reading = intake.read([hostile.workbook(tmp_path / "book.xlsx", hostile.sheet(rows))])
    counts = reading.counts.set_index("table").loc["valves"]
    assert (counts["rows_in"], counts["used"], counts["returned"]) == (6, 5, 1)


def test_long_lists_behind_the_rows_do_no_harm(tmp_path: Path) -> None:
    merges = "".join(f'<mergeCell ref="H{n}:I{n}"/>' for n in range(1, 60_000))
    content = hostile.sheet(hostile.honest()).replace("</sheetData>", f"</sheetData><mergeCells>{merges}</mergeCells>")
    reading = intake.read([hostile.workbook(tmp_path / "book.xlsx", content)])
    assert len(reading.tables["valves"]) == 5


def test_a_closed_quote_with_many_lines_is_a_note(tmp_path: Path) -> None:
    path = tmp_path / "jobs.csv"
    path.write_text('visit_id,home_id,reported,notes\nJ1,H1,2024-05-01,"a, b\nc, d\ne"\n', encoding="utf-8")
    assert intake.read([path]).tables["visits"]["notes"].tolist() == ["a, b\nc, d\ne"]


def test_an_open_quote_does_not_swallow_rows(tmp_path: Path) -> None:
    path = tmp_path / "jobs.csv"
    rows = "".join(f"J{n},H{n},2024-05-01,note\n" for n in range(5))
    path.write_text(f'visit_id,home_id,reported,notes\nJ9,H9,2024-05-01,"pipe\n{rows}', encoding="utf-8")
    assert "row 2: a quotation mark is opened and not closed" in refusal(path)


def test_errors_and_repeats_of_an_open_workbook_are_seen(tmp_path: Path) -> None:
    rows = hostile.open_head() + "".join(
        hostile.open_row(
            hostile.open_cell(f"V{n}"), hostile.open_cell(f"H{n}"), hostile.open_cell("#N/A", kind="error")
        )
        for n in range(3)
    )
    blank = '<table:table-row table:number-rows-repeated="1048000"><table:table-cell/></table:table-row>'
    reading = intake.read([hostile.open_workbook(tmp_path / "book.ods", rows + blank)])
    assert reading.tables["valves"]["make"].isna().tolist() == [True] * 3
    assert reading.problems["value"].tolist() == ["#N/A"] * 3
    assert reading.problems["row"].tolist() == [2, 3, 4]
