"""The counts behind the stock summary, the work list and the page, redone by hand on the audit of `tests.reported`."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest

from audit.stock_counts import by_group, stock_rows
from audit.summary import summaries
from tests.frames import default_policy, frame, known_facts, portfolio
from tests.reported import AS_OF, HOMES, PLANNED, VALVES, VISITS, result_table, small_results


@pytest.fixture(scope="module")
def counted() -> dict[str, pd.DataFrame]:
    return dict(small_results().summaries)


def row(frame: pd.DataFrame, /, **where: object) -> dict[str, object]:
    chosen = frame
    for name, value in where.items():
        chosen = chosen.loc[chosen[name].eq(value)]
    assert len(chosen) == 1, f"{len(chosen)} rows for {where}"
    return dict(chosen.iloc[0])


def test_headline_numbers(counted: dict[str, pd.DataFrame]) -> None:
    values = counted["headline"].set_index("key")["value"].to_dict()
    assert values == {
        "homes": 3, "valves": 4, "visits_read": 3, "danger": 1, "fault": 2, "money": 1, "record": 0,
        "valves_with_finding": 2, "planned_visits": 2, "planned_hours": 2.0, "hours_there": 4.0, "planned_cost": 166.0,
        "planned_benefit": 43.0, "planned_drain_downs": 0, "left_out_visits": 1, "left_out_hours": 3.0,
        "left_out_benefit": 0.0, "chains": 1, "rows_in": 13, "rows_returned": 2,
    }  # fmt: skip


def test_every_headline_number_has_a_unit(counted: dict[str, pd.DataFrame]) -> None:
    assert counted["headline"]["unit"].str.len().gt(0).all()


def test_schemes_count_valves_findings_and_work(counted: dict[str, pd.DataFrame]) -> None:
    birch = row(counted["by_scheme"], group="Birch Court")
    # H1 and H2 with V1, V2, V3; V1 is 14 years old, V2 is 4.75, V3 has no date
    assert (birch["homes"], birch["valves"], birch["head_age_unknown"]) == (2, 3, 1)
    assert birch["head_age_median_years"] == pytest.approx((14.0 + 4.745) / 2, abs=0.01)
    assert (birch["danger"], birch["fault"], birch["money"], birch["record"]) == (1, 2, 1, 0)  # V3; V1 and H1; V1
    assert (birch["heads_past_life"], birch["bodies_past_life"], birch["too_hot"]) == (1, 0, 1)
    assert (birch["head"], birch["full"], birch["jobs"], birch["hours"]) == (1, 0, 2, 1.0)
    assert (birch["cost_gbp"], birch["benefit_gbp"]) == (90.0, 43.0)
    assert (birch["call_outs_12m"], birch["call_outs_per_100"]) == (2, pytest.approx(100 * 2 / 3))


@pytest.mark.parametrize("name", ["by_scheme", "by_kind", "by_place"])
def test_groups_add_up_to_the_stock(counted: dict[str, pd.DataFrame], name: str) -> None:
    table = counted[name]
    assert table["valves"].sum() == 4
    assert table["jobs"].sum() == 3
    assert table["cost_gbp"].sum() == pytest.approx(21.0 + 69.0 + 217.0)


def test_what_names_no_valve_is_counted_in_its_scheme_and_apart_by_kind() -> None:
    """One job on the home's system, 0.5 h and £21, and one call-out that does not say which of two valves."""
    homes = [{"home_id": "H1", "scheme": "Birch Court"}]
    valves = [{"valve_id": f"V{n}", "home_id": "H1", "head_kind": "zone"} for n in (1, 2)]
    call = {"visit_id": "J1", "home_id": "H1", "kind": "call_out", "reported": "2026-06-01", "completed": "2026-06-01"}
    facts = known_facts(portfolio(homes, valves, [call]), AS_OF)
    job = {"home_id": "H1", "option": "leave", "hours": 0.5, "cost_gbp": 21.0, "benefit_gbp": 4.0}
    stock = stock_rows(facts, result_table("findings"), result_table("jobs", (job,)))
    scheme = row(by_group(stock, "scheme"), group="Birch Court")
    apart = row(by_group(stock, "head_kind"), group="no one valve")
    for found in (scheme, apart):
        assert (found["jobs"], found["hours"], found["cost_gbp"], found["call_outs_12m"]) == (1, 0.5, 21.0, 1)
    assert (scheme["valves"], scheme["call_outs_per_100"]) == (2, 50.0)
    assert apart["valves"] == 0
    assert pd.isna(apart["call_outs_per_100"])


