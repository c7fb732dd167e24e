"""`planned-visits.ics`: the planned visits for a calendar program (RFC 5545), one event a visit, no personal data.

An event lasts the working days of its week, since the plan says no day; it names home, hours and drain-down, and
neither address nor how to get in.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from schemas.results import Results

LINE: Final = 75  # octets of a content line, RFC 5545 section 3.1
WORKING_DAYS: Final = 5


def write(results: Results, path: Path) -> None:
    """Write the file; equal results give equal bytes, dated with the as-of date."""
    path.write_bytes("".join(f"{line}\r\n" for line in _lines(results)).encode())


def _lines(results: Results) -> Iterator[str]:
    visits = results.tables["planned-visits"]
    dated = visits.loc[visits["status"].eq("planned") & visits["week_starting"].notna()]
    columns = ["home_id", "week_starting", "team", "hours", "drain_down", "severity", "of_visits"]
    yield from ("BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//valve-audit//planned visits//EN", "CALSCALE:GREGORIAN")
    for row in dated[columns].to_dict("records"):
        for line in _event(row, results.as_of, results.quarter_start):
            yield from folded(line)
    yield "END:VCALENDAR"


def _event(row: dict[Any, Any], as_of: dt.date, begins: dt.date) -> Iterator[str]:
    start = row["week_starting"]
    first = max(start.date(), begins)  # of a week that has begun when the quarter starts
    which = f", {row['of_visits']}" if isinstance(row["of_visits"], str) and row["of_visits"] else ""
    drains = ", drains down" if row["drain_down"] == "yes" else ""
    name = f"{row['team']}|{row['home_id']}|{row['of_visits']}|{start:%Y%m%d}"
    yield "BEGIN:VEVENT"
    yield f"UID:{hashlib.sha256(name.encode()).hexdigest()[:32]}@valve-audit.invalid"
    yield f"DTSTAMP:{as_of:%Y%m%d}T000000Z"
    yield f"DTSTART;VALUE=DATE:{first:%Y%m%d}"
    yield f"DTEND;VALUE=DATE:{start + dt.timedelta(days=WORKING_DAYS):%Y%m%d}"
    yield "SUMMARY:" + escaped(f"Valve visit, home {row['home_id']}: {row['hours']:.4g} h{drains}{which}")
    yield "CATEGORIES:" + escaped(str(row["team"])) + "," + escaped(str(row["severity"]))
    yield "TRANSP:TRANSPARENT"
    yield "END:VEVENT"


def escaped(text: str) -> str:
    """A text value, RFC 5545 section 3.3.11; control characters, which it does not allow, become blanks."""
    plain = "".join(character if character >= " " and character != "\x7f" else " " for character in text)
    return plain.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")


def folded(line: str) -> Iterator[str]:
    """A content line in pieces of at most 75 octets, each later one behind a blank; characters stay whole."""
    piece = ""
    for character in line:
        if len((piece + character).encode("utf-8", "replace")) > LINE:
            yield piece
            piece = " "
        piece += character
    yield piece
