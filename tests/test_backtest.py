"""The backtest by hand: what is caught, what counts as failed, what was known, and what it refuses."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest

import reports
from audit.backtest import Score, figures, score, sentences
from audit.backtest.calibration import by_tenth, slope
from audit.backtest.capture import capture
from audit.backtest.failed import failed, watched_through
from audit.backtest.lost_dates import Lost, ages_drawn, lost_heads
from audit.backtest.orders import ORDERS, places
from audit.backtest.ranking import RANKED, ranking, stand
from audit.backtest.then import facts_then, quarter_after, with_places
from audit.choice import prices
from audit.errors import CannotUse
from audit.facts import facts
from audit.life import life
from audit.life.unseen_age import age_with, even_head_ages
from audit.model import Portfolio
from schemas.backtest import Backtest, first_order
from schemas.tables import COLUMNS
from tests.frames import default_policy, portfolio

ON, END = pd.Timestamp("2025-09-30"), pd.Timestamp("2025-12-30")
LATER = dt.date(2026, 9, 30)


def ten_valves() -> pd.DataFrame:
    """Ten valves in five homes. Chances fall from V0 to V9; V0, V3 and V4 failed; work costs £100 and 1 h each."""
    return pd.DataFrame(
        {
            "valve_id": [f"V{i}" for i in range(10)],
            "home_id": [f"H{i // 2}" for i in range(10)],
            "benefit_gbp": [0.0, 0.0, 0.0, 50.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0],
            "chance": [0.5, 0.4, 0.35, 0.3, 0.25, 0.2, 0.15, 0.1, 0.05, 0.01],
            "head_years": [1.0] * 5 + [9.0] * 5,
            "visits": [0, 0, 0, 0, 2, 2, 2, 2, 0, 0],
            "cost_gbp": 100.0,
            "hours": 1.0,
            "failed": [i in (0, 3, 4) for i in range(10)],
        }
    )


# caught among the first 10 % (one valve) and 20 % (two valves), of three that failed
BY_HAND = {
    "benefit": (1.0, 2.0),  # V3 alone has a benefit, then V0 by its chance
    "chance of failing": (1.0, 1.0),  # V0, V1
    "oldest first": (0.0, 0.0),  # one and two of V5 to V9, none of which failed
    "most visited first": (0.25, 0.5),  # one and two of V4 to V7 in random order, one of which failed
    "random": (0.3, 0.6),
}


@pytest.fixture(scope="module")
def caught() -> pd.DataFrame:
    return capture([ten_valves()])


@pytest.mark.parametrize("order", BY_HAND)
def test_what_each_order_catches(order: str, caught: pd.DataFrame) -> None:
    rows = caught.loc[caught["order"].eq(order)].set_index("share")
    assert rows.loc[[0.1, 0.2], "caught"].tolist() == pytest.approx(BY_HAND[order])
    assert rows.loc[0.2, "caught_share"] == pytest.approx(BY_HAND[order][1] / 3)
    assert rows.loc[0.2, "times_random"] == pytest.approx(BY_HAND[order][1] / 3 / 0.2)
    assert rows.loc[0.2, "per_1000_gbp"] == pytest.approx(BY_HAND[order][1] / 200 * 1000)
    assert rows.loc[0.2, "per_100_hours"] == pytest.approx(BY_HAND[order][1] / 2 * 100)


def test_the_limits_hold_the_value_and_a_random_order_has_none(caught: pd.DataFrame) -> None:
    assert (caught["caught_share_low"] <= caught["caught_share"] + 1e-12).all()
    assert (caught["caught_share_high"] >= caught["caught_share"] - 1e-12).all()
    random = caught.loc[caught["order"].eq("random")]
    assert random["valves"].tolist() == [1, 1, 1, 2]  # whole valves of ten, one at least
    for limit in ("low", "high"):
        assert random[f"caught_share_{limit}"].tolist() == pytest.approx((random["valves"] / 10).tolist())


def test_equal_valves_share_a_place() -> None:
    assert places(ten_valves(), "most visited first").tolist() == [1, 1, 1, 1, 0, 0, 0, 0, 1, 1]


def test_the_order_of_rows_never_matters(caught: pd.DataFrame) -> None:
    rows = ten_valves()
    mixed = rows.sample(frac=1.0, random_state=3, ignore_index=True)
    pd.testing.assert_frame_equal(caught, capture([mixed]))
    pd.testing.assert_frame_equal(by_tenth([rows]), by_tenth([mixed]))


def test_expected_and_seen_by_tenth() -> None:
    twenty = pd.concat([ten_valves(), ten_valves().assign(failed=False)])
    table = by_tenth([twenty.assign(valve_id=[f"V{place:02d}" for place in range(20)])])
    assert table["expected"].tolist() == pytest.approx([0.02, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 1.0])
    assert table["observed"].tolist() == [0, 0, 0, 0, 0, 1, 1, 0, 0, 1]
    # exact 90 % limits of a count of 0: 0 to -ln 0.05
    assert table.loc[0, ["low", "high"]].tolist() == pytest.approx([0.0, -np.log(0.05)])


def test_the_slope_of_two_chances_by_hand() -> None:
    """With two chances the fit goes through both shares seen: 1/10 where 1/5 is predicted, 1/2 where 1/2 is."""
    rows = pd.DataFrame(
        {
            "home_id": [f"H{i}" for i in range(120)],
            "chance": [0.2] * 100 + [0.5] * 20,
            "failed": [i < 10 for i in range(100)] + [i < 10 for i in range(20)],
        }
    )
    found = slope([rows])
    assert found.value == pytest.approx(np.log(1 / 9) / np.log(1 / 4))
    assert found.low < found.value < found.high
    assert np.isnan(slope([rows.head(5)]).value)


def visit(number: int, **cells: str) -> dict[str, str]:
    usual = {"kind": "call_out", "outcome": "fixed", "cause": "motor", "action": "head", "reported": "2025-11-03"}
    row = {"visit_id": f"J{number}", "home_id": "H1", "valve_id": "V1", **usual, **cells}
    return row | {"attended": row["reported"], "completed": row["reported"]}


FAULTS: dict[str, tuple[dict[str, str], str]] = {  # each to valve 1 of a home of its own, and what it shows failed
    "a head renewed for its motor": ({}, "head"),
    "a valve renewed for a leak": ({"cause": "leak", "action": "full"}, "body"),
    "no cause told, a motor renewed": ({"cause": "", "action": "motor"}, "head"),
    "the wiring was at fault": ({"cause": "wiring"}, ""),
    "nothing renewed": ({"action": "reset_lever"}, ""),
    "planned work": ({"kind": "planned"}, ""),
    "on the day itself": ({"reported": "2025-09-30"}, ""),
    "on the first day after": ({"reported": "2025-10-01"}, "head"),
    "on the last day": ({"reported": "2025-12-30 22:00"}, "head"),
    "a day too late": ({"reported": "2025-12-31"}, ""),
    "no valve named, one in the home": ({"valve_id": ""}, "head"),
    "no valve named, two in the home": ({"valve_id": ""}, ""),
}


def test_what_counts_as_failed() -> None:
    valves = [{"valve_id": f"{case}, 1", "home_id": case} for case in FAULTS]
    valves += [{"valve_id": "another", "home_id": "no valve named, two in the home"}]
    visits = [
        visit(place, **{"home_id": case, "valve_id": f"{case}, 1", **cells})
        for place, (case, (cells, _)) in enumerate(FAULTS.items())
    ]
    begun = {"home_id": "a fault that began before", "valve_id": "began before"}
    valves += [begun]
    visits += [visit(90, **begun, reported="2025-09-25"), visit(91, **begun, reported="2025-10-05")]
    after = facts(portfolio(valves=valves, visits=visits), LATER, default_policy())
    found = failed(after, ON, END, default_policy())
    assert dict(zip(found.valves["valve_id"], found.valves["part"], strict=True)) == {
        f"{case}, 1": part for case, (_, part) in FAULTS.items() if part
    }
    assert found.unnamed == 1
    assert found.earlier == ("began before",)


def test_a_valve_renewed_later_stood_there_before_if_its_home_did() -> None:
    valves = [
        {"valve_id": "V1", "home_id": "H1", "body_fitted": "2025-11-03", "head_fitted": "2025-11-03"},
        {"valve_id": "V2", "home_id": "H1", "body_fitted": "2008-05-01", "head_fitted": "2008-05-01"},
        {"valve_id": "V3", "home_id": "H2", "body_fitted": "2026-02-01", "head_fitted": "2026-02-01"},
    ]
    book = portfolio(valves=valves, visits=[visit(1, valve_id="V2", reported="2025-01-01")])
    then = facts_then({name: getattr(book, name) for name in COLUMNS}, ON, default_policy())
    assert then.valves["valve_id"].tolist() == ["V1", "V2"]
    assert then.valves["body_since"].isna().tolist() == [True, False]


def twelve_homes() -> Portfolio:
    """Twelve homes with two valves each; heads of every age, some renewed in the log, some after the day."""
    valves, visits = [], []
    for home in range(12):
        for place in range(2):
            name, fitted = f"V{home}-{place}", f"{1998 + 2 * home}-03-01"
            head = "2025-11-03" if place and home % 3 == 0 else fitted
            valves.append(
                {"valve_id": name, "home_id": f"H{home}", "body_fitted": fitted, "head_fitted": head, "wires": "5"}
            )
        later = "2025-11-03" if home % 3 == 0 else "2024-02-05"
        visits.append(visit(home, home_id=f"H{home}", valve_id=f"V{home}-1", reported=later))
        visits.append(visit(100 + home, home_id=f"H{home}", valve_id=f"V{home}-0", kind="planned", action="none"))
        visits[-1] |= {"reported": "2023-05-02", "attended": "2023-05-02", "completed": "2023-05-02"}
    checks = ("2024-03-01", "2025-01-15", "2025-08-01")  # a log without a long gap
    calm = {"home_id": "H2", "valve_id": "", "kind": "safety_check", "action": "none"}
    visits += [visit(300 + number, **calm, reported=day) for number, day in enumerate(checks)]
    visits.append(visit(200, home_id="H1", valve_id="V1-0", reported="2026-01-07", action="none", cause="wiring"))
    homes = [{"home_id": f"H{home}", "heating_renewal_due": "2028-09-30"} for home in range(12)]  # soon reckoned
    return portfolio(homes=homes, valves=valves, visits=visits)


@pytest.fixture(scope="module")
def scored() -> Score:
    return score(twelve_homes(), ON.date(), LATER, default_policy())


def changed_later(book: Portfolio) -> Portfolio:
    """The same book with everything after the earlier day told otherwise."""
    end = ON + pd.Timedelta(days=1)
    visits, valves = book.visits, book.valves
    after = visits["reported"] >= end
    told = visits.assign(
        reported=visits["reported"].mask(after, visits["reported"] + pd.Timedelta(days=40)),
        action=visits["action"].mask(after, "full"),
        cause=visits["cause"].mask(after, "leak"),
        home_id=visits["home_id"].mask(after, "H11"),
        valve_id=visits["valve_id"].mask(after, "V11-0"),
    )
    moved = {
        name: valves[name].mask(valves[name] >= end, valves[name] + pd.Timedelta(days=99))
        for name in ("head_fitted", "body_fitted")
    }
    return replace(book, visits=told.iloc[::-1], valves=valves.assign(**moved).iloc[::-1])


def ranked(book: Portfolio) -> pd.DataFrame:
    then = facts_then({name: getattr(book, name) for name in COLUMNS}, ON, default_policy())
    return ranking(stand(then, prices(book.rates, default_policy()), default_policy(), END), default_policy())


def test_nothing_that_came_later_changes_the_ranking(scored: Score) -> None:
    first = scored.ranking.sort_values("valve_id")[list(RANKED)]
    assert first.to_csv(index=False) == ranked(changed_later(twelve_homes())).to_csv(index=False)
    assert len(first) == 24
    assert first["chance"].between(0, 1).all()


def test_lost_dates_are_drawn_back_between_now_and_the_bodys_date() -> None:
    """Heads that failed are drawn older than those renewed for another reason; the order of rows changes nothing."""
    book = twelve_homes()
    then = facts_then({name: getattr(book, name) for name in COLUMNS}, ON, default_policy())
    fit = life(then, default_policy())
    after = facts(book, LATER, default_policy())
    lost = lost_heads(then, fit, book.valves.set_index("valve_id")["head_fitted"], after, default_policy())
    assert then.valves["valve_id"].iloc[lost.row].tolist() == ["V0-1", "V3-1", "V6-1", "V9-1"]
    assert lost.failed.tolist() == [True] * 4
    bodies = then.valves["body_age_years"].to_numpy()[lost.row]
    held = (ON - pd.Timestamp("2023-05-02")).days / 365.25  # nothing was renewed since the log began
    ages = ages_drawn(lost, then, fit)
    assert (ages >= held - 0.3).all()
    assert (ages <= bodies + 0.3).all()
    even = even_head_ages(fit, then)
    assert np.isnan(np.delete(even, lost.row)).all()
    assert (even[lost.row] / fit.pace[lost.row] <= bodies + 0.3).all()
    renewed = ages_drawn(replace(lost, failed=~lost.failed), then, fit)
    assert ages.mean() > renewed.mean()
    turned = Lost(lost.row[::-1], lost.until[::-1], lost.failed[::-1])
    np.testing.assert_array_equal(ages_drawn(turned, then, fit)[:, ::-1], ages)


def test_a_book_scored_from_end_to_end(scored: Score) -> None:
    found = scored
    assert found.ranking.loc[found.ranking["failed"], "valve_id"].tolist() == sorted(
        ["V0-1", "V3-1", "V6-1", "V9-1"], key=found.ranking["valve_id"].tolist().index
    )
    assert found.ranking["place"].tolist() == list(range(1, 25))
    assert found.undated == pytest.approx((4 / 24, 1.0))
    top = found.capture.loc[found.capture["share"].eq(0.1)].iloc[0]
    rows = found.ranking
    for name in ("cost_gbp", "hours"):  # workbook and tidy table add up to the same
        assert (rows["caught"] * rows[name]).sum() == pytest.approx(top[name])
    assert rows["caught"].sum() == pytest.approx(top["valves"]) == 2
    assert rows.loc[rows["failed"], "caught"].sum() == pytest.approx(top["caught"])
    told = " ".join(sentences(found)["sentence"])
    assert "24 valves in 12 homes" in told
    assert "touches 16.7% of the valves, and 100.0% of the failed ones" in told
    assert found.unwatched == 0
    assert figures(found).set_index("name").at["Failed in the 13 weeks", "value"] == 4


REFUSED = {
    "the log ends too early": (dt.date(2025, 11, 1), ("2025-11-01", "2026-01-31", "2026-01-07", "2025-10-08")),
    "nothing was known then": (dt.date(2001, 1, 1), ("2001-01-01", "nothing was known", "2023-05-02")),
    "nothing failed": (dt.date(2023, 6, 1), ("2023-06-01", "nothing to score by")),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_is_refused(case: str) -> None:
    on, words = REFUSED[case]
    with pytest.raises(CannotUse) as error:
        score(twelve_homes(), on, LATER, default_policy())
    for word in words:
        assert word in str(error.value)


def test_where_no_valve_pays_no_order_by_benefit_is_shown(scored: Score) -> None:
    nothing = scored.ranking.assign(benefit_gbp=0.0)
    compared = [order for order in ORDERS if order != "benefit"]
    found = replace(scored, ranking=nothing, capture=capture([nothing], compared))
    assert first_order(found.capture) == "chance of failing"
    assert not figures(found)["name"].str.contains("benefit").any()
    assert "No valve paid by benefit alone on that day" in " ".join(sentences(found)["sentence"])


def test_without_a_log_or_a_date() -> None:
    book = twelve_homes()
    with pytest.raises(CannotUse, match="no visit"):
        quarter_after(book.visits.iloc[:0], None)
    assert quarter_after(book.visits, None) == (pd.Timestamp("2025-10-08"), pd.Timestamp("2026-01-07"))


def test_places_keeps_what_it_need_not_change() -> None:
    book = twelve_homes()
    tables = {name: getattr(book, name) for name in COLUMNS}
    pd.testing.assert_frame_equal(with_places(tables, ON)["valves"], book.valves)


def test_the_age_with_a_given_hazard_by_hand() -> None:
    """Shape 2: ((x + 1)^2 - x^2) / scale^2 = hazard, so x = (hazard * scale^2 - 1) / 2."""
    found = age_with(np.array([0.21, 0.05]), np.array([1.0, 1.0]), 2.0, 10.0)
    assert found.tolist() == pytest.approx([10.0, 2.0])
    assert np.isnan(age_with(np.array([0.1]), np.array([1.0]), 1.0, 10.0)).all()


def test_valves_whose_log_ended_are_left_out() -> None:
    """The second landlord's file ends in August 2025: what failed there in autumn left no visit."""
    valves = [{"valve_id": f"V{i}", "home_id": f"H{i}"} for i in range(4)]
    homes = [{"home_id": f"H{i}", "scheme": "Elm" if i < 2 else "Oak"} for i in range(4)]
    visits = [visit(i, home_id=f"H{i}", valve_id=f"V{i}", reported="2025-07-01") for i in range(4)]
    visits += [visit(9, home_id="H0", valve_id="V0", reported="2026-01-10")]
    book = portfolio(homes=homes, valves=valves, visits=visits)
    file = book.visits["home_id"].isin(["H2", "H3"]).map({True: "oak.csv", False: "elm.csv"}).astype("str")
    after = facts(replace(book, visits=book.visits.assign(source_file=file)), LATER, default_policy())
    assert watched_through(after, ON, END, default_policy()).tolist() == ["V0", "V1"]


