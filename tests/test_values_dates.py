"""Dates in every form that people and programs write."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from audit.intake.values import parse
from schemas.sentences import ToDo
from tests.values_cases import cells, check, column, read

TODAY = dt.date(2026, 11, 25)
FORMS = """
    2008-01-02                    -> 2008-01-02
    2008-01-02 14:35              -> 2008-01-02 14:35:00
    2008-01-02T14:35:07           -> 2008-01-02 14:35:07
    2008-01-02T14:35:07.250       -> 2008-01-02 14:35:07.250000
    20080102T143507               -> 2008-01-02 14:35:07
    2008/01/02                    -> 2008-01-02
    2008.1.2                      -> 2008-01-02
    31/01/2008                    -> 2008-01-31
    2/1/2008                      -> 2008-01-02
    2-1-08                        -> 2008-01-02
    2.1.2008                      -> 2008-01-02
    02 01 2008                    -> 2008-01-02
    2 / 1 / 2008                  -> 2008-01-02
    2–1–2008                      -> 2008-01-02
    '02\\xa0Jan\\xa02008'         -> 2008-01-02
    '  02/01/2008 '               -> 2008-01-02
    02/01/68                      -> 2068-01-02
    02/01/69                      -> 1969-01-02
    2-Jan-08                      -> 2008-01-02
    02-JAN-2008                   -> 2008-01-02
    2 Jan 2008                    -> 2008-01-02
    2Jan2008                      -> 2008-01-02
    2nd January 2008              -> 2008-01-02
    the 2nd of Sept. 2008         -> - | bad: not a date
    2nd of Sept. 2008             -> 2008-09-02
    January 2, 2008               -> 2008-01-02
    Jan 2 2008                    -> 2008-01-02
    2008 Jan 02                   -> 2008-01-02
    Wed 02/01/2008 14:35          -> 2008-01-02 14:35:00
    Wednesday, 2nd January 2008   -> 2008-01-02
    02/01/2008 2:35pm             -> 2008-01-02 14:35:00
    02/01/2008 2.35 p.m.          -> 2008-01-02 14:35:00
    02/01/2008 12:05 AM           -> 2008-01-02 00:05:00
    02/01/2008 12:05 pm           -> 2008-01-02 12:05:00
    02/01/2008 at 14:35 hrs       -> 2008-01-02 14:35:00
    02/01/2008 1435               -> 2008-01-02 14:35:00
    14:35 02/01/2008              -> 2008-01-02 14:35:00
    02/01/2008 24:00              -> 2008-01-03
    20080102                      -> 2008-01-02
    200801021435                  -> 2008-01-02 14:35:00
    20080102143507                -> 2008-01-02 14:35:07
    02012008                      -> 2008-01-02 | repaired: day, month, year without separators
    98-01-31                      -> 1998-01-31 | repaired: the first number can only be a year
    Jan 2008                      -> 2008-01-01 | repaired: the first of the month is taken
    Jan-08                        -> 2008-01-01 | repaired: the first of the month is taken
    01/2008                       -> 2008-01-01 | repaired: the first of the month is taken
    2008-09                       -> 2008-09-01 | repaired: the first of the month is taken
    2008                          -> 2008-01-01 | repaired: 1 January is taken
    circa 2008                    -> 2008-01-01 | repaired: 1 January is taken
    02/01/2008?                   -> 2008-01-02 | repaired: approximate
    approx 02/01/2008             -> 2008-01-02 | repaired: approximate
    02/01/2008 (est)              -> 2008-01-02 | repaired: approximate
    2 Febuary 2008                -> 2008-02-02 | repaired: misspelt
    02/01/2008 10:00-12:00        -> 2008-01-02 | repaired: no time of day
    02/01/2008 - carded           -> 2008-01-02 | repaired: no time of day
