"""The invented schedule of rates, the teams' hours, and the parts in store."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pandas as pd

from audit.sample import draw
from audit.sample.homes import PATCHES

PRICES = {  # GBP excluding VAT
    "labour_hour": 41.50,
    "call_out": 36.00,
    "out_of_hours_call_out": 92.00,
    "head_zone": 46.80,
    "head_zone_changeover": 57.20,
    "head_mid_position": 64.90,
    "head_diverter": 52.40,
    "motor": 17.60,
    "valve_2port_22": 76.50,
    "valve_2port_28": 109.00,
    "valve_3port_22": 94.20,
    "valve_3port_28": 131.00,
    "relay": 15.20,
    "inhibitor": 15.40,
}
UNITS = {"labour_hour": "hour", "call_out": "visit", "out_of_hours_call_out": "visit", "inhibitor": "dose"}
WEEKS = 13
FULL_WEEK = 24.0  # hours of valve work of one team in a week that it gives to it
HOURS_A_HOME = 0.02  # a week
FEW_TEAMS = (PATCHES[0], PATCHES[1], None)  # two teams with a patch, one that goes anywhere


def build_rates() -> pd.DataFrame:
    """Every price of the schedule."""
    table = pd.DataFrame({"item": list(PRICES), "cost_gbp": list(PRICES.values())})
    table.insert(1, "unit", [UNITS.get(item, "each") for item in PRICES])
    return table.assign(source="Invented schedule of rates 2026").astype(
        dict.fromkeys(["item", "unit", "source"], "str")
    )


def build_capacity(homes: int, as_of: dt.date) -> pd.DataFrame:
    """Thirteen weeks of each team, from the first Monday after the as-of date; somewhat less than the work needs.

    A team gives whole weeks to the valves; a small landlord has each of a few teams in turn, and no hours between.
    """
    monday = as_of + dt.timedelta(days=7 - as_of.weekday())
    weeks = [monday + dt.timedelta(weeks=i) for i in range(WEEKS)]
    a_week = max(12.0, HOURS_A_HOME * homes)
    teams = max(len(FEW_TEAMS), round(a_week / FULL_WEEK))
    patch = FEW_TEAMS if teams == len(FEW_TEAMS) else [PATCHES[team % len(PATCHES)] for team in range(teams)]
    short = [any(day.month == 12 and day.day == 25 for day in _days(week)) for week in weeks]
    hours = np.where(_rota(teams, a_week), np.where(short, FULL_WEEK / 2, FULL_WEEK), 0.0)
    table = pd.DataFrame(
        {
            "team": np.repeat([f"Team {i + 1}" for i in range(teams)], WEEKS),
            "patch": np.repeat(np.array(patch, dtype=object), WEEKS),
            "week_starting": pd.Series(list(weeks) * teams).astype("datetime64[us]"),
            "hours": hours.ravel(),
        }
    ).astype({"team": "str", "patch": "str"})
    return table.loc[table["hours"].gt(0)].reset_index(drop=True)


def _rota(teams: int, a_week: float) -> np.ndarray[Any, np.dtype[np.bool_]]:
    """Which weeks (columns) each team (rows) gives to the valves: in turn, the last team first."""
    turns = min(teams * WEEKS, round(WEEKS * a_week / FULL_WEEK))
    turn = np.arange(turns)
    works = np.zeros((teams, WEEKS), dtype=bool)
    works[(teams - 1 + turn) % teams, turn * WEEKS // turns] = True
    return works


def _days(week: dt.date) -> list[dt.date]:
    return [week + dt.timedelta(days=i) for i in range(7)]


def build_parts(homes: int, seed: int) -> pd.DataFrame:
    """Pieces in store and days to get more."""
    rng = draw.stream(seed, 7)
    parts = [item for item in PRICES if item.startswith(("head", "motor", "valve", "inhibitor"))]
    most = max(6, homes // 40)
    return pd.DataFrame(
        {
            "part": pd.Series(parts, dtype="str"),
            "on_hand": rng.integers(1, most, len(parts)).astype(float),
            "lead_time_days": rng.choice([1.0, 2.0, 5.0, 10.0], len(parts)),
        }
    )
