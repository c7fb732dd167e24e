"""Which call-outs are one event, and the days between events."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.repeats.events import with_events
from tests.frames import frame

Visit = tuple[str, str | None]  # reported, completed


def events(*visits: Visit, kinds: str = "") -> list[tuple[int, float | None]]:
    """Event number and gap of each visit of one home and system, in the order of their reports.

    `kinds` has a letter a visit: c is a call-out, the default; anything else is planned work.
    """
    rows = [
        {
            "visit_id": f"J{n:03d}",
            "home_id": "H1",
            "system": "main",
            "reported": reported,
            "completed": completed or "",
            "kind": "call_out" if letter == "c" else "planned",
        }
        for n, ((reported, completed), letter) in enumerate(zip(visits, kinds or "c" * len(visits), strict=True))
    ]
    made = with_events(frame("visits", rows))
    gaps = made["gap_days"].astype("object").where(made["gap_days"].notna(), None)
    return list(zip(made["event"], gaps, strict=True))


def test_each_call_out_after_the_completion_of_the_one_before_is_an_event() -> None:
    assert events(("2026-03-01", "2026-03-02"), ("2026-03-05", "2026-03-06"), ("2026-04-05", "2026-04-06")) == [
        (0, None),
        (1, 4),
        (2, 31),
    ]


def test_call_outs_of_one_day_are_one_event() -> None:
    first, second = ("2026-03-01T08:00", "2026-03-01T10:00"), ("2026-03-01T18:00", "2026-03-01T19:00")
    assert events(first, second) == [(0, None), (0, None)]


def test_late_at_night_and_next_morning_are_two_days() -> None:
    first, second = ("2026-03-01T22:00", "2026-03-01T23:00"), ("2026-03-02T06:00", "2026-03-02T07:00")
    assert events(first, second) == [(0, None), (1, 1)]


def test_a_call_before_the_earlier_visit_is_completed_belongs_to_it() -> None:
    assert events(("2026-03-01", "2026-03-10"), ("2026-03-05", "2026-03-06"), ("2026-03-09", "2026-03-09")) == [
        (0, None),
        (0, None),
        (0, None),  # the first of the three is still open
    ]


def test_the_gap_counts_from_the_last_report_of_the_event_before() -> None:
    assert events(("2026-03-01", "2026-03-10"), ("2026-03-05", "2026-03-10"), ("2026-04-02", "2026-04-03")) == [
        (0, None),
        (0, None),
        (1, 28),  # 5 March to 2 April
    ]


def test_an_unfinished_call_out_stays_open_until_any_later_completion() -> None:
    first, second, third = ("2026-03-01", None), ("2026-03-20", "2026-03-21"), ("2026-03-25", "2026-03-26")
    assert events(first, second, third) == [(0, None), (0, None), (1, 5)]


def test_planned_work_closes_an_unfinished_call_out() -> None:
    first, work, second = ("2026-03-01", None), ("2026-03-03", "2026-03-04"), ("2026-03-20", "2026-03-21")
    assert events(first, work, second, kinds="cpc") == [(0, None), (-1, None), (1, 19)]


def test_work_reported_earlier_but_completed_later_closes_it_too() -> None:
    work, first, second = ("2026-02-20", "2026-03-04"), ("2026-03-01", None), ("2026-03-20", "2026-03-21")
    assert events(work, first, second, kinds="pcc") == [(-1, None), (0, None), (1, 19)]


def test_work_completed_before_the_report_does_not_close_it() -> None:
    work, first, second = ("2026-02-20", "2026-02-28"), ("2026-03-01", None), ("2026-03-20", "2026-03-21")
    assert events(work, first, second, kinds="pcc") == [(-1, None), (0, None), (0, None)]


@pytest.mark.parametrize(
    ("done", "second_event"), [("2026-03-01", 1), ("2026-03-01T18:00", 1), ("2026-03-01T07:00", 0)]
)
def test_a_completion_on_the_day_of_the_report_closes_it_unless_it_came_before(done: str, second_event: int) -> None:
    work, first, second = ("2026-02-20T09:00", done), ("2026-03-01T09:00", None), ("2026-03-20T09:00", "2026-03-21")
    assert [event for event, _ in events(work, first, second, kinds="pcc")] == [-1, 0, second_event]


@pytest.mark.parametrize("reported", ["2026-03-20", "2026-03-20T04:50"])
def test_the_call_out_that_ends_an_unfinished_one_belongs_to_it(reported: str) -> None:
    """Even where its completion has no time of day and so seems to lie before its report."""
    assert [event for event, _ in events(("2026-03-01", None), (reported, "2026-03-20"))] == [0, 0]


def made(*rows: dict[str, str]) -> pd.DataFrame:
    whole = {"home_id": "H1", "system": "main", "kind": "call_out"}
    return with_events(frame("visits", [{"visit_id": f"J{n}"} | whole | row for n, row in enumerate(rows)]))


def test_nobody_in_is_no_fault_and_starts_no_repeat() -> None:
    table = made(
        {"reported": "2026-03-01", "attended": "2026-03-02", "completed": "2026-03-02", "outcome": "no_access"},
        {"reported": "2026-03-10", "completed": "2026-03-11", "outcome": "fixed"},
        {"reported": "2026-03-20", "completed": "2026-03-21", "outcome": "no_access"},
        {"reported": "2026-03-28", "completed": "2026-03-29", "outcome": "fixed"},
    )
    assert table["is_fault"].tolist() == [False, True, False, True]
    assert table["gap_days"].tolist() == pytest.approx([np.nan, np.nan, np.nan, 18], nan_ok=True)


def test_nobody_in_at_first_is_a_fault_once_somebody_was_let_in() -> None:
    table = made(
        {"reported": "2026-03-01", "attended": "2026-03-02", "outcome": "no_access"},
        {"reported": "2026-03-02", "completed": "2026-03-05", "outcome": "fixed", "kind": "follow_on"},
        {"reported": "2026-03-20", "completed": "2026-03-21", "outcome": "fixed"},
    )
    assert table["episode"].tolist() == [0, 0, 1]
    assert table["is_fault"].all()
    assert table["gap_days"].iloc[2] == 19


def test_a_call_not_yet_attended_is_a_fault() -> None:
    assert made({"reported": "2026-03-01"})["is_fault"].tolist() == [True]


def test_left_working_counts_as_completed() -> None:
    table = made(
        {"reported": "2026-03-01", "attended": "2026-03-02", "outcome": "fixed"},
        {"reported": "2026-03-10", "outcome": "no_fault_found"},
        {"reported": "2026-03-20", "outcome": "parts_needed"},
        {"reported": "2026-03-25"},
    )
    assert table["event"].tolist() == [0, 1, 2, 2]
    assert table["gap_days"].tolist() == pytest.approx([np.nan, 9, 10, np.nan], nan_ok=True)


def test_return_visits_belong_to_the_event_before_them_and_planned_work_to_none() -> None:
    table = made(
        {"reported": "2026-02-01", "kind": "follow_on"},
        {"reported": "2026-03-01", "completed": "2026-03-01", "kind": "follow_on"},  # same day, lower number
        {"reported": "2026-03-01T09:00"},
        {"reported": "2026-03-03", "kind": "planned", "completed": "2026-03-03"},
        {"reported": "2026-03-09", "kind": "follow_on"},
    )
    assert table["episode"].tolist() == [-1, 0, 0, -1, 0]


def test_never_completed_at_all_stays_open() -> None:
    assert events(("2026-03-01", None), ("2026-05-20", None)) == [(0, None), (0, None)]


def test_homes_and_systems_are_apart() -> None:
    rows = [
        {"visit_id": f"J{n}", "home_id": home, "system": system, "reported": f"2026-03-0{n}", "kind": "call_out"}
        for n, (home, system) in enumerate([("H1", "annexe"), ("H1", "main"), ("H2", "main")], 1)
    ]
    made = with_events(frame("visits", rows))
    assert list(made["event"]) == [0, 1, 2]
    assert made["gap_days"].isna().all()


@pytest.mark.parametrize(
    ("kind", "symptom", "is_call_out"),
    [
        ("call_out", "", True),
        ("call_out", "leak", True),
        ("", "leak", True),
        ("", "", False),
        ("planned", "leak", False),
        ("safety_check", "", False),
        ("follow_on", "no_heating", False),
    ],
)
def test_what_a_call_out_is(kind: str, symptom: str, is_call_out: bool) -> None:
    row = {"visit_id": "J1", "home_id": "H1", "system": "main", "reported": "2026-03-01", "kind": kind}
    made = with_events(frame("visits", [{**row, "symptom": symptom}]))
    assert made["is_call_out"].item() is is_call_out
    assert made["event"].item() == (0 if is_call_out else -1)


def test_no_visits_at_all() -> None:
    made = with_events(frame("visits"))
    assert made.empty
    assert (made["is_call_out"].dtype, made["event"].dtype, made["gap_days"].dtype) == (bool, np.int64, np.float64)


@st.composite
def histories(draw: st.DrawFn) -> list[Visit]:
    day = pd.Timestamp("2026-01-01")
    reports = sorted(draw(st.lists(st.integers(0, 60), min_size=1, max_size=12)))
    waits = draw(st.lists(st.none() | st.integers(0, 20), min_size=len(reports), max_size=len(reports)))
    return [
        (str(day + pd.Timedelta(days=n)), None if wait is None else str(day + pd.Timedelta(days=n + wait)))
        for n, wait in zip(reports, waits, strict=True)
    ]


def by_hand(visits: list[Visit]) -> list[int]:
    """The words of the rule, one call-out after the other."""
    numbers: list[int] = []
    for at, (reported, _) in enumerate(visits):
        belongs = False
        for earlier, done in visits[:at]:
            closers = [(end, made) for made, end in visits if end is not None and end >= earlier]
            end, made = (done, earlier) if done else min(closers, key=lambda closer: closer[0], default=(None, earlier))
            that_day = done is None and end == made == reported  # made and closed on the day of this report
            belongs |= earlier == reported or end is None or reported < end or that_day
        numbers.append(numbers[-1] if belongs else (numbers[-1] + 1 if numbers else 0))
    return numbers


@settings(max_examples=60, deadline=None)
@given(histories())
def test_events_are_those_of_the_plain_words(visits: list[Visit]) -> None:
    assert [event for event, _ in events(*visits)] == by_hand(visits)
