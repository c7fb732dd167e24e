"""Writes what the audit found: workbooks, a page, tidy tables and the record of the run. Computes nothing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from reports import (
    annotated,
    backtest,
    backtest_page,
    calendar_file,
    page,
    repeat_faults,
    returned_rows,
    run_record,
    stock_summary,
    work_list,
)
from reports.folder import replacing
from reports.template import write_template
from reports.tidy import write_csv
from schemas.backtest import Backtest
from schemas.results import RESULT_COLUMNS, Results
from schemas.tables import COLUMNS

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["write", "write_backtest", "write_template"]


def write(results: Results, out: Path, *, read_only: bool = False) -> None:
    """Write every file into one folder: all of them complete, or none and the earlier ones untouched.

    Args:
        results: Everything the audit found.
        out: The folder; made where it is missing.
        read_only: Write only what was read: returned-rows.xlsx, annotated/, clean/, columns.toml and run.json.

    Raises:
        OSError: the folder or a file in it cannot be written; `filename` and `strerror` say which and why.
    """
    with replacing(out) as fresh:
        _clean(results, fresh / "clean")
        limits = results.policy.set_index("name")["value"]
        copies = annotated.write(results, fresh / "annotated", int(limits["workbook.annotate_rows"]))
        returned_rows.write(results, fresh / "returned-rows.xlsx", copies)
        (fresh / "columns.toml").write_text(results.columns_toml, encoding="utf-8", newline="\n")
        if read_only:
            run_record.write(results, fresh / run_record.NAME, run_record.recorded(out))
            return
        for name, frame in results.tables.items():
            write_csv(_one_line(frame), RESULT_COLUMNS.get(name, ()), fresh / f"{name}.csv")
        max_rows = int(limits["workbook.max_rows"])
        calendar_file.write(results, fresh / "planned-visits.ics")
        work_list.write(results, fresh / "work-list.xlsx", max_rows)
        stock_summary.write(results, fresh / "stock-summary.xlsx", max_rows)
        repeat_faults.write(results, fresh / "repeat-faults.xlsx", max_rows)
        page.write(results, fresh / "summary.html")
        run_record.write(results, fresh / run_record.NAME, run_record.digests(fresh))


def write_backtest(found: Backtest, out: Path, max_rows: int) -> None:
    """Write backtest.xlsx, backtest.html and backtest-ranking.csv into one folder, as `write` does.

    Raises:
        OSError: as `write`.
    """
    with replacing(out) as fresh:
        backtest.write(found, fresh / "backtest.xlsx", max_rows)
        backtest_page.write(found, fresh / "backtest.html")
        write_csv(found.ranking, (), fresh / "backtest-ranking.csv")


def _one_line(frame: pd.DataFrame) -> pd.DataFrame:
    """Put what the visits' columns tell valve by valve, a line each, into one line, as other tools like it."""
    return frame.assign(
        **{name: frame[name].str.replace("\n", " ", regex=False) for name in ("jobs", "why") if name in frame.columns}
    )


def _clean(results: Results, folder: Path) -> None:
    folder.mkdir()
    for name, frame in results.clean.items():
        write_csv(frame, COLUMNS.get(name, ()), folder / f"{name}.csv", exact=True)
