"""The invented valves: what each is, where it hangs, and the hidden facts that decide how long it lasts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from audit.sample import draw
from audit.sample.draw import Bools, Floats, Ints
from audit.sample.homes import VALVES_IN, Homes
from audit.sample.world import World

KINDS = ("zone", "zone_changeover", "mid_position", "diverter")
WIRES = np.array([5.0, 6.0, 5.0, 3.0])
CIRCUITS = ("heating", "heating_2", "heating_3", "underfloor", "hot_water", "both")
CIRCUIT_OF = np.array(  # by layout and place in the home; -1 is no valve
    [[5, -1, -1, -1], [5, -1, -1, -1], [0, 4, -1, -1], [0, 1, 4, -1], [0, 1, 3, 4], [0, 1, 2, 4]]
)
ARRANGEMENTS = ("mid_position", "diverter", "two_port_zones")
MAKES = ("Make A", "Make B", "Make C")
MAKE_SHARE = (0.5, 0.3, 0.2)
BATCH_MAKE, BATCH_CODE = 0, "A-1403"  # the bad batch
BATCH_FROM, BATCH_UNTIL = 2012, 2016  # its valves were fitted in these years


@dataclass(frozen=True)
class Stock:
    """Hidden arrays with one entry a valve, in the order of the register."""

    homes: Homes
    home: Ints  # row of the home
    place: Ints  # 0.. within the home
    valve_id: pd.Series[str]
    kind: Ints  # of KINDS, as rightly fitted
    circuit: Ints  # of CIRCUITS
    three_port: Bools
    annexe: Bools  # belongs to the home's second heating system
    size_mm: Floats
    make: Ints
    motor_replaceable: Bools
    first_detachable: Bools  # of the first body's head; later ones all come off
    isolation: Bools
    temp_c: Floats
    speed: Floats  # effective years a year, of the head
    bad_batch: Bools  # of the first body
    bad_scheme: Bools
    first_body: Floats

    def __len__(self) -> int:
        return self.home.size

    @property
    def side(self) -> Ints:
        """What the valve does for the household: 0 heating, 1 hot water, 2 mid-position, 3 diverter."""
        return np.where(self.kind >= 2, self.kind, np.where(self.circuit == 4, 1, 0))


def build_stock(homes: Homes, seed: int, world: World) -> Stock:
    """Invent the valves of all homes."""
    rng = draw.stream(seed, 2)
    count = VALVES_IN[homes.layout]
    home = np.repeat(np.arange(count.size), count)
    place = np.arange(home.size) - np.repeat(np.cumsum(count) - count, count)
    layout = homes.layout[home]
    kind = np.where(layout == 0, 2, np.where(layout == 1, 3, (rng.random(count.size) < 0.25)[home].astype(int)))
    make = _makes(homes, home, rng)
    year = homes.first_body.astype("datetime64[D]").astype("datetime64[Y]").astype(int)[home] + 1970
    temp = homes.temp_c[home] + 0.4 * rng.standard_normal(home.size)
    return Stock(
        homes=homes,
        home=home,
        place=place,
        valve_id=_ids(homes.table["home_id"], home, place),
        kind=kind.astype(np.int64),
        circuit=CIRCUIT_OF[layout, place],
        three_port=layout <= 1,
        annexe=(layout >= 4) & (place >= 2) & (rng.random(count.size) < 0.1)[home],
        size_mm=_sizes(count.size, home, CIRCUIT_OF[layout, place], rng),
        make=make,
        motor_replaceable=make < 2,
        first_detachable=rng.random(home.size) > np.where(year < 2005, 0.35, 0.03),
        isolation=(rng.random(count.size) < 0.3)[home],
        temp_c=temp,
        speed=np.exp2(np.maximum(temp - world.reference_c, 0) / world.doubling_c),
        bad_batch=_bad_batch(make, year, world, rng),
        bad_scheme=homes.scheme[home] == homes.bad_scheme,
        first_body=homes.first_body[home],
    )


def _ids(home_id: pd.Series[str], home: Ints, place: Ints) -> pd.Series[str]:
    number = home_id.str[1:].iloc[home].reset_index(drop=True)
    return draw.joined("V", number, "-", draw.words(place, ("1", "2", "3", "4")))


def _makes(homes: Homes, home: Ints, rng: np.random.Generator) -> Ints:
    """The make of each valve: mostly the one that its scheme was built with."""
    of_scheme = draw.pick(rng, len(homes.scheme_names), MAKE_SHARE)[homes.scheme]
    own = draw.pick(rng, homes.scheme.size, MAKE_SHARE)
    return np.where(rng.random(homes.scheme.size) < 0.6, of_scheme, own)[home]


def _sizes(homes: int, home: Ints, circuit: Ints, rng: np.random.Generator) -> Floats:
    of_home = np.where(rng.random(homes) < 0.15, 28.0, 22.0)[home]
    return np.where((circuit == 3) & (rng.random(home.size) < 0.4), 15.0, of_home)


def _bad_batch(make: Ints, year: Ints, world: World, rng: np.random.Generator) -> Bools:
    """The planted batch: so many valves of one make, fitted over a few years wherever the delivery went."""
    order = rng.random(make.size)
    order[(make != BATCH_MAKE) | (year < BATCH_FROM) | (year > BATCH_UNTIL)] = 2
    wanted = round(world.batch_share * make.size)
    limit = np.sort(order)[wanted] if wanted < make.size else 2.0
    return order < min(limit, 2.0)


def arrangement(stock: Stock) -> Ints:
    """Places in ARRANGEMENTS."""
    return np.minimum(stock.homes.layout[stock.home], 2)
