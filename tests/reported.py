"""One small audit, every result table written by hand, with text that tries to become a formula or a script."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from functools import cache
from typing import Any, Final

import numpy as np
import pandas as pd

from audit.choice import prices, what_if
from audit.forecast.ahead import SUMS, Ahead, HeadsPay
from audit.forecast.told import told
from audit.forecast.year_table import year_table
from audit.life.season import EVEN, Season
from audit.plan.parts import named
from audit.plan.reckoning import of_jobs, of_plan
from audit.plan.stock import load, order
from audit.plan.visits import RANKED_BY
from audit.policy import Policy
from audit.quality import records
from audit.repeats import followed
from audit.summary import chain_visits, summaries
from audit.trends import trend_tables
from schemas.results import PROBLEM_COLUMNS, RESULT_COLUMNS, Results
from tests.frames import default_policy, frame, known_facts, portfolio

AS_OF: Final = dt.date(2026, 9, 30)
QUARTER: Final = dt.date(2026, 10, 5)
FORMULA: Final = '=HYPERLINK("x","y")'
SCRIPT: Final = "<script>alert(1)</script>"

HOMES: Final = (
    {"home_id": "H1", "address": "1 Example Road", "postcode": "ZZ99 1AA", "scheme": "Birch Court", "patch": "North"},
    {"home_id": "H2", "address": FORMULA, "postcode": "ZZ99 1AB", "scheme": "Birch Court", "access_note": SCRIPT},
    {"home_id": "H3", "address": "3 Example Road", "postcode": "ZZ99 2AA", "scheme": "+Mill Lane"},
)
VALVES: Final = (
    {"valve_id": "V1", "home_id": "H1", "head_kind": "zone", "location": "airing_cupboard", "circuit": "heating",
     "body_fitted": "2006-09-30", "head_fitted": "2012-09-30",
     "location_temp_c": "55", "location_temp_on": "2026-01-05"},
    {"valve_id": "V2", "home_id": "H1", "head_kind": "zone", "location": "airing_cupboard", "circuit": "hot_water",
     "body_fitted": "2022-01-01", "head_fitted": "2022-01-01",
     "location_temp_c": "52", "location_temp_on": "2026-01-05"},
    {"valve_id": "V3", "home_id": "H2", "head_kind": "mid_position", "location": "kitchen", "circuit": "both"},
    {"valve_id": "V4", "home_id": "H3", "head_kind": "mid_position", "circuit": "both", "head_fitted": "2024-03-01"},
)  # fmt: skip
VISITS: Final = (
    {"visit_id": "J1", "home_id": "H1", "valve_id": "V1", "reported": "2026-02-02T09:30", "completed": "2026-02-03",
     "kind": "call_out", "outcome": "fixed", "symptom": "heating_stays_on", "action": "reset_lever", "cost_gbp": "80"},
    {"visit_id": "J2", "home_id": "H1", "valve_id": "V1", "reported": "2026-02-20", "completed": "2026-02-21",
     "kind": "call_out", "outcome": "fixed", "symptom": "heating_stays_on", "notes": FORMULA, "cost_gbp": "95.5"},
    {"visit_id": "J3", "home_id": "H2", "reported": "2025-12-01", "completed": "2025-12-01", "kind": "safety_check",
     "notes": SCRIPT, "tap_temp_c": "47", "store_temp_c": "61"},
)  # fmt: skip
FINDINGS: Final = (
    {"rank": 1, "rule": "not-earthed", "severity": "danger", "home_id": "H2", "valve_id": "V3",
     "observed": "not earthed", "limit": "earthed", "statement": "Head recorded as not earthed.",
     "action": "Isolate it until its earth is proved.", "limit_source": "IEC 61140", "scheme": "Birch Court"},
    {"rank": 2, "rule": "location-too-hot", "severity": "fault", "home_id": "H1", "valve_id": "V1", "observed": "55",
     "limit": "52", "unit": "°C", "margin": 3.0, "statement": f"Air at the head 55 °C {SCRIPT}",
     "action": "Move the valve.", "limit_source": "common practice, no source", "scheme": "Birch Court"},
    {"rank": 3, "rule": "repeat-call-out", "severity": "fault", "home_id": "H1", "visit_id": "J2", "observed": "18",
     "limit": "28", "unit": "days", "margin": 10.0, "statement": "Call-out 18 days after the one before it.",
     "action": "Find the one cause.", "limit_source": "assumed", "scheme": "Birch Court"},
    {"rank": 4, "rule": "head-past-service-life", "severity": "money", "home_id": "H1", "valve_id": "V1",
     "observed": "14.0", "limit": "12", "unit": "years", "margin": 2.0, "statement": "Head in service 14 years.",
     "action": "Compare the options.", "limit_source": "assumed", "scheme": "Birch Court"},
)  # fmt: skip
OPTIONS: Final = tuple(
    {"valve_id": valve, "option": option, "feasible": feasible, "cost_now_gbp": now, "expected_later_gbp": later,
     "total_gbp": now + later, "benefit_gbp": 0.1 + 0.2 if option == "head" else 0.0, "chosen": chosen}
    for valve, option, feasible, now, later, chosen in (
        ("V1", "leave", "yes", 0.0, 300.0, "no"), ("V1", "motor", "no", 80.0, 250.0, "no"),
        ("V1", "head", "yes", 107.0, 150.0, "yes"), ("V1", "full", "yes", 237.0, 120.0, "no"),
        ("V3", "leave", "yes", 0.0, 200.0, "yes"), ("V3", "motor", "no", 80.0, 250.0, "no"),
        ("V3", "head", "yes", 125.0, 180.0, "no"), ("V3", "full", "yes", 255.0, 150.0, "no"),
    )
)  # fmt: skip
JOBS: Final = (
    {"rank": 1, "home_id": "H2", "valve_id": "V3", "option": "leave", "severity": "danger", "hours": 0.5,
     "drain_down": "no", "cost_gbp": 21.0, "benefit_gbp": 0.0, "reason": "not earthed", "tasks": "earth",
     "what": "Put the earth right.", "working": "0.5 h × £42/h = £21", "in_short": "task only: earth",
     "chosen_why": "danger: made safe whatever it costs"},
    {"rank": 2, "home_id": "H1", "valve_id": "V1", "option": "head", "severity": "fault", "hours": 0.5,
     "parts": "head_zone × 1", "drain_down": "no", "cost_gbp": 69.0, "benefit_gbp": 43.0, "reason": "too hot; 14 years",
     "what": "Renew the zone head.", "working": "0.5 h × £42/h + head £48 = £69",
     "in_short": "new head", "chosen_why": "of what is possible, this costs least"},
    {"rank": 3, "home_id": "H3", "valve_id": "V4", "option": "full", "severity": "money", "hours": 2.5,
     "parts": "valve_3port_22 × 1; inhibitor × 1", "drain_down": "yes", "cost_gbp": 217.0, "benefit_gbp": -3.5,
     "reason": "cheaper", "what": "Renew body and head.",
     "working": "2.5 h × £42/h + valve £96 + inhibitor £16 = £217", "in_short": "new body and head",
     "chosen_why": "pays because the home's visit is shared"},
)  # fmt: skip
PLANNED: Final = (
    {"rank": 1, "team": "Team 1", "week_starting": "2026-10-05", "home_id": "H2", "postcode": "ZZ99 1AB",
     "scheme": "Birch Court", "jobs": "Put the earth right.", "hours": 1.0, "drain_down": "no", "severity": "danger",
     "benefit_gbp": 0.0, "status": "planned", "reason": "danger first", "address": FORMULA, "access_note": SCRIPT,
     "why": "not earthed", "cost_gbp": 59.0, "visit_number": "H2-P1", "work": "V3 = earth", "keep": "yes",
     "history": "planned for w/c 7 Sep 2026, no access on 9 Sep 2026, planned again"},
    {"rank": 2, "team": "Team 1", "week_starting": "2026-10-05", "home_id": "H1", "postcode": "ZZ99 1AA",
     "scheme": "Birch Court", "jobs": "Renew the zone head.", "parts": "head_zone × 1", "hours": 1.0,
     "drain_down": "no", "severity": "fault", "benefit_gbp": 43.0, "status": "planned", "reason": "earliest week",
     "address": "1 Example Road", "patch": "North", "why": "too hot; 14 years", "cost_gbp": 107.0,
     "parts_named": "zone head, 5 wires, 230 V × 1", "priority_household": "yes", "gas_check_due": "2026-09-01",
     "gas_note": "GAS SAFETY CHECK OVERDUE since 1 Sep 2026: arrange it now, apart from this plan",
     "visit_number": "H1-P1", "work": "V1 = head",
     "days": "2 days: 7.5 h a day, 1.5 h on the last"},
    {"rank": 3, "home_id": "H3", "postcode": "ZZ99 2AA", "scheme": "+Mill Lane", "jobs": "Renew body and head.",
     "parts": "valve_3port_22 × 1; inhibitor × 1", "hours": 3.0, "drain_down": "yes", "severity": "money",
     "benefit_gbp": -3.5, "status": "left_out", "reason": "no week has 3.0 h left for it; it waits",
     "address": "3 Example Road", "why": "cheaper", "cost_gbp": 255.0, "parts_named": "valve body, 3 port × 1",
     "visit_number": "H3-P1", "work": "V4 = full", "include": "no"},
)  # fmt: skip
CHANGES: Final = (
    {"change": "moved", "home_id": "H2", "visit_number": "H2-P1", "severity": "danger", "was_week": "2026-09-07",
     "was_team": "Team 1", "week_starting": "2026-10-05", "team": "Team 1",
     "reason": "no access on 9 Sep 2026; now danger first"},
    {"change": "dropped", "home_id": FORMULA, "visit_number": "H4-P1", "severity": None, "was_week": "2026-09-07",
     "was_team": "Team 1", "week_starting": None, "team": None, "reason": "nothing to do is found there any more"},
)  # fmt: skip
SCENARIOS: Final = (
    {"series": "hours", "scenario": "as planned", "hours_there": 4.0, "visits_planned": 2, "visits_left_out": 1,
     "danger_left_out": 0, "faults_left_out": 0, "hours_used": 2.0, "cost_gbp": 166.0, "benefit_gbp": 43.0,
     "worth_gbp": 243.0, "gap_percent": 0.41},
    {"series": "hours", "scenario": "hours +50 %", "hours_there": 6.0, "visits_planned": 3, "visits_left_out": 0,
     "danger_left_out": 0, "faults_left_out": 0, "hours_used": 5.0, "cost_gbp": 421.0, "benefit_gbp": 39.5,
     "worth_gbp": 243.0, "gap_percent": 0.0, "extra_hours": 2.0, "extra_cost_gbp": 255.0, "extra_benefit_gbp": -3.5,
     "extra_worth_gbp": 0.0, "per_extra_hour_gbp": 0.0, "per_extra_pound": 0.0},
)  # fmt: skip
CHAINS: Final = (
    {"chain": "C000001", "home_id": "H1", "system": "main", "window_days": 28.0, "first": "2026-02-02",
     "last": "2026-02-20", "call_outs": 2, "visits": 2, "no_access": 0, "days_open": 2, "cost_gbp": 175.5,
     "likely_root": "hot location", "evidence": "1 valve in a hot place", "next_step": "Move the valve."},
)  # fmt: skip
READINGS: Final = (
    {"visit_id": "J2", "valve_id": "V1", "verdict": "named", "part": "end_switch", "option": "head", "home_id": "H1",
     "read_on": "2026-02-21", "reasons": "Read: brown live, grey live, orange dead; valve open. Only this fits: …"},
)  # fmt: skip
CAPACITY: Final = (
    {"team": "Team 1", "week_starting": "2026-10-05", "hours": "4"},
    {"team": "Team 1", "week_starting": "2026-10-12", "hours": "0"},
    {"team": "Team 1", "week_starting": "2027-06-07", "hours": "40"},
)
STOCK: Final = ({"part": "head_zone", "on_hand": "0", "lead_time_days": "10"},)
PROBLEMS: Final = (
    ("valves", "books.xlsx", "Assets", 17.0, "Head fitted", "31/02/2019", "No such day.", "Mend it.", "repaired",
     "head_fitted", "F17"),
    ("visits", "log.csv", None, 203.0, "Job No", FORMULA, "The number stands twice.", "Give it its own.", "returned",
     "visit_id", "A203"),
    ("visits", "log.csv", None, 204.0, "Job No", SCRIPT, "The number stands twice.", "Give it its own.", "returned",
     "visit_id", "A204"),
)  # fmt: skip


POLICY: Final = (
    {"name": "age.head_service_life", "value": 12, "unit": "years", "source": "assumed", "meaning": "Past its life."},
    {"name": "repeats.short_window", "value": 28, "unit": "days", "source": "assumed", "meaning": "The short window."},
    {"name": "response.extra_holidays", "value": [dt.date(2026, 12, 24), dt.date(2026, 12, 31)], "unit": "dates",
     "source": FORMULA, "meaning": "Days off."},
    {"name": "workbook.max_rows", "value": 3, "unit": "rows", "source": "assumed", "meaning": "Longest sheet."},
    {"name": "workbook.annotate_rows", "value": 9, "unit": "rows", "source": "assumed", "meaning": "Longest copy."},
)  # fmt: skip
RULES: Final = (
    {"rule": "location-too-hot", "family": "place", "severity": "fault", "fires": "Air above the limit.",
     "limit": "52 °C (place.location_limit)", "source": "common practice, no source", "needs": "valves.location_temp_c",
     "action": "Move the valve."},
    {"rule": "repeat-call-out", "family": "repeats", "severity": "fault", "fires": "A call-out within the window.",
     "limit": "28 days (repeats.short_window)", "source": "assumed", "needs": "visits.reported",
     "action": "Find the one cause."},
)  # fmt: skip


def result_table(name: str, rows: tuple[Mapping[str, Any], ...] = ()) -> pd.DataFrame:
    """A result table with every column of its kind; what a row does not give is missing."""
    cells = pd.DataFrame([dict(row) for row in rows], dtype="object")
    made = {}
    for column in RESULT_COLUMNS[name]:
        values = cells[column.name] if column.name in cells else pd.Series(None, index=cells.index, dtype="object")
        if column.kind == "number":
            made[column.name] = values.astype("float64")
        elif column.kind == "date":
            made[column.name] = pd.to_datetime(values).astype("datetime64[us]")
        else:
            made[column.name] = values.where(values.notna(), None).astype("str")
    return pd.DataFrame(made, index=cells.index)


GROUPS: Final = (
    {"grouped_by": "scheme", "group": SCRIPT, "valves": 40, "exposure_years": 160.0, "observed": 12, "expected": 4.0,
     "ratio": 3.0, "low": 1.55, "high": 5.24, "p": 0.0018, "p_adjusted": 0.0036, "named": "yes",
     "excess_call_outs": 8.0, "excess_cost_gbp": 960.0},
    {"grouped_by": "location", "group": "loft", "valves": 30, "exposure_years": 120.0, "observed": 4, "expected": 5.0,
     "ratio": 0.8, "low": 0.22, "high": 2.05, "p": 0.88, "p_adjusted": 0.88, "named": "no", "excess_call_outs": -1.0,
     "excess_cost_gbp": -120.0},
)  # fmt: skip


def small_forecast() -> tuple[pd.DataFrame, dict[str, pd.DataFrame]]:
    """Three years under three policies, every number the same in each year: 1 head failed, £160; heads renewed £100."""
    expected = np.zeros((3, 3, len(SUMS)))
    for place, (failed, renewed) in enumerate(((1.0, 0.0), (0.5, 1.0), (0.75, 0.25))):
        money = {"failing_gbp": 160 * failed, "planned_gbp": 100 * renewed, "no_heat_gbp": 28 * failed}
        made = {"head_failures": failed, "heads": renewed, "present_value_gbp": sum(money.values()), **money}
        expected[place] = [made.get(name, 0.0) for name in SUMS]
    ahead = Ahead(expected, np.stack([0.8 * expected, 1.2 * expected], axis=1), valves=4, rate=0.035)
    season, policy, today = Season(EVEN), default_policy(), pd.Timestamp(AS_OF)
    table = year_table(ahead, today, season)
    heads = HeadsPay(age=11.25, wears=True, planned=100.0, failing=160.0)
    lives = "heads assumed, bodies assumed"
    return table, told(table, ahead, today, season, lives, heads, prices(frame("rates"), policy), policy)


def reckoned(tables: Mapping[str, pd.DataFrame], policy: Policy) -> pd.DataFrame:
    """From the options' benefit to the plan's."""
    visits = tables["planned-visits"].assign(trip=0, joins=False, more_gbp=0.0)
    visits["whole_gbp"] = visits["benefit_gbp"]
    priced = prices(frame("rates"), policy)
    lines = of_jobs(tables["options"], tables["jobs"], priced, policy), of_plan(tables["jobs"], visits, priced)
    return pd.concat(lines, ignore_index=True)


@cache
def small_results() -> Results:
    """The whole audit, ready to be written; made once, and not to be changed."""
    policy = default_policy()
    book = portfolio(HOMES, VALVES, VISITS)
    capacity = frame("capacity", CAPACITY)
    facts = known_facts(book, AS_OF)
    tables = {
        "findings": result_table("findings", FINDINGS),
        "options": result_table("options", OPTIONS),
        "jobs": result_table("jobs", JOBS),
        "planned-visits": result_table("planned-visits", PLANNED),
        "life": result_table("life"),
        "chains": result_table("chains", CHAINS),
        "groups": result_table("groups", GROUPS),
        "readings": result_table("readings", READINGS),
        "scenarios": result_table("scenarios", SCENARIOS),
    }
    tables["forecast"], years = small_forecast()
    problems = pd.DataFrame(list(PROBLEMS), columns=[column.name for column in PROBLEM_COLUMNS])
    counts = pd.DataFrame(
        [("homes", 3, 3, 0, 0), ("valves", 5, 4, 1, 0), ("visits", 5, 3, 0, 2)],
        columns=["table", "rows_in", "used", "merged", "returned"],
    )
    counted = summaries(
        facts,
        tables["findings"],
        tables["options"],
        tables["jobs"],
        tables["planned-visits"],
        tables["chains"],
        capacity,
        policy,
        problems,
        counts,
    )
    visits, today = tables["planned-visits"], pd.Timestamp(AS_OF)
    planned = visits.loc[visits["status"].eq("planned")]
    parts = named(tables["jobs"], facts)
    parts = parts.assign(rank=parts["job"].map({1: 2, 2: 3}))  # the jobs' visits
    counted |= {
        "chain_visits": chain_visits(followed(facts, policy)[1], tables["chains"]),
        "parts_load": load(planned, parts),
        "parts_order": order(planned, parts, frame("parts", STOCK), today),
        "pieces": parts,
        "benefit": reckoned(tables, policy),
        "plan_changes": pd.DataFrame(CHANGES).astype({"was_week": "datetime64[us]", "week_starting": "datetime64[us]"}),
        "slots": capacity.loc[capacity["hours"].gt(0) & capacity["week_starting"].lt("2027-01-01")],
    }
    counted |= years
    lives = {"head_shape": (2.4, "assumed"), "head_scale": (12.0, "assumed")}
    lives |= {"body_shape": (2.0, "assumed"), "body_scale": (30.0, "assumed")}
    counted |= what_if(facts, lives, prices(frame("rates", ()), policy), policy)
    clean = {"homes": book.homes, "valves": book.valves, "visits": book.visits, "capacity": capacity}
    counted |= trend_tables(facts, policy)
    counted |= records(facts, clean, problems, book.absent, default_policy())
    return Results(
        version="0.0.0",
        as_of=AS_OF,
        quarter_start=QUARTER,
        policy_sha256="0" * 64,
        policy=pd.DataFrame(list(POLICY)),
        rules=pd.DataFrame(list(RULES)),
        inputs=pd.DataFrame({"name": ["books.xlsx", "log.csv"], "sha256": ["a" * 64, "b" * 64], "rows": [8, 5]}),
        counts=counts,
        said=("Every price is assumed.", f"A column was not understood: {SCRIPT}"),
        problems=problems,
        clean=clean,
        tables=tables,
        summaries=counted,
        plan={
            "benefit_gbp": 43.0,
            "hours_there": 4.0,
            "hours_used": 2.0,
            "visits_planned": 2,
            "ranked_by": RANKED_BY,
            "worth_gbp": 243.0,
            "bound_gbp": 244.0,
            "gap_percent": 0.41,
        },
    )