"""
REFUSED = """
    31/01/2008              -> 2008-01-31
    31/02/2024              -> - | bad: no such day
    29/02/2023              -> - | bad: no such day
    29/02/2024              -> 2024-02-29
    2023-02-29              -> - | bad: no such day
    00/00/0000              -> - | bad: not a date
    0000-00-00              -> - | bad: not a date
    1900-01-00              -> - | bad: no such day
    32/01/2008              -> - | bad: no such day
    5 Foo 2010              -> - | bad: not a date
    sometime 2012           -> - | bad: not a date
    01/01/1067              -> - | bad: the year 1067 is not plausible
    31/12/9999              -> - | bad: the year 9999 is not plausible
    02/01/2008 25:00        -> - | bad: the time of day is impossible
    020108                  -> - | bad: six digits
    2008/09                 -> - | bad: a financial year
    02/01/2008 & 05/01/2008 -> - | bad: two dates
    02/01/2008 to 5/1/08    -> - | bad: two dates
    14:35                   -> - | bad: not a date
    next week               -> - | bad: not a date
    Q1 2008                 -> - | bad: not a date
    #VALUE!                 -> - | bad: the spreadsheet error #VALUE!
    ########                -> - | bad: too narrow
    TBC                     -> -
    not known               -> -
"""


def test_every_form() -> None:
    check("visits.reported", FORMS)


def test_what_is_no_date_is_refused() -> None:
    parsed = check("visits.reported", REFUSED)
    assert parsed.said == ("reported: counted as missing: 'TBC' (1), 'not known' (1).",)


def test_a_date_column_keeps_the_day_and_says_so() -> None:
    parsed = read("valves.head_fitted", "2008-01-02 14:35", dt.datetime(2009, 5, 6, 7, 8), "2010-03-04")
    assert list(parsed.values.astype(str)) == ["2008-01-02", "2009-05-06", "2010-03-04"]
    assert parsed.said == ("head_fitted: 2 dates with a time of day; only the day is used.",)


def test_real_dates_of_every_type() -> None:
    found = read(
        "visits.reported",
        dt.datetime(2008, 1, 2, 3, 4),
        dt.date(2009, 1, 2),
        pd.Timestamp("2010-01-02 05:06"),
        np.datetime64("2011-01-02", "D"),
        dt.datetime(2012, 7, 2, 12, tzinfo=dt.UTC),
        pd.NaT,
        None,
    )
    wanted = ["2008-01-02 03:04", "2009-01-02", "2010-01-02 05:06", "2011-01-02", "2012-07-02 13:00", None, None]
    assert list(found.values) == [pd.Timestamp(w) if w else pd.NaT for w in wanted]
    assert str(found.values.dtype) == "datetime64[us]"


def test_real_dates_with_a_zone_become_the_clock_in_the_uk() -> None:
    summer, winter = dt.datetime(2024, 7, 1, 12, tzinfo=dt.UTC), dt.datetime(2024, 1, 1, 12, tzinfo=dt.UTC)
    naive = dt.datetime(2024, 7, 1, 12)
    assert read("visits.reported", summer, winter).values.tolist() == [
        dt.datetime(2024, 7, 1, 13),
        dt.datetime(2024, 1, 1, 12),
    ]
    assert read("visits.reported", summer, naive).values.tolist() == [dt.datetime(2024, 7, 1, 13), naive]


def test_real_dates_outside_the_plausible_years_are_refused() -> None:
    parsed = read("visits.reported", dt.datetime(9999, 12, 31), dt.date(1, 1, 1), dt.datetime(2024, 1, 1), None)
    assert list(parsed.bad["pos"]) == [0, 1]
    assert parsed.values.tolist()[2] == dt.datetime(2024, 1, 1)


def test_a_time_without_its_day_is_refused() -> None:
    found = read("visits.reported", dt.time(9, 45), dt.timedelta(hours=26), dt.datetime(1899, 12, 31, 9, 45))
    assert found.values.isna().all()
    assert list(found.bad["reason"].str.contains("only a time of day")) == [True] * 3


# ---------------------------------------------------------------- zones: the United Kingdom is at UTC, in summer UTC+1
ZONES = """
    2024-01-15T09:00:00Z           -> 2024-01-15 09:00:00
    2024-07-15T09:00:00Z           -> 2024-07-15 10:00:00
    2024-07-15T09:00:00+01:00      -> 2024-07-15 09:00:00
    2024-06-30T23:30:00Z           -> 2024-07-01 00:30:00
    2024-07-15 09:00:00 UTC        -> 2024-07-15 10:00:00
    15/07/2024 09:00 BST           -> 2024-07-15 09:00:00
    2024-07-15T09:00:00-05:00      -> 2024-07-15 15:00:00
