"""The flip point of a choice in words: how much dearer, or the body how much older, before another is best."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.choice.prices import pounds
from audit.choice.texts import written


def flips(option: str, dearer: npt.NDArray[np.float64], until: pd.Series) -> pd.Series:
    """Return the sentence for rows where `option` is chosen, else empty.

    Args:
        option: The option of these rows.
        dearer: How much dearer the next best option is, GBP; missing where the option is not chosen, infinite where
            no other is possible, and negative where a shared visit decides.
        until: Age of the body in years from which another option would be best; negative where there is none.
    """

    def write(row: dict[str, Any]) -> str:
        if row["dearer"] is None:
            return ""
        if np.isinf(row["dearer"]):
            return "no other option is possible"
        if row["dearer"] < 0:
            return "best only because the home's visit is shared"
        price = f"the next best gets {pounds(row['dearer'])} cheaper"
        limits = [price if option == "leave" else f"it gets {pounds(row['dearer'])} dearer, or {price}"]
        limits += [f"the body is older than {row['until']:g} years"] if row["until"] > 0 else []
        return f"stays best unless {' or '.join(limits)}"

    return written(pd.DataFrame({"dearer": np.round(dearer, 2), "until": until.to_numpy()}), write)
