"""The invented landlord: same arguments same bytes, what is planted is there, and the truth tells of every mistake."""

from __future__ import annotations

import datetime as dt
import hashlib
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit import intake, sample
from audit.errors import CannotUse
from audit.sample import readings, season
from audit.sample.books import FIRST_ROW, HEADERS, SHEETS, spoken
from audit.sample.lives import MODES
from audit.sample.mistakes import AGAIN, MISTAKES, TOTAL
from schemas.tables import COLUMNS, MODELS

AS_OF = dt.date(2026, 9, 30)
SAMPLE_DATA = Path(__file__).parents[1] / "sample_data"


@pytest.fixture(scope="module")
def large() -> sample.Sample:
    return sample.make(4000, 11)


@pytest.fixture(scope="module")
def small() -> sample.Sample:
    return sample.make(120, 4)


def digests(paths: list[Path], folder: Path) -> dict[str, str]:
    return {str(p.relative_to(folder)): hashlib.sha256(p.read_bytes()).hexdigest() for p in paths}


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_same_arguments_same_bytes(form: str, tmp_path: Path) -> None:
    one, two = tmp_path / "one", tmp_path / "two"
    first = digests(sample.write(sample.make(40, 3), one, form), one)
    assert first == digests(sample.write(sample.make(40, 3), two, form), two)
    other = digests(sample.write(sample.make(40, 4), two, form), two)
    assert {name for name in first if first[name] == other[name]} <= {"rates.csv", "rates.xlsx", "capacity.csv"}


def test_sample_data_is_what_the_tool_writes(tmp_path: Path) -> None:
    fresh = sample.write_small(tmp_path)
    assert sorted(p.name for p in fresh) == sorted(p.name for p in SAMPLE_DATA.iterdir())
    for path in fresh:
        kept = SAMPLE_DATA / path.name
        if path.read_bytes() == kept.read_bytes():
            continue  # else the zip library may differ, but no cell
        if path.suffix == ".csv":
            assert path.read_text(encoding="utf-8") == kept.read_text(encoding="utf-8")
            continue
        for sheet, ours in zip(openpyxl.load_workbook(path), openpyxl.load_workbook(kept), strict=True):
            assert [[c.value for c in row] for row in sheet] == [[c.value for c in row] for row in ours], path.name


@pytest.mark.parametrize("table", list(COLUMNS))
def test_clean_tables_fit_their_models(table: str, large: sample.Sample) -> None:
    frame = large.tables[table]
    assert list(frame) == [column.name for column in COLUMNS[table]]
    MODELS[table].validate(frame, lazy=True)


def test_clean_tables_agree_with_each_other(large: sample.Sample) -> None:
    homes, valves, visits = (large.tables[name] for name in ("homes", "valves", "visits"))
    assert valves["home_id"].isin(homes["home_id"]).all()
    assert visits["home_id"].isin(homes["home_id"]).all()
    home_of = valves.set_index("valve_id")["home_id"]
    named = visits.dropna(subset="valve_id")
    assert (named["valve_id"].map(home_of) == named["home_id"]).all()
    assert not (valves["head_fitted"] < valves["body_fitted"]).any()
    assert not (visits["attended"] < visits["reported"]).any()
    assert not (visits["completed"] < visits["attended"]).any()
    days = [visits[c] for c in ("reported", "attended", "completed")] + [
        valves[c] for c in ("body_fitted", "head_fitted")
    ]
    assert max(day.max() for day in days) < pd.Timestamp(AS_OF) + pd.Timedelta(days=1)
    assert visits["reported"].min() >= pd.Timestamp("2019-01-01")


def test_nothing_real_is_named(large: sample.Sample) -> None:
    homes, valves = large.tables["homes"], large.tables["valves"]
    assert homes["postcode"].str.fullmatch(r"ZZ99 \d[ABD-HJLNP-UW-Z]{2}").all()
    assert set(valves["make"]) == {"Make A", "Make B", "Make C"}
    assert valves["model"].str.fullmatch(r"Model \d").all()
    assert large.tables["visits"]["engineer"].dropna().str.fullmatch(r"E\d\d").all()


def test_size_of_the_books(large: sample.Sample) -> None:
    assert len(large.tables["valves"]) / 4000 == pytest.approx(2.5, abs=0.1)
    assert len(large.tables["visits"]) / 4000 == pytest.approx(7.7, abs=0.4)


