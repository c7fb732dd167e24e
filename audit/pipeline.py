"""The audit from files to files, on one screen. Everything it calls is a pure function of tables and policy."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pandas as pd

from audit import __version__, intake
from audit.backtest import figures, score, sentences
from audit.catalogue import rule_rows
from audit.choice import NEAR, fitted, jobs, lives_said, options, prices, what_if, whole_lives, with_own_winter
from audit.errors import CannotUse
from audit.facts import facts
from audit.findings import findings, switched_off
from audit.forecast import forecast
from audit.groups import groups, named_batches
from audit.intake.files import sources
from audit.intake.notes_lists import notes_lists
from audit.intake.places import with_cells
from audit.known import known_on
from audit.life import life
from audit.model import Facts, Portfolio
from audit.plan import Scenarios, of_jobs, plan, quarter_start
from audit.policy import Policy
from audit.progress import Progress
from audit.put_right import closed, put_right_chains
from audit.quality import records
from audit.readings import readings
from audit.repeats import followed, found_since, renewed_soon, rooted, settled
from audit.summary import chain_visits, summaries
from audit.trends import trend_tables
from schemas.backtest import Backtest
from schemas.results import RESULT_COLUMNS, Results
from schemas.sentences import ToDo
from schemas.tables import COLUMNS

STEPS = 10
NO_SCENARIOS = Scenarios()


def audit(
    paths: Sequence[Path],
    as_of: dt.date,
    policy: Policy,
    start: dt.date | None,
    progress: Progress,
    columns: Path | None = None,
    *,
    exact: bool = False,
    scenarios: Scenarios = NO_SCENARIOS,
    years_ahead: bool = True,
) -> tuple[Facts, Results]:
    """Read the books, judge every valve, choose, plan. Writes nothing.

    Args:
        paths: Files or folders to read.
        as_of: The day that the audit treats as today.
        policy: Limits, weights and assumed prices.
        start: First day of the quarter; the first Monday after `as_of` where None.
        progress: Told of each step.
        columns: A corrected columns.toml; one that lies in an input folder is used where None.
        exact: Plan the quarter by a solver, to the proven best, where it is not too large for that.
        scenarios: Hours, budgets and teams to compare the plan with.
        years_ahead: Reckon them; one home's story needs none.

    Raises:
        CannotUse: nothing useful can be read from `paths`, or the quarter starts before the as-of date.
    """
    begins = _begins(start, as_of)
    progress.step("reading the books")
    portfolio, base = read(paths, as_of, policy, columns)
    progress.step("gathering what is known of every valve")
    known = facts(portfolio, pd.Timestamp(as_of), policy)
    progress.step("judging every valve")
    found = findings(known, policy, portfolio.absent)
    progress.step("fitting the lives of heads and bodies")
    fit = life(known, policy)
    priced = prices(portfolio.rates, policy)
    progress.step("following repeat call-outs")
    tried = groups(known, fit, priced, policy)
    repeated, steps = followed(known, policy, named_batches(known, tried))
    repeated = put_right_chains(repeated, known)
    found = rooted(settled(found, repeated, steps), repeated, steps, known)
    found = closed(renewed_soon(found_since(found, repeated, steps, known, policy), known, policy), known)
    policy, winter = with_own_winter(policy, fit.season)
    progress.step("costing the options")
    lived = fitted(fit, known, policy)
    choices = options(known, found, lived, priced, policy)
    work = jobs(known, found, choices, lived, priced, policy)
    progress.step("reckoning the years ahead")
    ahead, ahead_tables = forecast(known, lived, fit, priced, policy) if years_ahead else (base.tables["forecast"], {})
    progress.step("planning the quarter")
    teams, stock, former = portfolio.capacity, portfolio.parts, portfolio.former
    visits, totals = plan(
        known, work, teams, priced, policy, begins, stock, exact=exact, former=former, asked=scenarios
    )
    planned = totals.pop("tables")
    tables = {
        "findings": found,
        "options": choices,
        "jobs": work,
        "planned-visits": visits,
        "life": fit.table,
        "chains": repeated,
        "groups": tried,
        "readings": readings(known),
        "forecast": ahead,
        "scenarios": planned.pop("scenarios"),
    }
    benefit = pd.concat([of_jobs(choices, work, priced, policy), planned.pop("benefit")], ignore_index=True)
    counted = {
        **base.summaries,
        **summaries(known, found, choices, work, visits, repeated, teams, policy, base.problems, base.counts),
        **what_if(known, whole_lives(fit.table), priced, policy),
        **trend_tables(known, policy),
        **records(known, base.clean, base.problems, portfolio.absent, policy),
        **ahead_tables,
        **planned,
        "benefit": benefit,
        "chain_visits": chain_visits(steps, repeated),
    }
    said = (
        *map(ToDo, (*totals.pop("said", ()), *_returned(base.counts), *priced.said(), *switched_off(portfolio.absent))),
        *lives_said(fit, known),
        NEAR,
        winter,
        *base.said,
    )
    base = replace(base, policy=policy_rows(policy))  # with the log's own share, where that is used
    return known, replace(base, quarter_start=begins, tables=tables, summaries=counted, said=said, plan=totals)


def _returned(counts: pd.DataFrame) -> tuple[str, ...]:
    """Ask for the rows that could not be used."""
    found = counts.loc[counts["returned"].gt(0)]
    each = ", ".join(f"{name} {rows:,.0f}" for name, rows in zip(found["table"], found["returned"], strict=True))
    return (f"Rows that could not be used, to be mended: {each}; returned-rows.xlsx says where and how.",) * bool(each)


def backtest(
    paths: Sequence[Path],
    on: dt.date | None,
    as_of: dt.date,
    policy: Policy,
    progress: Progress,
    columns: Path | None = None,
) -> Backtest:
    """Read the books, rank every valve as on an earlier day, and score the ranking. Writes nothing.

    Raises:
        CannotUse: nothing useful can be read, the log ends within 13 weeks of `on`, or nothing was known then.
    """
    progress.step("reading the books")
    portfolio, base = read(paths, as_of, policy, columns)
    progress.step("ranking as on the earlier day, and scoring what failed next")
    found = score(portfolio, on, as_of, policy)
    ranked = found.ranking
    return Backtest(
        version=__version__,
        on=found.on.date(),
        end=found.end.date(),
        as_of=as_of,
        policy_sha256=policy.sha256,
        inputs=base.inputs,
        said=sentences(found),
        figures=figures(found),
        capture=found.capture,
        calibration=found.calibration,
        ranking=ranked[["place", *ranked.columns.drop("place")]],
    )


def read(
    paths: Sequence[Path], as_of: dt.date, policy: Policy, columns: Path | None = None
) -> tuple[Portfolio, Results]:
    """Read and validate; the results hold no findings yet, only what was read and what was returned."""
    reading = intake.read(paths, columns=columns or _kept_map(paths), policy=policy, as_of=as_of)
    tables, later = known_on(reading.tables, pd.Timestamp(as_of))
    if tables["homes"].empty or tables["valves"].empty:
        raise CannotUse(_nothing_left(reading, as_of))
    problems = pd.concat([frame for frame in (reading.problems, later) if not frame.empty] or [later])
    base = Results(
        version=__version__,
        as_of=as_of,
        quarter_start=as_of,
        policy_sha256=policy.sha256,
        policy=policy_rows(policy),
        rules=pd.DataFrame(rule_rows(policy)),
        inputs=reading.inputs,
        counts=_recount(reading.counts, tables),
        said=reading.said,
        problems=with_cells(problems.reset_index(drop=True), reading.maps),
        clean=tables,
        tables={name: pd.DataFrame(columns=[c.name for c in RESULT_COLUMNS[name]]) for name in RESULT_COLUMNS},
        summaries=notes_lists(reading.coded, reading.conflicts, reading.uncoded)
        | {"returned_dangers": reading.dangers, "done_before": reading.done},
        originals={source.name: source.path for source in sources(paths)[0]},
        columns_toml=intake.map_text(reading.maps),
    )
    return Portfolio(**tables, absent=reading.absent, former=reading.former), base


def _begins(start: dt.date | None, as_of: dt.date) -> dt.date:
    """First day of the quarter to plan."""
    begins = start or quarter_start(as_of)
    if begins < as_of:
        raise CannotUse(
            f"--quarter-start {begins:%Y-%m-%d}: lies before the as-of date {as_of:%Y-%m-%d}; a plan cannot start in "
            "the past, so give a later quarter start or an earlier --as-of."
        )
    return begins


def policy_rows(policy: Policy) -> pd.DataFrame:
    """Every limit in force as a table: name, value, unit, source, meaning."""
    return pd.DataFrame(
        [
            {"name": x.name, "value": x.value, "unit": x.unit, "source": x.source, "meaning": x.meaning}
            for x in policy.values()
        ]
    )


def _kept_map(paths: Sequence[Path]) -> Path | None:
    """The columns.toml that a user keeps beside the books, so that the same headers are known next quarter."""
    kept = (path / "columns.toml" for path in paths if path.is_dir())
    return next((path for path in kept if path.is_file()), None)


def _recount(counts: pd.DataFrame, tables: dict[str, pd.DataFrame]) -> pd.DataFrame:
    """Move the rows that the as-of date set aside from used to returned."""
    used = counts["table"].map({name: len(table) for name, table in tables.items()}).astype("int64")
    return counts.assign(returned=counts["returned"] + counts["used"] - used, used=used)


def _nothing_left(reading: intake.Reading, as_of: dt.date) -> str:
    files = ", ".join(reading.inputs["name"].astype(str).head(5))
    for table in ("homes", "valves"):
        if table not in reading.tables or reading.tables[table].empty:
            ids = COLUMNS[table][0].name
            first = reading.problems.loc[reading.problems["table"].eq(table)].head(1)
            why = f" The first was {first.iloc[0]['reason']}" if len(first) else ""
            return f"{files}: no usable row of {table} was found; a sheet with a column for {ids} is needed.{why}"
    return f"{files}: nothing in it is dated on or before {as_of:%d %B %Y}; give a later --as-of."