def test_the_files_tell_text_as_text_and_are_equal_when_written_again(scored: Score, tmp_path: Path) -> None:
    ranking = scored.ranking.assign(scheme="=1+1<b>")
    found = Backtest(
        version="0",
        on=ON.date(),
        end=END.date(),
        as_of=LATER,
        policy_sha256="0" * 64,
        inputs=pd.DataFrame([{"name": "<i>.csv", "sha256": "", "rows": 24}]),
        said=sentences(scored),
        figures=figures(scored),
        capture=scored.capture,
        calibration=scored.calibration,
        ranking=ranking,
    )
    for folder in ("one", "two"):
        reports.write_backtest(found, tmp_path / folder, 1000)
    names = ["backtest-ranking.csv", "backtest.html", "backtest.xlsx"]
    assert sorted(path.name for path in (tmp_path / "one").iterdir()) == names
    assert all((tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes() for name in names)
    book = openpyxl.load_workbook(tmp_path / "one" / "backtest.xlsx")
    assert book.sheetnames == ["Summary", "Caught", "Caught, first tenth", "Chances", "Failed valves", "Ranking"]
    assert "f" not in {cell.data_type for sheet in book for row in sheet for cell in row}
    assert [row[1].value for row in book["Failed valves"].iter_rows(min_row=5)] == [
        pytest.approx(share) for share in ranking.loc[ranking["failed"], "caught"]
    ]
    page = (tmp_path / "one" / "backtest.html").read_text(encoding="utf-8")
    assert "&lt;i&gt;.csv" in page
    assert "<i>" not in page