@settings(max_examples=15, deadline=None)
@given(homes=st.integers(1, 30), seed=st.integers(0, 2**31))
def test_any_size_has_one_to_four_valves_a_home(homes: int, seed: int) -> None:
    made = sample.make(homes, seed)
    assert len(made.tables["homes"]) == homes
    assert set(made.tables["valves"].groupby("home_id").size()) <= {1, 2, 3, 4}
    assert made.tables["valves"]["home_id"].nunique() == homes


def test_most_call_outs_come_in_the_first_cold_weeks(large: sample.Sample) -> None:
    visits = large.tables["visits"]
    month = visits.loc[visits["kind"] == "call_out", "reported"].dt.month
    assert month.isin([10, 11]).mean() > 0.45  # two months of twelve
    assert month.isin([5, 6, 7, 8]).mean() < 0.12  # four months of twelve


@pytest.mark.parametrize("year", [1999, 2000, 2024])  # 2000 and 2024 are leap years
def test_every_calendar_year_is_one_year_of_wear(year: int) -> None:
    ends = np.array([(dt.date(y, 1, 1) - dt.date(1970, 1, 1)).days for y in (year, year + 1)], dtype=float)
    worn = season.wear(ends)
    assert worn[1] - worn[0] == pytest.approx((ends[1] - ends[0]) / 365.25, rel=1e-12)
    assert season.day(worn) == pytest.approx(ends)


GROUPS = {
    "all": lambda v: v["valve_id"].notna(),
    "the bad batch": lambda v: v["bad_batch"] == "yes",
    "the bad scheme": lambda v: v["bad_scheme"] == "yes",
    "hot places": lambda v: v["years_a_year"] > 2,
}


@pytest.mark.parametrize("part", ["head", "body"])
@pytest.mark.parametrize("group", list(GROUPS))
def test_as_many_fail_as_the_planted_lives_say(group: str, part: str, large: sample.Sample) -> None:
    """On average, failures are as many as the summed hazard: (t/scale)^shape less the same at the start."""
    lives, valves = large.truth["lives"], large.truth["valves"]
    chosen = valves.loc[GROUPS[group](valves), "valve_id"]
    own = lives[(lives["part"] == part) & lives["valve_id"].isin(chosen)]
    age = own[["began_age_years", "ended_age_years"]].div(own["scale_years"], axis=0).pow(own["shape"], axis=0)
    expected = (age["ended_age_years"] - age["began_age_years"]).sum()
    failed = (own["ended_by"] == "failed").sum()
    if group == "the bad batch":  # a body of the batch that was renewed is no longer in it
        assert failed < expected + 4 * np.sqrt(expected)
    else:
        assert abs(failed - expected) < 4 * np.sqrt(expected)


def test_planted_rates_show_in_the_scales(large: sample.Sample) -> None:
    """A rate k times as high divides a Weibull scale by k^(1/shape): 2^(1/2.4) = 1.3348, 3^(1/2.4) = 1.5806."""
    valves = large.truth["valves"].merge(large.tables["valves"][["valve_id", "head_kind"]])
    zone = valves[valves["head_kind"] == "zone"]
    plain = zone[(zone["bad_batch"] == "no") & (zone["bad_scheme"] == "no")]
    assert (plain["head_scale_years"].round(6) == 11).mean() > 0.99  # but for heads recorded as another kind
    batch = zone[(zone["bad_batch"] == "yes") & (zone["bad_scheme"] == "no")]
    assert batch["head_scale_years"].mode()[0] == pytest.approx(11 / 1.3348, rel=1e-3)
    scheme = zone[(zone["bad_batch"] == "no") & (zone["bad_scheme"] == "yes")]
    assert scheme["head_scale_years"].mode()[0] == pytest.approx(11 / 1.5806, rel=1e-3)


@pytest.mark.parametrize(("location", "speed"), [(40, 1), (50, 2), (60, 4)])
def test_ageing_doubles_every_ten_degrees(location: float, speed: float, large: sample.Sample) -> None:
    near = large.truth["valves"].assign(off=lambda v: (v["location_c"] - location).abs()).nsmallest(1, "off").iloc[0]
    assert near["years_a_year"] == pytest.approx(speed * 2 ** ((near["location_c"] - location) / 10), rel=0.01)


