"""How far the years ahead may differ from what is expected: lives not surely known, and chance.

The lives are drawn from the normal approximation of the fit on log scale (or of the policy's spread, where a life is
assumed), shared by the whole stock; given the lives, failures of a year are counted as so many independent chances,
one a valve. Planned work is taken as expected. Draws are evenly spread (Latin hypercube), so that few are enough.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from audit.forecast.flow import Floats

DRAWS: Final = 40  # of lives
CHANCES: Final = 50  # of failures, for each draw of lives
LEVEL: Final = 0.80  # of every interval
SEED: Final = 0


def drawn_doubt(life: pd.DataFrame) -> Floats:
    """Return how far the lives may be off: (1 + DRAWS, 4), log shape and scale of head, then body; the first row is 0.

    Args:
        life: The `life` table; the rows of the whole stock give the standard errors and their correlation.
    """
    whole = [life.loc[life["part"].eq(part)].iloc[0] for part in ("head", "body")]
    errors = np.array([[float(row[f"log_{name}_error"]) for name in ("shape", "scale")] for row in whole])
    together = np.nan_to_num([float(row["log_correlation"]) for row in whole])
    normal = _even_normal(4)
    mixed = normal.copy()
    for place, correlation in enumerate(together):
        mixed[:, 2 * place + 1] = (
            correlation * normal[:, 2 * place] + np.sqrt(1 - correlation**2) * normal[:, 2 * place + 1]
        )
    return np.concatenate([np.zeros((1, 4)), mixed * np.nan_to_num(errors.ravel())])


def _even_normal(columns: int) -> Floats:
    """Standard normal numbers (DRAWS, columns), one in each of DRAWS equally likely stretches, in random order."""
    from scipy.special import ndtri

    rng = np.random.default_rng(SEED)
    order = rng.permuted(np.tile(np.arange(DRAWS), (columns, 1)), axis=1).T
    return np.asarray(ndtri((order + 0.5) / DRAWS))


def by_chance(expected: Floats, valves: int) -> Floats:
    """Return counts drawn by chance around expected ones, (CHANCES, ...) of the shape given, over the expected."""
    share = np.clip(expected / max(valves, 1), 0.0, 1.0)
    drawn = np.random.default_rng(SEED + 1).binomial(valves, share, size=(CHANCES, *expected.shape))
    return np.divide(drawn, expected, out=np.ones(drawn.shape), where=expected > 0)


def limits(drawn: Floats, expected: Floats) -> tuple[Floats, Floats]:
    """Return the limits of the interval, widened where what is expected lies outside.

    `drawn` is (chances, policies, draws, ...), `expected` (policies, ...).
    """
    low, high = np.quantile(drawn, [(1 - LEVEL) / 2, (1 + LEVEL) / 2], axis=(0, 2))
    return np.minimum(low, expected), np.maximum(high, expected)
