"""Numbers with units, signs and remarks, as they stand in cells."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from audit.intake.values import parse
from tests.values_cases import cells, check, column, read

TABLES = {
    "valves.body_size_mm": """
        22              -> 22
        22mm            -> 22
        22 mm           -> 22
        28 m/m          -> 28
        ø22             -> 22
        2.2cm           -> 22    | repaired: 2.2cm is 22 mm
        1/2"            -> 15    | repaired: 0.5 inch pipe is the 15 mm size
        3/4"            -> 22    | repaired: 0.75 inch pipe is the 22 mm size
        3/4             -> 22    | repaired: 0.75 inch pipe
        ¾ in            -> 22    | repaired: 0.75 inch pipe
        1"              -> 28    | repaired: 1 inch pipe is the 28 mm size
        1 1/4 inches    -> 35    | repaired: 1.25 inch pipe
        1½”             -> 42    | repaired: 1.5 inch pipe
        0.87 in         -> 22    | repaired: 22.1 mm is taken as the 22 mm size
        about 22        -> 22    | repaired: approximate
        22 (approx)     -> 22    | repaired: approximate
        22?             -> 22    | repaired: approximate
        22mm x 15mm     -> -     | bad: more than one number
        22/28           -> -     | bad: more than one number
        60mm            -> -     | bad: body_size_mm is at most 54 mm
        22 °C           -> -     | bad: the unit is °C; the column holds mm
        22 mm brass     -> -     | bad: words stand beside the number
        small           -> -     | bad: not one number
        #REF!           -> -     | bad: the spreadsheet error #REF!
        #NO VALUE       -> -     | bad: a formula whose value the file does not hold
        n/a             -> -
    """,
    "valves.location_temp_c": """
        45              -> 45
        45.5            -> 45.5
        45 °C           -> 45
        45C             -> 45
        45 deg C        -> 45
        45 degrees      -> 45
        45º             -> 45
        45Â°C           -> 45
        -5              -> -5
        −5              -> -5
        (5)             -> -5    | repaired: brackets are read as a minus sign
        5-              -> -5    | repaired: behind the number makes it negative
        45,5            -> 45.5  | repaired: decimal point
        113°F           -> 45    | repaired: 113°F is 45 °C
        113 deg F       -> 45    | repaired: 113 deg F is 45 °C
        318.15 K        -> 45    | repaired: 318.15 K is 45 °C
        50-55           -> -     | bad: a range
        50 to 55        -> -     | bad: a range
        >60             -> -     | bad: a bound, not a value
        60+             -> -     | bad: a bound, not a value
        150             -> -     | bad: location_temp_c is at most 120 °C
        -40             -> -     | bad: location_temp_c is at least -20 °C
        45 mm           -> -     | bad: the column holds °C
        4 5             -> -     | bad: not a number
    """,
    "visits.cost_gbp": """
        1234.5          -> 1234.5
        £1,234.50       -> 1234.5
        1,234           -> 1234
        1 234.50        -> 1234.5
        GBP 12          -> 12
        12.50 GBP       -> 12.5
        Â£50            -> 50
        £12.50 + VAT    -> 12.5
        £12.50 ex. VAT  -> 12.5
        £45/hr          -> 45
        £45 per hour    -> 45
        nil             -> 0      | repaired: the words are read as 0
        free of charge  -> 0      | repaired: the words are read as 0
        50p             -> 0.5    | repaired: 50p is 0.5 GBP
        £1.2k           -> 1200   | repaired: k is read as thousand
        1.234,50        -> 1234.5 | repaired: decimal point
        12,5            -> 12.5   | repaired: decimal point
        1.5E+03         -> 1500   | repaired: a power of ten
        (12.50)         -> -      | bad: cost_gbp is at least 0 GBP
        12.50-          -> -      | bad: cost_gbp is at least 0 GBP
        -£5             -> -      | bad: cost_gbp is at least 0 GBP
        £12 inc VAT     -> -      | bad: the amount includes VAT
        $5              -> -      | bad: the unit is $
        5%              -> -      | bad: the unit is %
        1,23,456        -> -      | bad: not a number
        120000          -> -      | bad: cost_gbp is at most 100000 GBP
    """,
    "visits.hours": """
        1.5             -> 1.5
        1.5h            -> 1.5
        1.5 hrs         -> 1.5
        90 min          -> 1.5    | repaired: 90 min is 1.5 h
        90m             -> 1.5    | repaired: 90m is 1.5 h
        1h30            -> 1.5    | repaired: decimal hours
        1 hr 30 mins    -> 1.5    | repaired: decimal hours
        1:30            -> 1.5    | repaired: decimal hours
        01:30:00        -> 1.5    | repaired: decimal hours
        1½              -> 1.5    | repaired: 1 1/2 is read as 1.5 h
        1 1/2 hours     -> 1.5    | repaired: is read as 1.5 h
        half an hour    -> 0.5    | repaired: the words are read as 0.5
        two hours       -> 2      | repaired: the words are read as 2
        30 minutes      -> 0.5    | repaired: 30 minutes is 0.5 h
        1:75            -> -      | bad: not one number
        2 days          -> -      | bad: the unit is days
    """,
    "valves.pump_distance_m": """
        2.5             -> 2.5
        3m              -> 3
        3 metres        -> 3
        300cm           -> 3      | repaired: 300cm is 3 m
        2500 mm         -> 2.5    | repaired: 2500 mm is 2.5 m
        10ft            -> 3.048  | repaired: 10ft is 3.048 m
        10'             -> 3.048  | repaired: 10' is 3.048 m
        5'6"            -> 1.6764 | repaired: feet and inches
        5 ft 6 in       -> 1.6764 | repaired: feet and inches
    """,
    "valves.ports": """
        2               -> 2
        3-port          -> 3
        2 way           -> 2
        three port      -> 3      | repaired: the words are read as 3
        2.5             -> -      | bad: 2.5 is not a whole number
        4               -> -      | bad: ports is at most 3
        2 mm            -> -      | bad: the column holds plain numbers
    """,
    "valves.wires": """
        5               -> 5
        5 wire          -> 5
        5-core flex     -> 5
        4 core + earth  -> 5      | repaired: the earth is counted
        4c & E          -> 5      | repaired: the earth is counted
    """,
    "valves.voltage_v": """
        230             -> 230
        230V            -> 230
        240 V AC        -> 240
        24vac           -> 24
        mains           -> 230    | repaired: the words are read as 230
        0.23 kV         -> 230    | repaired: 0.23 kV is 230 V
        220-240V        -> -      | bad: a range
    """,
    "valves.switch_load_a": """
        0.5             -> 0.5
        3A              -> 3
        3 amps          -> 3
        500mA           -> 0.5    | repaired: 500mA is 0.5 A
    """,
    "parts.lead_time_days": """
        5               -> 5
        5 days          -> 5
        2 weeks         -> 14     | repaired: 2 weeks is 14 days
        next day        -> 1      | repaired: the words are read as 1
    """,
}


@pytest.mark.parametrize("name", TABLES)
def test_every_form(name: str) -> None:
    check(name, TABLES[name])


def test_converted_cells_are_counted_by_unit() -> None:
    parsed = read("valves.location_temp_c", "113 °F", "122F", "45 °C")
    assert parsed.said == ("location_temp_c: 2 cells converted from °F to °C.",)


def test_the_mend_of_a_bound_names_it() -> None:
    assert read("valves.location_temp_c", 150).bad["mend"][0].startswith("mend the value (-20 to 120 °C)")


# ---------------------------------------------------------------- the unit in the header
def test_a_header_in_fahrenheit_converts_what_has_no_unit_of_its_own() -> None:
    parsed = read("valves.location_temp_c", 113, "113", "45 °C", header_unit="°F")
    assert parsed.values.tolist() == [45, 45, 45]
    assert parsed.repaired.empty
    assert parsed.said == ("location_temp_c: 2 values converted from °F, the header's unit, to °C.",)


@pytest.mark.parametrize(
    ("name", "unit", "cell", "wanted"),
    [
        ("valves.body_size_mm", "inches", 0.75, 22.0),
        ("valves.body_size_mm", "in", "1.1", 28.0),  # 27.94 mm
        ("valves.body_size_mm", "cm", 1.5, 15.0),
        ("valves.pump_distance_m", "feet", "10", 3.048),
        ("valves.pump_distance_m", "mm", 2500, 2.5),
        ("valves.insertion_mm", "inches", 0.75, 19.05),
        ("visits.hours", "mins", "90", 1.5),
        ("visits.hours", "(minutes)", 45, 0.75),
        ("visits.cost_gbp", "£", "12.5", 12.5),
        ("visits.cost_gbp", "pence", "1250", 12.5),
        ("visits.cost_gbp", "£ ex VAT", "12.5", 12.5),
        ("visits.flow_temp_c", "deg F", 140, 60.0),
        ("valves.switch_load_a", "mA", 500, 0.5),
        ("parts.lead_time_days", "weeks", 2, 14.0),
    ],
)
def test_units_in_the_header(name: str, unit: str, cell: object, wanted: float) -> None:
    assert read(name, cell, header_unit=unit).values.tolist() == [wanted]


def test_a_header_with_vat_refuses_the_amounts() -> None:
    parsed = read("visits.cost_gbp", 12, "13", header_unit="£ inc VAT")
    assert list(parsed.bad["reason"]) == ["the amount includes VAT, by the header"] * 2


def test_a_header_unit_that_does_not_fit_is_said_and_not_used() -> None:
    parsed = read("visits.hours", 2, header_unit="mm")
    assert parsed.values.tolist() == [2]
    assert parsed.said == ("hours: the header's unit 'mm' does not fit the column; it was not used.",)


# ---------------------------------------------------------------- cells that are not text
def test_cells_of_other_types() -> None:
    parsed = read("valves.flow_temp_c", 60, 60.5, np.int64(61), np.float32(62.0), None, float("nan"), float("inf"))
    assert parsed.values.tolist()[:4] == [60, 60.5, 61, 62]
    assert list(parsed.bad["pos"]) == [6]


def test_true_is_no_number_even_beside_a_one() -> None:
    parsed = read("parts.on_hand", 1, True, 0, False, 1.0)
    assert list(parsed.bad["pos"]) == [1, 3]
    assert list(parsed.bad["value"]) == ["TRUE", "FALSE"]
    assert parsed.values.tolist()[::2] == [1, 0, 1]


def test_clock_cells_are_hours_in_an_hours_column() -> None:
    parsed = read(
        "visits.hours",
        dt.time(1, 30),
        dt.timedelta(hours=26),
        dt.datetime(1900, 1, 1, 2),  # 26 h as a date of the 1900 system
        dt.datetime(1899, 12, 31, 9, 45),
        dt.datetime(1899, 12, 30, 9, 45),
    )
    assert parsed.values.tolist() == [1.5, 26, 26, 9.75, 9.75]


def test_a_date_in_a_number_column_is_refused() -> None:
    parsed = read("valves.body_size_mm", dt.datetime(2026, 4, 3), dt.time(3, 4))
    assert list(parsed.bad["reason"].str.contains("the cell holds a date or time")) == [True, True]


# ---------------------------------------------------------------- quick ways and slow ways agree
def test_a_long_column_is_read_as_its_cells_are() -> None:
    text = [f"{n / 8:.3f}" for n in range(2000)]
    text[5], text[6], text[7], text[8] = "£9", "n/a", "-1", ""
    quick = parse(cells(*text, kind="str"), column("visits.cost_gbp"))
    slow = parse(cells(*text), column("visits.cost_gbp"))
    pd.testing.assert_series_equal(quick.values, slow.values)
    pd.testing.assert_frame_equal(quick.bad, slow.bad)
    assert quick.values[5] == 9
    assert list(quick.bad["pos"]) == [7]
