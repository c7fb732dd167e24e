"""Every rule against a table of cases that a planner can read: tests/rules/<rule>.csv.

A case is one home, with one row for each valve (V1 unless named) and each visit. Its line says whether the rule must
fire, how severe, and some of the words of the statement; lines with the same case name belong together.
"""

from __future__ import annotations

import csv
import datetime as dt
import importlib
import pkgutil
import subprocess
import sys
from functools import cache
from itertools import chain, groupby
from pathlib import Path
from typing import Final

import pandas as pd
import pytest

import audit.rules
from audit.catalogue import catalogue_lines, catalogue_markdown, limit_lines, rule_rows
from audit.findings import switched_off
from audit.model import Portfolio, Rule
from audit.policy import load_policy
from audit.rules import RULES
from schemas import words
from schemas.results import RESULT_COLUMNS
from schemas.tables import COLUMNS
from tests.frames import AS_OF, found, portfolio

FOLDER: Final = Path(__file__).with_name("rules")
REMEDIES: Final = {"", "renew", "renew_head", "renew_body", *words.TASK}
Lines = list[dict[str, str]]


def table_of(rule: str) -> Lines:
    with (FOLDER / f"{rule}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def cases() -> list[tuple[str, str, Lines]]:
    return [
        (rule.name, case, list(lines))
        for rule in RULES
        for case, lines in groupby(table_of(rule.name), key=lambda line: line["case"])
    ]


def cells(line: dict[str, str], table: str) -> dict[str, str]:
    prefix = f"{table}."
    return {name.removeprefix(prefix): text for name, text in line.items() if name.startswith(prefix) and text}


def as_of_day(lines: Lines) -> dt.date:
    return dt.date.fromisoformat(lines[0].get("as_of") or AS_OF.isoformat())


def rows_of(home: str, lines: Lines) -> tuple[Lines, Lines]:
    """The valves and the visits of one case; its home and the case's own numbers make the numbers unique."""
    valves = {cells(line, "valves").get("valve_id", "V1"): cells(line, "valves") for line in reversed(lines)}
    visits = [cells(line, "visits") for line in lines if cells(line, "visits").get("reported")]
    named = [{**row, "valve_id": f"{home} {row['valve_id']}"} if "valve_id" in row else row for row in visits]
    return (
        [{"home_id": home, **row, "valve_id": f"{home} {valve}"} for valve, row in valves.items()],
        [{"home_id": home, **row, "visit_id": f"{home} J{n}"} for n, row in enumerate(named, 1)],
    )


@cache
def all_findings() -> pd.DataFrame:
    """The findings of every case of every table, each in a home of its own named `rule: case`, judged in one go."""
    parts = []
    for as_of in sorted({as_of_day(lines) for _, _, lines in cases()}):
        made = [rows_of(f"{rule}: {case}", lines) for rule, case, lines in cases() if as_of_day(lines) == as_of]
        book = portfolio(valves=chain.from_iterable(v for v, _ in made), visits=chain.from_iterable(j for _, j in made))
        parts.append(found(book, as_of))
    return pd.concat(parts, ignore_index=True)


@pytest.mark.parametrize(
    ("rule", "case", "lines"), [pytest.param(*case, id="-".join(case[:2]).replace(" ", "-")) for case in cases()]
)
def test_rule(rule: str, case: str, lines: Lines) -> None:
    findings = all_findings()
    fired = findings.loc[findings["rule"].eq(rule) & findings["home_id"].eq(f"{rule}: {case}")]
    assert {line["flagged"] for line in lines} == {"yes" if len(fired) else "no"}
    assert len(fired) <= 1
    for row in fired.to_dict("records"):
        assert row["severity"] == lines[0]["severity"]
        assert lines[0]["says"] in row["statement"]


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_every_table_demands_both_verdicts(rule: Rule) -> None:
    lines = table_of(rule.name)
    assert {line["flagged"] for line in lines} == {"yes", "no"}
    assert all(bool(line["severity"]) == bool(line["says"]) == (line["flagged"] == "yes") for line in lines)


def test_no_case_name_comes_back_later_in_a_table() -> None:
    named = [(rule, case) for rule, case, _ in cases()]
    assert len(named) == len(set(named))


def test_every_family_and_every_table_is_listed() -> None:
    names = sorted({module.name for module in pkgutil.iter_modules(audit.rules.__path__)} - {"hits"})
    listed = [rule for name in names for rule in importlib.import_module(f"audit.rules.{name}").RULES]
    assert {rule.name for rule in listed} == {rule.name for rule in RULES}
    assert len({rule.name for rule in RULES}) == len(RULES)
    assert {path.stem for path in FOLDER.glob("*.csv")} == {rule.name for rule in RULES}


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_a_rule_says_only_what_exists(rule: Rule) -> None:
    columns = {f"{table}.{column.name}" for table, listed in COLUMNS.items() for column in listed}
    assert {name for need in rule.needs for name in need.split(" or ")} <= columns
    assert set(rule.limits) <= set(load_policy())
    assert rule.limits or rule.source
    assert rule.severity in words.SEVERITY
    assert rule.remedy in REMEDIES
    assert all(text.endswith(".") for text in (rule.fires, rule.why, rule.action))


def test_no_statement_says_a_code_word() -> None:
    said = all_findings()[["statement", "observed", "limit"]].fillna("")
    assert not said.apply(lambda texts: texts.str.contains("_", regex=False)).to_numpy().any()


def test_findings_have_the_columns_in_order_even_when_nothing_is_there() -> None:
    empty = found(portfolio())
    assert list(empty.columns) == [column.name for column in RESULT_COLUMNS["findings"]]
    assert empty.empty


def test_an_empty_record_fires_only_for_what_is_missing() -> None:
    book = portfolio(
        valves=[{"valve_id": "V1", "home_id": "H1"}],
        visits=[{"visit_id": "J1", "home_id": "H1", "reported": "2026-01-05"}],
    )
    assert list(found(book)["rule"]) == ["age-unknown", "earth-not-recorded"]


def test_ranks_danger_then_fault_then_money_then_record_and_further_past_first() -> None:
    book = portfolio(
        homes=[{"home_id": home, "scheme": f"Scheme {home}"} for home in ("H1", "H2")],
        valves=[
            {
                "valve_id": "V1",
                "home_id": "H1",
                "pump_distance_m": "0.5",
                "head_fitted": "2010-11-25",
                "earthed": "yes",
            },
            {"valve_id": "V2", "home_id": "H2", "pump_distance_m": "0.1", "earthed": "no"},
            {"valve_id": "V3", "home_id": "H2", "flow_temp_c": "94", "head_fitted": "2002-11-25", "earthed": "yes"},
        ],
    )
    findings = found(book)
    seen = list(zip(findings["rule"], findings["valve_id"], findings["scheme"], strict=True))
    assert seen == [
        ("not-earthed", "V2", "Scheme H2"),
        ("too-close-to-pump", "V2", "Scheme H2"),  # 90 % under
        ("too-close-to-pump", "V1", "Scheme H1"),  # 50 % under
        ("flow-too-hot", "V3", "Scheme H2"),  # 1 % over
        ("head-past-service-life", "V3", "Scheme H2"),  # 12 of 12 years over
        ("head-past-service-life", "V1", "Scheme H1"),  # 4 of 12 years over
        ("age-unknown", "V2", "Scheme H2"),
    ]
    assert list(findings["rank"]) == [1, 2, 3, 4, 5, 6, 7]


def test_a_finding_says_what_was_seen_the_limit_its_source_and_what_to_do() -> None:
    book = portfolio(valves=[{"valve_id": "V1", "home_id": "H1", "head_fitted": "2020-01-01", "flow_temp_c": "94.5"}])
    row = found(book).iloc[0]
    assert (row["observed"], row["limit"], row["unit"], row["margin"]) == ("94.5", "93", "°C", 1.5)
    assert row["limit_source"] == "common practice, no source"
    assert row["action"] == "Prove the boiler's thermostat and set the flow temperature down."


def test_a_landlords_own_limit_is_used_and_named(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text("[water]\nflow_limit = 96\n", encoding="utf-8")
    book = portfolio(
        valves=[
            {"valve_id": f"V{t}", "home_id": "H1", "flow_temp_c": t, "head_fitted": "2020-01-01", "earthed": "yes"}
            for t in ("95", "97")
        ]
    )
    findings = found(book, policy=load_policy(own))
    assert list(findings["valve_id"]) == ["V97"]
    assert "own.toml" in findings["limit_source"].iloc[0]


def test_absent_columns_switch_rules_off_and_are_said() -> None:
    absent = {
        "valves": frozenset({"location", "location_temp_c", "earthed"}),
        "visits": frozenset({"location_temp_c", "earthed"}),
    }
    assert switched_off(absent) == (
        "Not judged, because no file has valves.location_temp_c or visits.location_temp_c: location-too-hot.",
        "Not judged, because no file has valves.location and valves.location_temp_c or visits.location_temp_c: "
        "location-reading-missing.",
        "Not judged, because no file has valves.earthed or visits.earthed: not-earthed.",
        "Not judged, because no file has valves.earthed: earth-not-recorded.",
    )
    assert switched_off({}) == ()
    assert switched_off({"valves": frozenset({"location_temp_c"})}) == ()


def test_a_rule_that_is_switched_off_finds_nothing() -> None:
    book = portfolio(valves=[{"valve_id": "V1", "home_id": "H1", "earthed": "no", "head_fitted": "2020-01-01"}])
    absent = {table: frozenset({"earthed"}) for table in ("valves", "visits")}
    without = Portfolio(**{**vars(book), "absent": absent})
    assert list(found(book)["rule"]) == ["not-earthed"]
    assert found(without).empty


def test_the_catalogue_tells_every_rule_and_every_limit() -> None:
    policy = load_policy()
    rows = rule_rows(policy)
    assert [row["rule"] for row in rows] == [rule.name for rule in RULES]
    assert next(r for r in rows if r["rule"] == "store-too-cool")["limit"] == (
        "60 °C (water.store_minimum); 24 months (water.reading_max_age)"
    )
    assert all(row["source"] and row["needs"] and row["action"] for row in rows)
    screen = "\n".join(catalogue_lines(policy))
    assert all(rule.name in screen for rule in RULES)
    table = catalogue_markdown(policy).splitlines()
    assert len(table) == len(RULES) + 2
    assert {line.count("|") for line in table} == {table[0].count("|")}
    limits = "\n".join(limit_lines(policy))
    assert all(f"{name} = " in limits for name in policy)


def test_the_rules_start_without_the_table_library() -> None:
    code = "import sys, audit.catalogue; assert 'pandas' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True)
