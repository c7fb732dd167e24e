"""Small hand-made stocks for the tests of lives: a few valves and visits, every column that the fit reads."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import pandas as pd

from audit.model import Facts

AS_OF = "2026-01-01"


def stock(valves: Iterable[Mapping[str, Any]], visits: Iterable[Mapping[str, Any]], as_of: str = AS_OF) -> Facts:
    """Return facts; a valve or visit names only what differs from the defaults below. Dates are ISO text."""
    valve_rows = [
        {
            "valve_id": f"V{number}", "home_id": f"H{number}", "system": "main", "scheme": "Birch Court",
            "circuit": "heating", "head_kind": "zone", "wires": 5.0, "body_size_mm": 22.0, "ports": 2.0,
            "make": "Make A", "batch": None, "location": "airing_cupboard", "location_temp_c": np.nan,
            "body_fitted": None, "head_fitted": None, **own,
        }
        for number, own in enumerate(valves, 1)
    ]  # fmt: skip
    visit_rows = [
        {
            "visit_id": f"J{number:03d}", "valve_id": "V1", "home_id": "H1", "system": "main", "scheme": "Birch Court",
            "reported": AS_OF, "kind": "call_out", "outcome": "fixed", "symptom": "no_heating", "cause": None,
            "action": "head", "source_file": "visits.csv", "source_sheet": "", **own,
        }
        for number, own in enumerate(visits, 1)
    ]  # fmt: skip
    valve_table = _typed(valve_rows, ("body_fitted", "head_fitted"))
    valve_table = valve_table.assign(
        body_since=valve_table["body_fitted"], head_since=valve_table["head_fitted"].fillna(valve_table["body_fitted"])
    )
    visit_table = _typed(visit_rows, ("reported", "at"))
    visit_table = visit_table.assign(
        at=visit_table["at"].fillna(visit_table["reported"]), is_call_out=visit_table["kind"].eq("call_out")
    )
    homes = valve_table[["home_id", "scheme"]].drop_duplicates()
    return Facts(as_of=pd.Timestamp(as_of), homes=homes, valves=valve_table, visits=visit_table)


def _typed(rows: list[dict[str, Any]], dates: tuple[str, ...]) -> pd.DataFrame:
    table = pd.DataFrame(rows).reset_index(drop=True)
    for column in dates:
        given = table[column] if column in table else pd.Series(None, index=table.index, dtype="object")
        table[column] = pd.to_datetime(given).astype("datetime64[us]")
    words = [name for name in table if table[name].dtype == object]
    return table.astype(dict.fromkeys(words, "str"))


def quiet(years: range) -> list[dict[str, Any]]:
    """Return one visit a month that renews nothing, to keep the log going from the first year to the last."""
    return [
        {"valve_id": None, "home_id": "H9", "reported": f"{year}-{month:02d}-01", "action": "none", "cause": "boiler"}
        for year in years
        for month in range(1, 13)
    ]
