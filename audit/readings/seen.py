"""What each visit measured, joined to its valve and turned into places on the axes of the wiring models."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.lookup import places
from audit.readings.wiring import AXES, MODELS, YES_NO

WIRES: Final = ("brown_live", "white_live", "grey_live", "orange_live")
DEMANDS: Final = ("demand_heating", "demand_hot_water")
NO, YES, UNREAD = 0, 1, 2
HEATING_SIDE, WATER_SIDE, NO_SIDE = 0, 1, 2
UNKNOWN_VALVE, UNKNOWN_KIND, WRONG_KIND = "", "?", "!"  # instead of a model
Ints = NDArray[np.int64]


def with_readings(visits: pd.DataFrame) -> pd.DataFrame:
    """The visits on which a wire or the position was read."""
    return visits.loc[visits[[*WIRES, "position"]].notna().any(axis=1)]


def seen(visits: pd.DataFrame, valves: pd.DataFrame) -> pd.DataFrame:
    """Turn readings into numbers, one row a visit.

    Args:
        visits: `facts.visits` with readings.
        valves: `facts.valves`.

    Returns:
        `model` (a key of MODELS, or why there is none), `side`, DEMANDS as read, and every axis of AXES: the place of
        the value, or the number of values where it was not read or does not say it of this valve.
    """
    about = _about(visits, valves)
    codes: dict[str, Any] = {name: _codes(visits[name], YES_NO) for name in (*DEMANDS, *WIRES)}
    codes["position"] = _codes(visits["position"], AXES["position"])
    codes["lever"] = _codes(_lever_as_found(visits), AXES["lever"])
    model = _model(about)
    side = _side(about, model)
    demands = _demands(model, side, about["shared"].to_numpy(dtype=bool), *(codes[name] for name in DEMANDS))
    return pd.DataFrame({"model": model, "side": side, **codes, **demands}, index=visits.index)


def _about(visits: pd.DataFrame, valves: pd.DataFrame) -> pd.DataFrame:
    """The register's word on each visit's valve; `shared` where another valve of its system feeds the same side."""
    side = [pd.factorize(valves[name])[0] for name in ("home_id", "system")]
    system = pd.factorize(side[0] * (side[1].max(initial=0) + 1) + side[1])[0]
    of_side = 2 * system + valves["circuit"].eq("hot_water").to_numpy()
    shared = np.bincount(of_side)[of_side] > 1
    columns = ["head_kind", "ports", "arrangement", "circuit", "changeover_in_use"]
    place = places(visits["valve_id"], valves["valve_id"])
    found = valves[columns].reset_index(drop=True).reindex(place).set_axis(visits.index)
    return found.assign(shared=np.append(shared, False)[place], known=place >= 0)


def _model(about: pd.DataFrame) -> NDArray[np.object_]:
    kind, two, three = about["head_kind"], about["ports"].eq(2), about["ports"].eq(3)
    zone = kind.isin(("zone", "zone_changeover"))
    spare = kind.eq("zone_changeover") & about["changeover_in_use"].eq("no")
    by_pipework = three & kind.isna() & about["arrangement"].isin(("mid_position", "diverter"))
    wrong = (two & kind.isin(("mid_position", "diverter"))) | (three & zone)
    return np.select(
        [
            ~about["known"], wrong, spare | (kind.isna() & two), by_pipework, kind.isna() | ~kind.isin(MODELS),
        ],
        [UNKNOWN_VALVE, WRONG_KIND, "zone_spare_white", about["arrangement"], UNKNOWN_KIND],
        kind,
    )  # fmt: skip


def _side(about: pd.DataFrame, model: NDArray[np.object_]) -> Ints:
    """Whose demand drives the head; a two-port head's circuit tells."""
    circuit = about["circuit"]
    own = np.select([circuit.eq("hot_water"), circuit.isna() | circuit.eq("both")], [WATER_SIDE, NO_SIDE], HEATING_SIDE)
    return np.select([model == "mid_position", model == "diverter"], [HEATING_SIDE, WATER_SIDE], own)


def _demands(model: NDArray[np.object_], side: Ints, shared: Any, heating: Ints, water: Ints) -> dict[str, Ints]:
    """What the demands say of this head: its own, any other's, and a further heating zone's.

    Where several valves of the system feed the same side, a demand of that side does not say which of them it is for.
    """
    both_no, both_yes = (heating == NO) & (water == NO), (heating == YES) & (water == YES)
    of_side = np.select([side == HEATING_SIDE, side == WATER_SIDE], [heating, water], UNREAD)
    across = np.select([side == HEATING_SIDE, side == WATER_SIDE], [water, heating], UNREAD)
    own = np.where(shared & (of_side == YES), UNREAD, of_side)
    own = np.select([both_no, both_yes & ~shared], [NO, YES], own)
    three_port = (model == "mid_position") | (model == "diverter")
    unsure = ~three_port & shared & (across == NO) & ~both_no
    other = np.select([both_no, both_yes, unsure], [NO, YES, UNREAD], across)
    further = np.where(heating == NO, NO, UNREAD)
    return {
        "own": own,
        "other": other,
        "elsewhere": np.where((model == "mid_position") & shared, further, NO),
    }


def _lever_as_found(visits: pd.DataFrame) -> pd.Series:
    """The lever column tells how it was found or left: a reset one was found latched, one on a new body is unread."""
    lever = visits["lever"].mask(visits["action"].eq("reset_lever"), "latched")
    return lever.mask(visits["action"].eq("full") & lever.eq("free"))


def _codes(values: pd.Series, words: tuple[str, ...]) -> Ints:
    return np.asarray(pd.Categorical(values, categories=list(words)).codes % (len(words) + 1), dtype=np.int64)
