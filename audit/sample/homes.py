"""The invented homes: schemes, patches, addresses, and what every valve of a home shares."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from audit.sample import draw
from audit.sample.draw import DAYS_A_YEAR, Bools, Floats, Ints
from audit.sample.world import World

TREES = (
    "Alder", "Ash", "Aspen", "Beech", "Birch", "Cedar", "Cherry", "Cypress", "Elder", "Elm", "Fir", "Hawthorn",
    "Hazel", "Holly", "Juniper", "Larch", "Laurel", "Lime", "Maple", "Oak", "Pine", "Poplar", "Rowan", "Willow",
)  # fmt: skip
ENDINGS = ("Court", "House", "Close", "Gardens", "Rise", "Lodge", "Terrace", "Place", "Walk", "Mews", "Green", "Way")
PATCHES = ("North", "South", "East", "West")
INWARD = "ABDEFGHJLNPQRSTUWXYZ"  # letters that the second half of a postcode uses
ACCESS = ("Key safe, call first", "Ring before arrival", "Side gate", "Mornings only", "Fob from the office")
HOMES_A_SCHEME = 60
COOL_STORES = 0.12  # share of homes whose store is set too low

LAYOUTS = ("mid_position", "diverter", "zones_2", "zones_3", "zones_4", "zones_4_radiators")
LAYOUT_SHARE = (0.14, 0.06, 0.30, 0.30, 0.10, 0.10)
VALVES_IN = np.array([1, 1, 2, 3, 4, 4])

LOCATION_SHARE = {
    "airing_cupboard": 0.45,
    "boiler_cupboard": 0.20,
    "kitchen": 0.10,
    "utility_room": 0.08,
    "loft": 0.07,
    "garage": 0.04,
    "floor_void": 0.02,
    "plant_room": 0.02,
    "other": 0.02,
}
LOCATION_MEAN_C = np.array([42.0, 44.0, 26.0, 27.0, 24.0, 18.0, 22.0, 38.0, 24.0])
LOCATION_SD_C = np.array([4.0, 4.0, 3.0, 3.0, 5.0, 4.0, 3.0, 4.0, 4.0])


@dataclass(frozen=True)
class Homes:
    """The canonical table, and hidden arrays with one entry a home."""

    table: pd.DataFrame
    scheme: Ints
    patch: Ints
    layout: Ints
    location: Ints
    temp_c: Floats  # true air temperature at the valves
    hot: Bools  # planted hot cupboard
    store_c: Floats  # true temperature of the hot water store
    first_body: Floats  # day on which the first bodies went in
    check_due: Floats
    bad_scheme: int
    scheme_names: tuple[str, ...]


def build_homes(homes: int, seed: int, as_of: float, world: World) -> Homes:
    """Invent `homes` homes as they stand on the as-of day (days since 1970)."""
    rng = draw.stream(seed, 1)
    scheme, names = _schemes(homes, rng)
    built = as_of - DAYS_A_YEAR * (1 + (world.oldest_years - 1) * rng.random(len(names)))
    patch = (rng.permutation(len(names)) % len(PATCHES))[scheme]
    location = draw.pick(rng, homes, list(LOCATION_SHARE.values()))
    hot = (location <= 1) & (rng.random(homes) < world.hot_share)
    spread = rng.standard_normal(homes)
    temp = np.where(hot, 58 + 4 * spread, LOCATION_MEAN_C[location] + LOCATION_SD_C[location] * spread)
    check_due = as_of + rng.integers(-10, 356, homes)
    return Homes(
        table=_table(homes, scheme, names, patch, check_due, as_of, rng),
        scheme=scheme,
        patch=patch,
        layout=draw.pick(rng, homes, LAYOUT_SHARE),
        location=location,
        temp_c=np.clip(temp, 5, 78),
        hot=hot,
        store_c=np.where(rng.random(homes) < COOL_STORES, 56.5, 62.5) + 0.5 * rng.standard_normal(homes),
        first_body=_first_bodies(built[scheme], as_of, rng),
        check_due=check_due,
        bad_scheme=int(np.argmin(np.abs(np.bincount(scheme) - world.scheme_homes))),
        scheme_names=names,
    )


def _schemes(homes: int, rng: np.random.Generator) -> tuple[Ints, tuple[str, ...]]:
    """The scheme of each home (homes of a scheme stand together) and the schemes' names."""
    count = max(1, min(homes, max(4, homes // HOMES_A_SCHEME)))
    edges = np.cumsum(0.5 + rng.random(count))
    scheme = np.searchsorted(edges / edges[-1], (np.arange(homes) + 0.5) / homes).astype(np.int64)
    plain = [f"{tree} {ending}" for tree in TREES for ending in ENDINGS]
    order = rng.permutation(len(plain))
    names = [
        plain[order[i % len(plain)]] + (f" {i // len(plain) + 1}" if i >= len(plain) else "") for i in range(count)
    ]
    return scheme, tuple(names)


def _first_bodies(built: Floats, as_of: float, rng: np.random.Generator) -> Floats:
    """The day of each home's first bodies: with the scheme, or (two in five) at a later refit."""
    with_scheme = built + 300 * rng.random(built.size)
    refit = built + (as_of - 90 - built) * rng.random(built.size)
    day = np.where(rng.random(built.size) < 0.6, with_scheme, refit)
    return np.floor(np.minimum(day, as_of - 30))


def _table(
    homes: int,
    scheme: Ints,
    names: tuple[str, ...],
    patch: Ints,
    check_due: Floats,
    as_of: float,
    rng: np.random.Generator,
) -> pd.DataFrame:
    number = np.arange(1, homes + 1)
    in_scheme = number - np.r_[0, np.cumsum(np.bincount(scheme, minlength=len(names)))[:-1]][scheme]
    inward = [f"ZZ99 {i // 400 % 10}{INWARD[i // 20 % 20]}{INWARD[i % 20]}" for i in range(len(names))]
    east = 400_000 + rng.integers(0, 40_000, len(names))
    north = 300_000 + rng.integers(0, 40_000, len(names))
    renewal = np.floor(as_of + DAYS_A_YEAR * (0.5 + 14.5 * rng.random(homes)))
    return pd.DataFrame(
        {
            "home_id": draw.numbered("H", number, max(5, len(str(homes)))),
            "uprn": draw.numbered("9990", number, 8),
            "address": draw.joined(pd.Series(in_scheme).astype("str"), " ", draw.words(scheme, names)),
            "postcode": draw.words(scheme, inward),
            "scheme": draw.words(scheme, names),
            "patch": draw.words(patch, PATCHES),
            "easting": (east[scheme] + rng.integers(-200, 201, homes)).astype(float),
            "northing": (north[scheme] + rng.integers(-200, 201, homes)).astype(float),
            "priority_household": draw.yes_no(rng.random(homes) < 0.08),
            "gas_check_due": draw.dates(check_due),
            "heating_renewal_due": draw.dates(draw.only(renewal, rng.random(homes) < 0.6)),
            "access_note": draw.words(draw.pick(rng, homes, (0.9, *[0.02] * 5)) - 1, ACCESS),
        }
    )
