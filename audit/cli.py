"""The commands. Each parses, calls, prints; the work is done elsewhere and imported only when a command needs it."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path
from typing import Annotated

import typer

from audit import __version__
from audit.errors import CannotUse

DONE, ROWS_RETURNED, CANNOT_USE = 0, 1, 2  # exit status

app = typer.Typer(
    name="valve-audit",
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Judge every motorised heating valve of a housing portfolio from the spreadsheets already kept.",
)

Inputs = Annotated[
    list[Path], typer.Argument(metavar="INPUT...", help="Files or folders: .xlsx, .ods, .csv, .parquet.")
]
AsOf = Annotated[
    str,
    typer.Option(metavar="DATE", help="The day to treat as today, YYYY-MM-DD; nothing later is used. Default: today."),
]
ColumnsFile = Annotated[
    Path | None,
    typer.Option("--columns", metavar="FILE", help="A columns.toml that check wrote and you corrected."),
]
PolicyFile = Annotated[Path | None, typer.Option("--policy", metavar="FILE", help="Your own limits, a TOML file.")]


@app.command()
def run(
    inputs: Inputs,
    out: Annotated[Path, typer.Option(metavar="DIR", help="Folder for the results.")],
    as_of: AsOf = "",
    policy: PolicyFile = None,
    columns: ColumnsFile = None,
    quarter_start: Annotated[
        str, typer.Option(metavar="DATE", help="First day of the quarter. Default: the Monday after the as-of date.")
    ] = "",
    exact: Annotated[
        bool, typer.Option("--exact", help="Plan by a solver to the proven best; for small quarters.")
    ] = False,
    hours: Annotated[
        list[str] | None,
        typer.Option(
            "--hours", metavar="SHARE", help="Compare: all teams with +10% or -10% of their hours; repeatable."
        ),
    ] = None,
    budget: Annotated[
        list[str] | None,
        typer.Option("--budget", metavar="GBP", help="What all visits may cost; further ones are compared with it."),
    ] = None,
    capacity: Annotated[
        list[Path] | None,
        typer.Option("--capacity", metavar="FILE", help="Compare: the teams' hours of another file; repeatable."),
    ] = None,
) -> None:
    """Do the whole audit: read, judge, choose, plan, write.

    Example: valve-audit run sample_data --out out --as-of 2026-09-30
    """
    from audit import pipeline, writing
    from audit.policy import load_policy
    from audit.progress import Progress
    from audit.scenario_options import scenarios_of
    from audit.telling import run_lines

    writing.keep_apart(inputs, out)
    writing.keep_filled_in(inputs, out)
    progress = Progress(pipeline.STEPS)
    start = _date(quarter_start, "--quarter-start") if quarter_start else None
    limits, today = load_policy(policy), _date(as_of, "--as-of")
    scenarios = scenarios_of(hours or (), budget or (), capacity or (), limits)
    _, results = pipeline.audit(inputs, today, limits, start, progress, columns, exact=exact, scenarios=scenarios)
    progress.step("writing the files")
    writing.write(results, out)
    progress.done()
    _print(run_lines(results, out))


@app.command()
def check(
    inputs: Inputs,
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Write returned-rows.xlsx, annotated/, columns.toml, clean/, run.json there."),
    ] = None,
    as_of: AsOf = "",
    policy: PolicyFile = None,
    columns: ColumnsFile = None,
) -> None:
    """Read and validate only; say what would be returned. Exit status 1 when rows were returned.

    Example: valve-audit check sample_data --as-of 2026-09-30
    """
    from audit import pipeline, writing
    from audit.policy import load_policy
    from audit.progress import Progress
    from audit.telling import check_lines

    writing.keep_apart(inputs, out)
    progress = Progress(2)
    progress.step("reading the books")
    try:
        _, results = pipeline.read(inputs, _date(as_of, "--as-of"), load_policy(policy), columns)
    except CannotUse as error:
        writing.keep_map(error, out)
        raise
    if out is not None:
        progress.step("writing the files")
        writing.write(results, out, read_only=True)
    progress.done()
    _print(check_lines(results))
    raise typer.Exit(ROWS_RETURNED if int(results.counts["returned"].sum()) else DONE)


@app.command()
def backtest(
    inputs: Inputs,
    out: Annotated[Path, typer.Option(metavar="DIR", help="Folder for the results.")],
    on: Annotated[
        str, typer.Option(metavar="DATE", help="The earlier day. Default: 13 weeks before the log's last day.")
    ] = "",
    as_of: AsOf = "",
    policy: PolicyFile = None,
    columns: ColumnsFile = None,
) -> None:
    """Rank every valve as on an earlier day, and score the ranking against what failed in the 13 weeks after it.

    Example: valve-audit backtest sample_data --out replay --on 2025-09-30 --as-of 2026-09-30
    """
    from audit import pipeline, writing
    from audit.policy import load_policy
    from audit.progress import Progress
    from audit.telling import backtest_lines

    writing.keep_apart(inputs, out)
    progress = Progress(3)
    limits, day = load_policy(policy), _date(on, "--on") if on else None
    found = pipeline.backtest(inputs, day, _date(as_of, "--as-of"), limits, progress, columns)
    progress.step("writing the files")
    writing.write_backtest(found, out, limits)
    progress.done()
    _print(backtest_lines(found, out))


@app.command()
def explain(
    id: Annotated[str, typer.Argument(metavar="ID", help="A home's or a valve's number.")],
    inputs: Inputs,
    as_of: AsOf = "",
    policy: PolicyFile = None,
    columns: ColumnsFile = None,
) -> None:
    """Tell everything known and concluded of one home or valve, with the working.

    Example: valve-audit explain H00042 sample_data --as-of 2026-09-30
    """
    from audit import pipeline
    from audit.explain import story
    from audit.policy import load_policy
    from audit.progress import Progress

    progress = Progress(pipeline.STEPS)
    day, in_force = _date(as_of, "--as-of"), load_policy(policy)
    known, results = pipeline.audit(inputs, day, in_force, None, progress, columns, years_ahead=False)
    progress.done()
    _print(story(id, known, results))


@app.command()
def rules(
    limits: Annotated[bool, typer.Option("--limits", help="List every limit that a policy file may set.")] = False,
    policy: PolicyFile = None,
) -> None:
    """Print the catalogue: every rule, its limit, unit, source, and what it needs.

    Example: valve-audit rules --limits
    """
    from audit.catalogue import catalogue_lines, limit_lines
    from audit.policy import load_policy

    in_force = load_policy(policy)
    _print(limit_lines(in_force) if limits else catalogue_lines(in_force))


@app.command()
def template(folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder for the blank workbooks.")]) -> None:
    """Write blank workbooks with drop-downs, notes and the data dictionary.

    Example: valve-audit template blank
    """
    from audit import writing

    _print([f"{path}" for path in writing.write_blank(folder)])


@app.command()
def sample(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder for the books; the truth goes to DIR/truth.")],
    homes: Annotated[int, typer.Option(metavar="N", min=1, max=1_000_000, help="How many homes.")] = 240,
    seed: Annotated[int, typer.Option(metavar="S", min=0, help="The same seed gives the same books.")] = 1,
    form: Annotated[str, typer.Option(metavar="FORM", help="xlsx, or csv for large portfolios.")] = "",
) -> None:
    """Invent a portfolio of any size, with its planted truth beside it.

    Example: valve-audit sample demo --homes 500 --seed 7
    """
    from audit import writing

    form = form or ("xlsx" if homes <= 5_000 else "csv")
    if form not in ("xlsx", "csv"):
        raise CannotUse(f"--form {form}: write xlsx or csv.")
    _print([f"{path}" for path in writing.write_sample(folder, homes, seed, form)])


@app.callback(invoke_without_command=True)
def _main(
    version: Annotated[bool, typer.Option("--version", help="Print the version and stop.")] = False,
) -> None:
    if version:
        _print([f"valve-audit {__version__}"])
        raise typer.Exit(DONE)


def entry() -> None:
    """Console-script target: whatever goes wrong, the user gets one sentence and exit status 2."""
    try:
        app()
    except CannotUse as error:
        _stop(str(error))
    except MemoryError:
        _stop("the machine has not enough memory for these files; give fewer files at a time.")
    except KeyboardInterrupt:
        _stop("stopped; nothing was written.")
    except Exception as error:  # a defect of ours: say where, never show a traceback
        place = error.__traceback__
        while place is not None and place.tb_next is not None:
            place = place.tb_next
        where = f"{Path(place.tb_frame.f_code.co_filename).name} line {place.tb_lineno}" if place else "unknown place"
        _stop(f"a defect of this program, please report it: {type(error).__name__} in {where}: {error}")


def _date(text: str, option: str) -> dt.date:
    if not text:
        return dt.date.today()
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise CannotUse(f"{option} {text}: not a date; write it as 2026-09-30.") from None


def _print(lines: list[str]) -> None:
    sys.stdout.write("\n".join(lines) + "\n")


def _stop(sentence: str) -> None:
    sys.stderr.write(f"valve-audit: {sentence}\n")
    sys.exit(CANNOT_USE)
