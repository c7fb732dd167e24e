"""Time of day in words and figures, with its zone."""

from __future__ import annotations

import re
from typing import Any, Final

import numpy as np
import pandas as pd

from audit.intake.values.parsed import Bools, Floats, Ints, Times

MINUTE_US: Final = 60_000_000
UK: Final = "Europe/London"
ZONED: Final = "given with a zone, read as the clock in the UK"
ZONES: Final = {"z": 0.0, "utc": 0.0, "gmt": 0.0, "bst": 60.0}
# a minus zone only after seconds: 10:00-12:00 is a time slot
_CLOCK: Final = re.compile(
    r"""^(?:at\s+|@\s*)?
    (?:(?P<h>\d{1,2})\s*[:.h]\s*(?P<m>\d{2})(?:[:.](?P<s>\d{2})(?:[.,](?P<f>\d{1,9}))?)?   # 14:35, 14.35, 14:35:07.5
      |(?P<h4>\d{2})(?P<m4>\d{2})(?P<s4>\d{2})?                                            # 1435, 143507
      |(?P<h12>\d{1,2})(?=\s*[ap]))                                                        # 2 pm
    \s*(?P<half>[ap]\.?\s?m\.?)?\s*(?:hrs?|hours|h)?\.?\s*
    (?P<zone>z|utc|gmt|bst|\+\d{2}:?(?:\d{2})?|(?<=:\d\d:\d\d)-\d{2}:?(?:\d{2})?)?$""",
    re.VERBOSE,
)


def clock_of(rest: Any) -> tuple[Ints, Floats, Bools]:
    """Read what follows dates: microseconds since midnight, zone in minutes east (NaN if none), and whether readable.

    `rest` is an arrow array of text in small letters, empty or null where nothing follows (midnight, readable).
    """
    encoded = rest.dictionary_encode()
    codes = np.asarray(encoded.indices.fill_null(-1).to_numpy(zero_copy_only=False), dtype=np.int64)
    read = [_read(text) for text in encoded.dictionary.to_pylist()]
    read.append((0, np.nan, True))  # the last answers for -1: nothing follows
    micros = np.array([r[0] for r in read], dtype=np.int64)[codes]
    zone = np.array([r[1] for r in read], dtype=np.float64)[codes]
    return micros, zone, np.array([r[2] for r in read], dtype=bool)[codes]


def _read(text: str) -> tuple[int, float, bool]:
    found = _CLOCK.match(text.strip(" ,-"))
    if not text.strip():
        return 0, np.nan, True
    if not found:
        return 0, np.nan, False
    part = found.groupdict()
    hour = int(part["h"] or part["h4"] or part["h12"])
    minute, second = int(part["m"] or part["m4"] or 0), int(part["s"] or part["s4"] or 0)
    half = (part["half"] or "")[:1]
    if half and hour <= 12:  # "14:35 pm" stays 14:35
        hour = hour % 12 + (12 if half == "p" else 0)
    if minute > 59 or second > 59 or hour > 24 or (hour == 24 and minute + second > 0):
        return 0, np.nan, False
    micros = ((hour * 60 + minute) * 60 + second) * 1_000_000 + int((part["f"] or "").ljust(6, "0")[:6] or 0)
    return micros, _zone(part["zone"]), True


def _zone(text: str | None) -> float:
    if not text:
        return np.nan
    if text in ZONES:
        return ZONES[text]
    digits = text[1:].replace(":", "").ljust(4, "0")
    return (int(digits[:2]) * 60 + int(digits[2:])) * (-1.0 if text[0] == "-" else 1.0)


def to_uk(times: Times, zone: Floats) -> Times:
    """Clock times of the United Kingdom, for times that were written with a zone; the others stay."""
    zoned = np.isfinite(zone) & ~np.isnat(times)
    if not zoned.any():
        return times
    utc = times[zoned] - (zone[zoned] * MINUTE_US).astype(np.int64).astype("timedelta64[us]")
    result = times.copy()
    result[zoned] = pd.DatetimeIndex(utc).tz_localize("UTC").tz_convert(UK).tz_localize(None).to_numpy("datetime64[us]")
    return result
