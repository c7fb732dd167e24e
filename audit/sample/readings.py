"""What an engineer's meter shows at a head, sound or with one part at fault (the trade's wiring, common practice)."""

from __future__ import annotations

import numpy as np
import pandas as pd

from audit.sample import draw
from audit.sample.draw import Bools, Ints
from audit.sample.lives import MODES

POSITIONS = ("open", "closed", "a", "b", "mid")
WIRES_READ = ("brown_live", "white_live", "grey_live", "orange_live")
SOUND = len(MODES)  # the state after all modes: nothing wrong
_OPEN, _SHUT, _A, _B, _MID, _X = 0, 1, 2, 3, 4, -1

# Rows: the modes in order, then sound. Columns: own demand, other demand, brown, white, grey, orange, position.
# Two-port: brown drives; grey feeds the end switch for good, orange follows it at full travel.
_ZONE = [
    [1, _X, 1, _X, 1, 0, _SHUT],  # motor
    [1, _X, 1, _X, 1, 0, _OPEN],  # end switch does not make
    [0, _X, 0, _X, 1, 1, _SHUT],  # end switch welded
    [0, _X, 0, _X, 1, 1, _OPEN],  # spring
    [1, _X, 1, _X, 1, 0, _SHUT],  # gear
    [1, _X, 1, _X, 1, 0, _SHUT],  # body seized shut
    [0, _X, 0, _X, 1, 1, _OPEN],  # body seized open
    [1, _X, 1, _X, 1, 1, _OPEN],  # leak: the head is sound
    [0, _X, 0, _X, 1, 0, _SHUT],  # passing: the head is sound
    [1, _X, 1, _X, 1, 1, _OPEN],  # planned
    [1, _X, 0, _X, 1, 0, _SHUT],  # wiring upstream
    [1, _X, 1, _X, 1, 1, _OPEN],  # sound
]
# Mid-position; own demand is heating. White drives, grey says hot water is satisfied, rest is B; orange is fed in the
# head at A, and by the cylinder's thermostat while hot water is called for.
_MIDPOS = [
    [1, 0, _X, 1, 1, 0, _B],
    [1, 0, _X, 1, 1, 0, _A],
    [0, 0, _X, 0, 1, 1, _A],
    [0, 1, _X, 0, 0, 1, _A],
    [1, 0, _X, 1, 1, 0, _B],
    [1, 0, _X, 1, 1, 0, _B],
    [0, 1, _X, 0, 0, 1, _MID],
    [1, 0, _X, 1, 1, 1, _A],
    [0, 1, _X, 0, 0, 1, _B],
    [1, 1, _X, 1, 0, 1, _MID],
    [1, 0, _X, 0, 1, 0, _B],
    [1, 1, _X, 1, 0, 1, _MID],
]
# Diverter; own demand is hot water, brown drives from the rest position A to B.
_DIVERTER = [
    [1, 0, 1, _X, _X, _X, _A],
    [1, 0, 1, _X, _X, _X, _A],
    [1, 0, 1, _X, _X, _X, _A],
    [0, 1, 0, _X, _X, _X, _B],
    [1, 0, 1, _X, _X, _X, _A],
    [1, 0, 1, _X, _X, _X, _A],
    [0, 1, 0, _X, _X, _X, _B],
    [1, 0, 1, _X, _X, _X, _B],
    [0, 1, 0, _X, _X, _X, _A],
    [1, 0, 1, _X, _X, _X, _B],
    [1, 0, 0, _X, _X, _X, _A],
    [1, 0, 1, _X, _X, _X, _B],
]
SHOWS = np.array([_ZONE, _ZONE, _MIDPOS, _DIVERTER])  # by side: heating, hot water, mid-position, diverter
OWN_IS_HEATING = np.array([True, False, True, False])
UNREAD = 0.12  # share of single readings that nobody took


def read_wires(side: Ints, state: Ints, taken: Bools, rng: np.random.Generator) -> dict[str, pd.Series]:
    """The reading columns of `visits`, missing where nothing was measured.

    Args:
        side: What the valve does: 0 heating, 1 hot water, 2 mid-position, 3 diverter.
        state: Place in MODES, or SOUND.
        taken: Whether the engineer measured at all.
        rng: The stream to draw from.
    """
    shown = SHOWS[side, state]
    shown[~taken] = -1
    shown[rng.random(shown.shape) < UNREAD] = -1
    own, other = shown[:, 0], shown[:, 1]
    heating = OWN_IS_HEATING[side]
    columns = {
        "demand_heating": _live(np.where(heating, own, other)),
        "demand_hot_water": _live(np.where(heating, other, own)),
    }
    columns |= {name: _live(shown[:, 2 + place]) for place, name in enumerate(WIRES_READ)}
    return columns | {"position": draw.words(shown[:, 6], POSITIONS)}


def _live(code: Ints) -> pd.Series[str]:
    return draw.words(code, ("no", "yes"))