def test_the_register_keeps_only_the_last_head(large: sample.Sample) -> None:
    valves, visits = large.tables["valves"], large.tables["visits"]
    renewed = visits[visits["action"].isin(["head", "full"]) & visits["completed"].notna()]
    last = renewed.groupby("valve_id")["completed"].max().dt.normalize()
    kept = valves.set_index("valve_id")["head_fitted"]
    known = kept.reindex(last.index)
    assert (known >= last).all()
    assert (known == last).mean() > 0.999  # but for work raised before the log begins and done within it
    heads = large.truth["lives"].query("part == 'head'")
    assert (heads["in_register"] == "yes").groupby(heads["valve_id"]).sum().max() == 1
    assert (heads["in_register"] == "no").sum() > len(kept) / 2


ENDS_WITH = {"seized_body": "full", "loose_wire": "wiring"}


def test_chains_come_back_to_one_valve_and_end_with_the_cure(large: sample.Sample) -> None:
    chains, about = large.truth["chains"], large.truth["visits"]
    assert set(chains["root"]) == {"seized_body", "hot_cupboard", "bad_batch", "bad_end_switch", "loose_wire"}
    seen = about.merge(large.tables["visits"], on="visit_id", suffixes=("_true", ""))
    seen = seen[seen["event"].isin(chains["event"]) & seen["completed"].notna()]
    assert (seen.groupby("event")["home_id"].nunique() == 1).all()
    assert (seen["valve_id"] == seen["valve_id_true"]).all()
    last = seen.sort_values("completed").groupby("event").tail(1).merge(chains[["event", "shown"]], on="event")
    old = last[last["shown"] < pd.Timestamp("2026-01-01")]  # younger ones may still be open
    for root, action in ENDS_WITH.items():
        assert (old.loc[old["root"] == root, "action"] == action).all(), root
    hot = chains.loc[chains["root"] == "hot_cupboard", "valve_id"]
    assert (large.truth["valves"].set_index("valve_id").loc[hot, "location_c"] > 52).all()


# Readings a fault must show: drive wire, orange wire, position. Two-port head; see the trade's wiring in the module.
SHOWN = [
    ("motor", "yes", "no", "closed"),
    ("end_switch", "yes", "no", "open"),
    ("switch_welded", "no", "yes", "closed"),
    ("spring", "no", "yes", "open"),
    ("seized_shut", "yes", "no", "closed"),
    ("wiring", "no", "no", "closed"),
]


@pytest.mark.parametrize(("mode", "brown", "orange", "position"), SHOWN)
def test_readings_show_the_fault(mode: str, brown: str, orange: str, position: str) -> None:
    n = 200
    taken = readings.read_wires(
        np.zeros(n, dtype=np.int64), np.full(n, MODES.index(mode)), np.ones(n, dtype=bool), np.random.default_rng(1)
    )
    assert set(taken["brown_live"].dropna()) == {brown}
    assert set(taken["orange_live"].dropna()) == {orange}
    assert set(taken["position"].dropna()) == {position}


def test_a_world_without_groups_has_none() -> None:
    made = sample.make(400, 2, world=sample.plain(scale=10))
    heads = made.truth["lives"].query("part == 'head'")
    assert set(heads["scale_years"]) == {10}
    assert (made.truth["valves"]["years_a_year"] == 1).all()
    assert made.truth["chains"].empty


def cells(path: Path) -> pd.DataFrame:
    """A CSV as text, indexed by the row that a spreadsheet shows."""
    frame = pd.read_csv(path, dtype=str, keep_default_na=False)
    return frame.set_axis(range(2, len(frame) + 2))


def test_the_truth_tells_of_every_cell_that_differs(tmp_path: Path, large: sample.Sample) -> None:
    sample.write(large, tmp_path / "tidy", tidy=True)
    sample.write(large, tmp_path / "real")
    told = pd.read_csv(tmp_path / "real" / "truth" / "mistakes.csv", dtype=str, keep_default_na=False)
    assert cells(tmp_path / "tidy" / "truth" / "mistakes.csv").empty
    assert not told.duplicated(["table", "row"]).any()
    for table in ("homes", "valves", "visits"):
        own = told[told["table"] == table].assign(row=lambda t: t["row"].astype(int))
        real, tidy = cells(tmp_path / "real" / f"{table}.csv"), cells(tmp_path / "tidy" / f"{table}.csv")
        again = own.loc[own["mistake"] == AGAIN, "row"]
        assert (real.loc[again].to_numpy() == real.loc[again - 1].to_numpy()).all()
        real = real.drop(index=again)
        row, column = np.nonzero(real.to_numpy() != tidy.to_numpy())
        differs = set(zip(real.index[row], real.columns[column], strict=True))
        slips = own[own["mistake"] != AGAIN]
        same = slips[slips["written"] == slips["true"]]  # a stale date can be right by chance
        assert differs == set(zip(slips["row"], slips["column"], strict=True)) - set(
            zip(same["row"], same["column"], strict=True)
        )


