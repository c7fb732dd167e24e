"""Pipe sizes: inches are names of bores in the trade, and every body has one of the metric sizes."""

from __future__ import annotations

from typing import Final

import numpy as np

from audit.intake.values.parsed import Ints, Judged

# outside diameters of copper tube, mm (EN 1057), and the inch size that each took the place of; from memory, and
# common practice, no source
SIZES: Final = np.array([8.0, 10.0, 12.0, 15.0, 22.0, 28.0, 35.0, 42.0, 54.0])
BORES: Final = {9.525: 12.0, 12.7: 15.0, 19.05: 22.0, 25.4: 28.0, 31.75: 35.0, 38.1: 42.0, 50.8: 54.0}
CLOSE_MM: Final = 0.3  # a size in inches to two decimals is exact to 0.13 mm


def nearest_pipe(judged: Judged) -> None:
    """Put bores and sizes that were converted from another unit on the metric size they mean, and say so."""
    values = judged.values
    for bore, size in BORES.items():
        at = np.flatnonzero(np.isclose(values, bore, atol=1e-6))
        values[at] = size
        _say(judged, at, [f"{bore / 25.4:g} inch pipe is the {size:g} mm size"] * len(at))
    distance = np.abs(values[:, None] - SIZES)
    near = np.flatnonzero(np.isfinite(values) & (np.nan_to_num(distance, nan=9.0).min(axis=1) <= CLOSE_MM))
    size = SIZES[np.nan_to_num(distance[near], nan=9.0).argmin(axis=1)]
    off = size != values[near]
    _say(
        judged,
        near[off],
        [f"{v:.4g} mm is taken as the {s:g} mm size" for v, s in zip(values[near][off], size[off], strict=True)],
    )
    values[near] = size


def _say(judged: Judged, at: Ints, reasons: list[str]) -> None:
    judged.repaired.mask[at] = False  # the size says more than the conversion
    judged.repaired.add(at, reasons, "give the pipe size in mm: 15, 22 or 28")
