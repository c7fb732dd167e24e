"""A line chart with intervals as inline SVG: each line has its own dashes and its name at its end, bands lie behind.

Heights are pixels and widths shares of the room, as in `reports.svg`, so that text keeps its size on any screen.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from markupsafe import Markup

from reports.svg import frame

TALL: Final = 200  # pixels of the plot
TOP: Final = 20  # pixels above it
NAMES: Final = 160  # pixels right of it, for the names
APART: Final = 17  # pixels between two names
GRIDLINES: Final = 4
DASHES: Final = ("", "9 5", "2 4")
COLOURS: Final = ("#37607f", "#8a3b00", "#3f6b2a")


@dataclass(frozen=True, slots=True)
class Line:
    """One line: its name, its values from left to right, the limits of their intervals, and what it says in words."""

    label: str
    values: Sequence[float]
    low: Sequence[float]
    high: Sequence[float]
    text: str


def lines(identity: str, title: str, rows: Sequence[Line], unit: str = "") -> Markup:
    """Draw lines over the years 1, 2, 3 …, in the order of DASHES, at most three.

    Args:
        identity: Unique on the page.
        title: What the chart shows.
        rows: The lines.
        unit: What stands before a number, such as £.
    """
    marks = _marks(min(min(row.low) for row in rows), max(max(row.high) for row in rows))
    years = len(rows[0].values)
    ends = _apart([_height(row.values[-1], marks) for row in rows])
    drawn = [
        *(_gridline(mark, marks) for mark in marks),
        Markup('<svg x="0" y="0" width="100%" height="{}" viewBox="0 0 {} {}" preserveAspectRatio="none">').format(
            TOP + TALL, max(years - 1, 1), TOP + TALL
        ),
    ]
    drawn += [_band(row, marks, colour) for row, colour in zip(rows, COLOURS, strict=False)]
    for row, colour, dash in zip(rows, COLOURS, DASHES, strict=False):
        drawn += [_path(row.low, marks, colour, dash, 0.8), _path(row.high, marks, colour, dash, 0.8)]
        drawn.append(_path(row.values, marks, colour, dash, 2.4))
    drawn += [Markup("</svg>"), *(_mark(mark, marks, unit) for mark in marks), _years(years)]
    drawn += [
        _name(row.label, end, colour, dash) for row, end, colour, dash in zip(rows, ends, COLOURS, DASHES, strict=False)
    ]
    description = "; ".join(f"{row.label}: {row.text}" for row in rows)
    return frame(identity, title, description, TOP + TALL + 26, Markup("").join(drawn), beside=NAMES)


def _marks(low: float, high: float) -> list[float]:
    """Round numbers for the gridlines; they begin at 0 unless everything lies far above it."""
    begin = 0.0 if low < high / 2 else low
    step = _round_up((high - begin) / GRIDLINES or 1.0)
    first = math.floor(begin / step) * step
    count = math.ceil((high - first) / step - 1e-9)
    return [first + place * step for place in range(max(count, 1) + 1)]


def _round_up(step: float) -> float:
    """The next number of 1, 2, 2.5, 5 times a power of ten."""
    power = 10.0 ** math.floor(math.log10(step))
    return next(power * times for times in (1, 2, 2.5, 5, 10) if power * times >= step * (1 - 1e-9))


def _height(value: float, marks: Sequence[float]) -> float:
    """Pixels from the top."""
    return TOP + TALL * (1 - (value - marks[0]) / (marks[-1] - marks[0]))


def _apart(heights: Sequence[float]) -> list[float]:
    """Move names that would lie on each other apart, in their order from the top; all stay in sight."""
    order = sorted(range(len(heights)), key=lambda place: heights[place])
    moved = list(heights)
    for before, place in pairwise(order):
        moved[place] = max(moved[place], moved[before] + APART)
    over = max(0.0, max(moved) - (TOP + TALL))
    return [height - over for height in moved]


def _gridline(mark: float, marks: Sequence[float]) -> Markup:
    line = '<line x1="0" x2="100%" y1="{0:.1f}" y2="{0:.1f}" stroke="#cbd2d9"/>'
    return Markup(line).format(_height(mark, marks))


def _mark(mark: float, marks: Sequence[float], unit: str) -> Markup:
    """The number of a gridline, over whatever is drawn there."""
    text = '<text x="0" y="{:.1f}" class="value over">{}{:,.10g}</text>'
    return Markup(text).format(_height(mark, marks) - 4, unit, mark)


def _years(years: int) -> Markup:
    text = Markup('<text x="{:.2f}%" y="{}" text-anchor="{}">{}</text>')
    named = sorted({1, years} | set(range(10, years - 4, 10)))
    drawn = [
        text.format(
            100 * (year - 1) / max(years - 1, 1),
            TOP + TALL + 18,
            "start" if year == 1 else "middle",
            "year 1" if year == 1 else year,
        )
        for year in named
    ]
    return Markup("").join(drawn)


def _points(values: Sequence[float], marks: Sequence[float]) -> list[str]:
    return [f"{place} {_height(value, marks):.1f}" for place, value in enumerate(values)]


def _band(row: Line, marks: Sequence[float], colour: str) -> Markup:
    edge = [*_points(row.low, marks), *reversed(_points(row.high, marks))]
    return Markup('<path d="M{}Z" fill="{}" fill-opacity="0.1"/>').format(" L".join(edge), colour)


def _path(values: Sequence[float], marks: Sequence[float], colour: str, dash: str, width: float) -> Markup:
    return Markup(
        '<path d="M{}" fill="none" stroke="{}" stroke-width="{}" stroke-dasharray="{}" '
        'vector-effect="non-scaling-stroke"/>'
    ).format(" L".join(_points(values, marks)), colour, width, dash or "none")


def _name(label: str, height: float, colour: str, dash: str) -> Markup:
    """The name of a line beside its end, behind a piece of the line itself."""
    return Markup(
        '<svg x="100%" y="{:.1f}" width="{}" height="{}" overflow="visible"><line x1="6" x2="34" y1="8" y2="8" '
        'stroke="{}" stroke-width="2.4" stroke-dasharray="{}"/><text x="40" y="12">{}</text></svg>'
    ).format(height - 8, NAMES, APART, colour, dash or "none", label)
