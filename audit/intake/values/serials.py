"""Dates as spreadsheets count them: days since 1900 or 1904, and the fraction of the day."""

from __future__ import annotations

from typing import Final

import numpy as np

from audit.intake.values.parsed import Floats, Times

# ECMA-376 part 1, 18.17.4.1: the 1900 system counts a day, 29 February 1900 = 60, that never was, so that from
# 1 March 1900 = 61 on the count runs from 30 December 1899; the 1904 system starts with 1 January 1904 = 0.
START_1900: Final = np.datetime64("1899-12-30", "us")
START_1904: Final = np.datetime64("1904-01-01", "us")
SHIFT_BEFORE: Final = 60  # below the day that never was, the count runs one day later
DAY_US: Final = 86_400_000_000


def from_serials(serials: Floats, *, epoch_1904: bool = False) -> Times:
    """Dates (datetime64[us], to the second) of spreadsheet day numbers; NaT for what is no date in that system."""
    known = np.isfinite(serials) & (serials >= (0 if epoch_1904 else 1)) & (serials < 2_958_466)  # to the year 9999
    if not epoch_1904:
        known &= np.floor(serials) != SHIFT_BEFORE
    safe = np.where(known, serials, 100.0)
    if not epoch_1904:
        safe = np.where(safe < SHIFT_BEFORE, safe + 1, safe)
    whole = np.floor(safe)
    seconds = np.round((safe - whole) * 86_400).astype(np.int64)  # a float serial is exact to about a microsecond
    span = (whole.astype(np.int64) * DAY_US + seconds * 1_000_000).astype("timedelta64[us]")
    days = (START_1904 if epoch_1904 else START_1900) + span
    return np.where(known, days, np.datetime64("NaT", "us"))


def to_serial(date: np.datetime64, *, epoch_1904: bool = False) -> float:
    """The spreadsheet day number of a date from 1 March 1900 on."""
    return float((date - (START_1904 if epoch_1904 else START_1900)) / np.timedelta64(1, "D"))
