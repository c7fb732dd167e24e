"""The age to reckon with for a head whose fitting date is not known.

Its body's date says only that it is at most that old: it may have been renewed since, and the older the body, the
likelier. With H(a, w) the chance that whatever head stands in the place a years after the body went in holds for w
years more, summed over the renewals that cannot be seen (`audit.life.renewal`), a head that has held for w years holds
for another year with the chance H(a, w + 1) / H(a, w). The even age is that of a head of known age with this chance.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.life.fit import LifeFit
from audit.life.grid import Floats, Grid, Ints
from audit.life.renewal import Counts, log_tables
from audit.life.watched import days
from audit.life.weibull import hazard_sum
from audit.model import Facts
from audit.threads import one_thread

CELLS = 120  # of the grid: a quarter of a year or so
YEAR_AHEAD = 1.0  # on the season's clock
HALVINGS = 50  # of the search, far below a day


def even_head_ages(fit: LifeFit, facts: Facts) -> Floats:
    """Return (valves,) the even age in effective years of each head of unknown date; NaN where there is no need.

    There is none where the register or a visit dates the head, or where its body went in while the log ran: a head
    renewed since would have left a visit. NaN too where nothing tells when the place was fitted out.
    """
    found = np.full(len(fit.pace), np.nan)
    asked = np.flatnonzero(has_even_age(fit, facts))
    if not len(asked):
        return found
    now = fit.season.years(days(pd.Series([facts.as_of])))[0]
    fast, head = fit.pace[asked], fit.head
    origin = fit.lives.head.openings["origin"].to_numpy(float)[asked] * fast
    watched, ahead = (now - fit.lives.first[asked]) * fast, YEAR_AHEAD * fast
    hazard = np.empty(len(asked))
    with one_thread():
        for of in pd.Series(head.row[asked]).groupby(head.row[asked]).indices.values():
            first = asked[of[0]]
            hazard[of] = _hazard(fit, head.shape[first], head.scale[first], origin[of], watched[of], ahead[of])
    found[asked] = age_with(hazard, ahead, head.shape[asked], head.scale[asked])
    return found


def has_even_age(fit: LifeFit, facts: Facts) -> npt.NDArray[np.bool_]:
    """Return (valves,) which heads have one; none where the shape is at most 1, see `age_with`."""
    opening = fit.lives.head.openings
    unseen = opening["age"].isna() & opening["origin"].notna()
    return np.asarray(_undated(facts, fit) & unseen.to_numpy() & (fit.head.shape > 1.0), dtype=bool)


def _undated(facts: Facts, fit: LifeFit) -> npt.NDArray[np.bool_]:
    """Heads without a date of their own or of a visit, whose bodies were there when the log began."""
    valves = facts.valves
    basis = valves["head_age_basis"]
    by_body = basis.eq("the body's date") & valves["head_fitted"].isna()
    older = fit.season.years(days(valves["body_since"])) <= fit.lives.first
    return np.asarray(basis.isna() | (by_body & older), dtype=bool)


def _hazard(fit: LifeFit, shape: float, scale: float, origin: Floats, watched: Floats, ahead: Floats) -> Floats:
    """Return the cumulative hazard over the years ahead of heads of one life (n,), all in effective years.

    `origin`: from the body's fitting to the log's start; `watched`: held since.
    """
    grid = Grid.over(origin.max(), (watched + ahead).max(), CELLS)
    nobody = np.zeros(grid.cells + 1)
    counts = Counts(grid, (), 1, fit.lives.head.unseen, nobody)
    table = log_tables(counts, shape, scale, {"opening_holds"})["opening_holds"]
    sooner, later = (between(table, grid.ages(origin), grid.spans(span)) for span in (watched, watched + ahead))
    return np.asarray(sooner - later)


def between(table: Floats, row: Floats, column: Floats) -> Floats:
    """Read a table between its entries by straight lines; row and column (n,) within it."""
    top, left = (np.minimum(x.astype(np.int64), n - 2) for x, n in zip((row, column), table.shape, strict=True))
    down, right = row - top, column - left

    def along(line: Ints) -> Floats:
        return np.asarray(table[line, left] * (1 - right) + table[line, left + 1] * right)

    return np.asarray(along(top) * (1 - down) + along(top + 1) * down)


def age_with(hazard: Floats, years: Floats, shape: npt.ArrayLike, scale: npt.ArrayLike) -> Floats:
    """Return the age (n,) at which the cumulative hazard over the next `years` is `hazard`.

    NaN where the shape is at most 1: hazard does not grow with age then, and no age can be told from it.
    """
    low, high = np.zeros(len(hazard)), np.full(len(hazard), 100.0) * scale
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        over = hazard_sum(middle + years, shape, scale) - hazard_sum(middle, shape, scale) > hazard
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    return np.where(np.asarray(shape) > 1.0, (low + high) / 2, np.nan)