def test_homes_are_listed_by_their_worst_finding_with_counts(counted: dict[str, pd.DataFrame]) -> None:
    worst = counted["worst_homes"]
    assert worst["home_id"].is_unique
    assert worst.iloc[0][["home_id", "severity", "when"]].tolist() == ["H2", "danger", "week of 5 Oct 2026, Team 1"]
    assert worst[["danger", "fault", "money"]].to_numpy().sum() == 4


def test_a_call_out_at_two_valves_counts_once() -> None:
    """Two reports of one day, one for each valve: one call-out, as in the months of the repeat faults."""
    homes = [{"home_id": "H1", "scheme": "Birch Court"}]
    valves = [{"valve_id": f"V{n}", "home_id": "H1", "head_kind": kind} for n, kind in ((1, "zone"), (2, "diverter"))]
    call = {"home_id": "H1", "kind": "call_out", "reported": "2026-06-01", "completed": "2026-06-01"}
    calls = [call | {"visit_id": f"J{n}", "valve_id": f"V{n}"} for n in (1, 2)]
    stock = stock_rows(
        known_facts(portfolio(homes, valves, calls), AS_OF), result_table("findings"), result_table("jobs")
    )
    assert by_group(stock, "scheme")["call_outs_12m"].tolist() == [1]
    assert by_group(stock, "head_kind").set_index("group")["call_outs_12m"].to_dict() == {"zone": 1, "diverter": 0}


def test_missing_group_is_named(counted: dict[str, pd.DataFrame]) -> None:
    assert row(counted["by_place"], group="not recorded")["valves"] == 1


@pytest.mark.parametrize(
    ("band", "heads", "bodies"),
    [("0 to 4", 2, 1), ("5 to 9", 0, 0), ("10 to 14", 1, 0), ("15 to 19", 0, 0), ("20 to 24", 0, 1)],
)
def test_ages_fall_into_bands(counted: dict[str, pd.DataFrame], band: str, heads: int, bodies: int) -> None:
    found = row(counted["age_bands"], band=band)
    assert found["heads"] == heads
    # V4's body has no date of its own: at least as old as the head, 2.6 years
    assert found["bodies"] == bodies + (1 if band == "0 to 4" else 0)


def test_every_valve_is_in_one_age_band(counted: dict[str, pd.DataFrame]) -> None:
    assert counted["age_bands"][["heads", "bodies"]].sum().tolist() == [4, 4]
    assert counted["age_bands"][["head_share", "body_share"]].sum().tolist() == pytest.approx([1.0, 1.0])


@pytest.mark.parametrize(
    ("reading", "band", "past"),
    [
        ("air at the head", "over 47 to 52", "no"),  # 52 °C is exactly at the limit of 52
        ("air at the head", "over 52 to 57", "yes"),  # 55 °C
        ("hot water store", "60 to under 65", "no"),  # 61 °C
        ("hot tap", "45 to under 50", "yes"),  # 47 °C
    ],
)
def test_the_limit_is_an_edge_of_the_bands(
    counted: dict[str, pd.DataFrame], reading: str, band: str, past: str
) -> None:
    found = row(counted["temperature_bands"], reading=reading, band=band)
    assert (found["readings"], found["past_limit"]) == (1, past)


def test_options_sum_what_was_chosen(counted: dict[str, pd.DataFrame]) -> None:
    head = row(counted["options_cost"], grouped_by="all", option="head")
    assert (head["valves"], head["feasible"], head["chosen"]) == (2, 2, 1)
    assert head["cost_now_median_gbp"] == pytest.approx((107.0 + 125.0) / 2)
    assert (head["cost_now_gbp"], head["expected_later_gbp"], head["total_gbp"]) == (107.0, 150.0, 257.0)
    motor = row(counted["options_cost"], grouped_by="scheme", group="Birch Court", option="motor")
    assert (motor["feasible"], motor["chosen"], motor["cost_now_gbp"]) == (0, 0, 0.0)


