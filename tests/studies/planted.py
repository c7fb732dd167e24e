"""An invented stock whose lives are known: bodies and heads fail and are renewed, and the register forgets.

Each home's valves begin with new bodies and heads. Time runs on the clock of wear, which is slow in summer. Whatever
comes first is played out until the as-of date: the head fails (mended with a head, or a motor that takes off part of
its age), the body fails (both renewed), or the head is renewed for another reason. The log keeps what happened from its
first day on; the register keeps only the last dates.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.model import Facts

Floats = npt.NDArray[np.float64]
YEAR = 365.25
HEAD, MOTOR, FULL, OTHER = "head", "motor", "full", "other"


@dataclass(frozen=True)
class Planted:
    """The hidden truth; lives in effective years, `oldest` in years before the as-of date."""

    valves: int = 10_000
    a_home: int = 2  # valves in a home, fitted on one day
    shape: float = 2.4
    scale: float = 11.0
    body_shape: float = 3.0
    body_scale: float = 1e9  # bodies last unless told otherwise
    motor_share: float = 0.0
    kept: float = 0.4
    other_rate: float = 0.0
    oldest: float = 35.0
    as_of: str = "2026-01-01"
    log_start: str = "2019-01-01"
    hot_share: float = 0.0
    hot_temp: float = 55.0
    reference: float = 40.0
    doubling: float = 10.0
    summer_share: float = 0.5  # of a year's failures that show from April to September
    bad_share: float = 0.0  # of a group that fails more often
    bad_rate: float = 2.0


def _knots(summer: float) -> tuple[Floats, Floats]:
    """Return calendar years and worn years at the turns of season: one worn year a year, a share of it in summer."""
    turns = np.array([0.0, 0.25, 0.75])
    worn = np.array([0.0, (1 - summer) / 2, (1 + summer) / 2])
    years = np.arange(-60, 90)[:, None]
    return (years + turns).ravel(), (years + worn).ravel()


def _worn(calendar: Floats, summer: float) -> Floats:
    return np.interp(calendar, *_knots(summer))


def _calendar(worn: Floats, summer: float) -> Floats:
    return np.interp(worn, *reversed(_knots(summer)))


def _next(age: Floats, shape: float, scale: Floats, draw: Floats) -> Floats:
    """Return the further life of parts of this age."""
    return scale * ((age / scale) ** shape + draw) ** (1 / shape) - age


def history(truth: Planted, seed: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Play the stock out; returns valves (start, pace, bad) and all events (valve, time, what), times in years."""
    r = np.random.default_rng(seed)
    n = truth.valves
    end = float(_worn(np.array([(pd.Timestamp(truth.as_of) - pd.Timestamp(0)).days / YEAR]), truth.summer_share)[0])
    start = (end - truth.oldest * r.random(n))[np.arange(n) // truth.a_home * truth.a_home]
    hot = r.random(n) < truth.hot_share
    temp = np.where(hot, truth.hot_temp, truth.reference - 10)
    pace = 2 ** (np.maximum(temp - truth.reference, 0) / truth.doubling)
    bad = r.random(n) < truth.bad_share
    scale = np.where(bad, truth.scale * truth.bad_rate ** (-1 / truth.shape), truth.scale) / pace
    now, head, body = start.copy(), np.zeros(n), np.zeros(n)
    alive = np.arange(n)
    events = []
    while len(alive):
        k = len(alive)
        to_head = _next(head[alive], truth.shape, scale[alive], r.exponential(size=k))
        to_body = _next(body[alive], truth.body_shape, np.full(k, truth.body_scale), r.exponential(size=k))
        to_other = r.exponential(size=k) / max(truth.other_rate, 1e-12)
        step = np.minimum(np.minimum(to_head, to_body), to_other)
        now[alive] += step
        what = np.where(
            step == to_head,
            np.where(r.random(k) < truth.motor_share, MOTOR, HEAD),
            np.where(step == to_body, FULL, OTHER),
        )
        before = now[alive] < end
        alive, step, what = alive[before], step[before], what[before]
        # a motor keeps a share of its head's whole age, which is what it had gathered as kept age plus its own span
        head[alive] = np.where(what == MOTOR, _after_motor(head[alive], step, truth.kept), 0.0)
        body[alive] = np.where(what == FULL, 0.0, body[alive] + step)
        events.append(pd.DataFrame({"valve": alive, "time": now[alive], "what": what}))
    table = pd.DataFrame({"start": start, "pace": pace, "temp": temp, "bad": bad})
    return table, pd.concat(events, ignore_index=True).sort_values(["valve", "time"], ignore_index=True)


def _after_motor(age: Floats, span: Floats, kept: float) -> Floats:
    """Kijima's type I: the repair takes off part of what was gathered since the last one."""
    return age + kept * span


def _day(years: pd.Series) -> pd.Series:
    """Return the calendar day, the years being even ones."""
    return (pd.Timestamp(0) + pd.to_timedelta(np.floor(years * YEAR), unit="D")).astype("datetime64[us]")


def facts(truth: Planted, seed: int) -> Facts:
    """Return what the audit would know of this stock on the as-of date."""
    table, events = history(truth, seed)
    for column, frame in (("start", table), ("time", events)):
        frame[column] = _calendar(frame[column].to_numpy(float), truth.summer_share)
    as_of = pd.Timestamp(truth.as_of)
    first = (pd.Timestamp(truth.log_start) - pd.Timestamp(0)).days / YEAR
    heads = events.loc[events["what"].ne(MOTOR)].groupby("valve")["time"].max()
    bodies = events.loc[events["what"].eq(FULL)].groupby("valve")["time"].max()
    head = heads.reindex(table.index).fillna(table["start"])
    body = bodies.reindex(table.index).fillna(table["start"])
    n = len(table)
    ids = pd.Series(np.arange(n)).map("V{:06d}".format).astype("str")
    valves = pd.DataFrame(
        {
            "valve_id": ids,
            "home_id": ("H" + (pd.Series(np.arange(n)) // truth.a_home).astype("str")),
            "system": "main",
            "scheme": "Birch Court",
            "circuit": "heating",
            "head_kind": "zone",
            "wires": 5.0,
            "body_size_mm": 22.0,
            "ports": 2.0,
            "make": np.where(table["bad"], "Make B", "Make A"),
            "batch": pd.Series(np.nan, index=table.index).astype("str"),
            "location": "airing_cupboard",
            "location_temp_c": table["temp"],
            "body_fitted": _day(body),
            "head_fitted": _day(head),
            "body_since": _day(body),
            "head_since": _day(head),
            "head_age_basis": "its own date",
        }
    )
    log = events.loc[events["time"].ge(first)].reset_index(drop=True)
    fault = log["what"].ne(OTHER)
    visits = pd.DataFrame(
        {
            "visit_id": pd.Series(np.arange(len(log))).map("J{:07d}".format).astype("str"),
            "home_id": valves["home_id"].to_numpy()[log["valve"]],
            "valve_id": valves["valve_id"].to_numpy()[log["valve"]],
            "system": "main",
            "scheme": "Birch Court",
            "reported": _day(log["time"]),
            "at": _day(log["time"]),
            "kind": np.where(fault, "call_out", "planned"),
            "is_call_out": fault,
            "outcome": "fixed",
            "symptom": "no_heating",
            "cause": np.where(fault, log["what"].replace({FULL: "body"}), "other"),
            "action": log["what"].replace({OTHER: "head"}),
            "source_file": "visits.csv",
            "source_sheet": "",
        }
    )
    homes = valves[["home_id", "scheme"]].drop_duplicates()
    return Facts(as_of=as_of, homes=homes, valves=valves, visits=visits)