"""


def test_zones_become_the_clock_in_the_uk() -> None:
    parsed = check("visits.reported", ZONES)
    assert "reported: 7 times given with a zone, read as the clock in the UK." in parsed.said


def test_a_midnight_of_summer_time_written_as_utc_keeps_its_day() -> None:
    assert list(read("valves.head_fitted", "2024-06-30T23:00:00.000Z").values.astype(str)) == ["2024-07-01"]


# ---------------------------------------------------------------- day or month first
def test_the_day_comes_first_by_default_and_it_is_said() -> None:
    parsed = read("visits.reported", "02/03/2024", "05/06/2024", "07/07/2024")
    assert list(parsed.values.astype(str)) == ["2024-03-02", "2024-06-05", "2024-07-07"]
    assert parsed.said == (
        "reported: no cell proves whether the day or the month comes first; 2 dates read day first.",
    )


def test_nothing_is_said_where_a_cell_proves_the_day_first() -> None:
    parsed = read("visits.reported", "02/03/2024", "31/03/2024")
    assert list(parsed.values.astype(str)) == ["2024-03-02", "2024-03-31"]
    assert parsed.said == ()


def test_the_month_comes_first_where_the_column_proves_it() -> None:
    parsed = read("visits.reported", "02/03/2024", "03/31/2024", "12/25/2024 14:00")
    assert list(parsed.values) == [pd.Timestamp(t) for t in ("2024-02-03", "2024-03-31", "2024-12-25 14:00")]
    assert parsed.said == (
        "reported: the month comes first (proved by 2 cells); 1 date without proof read that way too; "
        "check them against another record.",
    )
    assert isinstance(parsed.said[0], ToDo)
    assert parsed.repaired.empty
    assert parsed.bad.empty


@pytest.mark.parametrize("proofs", [["03/31/2024"], ["31/03/2024", "03/31/2024"], ["31/03/2024", *["03/31/2024"] * 3]])
def test_a_few_dates_with_the_month_first_leave_the_rest_in_the_order_of_the_country(proofs: list[str]) -> None:
    parsed = read("visits.reported", *proofs, "02/03/2024", "04/04/2024")
    assert [str(v)[:10] for v in parsed.values] == [*["2024-03-31"] * len(proofs), "2024-03-02", "2024-04-04"]
    assert parsed.bad.empty
    assert "1 date without proof" in parsed.said[0]
    assert "read day first" in parsed.said[0]
    assert isinstance(parsed.said[0], ToDo)


@pytest.mark.parametrize(
    ("day_first", "month_first", "read_so", "listed"),
    [
        (4, 1, True, False),  # one odd cell is a slip and costs the others nothing
        (39, 1, True, False),
        (8, 3, True, True),  # 8 of 10, one odd cell let pass: the policy's 80 %
        (7, 3, False, False),  # 7 of 9: 78 %
        (3, 3, False, False),
    ],
)
def test_the_majority_of_provable_dates_decides_the_rest(
    day_first: int, month_first: int, read_so: bool, listed: bool
) -> None:
    proving = [f"{13 + n % 15}/01/2024" for n in range(day_first)]
    odd = [f"01/{28 + n}/2024" for n in range(month_first)]
    parsed = read("visits.reported", *proving, *odd, "02/03/2024")
    last = len(proving) + len(odd)
    assert str(parsed.values.iloc[-1])[:10] == ("2024-03-02" if read_so else "NaT")
    assert list(parsed.values[len(proving) : last].astype(str)) == [f"2024-01-{28 + n}" for n in range(month_first)]
    assert list(parsed.bad["pos"]) == ([] if read_so else [last])
    assert list(parsed.repaired["pos"]) == [*range(len(proving), last), *([last] if listed else [])]
    assert ("each listed" in parsed.said[0]) is (listed or not read_so)
    if listed:
        assert (
            parsed.repaired["reason"].iloc[-1] == "read with the day first, as 8 of the column's 11 provable dates are"
        )


def test_a_weekday_in_the_cell_proves_the_order() -> None:
    """2 January 2008 was a Wednesday, 1 February 2008 a Friday."""
    assert str(read("visits.reported", "Fri 02/01/2008").values[0])[:10] == "2008-02-01"
    assert str(read("visits.reported", "Wed 02/01/2008").values[0])[:10] == "2008-01-02"
    assert str(read("visits.reported", "Mon 02/01/2008").values[0])[:10] == "2008-01-02"  # neither: the default


@pytest.mark.parametrize(
    ("header", "wanted"), [("mm/dd/yyyy", "2024-02-03"), ("dd/mm/yyyy", "2024-03-02"), ("(DD-MMM-YY)", "2024-03-02")]
)
def test_a_header_tells_the_order_where_no_cell_does(header: str, wanted: str) -> None:
    parsed = read("visits.reported", "02/03/2024", header_unit=header)
    assert str(parsed.values[0])[:10] == wanted
    assert "by the header" in parsed.said[0]


def test_dates_that_a_spreadsheet_seems_to_have_swapped_are_said() -> None:
    real = [dt.datetime(2024, month, 3) for month in range(1, 7)]
    parsed = read("visits.reported", *real, *(f"{day}/03/2024" for day in range(13, 20)))
    assert any("may have swapped day and month" in said for said in parsed.said)
    honest = read("visits.reported", *real, dt.datetime(2024, 1, 30), *(f"{day}/03/2024" for day in range(13, 20)))
    assert honest.said == ()


# ---------------------------------------------------------------- ages
def test_ages_in_years_count_back_from_today() -> None:
    parsed = read(
        "valves.head_fitted", 5, "12", "1.5", 0, "2009", "14/06/2011", header_unit="Age in years", as_today=TODAY
    )
    wanted = ["2021-11-25", "2014-11-25", "2025-05-25", "2026-11-25", "2009-01-01", "2011-06-14"]
    assert list(parsed.values.astype(str)) == wanted
    assert parsed.said[0].startswith("head_fitted: years counted back from 2026-11-25 in 4 cells")


def test_an_age_in_the_cell_is_said_of_the_cell() -> None:
    parsed = check(
        "valves.head_fitted",
        """
        5 years       -> 2021-11-25 | repaired: counted back from 2026-11-25
        18 months old -> 2025-05-25 | repaired: counted back
        3 wks         -> 2026-11-04 | repaired: counted back
        10 days ago   -> 2026-11-15 | repaired: counted back
        """,
        as_today=TODAY,
    )
    assert parsed.bad.empty


def test_an_age_on_the_last_of_the_month() -> None:
    leap = read("valves.head_fitted", 1, header_unit="years", as_today=dt.date(2024, 2, 29))
    assert list(leap.values.astype(str)) == ["2023-02-28"]


def test_an_age_without_a_day_to_count_from_is_refused() -> None:
    assert "day on which the list was made" in read("valves.head_fitted", 5, header_unit="yrs").bad["reason"][0]
    assert "day on which the list was made" in read("valves.head_fitted", "5 years").bad["reason"][0]


# ---------------------------------------------------------------- quick ways and slow ways agree
@pytest.mark.parametrize("form", ["%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%dT%H:%M:%SZ", "%d/%m/%Y %H:%M"])
def test_a_long_column_of_one_form_is_read_as_its_cells_are(form: str) -> None:
    times = pd.Series(pd.date_range("2023-12-01 00:07", periods=3000, freq="67min"))
    text = times.dt.strftime(form).astype("str")
    at_once = parse(text, column("visits.reported"))
    one_by_one = parse(
        pd.concat([text, pd.Series(["n/a", "rubbish"])], ignore_index=True).astype(object), column("visits.reported")
    )
    pd.testing.assert_series_equal(at_once.values, one_by_one.values[:3000], check_names=False)
    assert len(one_by_one.bad) == 1
    assert at_once.bad.empty


def test_a_long_iso_column_with_a_few_other_cells() -> None:
    text = pd.date_range("2023-12-01", periods=500, freq="7h").strftime("%Y-%m-%d %H:%M").tolist()
    text[7], text[11], text[13], text[17] = "31/01/2024", "", "n/a", "1067-01-01"
    parsed = parse(cells(*text, kind="str"), column("visits.reported"))
    assert str(parsed.values[7])[:10] == "2024-01-31"
    assert list(np.flatnonzero(parsed.values.isna())) == [11, 13, 17]
    assert list(parsed.bad["pos"]) == [17]


def test_an_impossible_day_is_not_read_as_the_next_month() -> None:
    """A quick reader that rolls 31 February over to 2 March would pass unseen in a long column."""
    text = pd.date_range("2024-01-01", periods=366).strftime("%d/%m/%Y").tolist()
    parsed = parse(cells(*text, "31/02/2024", kind="str"), column("visits.reported"))
    assert list(parsed.bad["pos"]) == [366]
    assert parsed.values[:366].tolist() == list(pd.date_range("2024-01-01", periods=366))
