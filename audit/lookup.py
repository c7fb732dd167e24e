"""Where ids stand in a register of many: by whole numbers, since comparing texts one by one takes most of the time."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray


def places(ids: pd.Series[str], register: pd.Series[str]) -> NDArray[np.int64]:
    """Return the row of each id in a register, shape (len(ids),); -1 where it is missing or not registered.

    Args:
        ids: Any ids, some missing.
        register: Ids, each once, none missing.
    """
    both = pd.concat([register, ids], ignore_index=True)
    code = pd.factorize(both)[0][len(register) :]  # a register's row is its code
    return np.where(code < len(register), code, -1)


def order_of(ids: pd.Series[str]) -> NDArray[np.int64]:
    """Return a number for each id that rises with the ids, shape (len(ids),); -1 where it is missing."""
    return np.asarray(pd.factorize(ids, sort=True)[0], dtype=np.int64)
