"""`planned-visits.ics` against RFC 5545: line ends, folding, escapes; and nothing personal in it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from reports.calendar_file import escaped, folded, write
from tests.reported import HOMES, SCRIPT, small_results


def lines(tmp_path: Path) -> list[str]:
    write(small_results(), tmp_path / "planned-visits.ics")
    text = (tmp_path / "planned-visits.ics").read_bytes().decode()
    assert text.endswith("\r\n")
    assert "\n" not in text.replace("\r\n", "")
    return text.replace("\r\n ", "").split("\r\n")


def test_one_event_a_planned_visit(tmp_path: Path) -> None:
    found = lines(tmp_path)
    assert found[:2] == ["BEGIN:VCALENDAR", "VERSION:2.0"]
    assert found.count("BEGIN:VEVENT") == found.count("END:VEVENT") == 2
    assert found.count("DTSTART;VALUE=DATE:20261005") == 2
    assert found.count("DTEND;VALUE=DATE:20261010") == 2  # the day after the last, section 3.6.1
    assert "SUMMARY:Valve visit\\, home H2: 1 h" in found
    uids = [line for line in found if line.startswith("UID:")]
    assert len(set(uids)) == 2
    assert found.count("DTSTAMP:20260930T000000Z") == 2


def test_nothing_personal(tmp_path: Path) -> None:
    text = "\n".join(lines(tmp_path))
    assert SCRIPT not in text
    assert not any(str(home[key]) in text for home in HOMES for key in ("address", "postcode"))


@pytest.mark.parametrize(
    ("text", "value"),
    [("a,b;c", "a\\,b\\;c"), ("back\\slash", "back\\\\slash"), ("two\nlines\r", "two lines "), ("plain", "plain")],
)
def test_text_is_escaped(text: str, value: str) -> None:
    assert escaped(text) == value


@pytest.mark.parametrize("text", ["x" * 75, "x" * 76, "x" * 300, "£" * 100, "a" * 74 + "£"])
def test_long_lines_are_folded(text: str) -> None:
    pieces = list(folded(text))
    assert all(len(piece.encode()) <= 75 for piece in pieces)
    assert re.sub("\n ", "", "\n".join(pieces)) == text
