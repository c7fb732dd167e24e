"""Progress: nothing for short work, a line while long work is under way, and one when it ends."""

from __future__ import annotations

import io
import time

from audit.progress import Progress


def test_short_work_says_nothing() -> None:
    stream = io.StringIO()
    progress = Progress(2, stream, quiet=60)
    progress.step("reading the books")
    progress.step("writing the files")
    progress.done()
    assert stream.getvalue() == ""


def test_a_long_first_step_is_told_while_it_runs() -> None:
    stream = io.StringIO()
    progress = Progress(2, stream, quiet=0.05)
    progress.step("reading the books")
    until = time.monotonic() + 5
    while not stream.getvalue() and time.monotonic() < until:
        time.sleep(0.01)
    assert stream.getvalue() == f"[{'.' * 20}] 0/2 reading the books (0 s)\n"
    progress.step("writing the files")
    progress.done()
    lines = stream.getvalue().splitlines()
    assert lines[1] == f"[{'#' * 10}{'.' * 10}] 1/2 writing the files (0 s)"
    assert lines[2].startswith(f"[{'#' * 20}] done (")


def test_work_that_ended_is_not_told_of_again() -> None:
    stream = io.StringIO()
    progress = Progress(1, stream, quiet=0.05)
    progress.step("reading the books")
    progress.done()
    time.sleep(0.15)
    assert stream.getvalue() == ""