def test_the_truth_tells_where_mistakes_stand_in_workbooks(tmp_path: Path, small: sample.Sample) -> None:
    sample.write(small, tmp_path, "xlsx")
    told = pd.read_csv(tmp_path / "truth" / "mistakes.csv", dtype=str, keep_default_na=False)
    assert set(told["mistake"]) == {m.name for m in MISTAKES} | {TOTAL}
    for table in ("homes", "valves", "visits"):
        sheet = openpyxl.load_workbook(tmp_path / f"{table}.xlsx").active
        place = {c.name: i for i, c in enumerate(COLUMNS[table], start=1)}
        header = [c.value for c in sheet[FIRST_ROW[table] - 1]]
        assert header == list(HEADERS[table].values())
        for _, slip in told[told["table"] == table].iterrows():
            if slip["mistake"] == TOTAL:
                assert int(slip["row"]) == sheet.max_row
                assert sheet.cell(sheet.max_row, 1).value == "Total"
            elif slip["column"]:
                value = sheet.cell(int(slip["row"]), place[slip["column"]]).value
                shown = (
                    value.isoformat(sep=" ", timespec="minutes").removesuffix(" 00:00")
                    if hasattr(value, "year")
                    else value
                )
                assert (shown or "") in (slip["written"], spoken(slip["written"])), slip.to_dict()
        assert not any(cell.data_type == "f" for row in sheet for cell in row)


def test_books_stand_in_the_folder_and_the_truth_below_it(tmp_path: Path, small: sample.Sample) -> None:
    sample.write(small, tmp_path, "xlsx")
    assert sorted(p.name for p in tmp_path.iterdir() if p.is_file()) == sorted(
        [f"{name}.xlsx" for name in SHEETS] + ["capacity.csv", "parts.csv"]
    )
    truth = {"lives", "valves", "chains", "visits", "faults", "planted", "mistakes"}
    assert {p.stem for p in (tmp_path / "truth").iterdir()} == truth


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_the_audit_reads_every_column_of_the_books(form: str, tmp_path: Path, small: sample.Sample) -> None:
    sample.write(small, tmp_path, form)
    reading = intake.read([tmp_path])
    counts = reading.counts.set_index("table")
    assert (counts["rows_in"] == counts["used"] + counts["merged"] + counts["returned"]).all()
    assert reading.absent["visits"] <= {"rules_put_right", "earthed", "left_isolated"}  # lists write them, and notes
    assert not any(names for table, names in reading.absent.items() if table != "visits")
    known = reading.tables["valves"].set_index("valve_id")
    truth = small.tables["valves"].set_index("valve_id").loc[known.index]
    for column in ("ports", "wires", "model", "head_detachable", "flow_temp_c"):
        pd.testing.assert_series_equal(known[column], truth[column])


def test_books_of_two_forms_do_not_mix(tmp_path: Path, small: sample.Sample) -> None:
    sample.write(small, tmp_path, "csv", truth=False)
    with pytest.raises(CannotUse, match=r"homes.csv is there already"):
        sample.write(small, tmp_path, "xlsx")


def test_portfolio_is_ready_for_the_engine(small: sample.Sample) -> None:
    ready = sample.portfolio(small)
    assert {"source_file", "source_sheet", "source_row"} <= set(ready.valves)
    assert len(ready.visits) == len(small.tables["visits"])


def test_capacity_starts_on_the_first_monday_after_the_as_of_date(small: sample.Sample) -> None:
    weeks = small.tables["capacity"]["week_starting"]
    assert weeks.min() == pd.Timestamp("2026-10-05")  # 30 September 2026 is a Wednesday
    assert (weeks.dt.day_name() == "Monday").all()
    assert small.tables["capacity"]["hours"].isin([12.0, 24.0]).all()  # whole weeks, half of one at Christmas
    assert not small.tables["capacity"].duplicated(["team", "week_starting"]).any()
