"""The planted truth as tables: lives, valves, chains, visits, faults, and the numbers behind them."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Mapping

import numpy as np
import pandas as pd

from audit.sample import draw, season
from audit.sample.attempts import CHAIN_ROOTS, Attempts
from audit.sample.draw import Floats
from audit.sample.lives import ENDED, IN_SERVICE, MODES, Events, Spells, scales
from audit.sample.stock import BATCH_CODE, Stock
from audit.sample.world import World

QUARTER_DAYS = 91


def lives_table(spells: Spells, stock: Stock, body: Floats, head: Floats, world: World) -> pd.DataFrame:
    """Every stretch of life of every head and body; `in_register` says whether its first day still stands there."""
    began = np.floor(spells.began)
    shown = np.where(spells.body, body[spells.valve], head[spells.valve])
    order = np.lexsort((spells.ended, began, spells.body, spells.valve))
    table = pd.DataFrame(
        {
            "valve_id": draw.words(spells.valve, list(stock.valve_id)),
            "part": draw.words(spells.body.astype(np.int64), ("head", "body")),
            "began": draw.dates(began),
            "began_age_years": np.round(spells.began_age, 5),
            "ended": draw.dates(spells.ended),
            "ended_age_years": np.round(spells.ended_age, 5),
            "ended_by": draw.words(spells.end, ENDED),
            "shape": np.where(spells.body, world.body_shape, world.head_shape),
            "scale_years": np.round(spells.scale, 5),
            "in_register": draw.yes_no((began == shown) & (spells.began_age == 0)),
        }
    )
    table = table.iloc[order].reset_index(drop=True)
    again = table.duplicated(["valve_id", "part", "began", "in_register"], keep="last")  # lasted under a day
    return table.assign(in_register=table["in_register"].where(~again, "no"))


def valves_table(spells: Spells, stock: Stock, body: Floats, head: Floats, as_of: float, world: World) -> pd.DataFrame:
    """What is true of every valve on the as-of day, and its chance of failing in the 91 days that follow.

    Ages are effective years, missing where the part has failed and is not yet renewed.
    """
    batch = stock.bad_batch & (body == stock.first_body)
    head_scale, body_scale = scales(np.arange(len(stock)), batch, stock, world)
    ages = [_age(spells, len(stock), which) for which in (False, True)]
    wear = float(np.diff(season.wear(np.array([as_of, as_of + QUARTER_DAYS])))[0])
    risk = _hazard(ages[0], wear * stock.speed, world.head_shape, head_scale)
    risk = risk + _hazard(ages[1], np.full(len(stock), wear), world.body_shape, body_scale)
    return pd.DataFrame(
        {
            "valve_id": stock.valve_id,
            "home_id": stock.homes.table["home_id"].iloc[stock.home].reset_index(drop=True),
            "body_fitted": draw.dates(body),
            "head_fitted": draw.dates(head),
            "head_age_years": np.round(ages[0], 4),
            "body_age_years": np.round(ages[1], 4),
            "location_c": np.round(stock.temp_c, 2),
            "years_a_year": np.round(stock.speed, 4),
            "hot_cupboard": draw.yes_no(stock.homes.hot[stock.home]),
            "bad_batch": draw.yes_no(batch),
            "bad_scheme": draw.yes_no(stock.bad_scheme),
            "head_shape": world.head_shape,
            "head_scale_years": np.round(head_scale, 4),
            "body_shape": world.body_shape,
            "body_scale_years": np.round(body_scale, 4),
            "chance_fail_quarter": np.round(-np.expm1(-risk), 6),
        }
    )


def _age(spells: Spells, valves: int, body: bool) -> Floats:
    age = np.full(valves, np.nan)
    rows = (spells.end == IN_SERVICE) & (spells.body == body)
    age[spells.valve[rows]] = np.maximum(spells.ended_age[rows], 0)
    return age


def _hazard(age: Floats, more: Floats, shape: float, scale: Floats) -> Floats:
    """Weibull cumulative hazard from an age over so many further effective years."""
    return ((age + more) / scale) ** shape - (age / scale) ** shape


def chains_table(events: Events, attempts: Attempts, stock: Stock, visits: pd.DataFrame) -> pd.DataFrame:
    """Every fault that came back, as far as the log shows it: home, root, dates, attempts, visits."""
    chained = visits[(visits["event"] >= 0) & (visits["root"] >= 0)]
    seen = chained.groupby("event").size()
    event = seen.index.to_numpy()
    tries = np.bincount(attempts.event, minlength=events.valve.size)[event]
    valve = events.valve[event]
    return pd.DataFrame(
        {
            "event": event,
            "home_id": stock.homes.table["home_id"].iloc[stock.home[valve]].to_numpy(),
            "valve_id": stock.valve_id.iloc[valve].to_numpy(),
            "system": draw.words(stock.annexe[valve].astype(np.int64), ("main", "annexe")),
            "root": draw.words(events.root[event], CHAIN_ROOTS),
            "mode": draw.words(events.mode[event], MODES),
            "shown": draw.dates(events.shown[event]),
            "attempts": tries,
            "visits": seen.to_numpy(),
        }
    )


def faults_table(faults: pd.DataFrame, stock: Stock, visits: pd.DataFrame) -> pd.DataFrame:
    """Every planted fault that the books can show, by the rule that should see it: home, valve (if one), rule."""
    home_id = stock.homes.table["home_id"]
    of_valves = pd.DataFrame(
        {
            "home_id": home_id.iloc[stock.home[faults["valve"]]].to_numpy(),
            "valve_id": stock.valve_id.iloc[faults["valve"]].to_numpy(),
            "rule": faults["rule"],
        }
    )
    measured = home_id.isin(visits.loc[visits["store_temp_c"].notna(), "home_id"])
    cool = home_id[measured & (stock.homes.store_c < 60)]
    return pd.concat([of_valves, pd.DataFrame({"home_id": cool, "rule": "store-too-cool"})], ignore_index=True)


def visits_table(visits: pd.DataFrame, stock: Stock) -> pd.DataFrame:
    """What each visit was really about: the event (-1 for none), valve, failure and root."""
    return pd.DataFrame(
        {
            "visit_id": visits["visit_id"],
            "event": visits["event"],
            "valve_id": draw.words(visits["valve"].to_numpy(), list(stock.valve_id)),
            "mode": draw.words(visits["mode"].to_numpy(), MODES),
            "root": draw.words(visits["root"].to_numpy(), CHAIN_ROOTS),
        }
    )


def planted_table(world: World, stock: Stock, seed: int, as_of: dt.date) -> pd.DataFrame:
    """Names and values of every planted number, one a row."""
    pairs: list[tuple[str, object]] = [("seed", seed), ("as_of", as_of)]
    for spec in dataclasses.fields(world):
        value = getattr(world, spec.name)
        nested = value.items() if isinstance(value, Mapping) else [("", value)]
        pairs += [(f"{spec.name}.{key}".rstrip("."), item) for key, item in nested]
    pairs += [
        ("bad_scheme", stock.homes.scheme_names[stock.homes.bad_scheme]),
        ("bad_batch", BATCH_CODE),
        ("bad_batch_valves_at_first", int(stock.bad_batch.sum())),
    ]
    return pd.DataFrame({"name": [name for name, _ in pairs], "value": [str(value) for _, value in pairs]})
