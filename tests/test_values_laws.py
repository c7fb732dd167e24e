"""What holds for any values: what is written is read again, and reading twice is reading once."""

from __future__ import annotations

import datetime as dt

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.intake.values import parse
from tests.values_cases import cells, column, read

NAMES = [
    *("valves.valve_id", "homes.uprn", "homes.postcode", "visits.notes", "visits.reported", "valves.head_fitted"),
    *(
        "valves.flow_temp_c",
        "valves.body_size_mm",
        "valves.ports",
        "visits.hours",
        "visits.cost_gbp",
        "parts.lead_time_days",
    ),
    *("visits.symptom", "visits.action", "valves.circuit", "valves.isolation", "visits.brown_live", "rates.unit"),
]
dates = st.dates(dt.date(1950, 1, 1), dt.date(2100, 12, 31))
times = st.datetimes(dt.datetime(1950, 1, 1), dt.datetime(2100, 12, 31)).map(lambda t: t.replace(microsecond=0))
PROOF = dt.date(2024, 1, 31)  # a date that proves the day first
anything = st.one_of(
    st.text(max_size=12),
    st.floats(),
    st.integers(-(10**17), 10**17),
    st.booleans(),
    st.none(),
    times,
    dates,
    st.times(),
    st.timedeltas(),
    st.sampled_from(
        ["#N/A", "n/a", "15 mm", '3/4"', "2 Jan 08", "x", "✓", "yes?", "S Plan", "1.0E+11", "'=x", "50-55", "  "]
    ),
)
DATE_FORMS = [
    "%Y-%m-%d",
    "%d/%m/%Y",
    "%d-%m-%Y",
    "%d.%m.%Y",
    "%d %b %Y",
    "%d-%B-%Y",
    "%A %d %B %Y",
    "%Y%m%d",
    "%B %d, %Y",
]
TIME_FORMS = [
    "%Y-%m-%d %H:%M:%S",
    "%Y-%m-%dT%H:%M:%S",
    "%d/%m/%Y %H:%M:%S",
    "%d-%b-%Y %I:%M:%S %p",
    "%a %d/%m/%Y %H:%M:%S",
]


@pytest.mark.parametrize("form", DATE_FORMS)
@given(days=st.lists(dates, min_size=1, max_size=20))
@settings(max_examples=25, deadline=None)
def test_a_written_date_is_read_again(form: str, days: list[dt.date]) -> None:
    text = [day.strftime(form) for day in [*days, PROOF]]
    parsed = read("valves.head_fitted", *text)
    assert parsed.values.tolist() == [pd.Timestamp(day) for day in [*days, PROOF]]
    assert parsed.repaired.empty


@pytest.mark.parametrize("form", TIME_FORMS)
@given(moments=st.lists(times, min_size=1, max_size=20))
@settings(max_examples=25, deadline=None)
def test_a_written_time_is_read_again(form: str, moments: list[dt.datetime]) -> None:
    moments = [*moments, dt.datetime(2024, 1, 31, 23, 59, 58)]
    assert read("visits.reported", *(moment.strftime(form) for moment in moments)).values.tolist() == moments


@given(day=dates, epoch_1904=st.booleans())
@settings(max_examples=20, deadline=None)
def test_a_day_number_is_its_date_in_both_systems(day: dt.date, epoch_1904: bool) -> None:
    zero = dt.date(1904, 1, 1) if epoch_1904 else dt.date(1899, 12, 30)
    serial = (day - zero).days
    for cell in (serial, float(serial), str(serial)):
        assert read("valves.head_fitted", cell, epoch_1904=epoch_1904).values.tolist() == [pd.Timestamp(day)]


@given(number=st.decimals(-20, 120, places=2, allow_nan=False))
@settings(max_examples=20, deadline=None)
def test_a_written_temperature_is_read_again(number) -> None:
    value = float(number)
    fahrenheit = round(value * 9 / 5 + 32, 3)
    texts = [f"{number}", f" {number} °C", f"{number}C", f"{number} deg C"]
    assert read("valves.location_temp_c", *texts).values.tolist() == [value] * 4
    assert read("valves.location_temp_c", f"{fahrenheit} °F").values[0] == pytest.approx(value, abs=1e-5)


@given(pence=st.integers(0, 10_000_000))
@settings(max_examples=20, deadline=None)
def test_written_money_is_read_again(pence: int) -> None:
    pounds = pence / 100
    texts = [f"{pounds:.2f}", f"£{pounds:,.2f}", f"{pounds:,.2f} GBP", f"£ {pounds:.2f} ex VAT", f"{pence}p"]
    assert read("visits.cost_gbp", *texts).values.tolist() == [pounds] * 5


@pytest.mark.parametrize("name", NAMES)
@given(raw=st.lists(anything, max_size=8))
@settings(max_examples=15, deadline=None)
def test_reading_the_read_changes_nothing(name: str, raw: list[object]) -> None:
    once = read(name, *raw)
    twice = parse(once.values, column(name))
    pd.testing.assert_series_equal(once.values, twice.values)
    assert twice.bad.empty
    assert twice.repaired.empty


@pytest.mark.parametrize("name", NAMES)
@given(raw=st.lists(anything, max_size=8))
@settings(max_examples=15, deadline=None)
def test_a_cell_is_used_missing_or_refused_and_nothing_is_lost(name: str, raw: list[object]) -> None:
    parsed = read(name, *raw)
    assert len(parsed.values) == len(raw)
    assert parsed.bad["pos"].is_unique
    assert parsed.repaired["pos"].is_unique
    assert parsed.values.iloc[parsed.bad["pos"]].isna().all()
    assert parsed.values.iloc[parsed.repaired["pos"]].notna().all()
    assert not set(parsed.bad["pos"]) & set(parsed.repaired["pos"])
    assert parsed.bad[["reason", "mend"]].notna().all(axis=None)


@pytest.mark.parametrize(
    "name", ["visits.reported", "valves.earthed", "visits.symptom", "visits.cost_gbp", "valves.valve_id"]
)
@given(data=st.data(), raw=st.lists(anything, max_size=8))
@settings(max_examples=20, deadline=None)
def test_the_order_of_rows_makes_no_difference(name: str, data: st.DataObject, raw: list[object]) -> None:
    order = data.draw(st.permutations(range(len(raw))))
    straight, shuffled = read(name, *raw), read(name, *(raw[n] for n in order))
    pd.testing.assert_series_equal(shuffled.values, straight.values.iloc[list(order)].reset_index(drop=True))
    assert sorted(order[pos] for pos in shuffled.bad["pos"]) == list(straight.bad["pos"])
    assert sorted(order[pos] for pos in shuffled.repaired["pos"]) == list(straight.repaired["pos"])


@given(notes=st.lists(st.text(alphabet=st.characters(codec="utf-8"), max_size=30), max_size=8))
@settings(max_examples=20, deadline=None)
def test_clean_text_survives_the_guard_against_formulas(notes: list[str]) -> None:
    """Our own writer puts an apostrophe before text that a spreadsheet would take for a formula."""
    clean = parse(cells(*notes), column("visits.notes")).values.dropna()
    guarded = ["'" + text if text[:1] in tuple("=+-@") else text for text in clean]
    again = parse(cells(*guarded), column("visits.notes"))
    assert again.values.tolist() == clean.tolist()
