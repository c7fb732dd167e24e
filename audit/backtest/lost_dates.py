"""Heads whose date was overwritten since the earlier day: where they would have stood in the ranking with it.

Nearly all of them were renewed because they failed. To rank them all by one middling age would put the failed valves in
one place of the ranking: the score would hang on which side of the limit that place lies. So for the score alone, and
never for the ranking, their ages are drawn back: with b(h) the chance that the head of the place was h years old when
the log began, from the renewals that cannot be seen, and f, S the life's density and survival, an age weighs
b(h) f(h + t) where the head failed t years later and b(h) S(h + t) where it was renewed for another reason then. Each
draw gives a ranking, and what the rankings catch is averaged (multiple imputation: Rubin 1987, Multiple Imputation for
Nonresponse in Surveys, chapter 3, which wants the outcome among what is known).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.life import LifeFit
from audit.life.grid import Floats, Grid, Ints
from audit.life.renewal import head_stay, renewals_of
from audit.life.replaced import replaced
from audit.life.unseen_age import CELLS, even_head_ages
from audit.life.watched import days
from audit.model import Facts
from audit.policy import Policy

DRAWN: Final = 20  # rankings with dates drawn back
SEED: Final = 1


@dataclass(frozen=True)
class Lost:
    """Heads without their date: `row` (n,) in `then.valves`, until when they lasted (days since 1970), and how.

    `until` (n,), `failed` (n,).
    """

    row: Ints
    until: Floats
    failed: npt.NDArray[np.bool_]


def lost_heads(then: Facts, fit: LifeFit, registered: pd.Series, after: Facts, policy: Policy) -> Lost:
    """Find the heads of unknown date on the earlier day whose date was overwritten since.

    Args:
        then: The facts of the earlier day.
        fit: The lives as fitted then.
        registered: The register's head date today, by valve_id.
        after: The facts of today, for how the heads ended.
        policy: The repeat window.
    """
    date = registered.reindex(then.valves["valve_id"])
    row = np.flatnonzero(~np.isnan(even_head_ages(fit, then)) & (date > then.as_of).to_numpy())
    events, _ = replaced(after, policy)
    events = events.loc[events["day"] > days(pd.Series([then.as_of]))[0]].drop_duplicates("valve")
    events = events.set_index(after.valves["valve_id"].to_numpy()[events["valve"]])
    events = events.loc[events["what"].ne("motor")].reindex(then.valves["valve_id"].to_numpy()[row])
    seen = days(date)[row]
    return Lost(
        row=row,
        until=np.fmin(events["day"].to_numpy(float), seen),
        failed=events["head_failed"].eq(True).to_numpy(),
    )


def ages_drawn(lost: Lost, then: Facts, fit: LifeFit) -> Floats:
    """Return (DRAWN, n) ages on the earlier day, in calendar years; the order of rows does not matter."""
    found = np.empty((DRAWN, len(lost.row)))
    lot = _lots(then.valves["valve_id"].to_numpy(str)[lost.row])
    now = fit.season.years(days(pd.Series([then.as_of])))[0]
    held = now - fit.lives.first[lost.row]
    ahead = fit.season.years(lost.until) - fit.lives.first[lost.row]
    origin = fit.lives.head.openings["origin"].to_numpy(float)[lost.row]
    for group in np.unique(fit.head.row[lost.row]):
        of = np.flatnonzero(fit.head.row[lost.row] == group)
        row = lost.row[of]
        fast, life = fit.pace[row], (float(fit.head.shape[row[0]]), float(fit.head.scale[row[0]]))
        start = _starts(fit, life, origin[of] * fast, ahead[of] * fast, lost.failed[of], lot[:, of])
        found[:, of] = start / fast + held[of]
    return found


def _starts(
    fit: LifeFit, life: tuple[float, float], origin: Floats, ahead: Floats, failed: npt.NDArray[np.bool_], lot: Floats
) -> Floats:
    """Draw ages when the log began, in effective years (DRAWN, n), of one group of heads."""
    grid = Grid.over(origin.max(), ahead.max(), CELLS)
    began = renewals_of(head_stay(grid, *life, fit.lives.head.unseen).leaving)
    alive, ends = grid.masses(*life)
    place, later = (np.rint(x).astype(np.int64)[:, None] for x in (grid.ages(origin), grid.spans(ahead)))
    since = np.arange(grid.cells + 1)  # cells from the body to the head
    age = place - since
    end = np.maximum(age, 0) + later
    weight = np.where(age >= 0, began * np.where(failed[:, None], ends[end], alive[end]), 0.0)
    chance = np.cumsum(weight, axis=1)
    own = np.arange(len(origin))
    edges = (chance / chance[:, -1:] + own[:, None]).ravel()
    after = np.searchsorted(edges, lot + own) - own * (grid.cells + 1)
    return np.asarray(np.maximum(place[:, 0] - after, 0) * grid.step)


def _lots(names: npt.NDArray[np.str_]) -> Floats:
    """Return (DRAWN, n) numbers from 0 to 1 that hang on each valve's name and not on its row."""
    order = np.argsort(names, kind="stable")
    found = np.empty((DRAWN, len(names)))
    found[:, order] = np.random.default_rng(SEED).random((DRAWN, len(names)))
    return found
