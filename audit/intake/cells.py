"""Find, in the bytes of a sheet, how far its cells reach and which of them hold an error or an uncomputed formula."""

from __future__ import annotations

import re
from collections.abc import Mapping

import numpy as np

from audit.intake.sheet import letters

Marks = Mapping[tuple[int, int], str]  # (row, column) from 0 → what stands there, such as #N/A
UNCOMPUTED = "#NO VALUE"  # how a formula whose value the file does not hold is shown; no spreadsheet writes it
QUOTED_REF = re.compile(rb"""\br\s*=\s*["']([A-Z]*)([0-9]+)["']""")
REF = re.compile(rb"""\sr\s*=\s*["']([A-Z]+)([0-9]+)["']""")
VALUE = re.compile(rb"<(?:\w+:)?v[^>]*>([^<]*)<")
EMPTY_RESULTS = (b"</f></c>", b"</f><v></v>", b"</f><v/>", b"</f><v />")
ERROR_TYPES = (b't="e"', b"t='e'")
QUOTE = 0x22
LAST_ROW = 1_048_576  # ECMA-376, 18.3.1.73
REACH = 12  # letters and digits of a reference that are looked at


class Found:
    """What was seen of a sheet's cells so far; give it the bytes piece by piece."""

    def __init__(self) -> None:
        self.rows = self.columns = self.cells = 0
        self.far = "A1"
        self.marks: dict[tuple[int, int], str] = {}
        self._rest = b""

    def take(self, piece: bytes) -> int:
        """Look at the next bytes; returns how many wait for the end of their cell or tag."""
        data = self._rest + piece
        cut = _last_whole(data)
        self._look(data[:cut])
        self._rest = data[cut:]
        return len(self._rest)

    def end(self) -> None:
        """Look at what is left."""
        self._look(self._rest)
        self._rest = b""

    def _look(self, data: bytes) -> None:
        row, column = _references(data)
        held = column > 0
        self.cells += int(held.sum())
        if held.any():
            lowest, widest = int(row[held].max()), int(column.max())
            if lowest > self.rows or widest > self.columns:
                self.rows, self.columns = max(lowest, self.rows), max(widest, self.columns)
                self.far = f"{letters(min(self.columns, 10**6) - 1)}{self.rows}"
        if len(row) and int(row.max()) > LAST_ROW:
            self.rows = int(row.max())
            self.far = f"in row {self.rows}"
        self._find_marks(data)

    def _find_marks(self, data: bytes) -> None:
        for sign in ERROR_TYPES:
            for place in _places(data, sign):
                self._mark(data, place, "")
        for sign in EMPTY_RESULTS if b"</f><" in data else ():
            for place in _places(data, sign):
                self._mark(data, place, UNCOMPUTED)

    def _mark(self, data: bytes, place: int, text: str) -> None:
        start = max(data.rfind(b"<c ", 0, place + 1), data.rfind(b":c ", 0, place + 1))
        opened = data.find(b">", start)
        reference = REF.search(data, start, opened)
        if start < 0 or reference is None:
            return
        if text == UNCOMPUTED:
            if b't="str"' in data[start:opened]:  # a formula whose result is an empty text
                return
        elif place < opened:
            value = VALUE.search(data, opened, data.find(b"</", opened) + 400)
            text = value.group(1).decode("utf-8", "replace") if value else "#ERROR"
        else:  # the sign stood in a text
            return
        self.marks[int(reference.group(2)) - 1, _column(reference.group(1)) - 1] = text


def _last_whole(data: bytes) -> int:
    """The place up to which the bytes hold whole cells and whole tags."""
    opened = max(data.rfind(b"<c "), data.rfind(b":c "))
    tag = data.rfind(b"<")
    if opened < 0:
        return max(tag, 0)
    start = data.rfind(b"<", 0, opened + 1)
    end = data.find(b">", opened)
    closed = end > 0 and (data[end - 1 : end] == b"/" or data.find(b"c>", end) > 0)
    return tag if closed and tag > end else start


def _places(data: bytes, sign: bytes) -> list[int]:
    found = []
    place = data.find(sign)
    while place >= 0:
        found.append(place)
        place = data.find(sign, place + 1)
    return found


def _references(data: bytes) -> tuple[np.ndarray, np.ndarray]:
    """Read every r="…" in the bytes as row and column, both from 1; column 0 where there are no letters."""
    if b"r='" in data or b"r =" in data:
        pairs = [(float(digits), _column(name)) for name, digits in QUOTED_REF.findall(data)]
        both = np.array(pairs, dtype=np.float64).reshape(-1, 2)
        return both[:, 0], both[:, 1]
    codes = np.frombuffer(data + bytes(REACH), dtype=np.uint8)
    starts = np.flatnonzero((codes[:-2] == 0x72) & (codes[1:-1] == 0x3D) & (codes[2:] == QUOTE)) + 3
    starts = starts[starts > 3]
    starts = starts[codes[starts - 4] <= 0x20]
    row, column = np.zeros(len(starts)), np.zeros(len(starts))
    inside = np.ones(len(starts), dtype=bool)
    for step in range(REACH):
        code = codes[starts + step]
        inside &= code != QUOTE
        if not inside.any():
            break
        column = np.where(inside & (code >= 65) & (code <= 90), column * 26 + code - 64.0, column)
        row = np.where(inside & (code >= 48) & (code <= 57), row * 10 + code - 48.0, row)
    return row, column


def _column(name: bytes) -> int:
    number = 0
    for letter in name[:8]:
        number = number * 26 + letter - 64
    return number
