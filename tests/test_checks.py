"""Bounds, words, order of dates and links, in the words of the column records."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from audit.intake.typed import empty_table
from schemas import checks
from schemas.tables import COLUMNS, MODELS


def table(name: str, rows: int = 3, **values: list[object]) -> pd.DataFrame:
    """A table without a fault, but for the values given."""
    frame = empty_table(name, rows)
    for column in COLUMNS[name]:
        if column.required:
            good = {"number": 1.0, "date": pd.Timestamp("2024-05-01"), "time": pd.Timestamp("2024-05-01")}
            word = next(iter(column.words)) if column.words else "X"
            one = good.get(column.kind, word)
            listed = [f"{word}{n}" if column.unique and not column.words else one for n in range(rows)]
            frame[column.name] = pd.Series(listed, dtype=frame[column.name].dtype)
    return frame.assign(**{n: pd.Series(v, dtype=frame[n].dtype) for n, v in values.items()})


@pytest.mark.parametrize(
    ("name", "column", "values", "bad"),
    [
        ("valves", "location_temp_c", [-20.0, 120.0, 120.1], [2]),
        ("valves", "location_temp_c", [np.nan, np.inf, -np.inf], [1, 2]),
        ("valves", "ports", [2.0, 2.5, 4.0], [1, 2]),
        ("valves", "lever", ["free", "loose", None], [1]),
        ("visits", "cost_gbp", [0.0, -0.01, 100_000.0], [1]),
        ("homes", "easting", [0.0, 800_000.0, 800_001.0], [2]),
    ],
)
def test_cells_outside_their_bounds_or_words(name: str, column: str, values: list[object], bad: list[int]) -> None:
    faults = checks.cell_faults(name, table(name, **{column: values}))
    assert faults["pos"].tolist() == bad
    assert faults["column"].eq(column).all()


@pytest.mark.parametrize("name", list(MODELS))
def test_a_table_without_a_fault_has_none(name: str) -> None:
    rows = 1 if name in ("rates", "parts") else 3
    good = table(name, rows)
    assert checks.cell_faults(name, good).empty
    assert checks.model_faults(name, good).empty


@pytest.mark.parametrize("name", list(MODELS))
def test_the_model_and_our_masks_find_the_same(name: str) -> None:
    for column in COLUMNS[name]:
        wrong: object = None
        if column.words is not None:
            wrong = "no such word"
        elif column.kind == "number" and (column.low is not None or column.high is not None):
            wrong = column.high + 1 if column.high is not None else column.low - 1  # type: ignore[operator]
        if wrong is None:
            continue
        frame = table(name, 1, **{column.name: [wrong]})
        ours, theirs = checks.cell_faults(name, frame), checks.model_faults(name, frame)
        assert ours[["pos", "column", "reason"]].to_dict() == theirs[["pos", "column", "reason"]].to_dict(), column.name


def test_the_model_finds_rows_among_many() -> None:
    rows = 5_000
    frame = table("valves", rows)
    frame.loc[4_321, "location_temp_c"] = 500.0
    frame.loc[77, "lever"] = "loose"
    faults = checks.model_faults("valves", frame).sort_values("pos")
    assert list(zip(faults["pos"], faults["column"], strict=True)) == [(77, "lever"), (4_321, "location_temp_c")]


def test_a_missing_required_cell_and_an_id_used_twice_are_worded() -> None:
    frame = table("valves", valve_id=["V1", "V1", "V2"], home_id=["H1", None, "H1"])
    faults = checks.model_faults("valves", frame)
    told = dict(zip(zip(faults["pos"], faults["column"], strict=True), faults["reason"], strict=True))
    assert told == {
        (0, "valve_id"): "the valve_id stands in more than one row",
        (1, "valve_id"): "the valve_id stands in more than one row",
        (1, "home_id"): "there is no home_id, and every row needs one",
    }


def test_no_word_of_the_checking_library_reaches_the_user() -> None:
    frame = table("valves", location_temp_c=[500.0, np.nan, 3.0], lever=["x", "free", None])
    told = " ".join(checks.model_faults("valves", frame)[["reason", "mend"]].to_numpy().ravel())
    assert "location_temp_c must be a number, -20 to 120 °C" in told
    assert "lever must be one of free, stiff, latched" in told
    for word in ("isin", "less_than", "greater_than", "Check", "dtype", "nullable"):
        assert word not in told


DAY, NEXT = "2024-05-01", "2024-05-02"


@pytest.mark.parametrize(
    ("reported", "attended", "completed", "doubted"),
    [
        (DAY, DAY, DAY, []),
        (DAY, NEXT, NEXT, []),
        (NEXT, DAY, "2024-05-03", ["attended"]),
        (NEXT, None, DAY, ["completed"]),
        (DAY, "2024-05-03", NEXT, ["completed"]),
        ("2024-05-01 15:00", DAY, DAY, []),
        ("2024-05-01 15:00", "2024-05-01 14:00", None, ["attended"]),
        ("2024-05-01 15:00", "2024-05-01 16:00", "2024-05-01", []),
        (NEXT, DAY, DAY, ["attended", "completed"]),
        (DAY, None, None, []),
    ],
)
def test_the_order_of_dates(reported: str, attended: str | None, completed: str | None, doubted: list[str]) -> None:
    frame = table("visits", 1, reported=[reported], attended=[attended], completed=[completed])
    assert checks.order_faults("visits", frame)["column"].tolist() == doubted


def test_a_head_older_than_its_body_is_doubted() -> None:
    frame = table("valves", body_fitted=[DAY, DAY, None], head_fitted=["2024-04-30", DAY, "1990-01-01"])
    faults = checks.order_faults("valves", frame)
    assert faults["pos"].tolist() == [0]
    assert faults["column"].tolist() == ["head_fitted"]


def test_places_in_a_list_of_texts() -> None:
    values = pd.Series(["b", None, "z", "a"], dtype="str")
    assert checks.place_in(values, pd.Series(["a", "b"], dtype="str")).tolist() == [1, -1, -1, 0]
    assert checks.unknown(values, pd.Series(["a", "b"], dtype="str")).tolist() == [False, False, True, False]
    assert checks.unknown(values, pd.Series([], dtype="str")).tolist() == [True, False, True, True]
