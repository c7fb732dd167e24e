"""How sure a reading is to be over an upper limit, in words, after the guard bands of ILAC-G8:09/2019.

With the expanded uncertainty U (k=2, about 95 %) as guard band w, a reading is clearly within up to limit - U,
close below up to the limit, over within the uncertainty up to limit + U, and clearly over beyond.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt
    import pandas as pd

CLEARLY_WITHIN: Final = "clearly within"
CLOSE_BELOW: Final = "close below"
OVER_WITHIN_UNCERTAINTY: Final = "over within the uncertainty"
CLEARLY_OVER: Final = "clearly over"


def upper_verdict(reading: pd.Series, limit: float, uncertainty: float) -> npt.NDArray[np.object_]:
    """Say in words how each reading stands to an upper limit; all three in the same unit.

    Exactly the limit is close below, not over. With no uncertainty there are only "clearly within" and "clearly over".

    Args:
        reading: Readings, shape (n,); missing gives an empty word.
        limit: The upper limit.
        uncertainty: Expanded uncertainty, plus or minus, at least 0.

    Reference:
        ILAC-G8:09/2019, section 4: non-binary statements with guard band w = U.
    """
    value = reading.to_numpy("float64")
    return np.select(
        [value > limit + uncertainty, value > limit, value > limit - uncertainty, value <= limit - uncertainty],
        [CLEARLY_OVER, OVER_WITHIN_UNCERTAINTY, CLOSE_BELOW, CLEARLY_WITHIN],
        default="",
    ).astype(object)
