"""Filling the teams' weeks: ranked visits, each into the earliest week of a suitable team with room."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.plan.slots import open_to

Whole = npt.NDArray[np.int64]

NOWHERE: Final = -1
_CRUMB: Final = 1e-9  # hours: sums of decimal hours may miss by this much


def fill(hours: npt.NDArray[np.float64], patches: pd.Series, slots: pd.DataFrame) -> Whole:
    """Return for each visit, in the order given, the place of its slot in `slots`, or `NOWHERE`.

    A visit goes into the earliest week with room for the whole of it, of a team that works its patch or has none; in
    the same week its own patch's team comes first, then the team's name. A home without a patch goes to any team.
    Where visits come shortest first, more hours never push one out.
    """
    room = slots["hours"].to_numpy(dtype=np.float64, copy=True)
    place = np.full(len(hours), NOWHERE, dtype=np.int64)
    lines = {patch: open_to(slots, patch) for patch in patches.unique()}
    for visit, (needed, patch) in enumerate(zip(hours, patches, strict=True)):
        line = lines[patch]
        fits = room[line] >= needed - _CRUMB
        if fits.any():
            slot = line[fits.argmax()]
            room[slot] -= needed
            place[visit] = slot
    return place