def test_weeks_of_the_quarter_only(counted: dict[str, pd.DataFrame]) -> None:
    load = counted["week_load"]
    assert load["week_starting"].dt.strftime("%Y-%m-%d").tolist() == ["2026-10-05", "2026-10-12"]
    first = load.iloc[0]
    assert (first["hours_there"], first["hours_used"], first["share"]) == (4.0, 2.0, 0.5)
    assert (first["visits"], first["drain_downs"]) == (2, 0)
    assert pd.isna(load.iloc[1]["share"])  # no hours there, so no share


def test_parts_of_planned_visits_only(counted: dict[str, pd.DataFrame]) -> None:
    assert counted["parts_total"].to_dict("records") == [
        {"part": "head_zone", "name": "two-port zone head, five wires", "pieces": 1.0, "visits": 1}
    ]


def test_parts_are_read_with_their_pieces() -> None:
    results = small_results()
    parts = ["head_zone × 2; head_zone_changeover × 1; inhibitor × 12", "head_zone × 1"]
    planned = result_table("planned-visits", tuple({**p, "parts": t} for p, t in zip(PLANNED, parts, strict=False)))
    facts = known_facts(portfolio(valves=[{"valve_id": "V1", "home_id": "H1"}]), AS_OF)
    got = summaries(
        facts,
        result_table("findings"),
        result_table("options"),
        result_table("jobs"),
        planned,
        result_table("chains"),
        frame("capacity"),
        default_policy(),
        results.problems.iloc[:0],
        results.counts,
    )
    assert got["parts_total"].set_index("part")["pieces"].to_dict() == {
        "head_zone": 3, "head_zone_changeover": 1, "inhibitor": 12,
    }  # fmt: skip
    assert got["by_scheme"]["valves"].sum() == 1


def test_left_out_is_added_up_by_reason_without_single_numbers(counted: dict[str, pd.DataFrame]) -> None:
    found = row(counted["left_out"], reason="no week has its hours left for it")
    assert (found["visits"], found["danger"], found["hours"], found["benefit_gbp"]) == (1, 0, 3.0, -3.5)


def test_chain_visits_are_in_date_order(counted: dict[str, pd.DataFrame]) -> None:
    assert counted["chain_visits"][["chain", "visit_id"]].to_numpy().tolist() == [
        ["C000001", "J1"],
        ["C000001", "J2"],
    ]


def test_months_count_events_and_repeats(counted: dict[str, pd.DataFrame]) -> None:
    months = counted["months"]
    assert len(months) == 36
    assert months["month"].iloc[-1] == pd.Timestamp("2026-09-01")
    february = row(months, month=pd.Timestamp("2026-02-01"))
    assert (february["call_outs"], february["repeats"], february["repeat_share"]) == (2, 1, 0.5)


def test_records_and_reasons(counted: dict[str, pd.DataFrame]) -> None:
    assert row(counted["records"], table="visits")["used_share"] == pytest.approx(3 / 5)
    assert counted["reasons"].iloc[0][["table", "effect", "rows"]].tolist() == ["visits", "returned", 2]


def test_order_of_rows_changes_nothing() -> None:
    results = small_results()
    tables = {name: table.iloc[::-1] for name, table in results.tables.items()}
    turned = replace(results, tables=tables)
    facts = known_facts(portfolio(HOMES, VALVES, VISITS), AS_OF)
    assert turned.tables["findings"].iloc[0]["rank"] == 4
    args = (frame("capacity"), default_policy(), results.problems, results.counts)
    names = ("findings", "options", "jobs", "planned-visits", "chains")
    straight = summaries(facts, *(results.tables[name] for name in names), *args)
    reverse = summaries(facts, *(turned.tables[name] for name in names), *args)
    for name, table in straight.items():
        pd.testing.assert_frame_equal(table, reverse[name])
