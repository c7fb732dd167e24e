"""Everything that reaches the disk: what may be written where, and the sentence where it cannot be."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path

import reports
from audit import intake, sample
from audit.errors import CannotUse
from audit.intake.files import sources
from audit.policy import Policy
from reports import run_record
from schemas.backtest import Backtest
from schemas.results import Results


def keep_apart(paths: Sequence[Path], out: Path | None) -> None:
    """Refuse to write into a folder that is read from: a result could replace the user's own file of the same name."""
    if out is not None and out.exists() and not out.is_dir():
        raise CannotUse(f"{out}: is a file, not a folder; choose another --out.")
    read_from = {(path if path.is_dir() else path.parent).resolve() for path in paths}
    if out is not None and out.resolve() in read_from:
        raise CannotUse(
            f"{out}: the books are read from this folder, so nothing is written there; choose another --out."
        )


def keep_filled_in(paths: Sequence[Path], out: Path) -> None:
    """Refuse a folder whose work list was saved by somebody since the audit wrote it, unless it is an input too."""
    there = run_record.digests(out)
    if not there or there == {name: run_record.recorded(out).get(name) for name in there}:
        return
    given = (source.path for source in sources(paths)[0] if source.path.suffix.lower() == ".xlsx")
    if not any(hashlib.sha256(path.read_bytes()).hexdigest() in there.values() for path in given):
        raise CannotUse(
            f"{out / run_record.FILLED_IN}: was changed since the audit wrote it, and would be replaced; give it along "
            "with the books, so that what was filled in counts, and choose another --out."
        )


def _refuse_full(folder: Path) -> None:
    """Refuse a folder that holds tables already: they may be somebody's filled-in books."""
    held = sorted(path.name for path in folder.glob("*") if path.suffix.lower() in (".xlsx", ".csv"))
    if held:
        raise CannotUse(f"{folder}: holds {held[0]} already, which is not replaced; choose an empty folder.")


def write(results: Results, out: Path, *, read_only: bool = False) -> None:
    """Write every file, or with `read_only` what `check` promises: returned rows, clean tables, run.json.

    Raises:
        CannotUse: the folder or a file in it cannot be written; what an earlier run wrote is untouched.
    """
    try:
        reports.write(results, out, read_only=read_only)
    except OSError as error:
        raise _unwritten(error, out) from None


def write_backtest(found: Backtest, out: Path, policy: Policy) -> None:
    """Write the files of a backtest.

    Raises:
        CannotUse: as `write`.
    """
    try:
        reports.write_backtest(found, out, int(policy.number("workbook.max_rows")))
    except OSError as error:
        raise _unwritten(error, out) from None


def write_blank(folder: Path) -> list[Path]:
    """Write the blank workbooks; returns what was written."""
    _refuse_full(folder)
    try:
        return reports.write_template(folder)
    except OSError as error:
        raise CannotUse(
            f"{error.filename or folder}: cannot be written ({error.strerror}); choose another folder."
        ) from None


def write_sample(folder: Path, homes: int, seed: int, form: str) -> list[Path]:
    """Write an invented portfolio and, in its folder `truth`, what was planted; returns what was written."""
    _refuse_full(folder)
    try:
        return sample.write(sample.make(homes, seed), folder, form)
    except OSError as error:
        raise CannotUse(
            f"{error.filename or folder}: cannot be written ({error.strerror}); choose another folder."
        ) from None


def keep_map(error: CannotUse, out: Path | None) -> None:
    """Write what was understood so far, where only the user can name a table's columns; the questions stand in it."""
    if isinstance(error, intake.Unclear) and out is not None:
        out.mkdir(parents=True, exist_ok=True)
        intake.write_map(error.maps, out / "columns.toml")


def _unwritten(error: OSError, out: Path) -> CannotUse:
    reason = error.strerror or str(error)
    mend = "close it where it is open, or choose another folder"
    return CannotUse(f"{error.filename or out}: cannot be written ({reason}); {mend}.")
