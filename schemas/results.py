"""The tables that the audit writes: their columns in order, and `Results`, everything the reports need.

`RESULT_COLUMNS` is to the output what `schemas.tables.COLUMNS` is to the input: one record a column.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from schemas import words as w
from schemas.column import Column, Kind

if TYPE_CHECKING:
    import pandas as pd


def _table(name: str, *columns: tuple[str, Kind, str, str]) -> tuple[Column, ...]:
    return tuple(Column(table=name, name=n, kind=k, unit=u, meaning=m) for n, k, u, m in columns)


RESULT_COLUMNS: Final[dict[str, tuple[Column, ...]]] = {
    "findings": _table(
        "findings",
        ("rank", "number", "", "1 is the most urgent."),
        ("rule", "word", "", "The rule's name, as in the catalogue."),
        ("severity", "word", "", "danger, fault, money or record."),
        ("home_id", "id", "", "The home."),
        ("valve_id", "id", "", "The valve, where the finding is about one."),
        ("visit_id", "id", "", "The visit, where the finding is about one."),
        ("group", "text", "", "The group, where the finding is about one."),
        ("observed", "text", "", "What was seen, in `unit` where it is a number."),
        ("limit", "text", "", "The limit, in `unit`."),
        ("unit", "text", "", "Unit of observed, limit and margin."),
        ("margin", "number", "", "How far past the limit; negative means still inside it."),
        ("statement", "text", "", "The finding in one sentence."),
        ("action", "text", "", "What to do."),
        ("limit_source", "text", "", "Where the limit comes from."),
        ("scheme", "text", "", "The home's scheme."),
    ),
    "options": _table(
        "options",
        ("valve_id", "id", "", "The valve."),
        ("option", "word", "", "leave, motor, head or full."),
        ("feasible", "word", "", "yes or no."),
        ("why_not", "text", "", "Why it is not feasible."),
        ("cost_now_gbp", "number", "GBP", "Cost of doing it now, in a planned visit of its own."),
        ("expected_later_gbp", "number", "GBP", "Expected later cost over the horizon, discounted."),
        ("total_gbp", "number", "GBP", "Now and later together."),
        ("benefit_gbp", "number", "GBP", "Total of `leave` less this total: what is saved after its own cost."),
        ("chance_fail_quarter", "number", "share", "Chance that the valve fails within 13 weeks after it."),
        ("chance_fail_year", "number", "share", "Chance that the valve fails within a year after it."),
        ("annual_gbp", "number", "GBP a year", "Equivalent annual cost."),
        ("chosen", "word", "", "yes for the option that the job list takes."),
        ("dearer_gbp", "number", "GBP", "How much dearer the next best possible option is than the one chosen."),
        ("flip", "text", "", "What would have to change for another option to be best."),
        ("working", "text", "", "Hours × rate + parts, as added up."),
        ("chosen_why", "text", "", "Why it is chosen, also where its benefit is below nought; empty where it is not."),
    ),
    "jobs": _table(
        "jobs",
        ("rank", "number", "", "1 is the most urgent."),
        ("home_id", "id", "", "The home."),
        ("valve_id", "id", "", "The valve; empty for work on the home's system."),
        ("option", "word", "", "leave, motor, head or full."),
        ("severity", "word", "", "The worst of its findings."),
        ("hours", "number", "h", "Work without travel and access."),
        ("parts", "text", "", "Parts, named as in the rates, with pieces."),
        ("drain_down", "word", "", "yes where the system must be drained."),
        ("cost_gbp", "number", "GBP", "Labour and parts, without the call-out."),
        ("benefit_gbp", "number", "GBP", "What acting now saves against waiting, its own cost taken off."),
        ("reason", "text", "", "The findings behind it, in words."),
        ("tasks", "text", "", "Work besides the option: earth, wiring, relocate …"),
        ("circuit", "word", "", "What the valve feeds."),
        ("what", "text", "", "The whole job in one sentence for the engineer."),
        ("working", "text", "", "How the cost is added up."),
        ("chance_fail_quarter", "number", "share", "Chance that the valve, if left, fails in 13 weeks."),
        ("in_short", "text", "", "What is done in a few words: the new part and the tasks, or the tasks only."),
        ("chosen_why", "text", "", "Why it is done: danger, a fault, or what it saves; how a shared call-out counts."),
        ("puts_right", "text", "", "The rules whose findings the job puts right."),
    ),
    "planned-visits": _table(
        "planned-visits",
        ("rank", "number", "", "1 is the most urgent."),
        ("team", "text", "", "The team; empty where left out or where no capacity was given."),
        ("week_starting", "date", "", "First day of the week."),
        ("home_id", "id", "", "The home."),
        ("postcode", "text", "", "Its postcode."),
        ("scheme", "text", "", "Its scheme."),
        ("jobs", "text", "", "All the jobs of the visit, in words."),
        ("parts", "text", "", "Parts for the visit, with pieces."),
        ("hours", "number", "h", "Work plus one call-out."),
        ("drain_down", "word", "", "yes where any job drains the system."),
        ("severity", "word", "", "The worst of its jobs."),
        ("benefit_gbp", "number", "GBP", "Sum over its jobs, less what waiting for its week costs."),
        ("gas_check_due", "date", "", "When the next gas safety check is due."),
        ("status", "word", "", "planned or left_out."),
        ("reason", "text", "", "Why it is planned where it is, or left out."),
        ("address", "text", "", "The address."),
        ("patch", "text", "", "Its patch."),
        ("access_note", "text", "", "How to get in."),
        ("why", "text", "", "The findings behind the visit, in words."),
        ("cost_gbp", "number", "GBP", "Jobs plus one call-out."),
        ("parts_named", "text", "", "The parts, named by what they must fit."),
        ("of_visits", "text", "", "Which of the home's visits, where its work needs more than one."),
        ("priority_household", "word", "", "yes where the home is to be kept warm first."),
        ("gas_note", "text", "", "What the visit has to know of the gas safety check."),
        ("allowance_h", "number", "h", "Hours kept besides, for doors that stay shut."),
        ("earliest_week", "date", "", "First week in which it may be: parts there, out of the cold where it must be."),
        ("visit_number", "id", "", "The home's visit, numbered alike in every plan."),
        ("work", "text", "", "Each valve and what is done to it, in short words; 'home' for the home's system."),
        ("days", "text", "", "How many people and days, where one of each is not enough."),
        ("include", "word", "", "no where the planner took it out."),
        ("keep", "word", "", "yes where the planner keeps it in its team and week."),
        ("history", "text", "", "What became of it in earlier plans."),
        ("chance_fail_quarter", "number", "share", "Chance that one of its valves fails within 13 weeks, if left."),
        ("wait_gbp", "number", "GBP a week", "What each week of waiting costs: benefit and what its faults count."),
        ("puts_right", "text", "", "Each valve, or 'home', and the rules whose findings the visit puts right."),
    ),
    "scenarios": _table(
        "scenarios",
        ("series", "word", "", "hours, budget or capacity: what is varied; rows rise within a series."),
        ("scenario", "text", "", "The scenario."),
        ("hours_there", "number", "h", "Hours of all teams in the quarter."),
        ("budget_gbp", "number", "GBP", "Ceiling on the cost of all visits; empty where there is none."),
        ("visits_planned", "number", "visits", "Visits planned."),
        ("visits_left_out", "number", "visits", "Visits left out."),
        ("danger_left_out", "number", "visits", "Visits for danger left out."),
        ("faults_left_out", "number", "visits", "Visits for faults left out."),
        ("hours_used", "number", "h", "Hours of the planned visits, without travel between areas."),
        ("cost_gbp", "number", "GBP", "Cost of the planned visits."),
        ("benefit_gbp", "number", "GBP", "Benefit of the planned visits, their cost taken off."),
        ("worth_gbp", "number", "GBP", "Benefit, and what a fault put right counts besides: what is made best."),
        ("gap_percent", "number", "%", "No plan of these hours and money is worth more by over this."),
        ("extra_hours", "number", "h", "More hours than the row before."),
        ("extra_cost_gbp", "number", "GBP", "More cost than the row before."),
        ("extra_benefit_gbp", "number", "GBP", "More benefit than the row before."),
        ("extra_worth_gbp", "number", "GBP", "More worth than the row before."),
        ("per_extra_hour_gbp", "number", "GBP an hour", "Worth that each extra hour brings."),
        ("per_extra_pound", "number", "GBP a GBP", "Worth that each extra pound spent brings."),
    ),
    "life": _table(
        "life",
        ("part", "word", "", "head or body."),
        ("group", "text", "", "The group fitted."),
        ("valves", "number", "valves", "Valves in the group."),
        ("failures", "number", "failures", "Failures seen."),
        ("exposure_years", "number", "years", "Valve-years watched."),
        ("shape", "number", "", "Weibull shape."),
        ("shape_low", "number", "", "Lower 90 % limit."),
        ("shape_high", "number", "", "Upper 90 % limit."),
        ("scale_years", "number", "years", "Weibull scale."),
        ("scale_low", "number", "years", "Lower 90 % limit."),
        ("scale_high", "number", "years", "Upper 90 % limit."),
        ("median_years", "number", "years", "Half have failed by then."),
        ("b10_years", "number", "years", "One in ten has failed by then."),
        ("prior_weight", "number", "share", "Weight of what the life is drawn to: 1 means that nothing was fitted."),
        ("log_shape_error", "number", "", "Standard error of the logarithm of the shape."),
        ("log_scale_error", "number", "", "Standard error of the logarithm of the scale."),
        ("log_correlation", "number", "", "Correlation of the two."),
        ("curve_gap", "number", "", "Farthest that the fit lies from the survival curve without a formula."),
        ("curve_gap_limit", "number", "", "Chance alone seldom (1 in 10) takes it farther than this."),
        ("basis", "text", "", "What the life rests on: fitted, or assumed where failures are too few."),
    ),
    "chains": _table(
        "chains",
        ("chain", "id", "", "Number of the chain."),
        ("home_id", "id", "", "The home."),
        ("system", "text", "", "The heating system."),
        ("window_days", "number", "days", "The smaller repeat window that holds the whole chain, else the larger."),
        ("first", "date", "", "First report."),
        ("last", "date", "", "Last report."),
        ("call_outs", "number", "", "Faults: call-outs, several on a day or while one is open counted once."),
        ("visits", "number", "", "Attendances and attempts."),
        ("no_access", "number", "", "Attempts without access."),
        ("days_open", "number", "days", "Days between first report and completion of each fault, summed."),
        ("cost_gbp", "number", "GBP", "Cost recorded on its visits."),
        ("parts_fitted", "text", "", "Parts in the order fitted."),
        ("likely_root", "text", "", "The cause that the pattern suggests."),
        ("evidence", "text", "", "The facts behind that."),
        ("next_step", "text", "", "What to do next."),
        ("state", "word", "", "open, to do, put right by the last visit, or long ago."),
        ("hypothesis", "word", "", "Short name of the likely root."),
        ("strength", "word", "", "strong, fair or weak; empty where the log says too little."),
        ("points", "number", "points", "Points of the likely root, by the table of clues."),
        ("against", "text", "", "The facts that speak against it."),
        ("runner_up", "text", "", "The next best hypothesis."),
        ("valves", "text", "", "Valves named, in the order of their first fault."),
        ("symptoms", "text", "", "What was reported, in order, each change shown."),
        ("repeats_short", "number", "", "Call-outs within the short window after the attempt before."),
        ("days_without_heat", "number", "days", "Days open of the call-outs for lost heating or hot water."),
        ("rank_by_cost", "number", "", "1 is the dearest chain."),
        ("rank_by_days", "number", "", "1 is the chain with most days without heat."),
    ),
    "groups": _table(
        "groups",
        ("grouped_by", "text", "", "What the valves are grouped by: scheme, batch, location …"),
        ("group", "text", "", "The group."),
        ("valves", "number", "valves", "Valves in it."),
        ("exposure_years", "number", "years", "Valve-years watched."),
        ("observed", "number", "failures", "Failures seen; a fault counts once, however often it came back."),
        ("expected", "number", "failures", "Failures expected of these valves by the life of the whole stock."),
        ("ratio", "number", "times", "Observed over expected."),
        ("low", "number", "times", "Lower 95 % limit of the ratio, exact."),
        ("high", "number", "times", "Upper 95 % limit of the ratio, exact."),
        ("p", "number", "chance", "Chance of a count as far out, were nothing special about the group."),
        ("p_adjusted", "number", "chance", "The same, adjusted for the number of groups tried."),
        ("named", "word", "", "yes where the group fails too often, allowing for all groups tried."),
        ("excess_call_outs", "number", "call-outs", "Observed less expected."),
        ("excess_cost_gbp", "number", "GBP", "What these cost, at the mean cost of a fault."),
    ),
    "readings": _table(
        "readings",
        ("visit_id", "id", "", "The visit on which wires or position were read."),
        ("valve_id", "id", "", "The valve that was read."),
        ("verdict", "word", "", "named, contradictory, cannot_tell or none_found."),
        ("part", "word", "", "The part that alone explains the readings: motor, end_switch, spring_or_body, body …"),
        ("option", "text", "", "The least work that mends it: motor, head, full, 'head or full', or wiring."),
        ("next_reading", "text", "", "The single reading that would tell most; two where one alone tells nothing."),
        ("reasons", "text", "", "What was read, what fits, what is ruled out, what to do first."),
        ("home_id", "id", "", "The home."),
        ("read_on", "date", "", "Day of the visit."),
    ),
    "forecast": _table(
        "forecast",
        ("policy", "word", "", "fix_on_failure, heads_at_age or least_cost."),
        ("year", "number", "", "1 is the 12 months from the as-of date."),
        ("failures", "number", "failures", "Failures to expect in the year."),
        ("failures_low", "number", "failures", "Lower 80 % limit."),
        ("failures_high", "number", "failures", "Upper 80 % limit."),
        ("drain_downs", "number", "drain-downs", "Drain-downs to expect."),
        ("spend_gbp", "number", "GBP", "Spend to expect, at today's prices, not discounted."),
        ("spend_low", "number", "GBP", "Lower 80 % limit."),
        ("spend_high", "number", "GBP", "Upper 80 % limit."),
        ("year_ends", "date", "", "Last day of the year."),
        ("winter_failures", "number", "failures", "Of the failures, those from 1 November to 30 April."),
        ("head_failures", "number", "failures", "Of the failures, those of heads."),
        ("body_failures", "number", "failures", "Of the failures, those of bodies."),
        ("planned_motors", "number", "motors", "Motors renewed ahead of a failure."),
        ("planned_heads", "number", "heads", "Heads renewed ahead of a failure."),
        ("planned_valves", "number", "valves", "Whole valves renewed ahead of a failure."),
        ("renewed_with_heating", "number", "valves", "Valves renewed with the home's heating, at no cost here."),
        ("planned_gbp", "number", "GBP", "Of the spend, work ahead of failures."),
        ("no_heat_gbp", "number", "GBP", "Allowance for homes without heat, not in the spend."),
        ("present_value_gbp", "number", "GBP", "Spend and allowance, discounted to the as-of date."),
    ),
}

PROBLEM_COLUMNS: Final = _table(
    "returned-rows",
    ("table", "word", "", "The table it was read for."),
    ("file", "text", "", "The file."),
    ("sheet", "text", "", "The sheet; empty in a text file."),
    ("row", "number", "", "The row as the spreadsheet numbers it."),
    ("column", "text", "", "The column's header in the file."),
    ("value", "text", "", "What stood there."),
    ("reason", "text", "", "Why it could not be used as it stood."),
    ("mend", "text", "", "How to mend it."),
    ("effect", "word", "", "returned (row not used), repaired (row used), or merged (the same as another row)."),
    ("field", "word", "", "The audit's name of the column."),
    ("cell", "text", "", "The cell, such as F12; the row's first where the file has no such column."),
)
EFFECT: Final = {
    "returned": "the row was not used",
    "repaired": "the row was used, without this value or with it put right",
    "merged": "the row says the same as another, or a later one counts in its place",
}

CHANGE: Final = {  # how a visit stands against the last plan
    "not used": "filled in, but what was written could not be used",
    "new": "planned now, and not in the last plan",
    "moved": "planned again, in another week or team",
    "done": "done, and no longer needed",
    "dropped": "planned before, and not now",
    "kept": "planned again where it stood",
}

MARKS_TITLE: Final = "Marks of the audit: cells to mend"  # top of the list in an annotated copy; never read as data
DICTIONARY_HEADERS: Final = (  # of the data dictionary in our blank workbooks; never read as data
    "Table",
    "Column",
    "Required",
    "What it holds",
    "Kind",
    "Unit",
    "Allowed",
    "Example",
)

CAUTIONS: Final = (
    "Isolate the heating controls' supply and any separate feed to the head (a head's end switch can stay live from "
    "another circuit); prove dead with a proved tester, lock off, and prove the tester again.",
    "Prove the earth of every head before it is left live. A head without an earth stays off.",
    "Water and pipework can scald: let the system cool before opening it or touching pipes and cylinder.",
    "Drain down only where the work says so; refill, vent, dose inhibitor, and look for weeps before leaving.",
    "Work on gas appliances and their casings only by people registered for gas work.",
    "The product's data sheet, local codes and licensed practice come before anything written here.",
)


@dataclass(frozen=True)
class Results:
    """Everything that the reports write; nothing in it needs computing any more."""

    version: str
    as_of: dt.date
    quarter_start: dt.date
    policy_sha256: str
    policy: pd.DataFrame  # name, value, unit, source, meaning
    rules: pd.DataFrame  # rule, family, severity, fires, limit, source, needs, action
    inputs: pd.DataFrame  # name, sha256, rows
    counts: pd.DataFrame  # table, rows_in, used, merged, returned
    said: tuple[str, ...]  # what the reader must know: columns missing, prices assumed …
    problems: pd.DataFrame  # PROBLEM_COLUMNS
    clean: Mapping[str, pd.DataFrame]  # canonical columns + source_file, source_sheet, source_row
    tables: Mapping[str, pd.DataFrame]  # RESULT_COLUMNS
    summaries: Mapping[str, pd.DataFrame]  # counts by scheme, kind, place …, see audit.summary
    originals: Mapping[str, Path] = field(default_factory=dict)  # the input files, by their name in `problems`
    columns_toml: str = ""  # how every header was understood, as a file to correct and give back
    plan: Mapping[str, Any] = field(default_factory=dict)  # benefit_gbp, hours_there, hours_used, visits_planned …


SEVERITY_ORDER: Final = {name: place for place, name in enumerate(w.SEVERITY)}
