"""Charts of the page as inline SVG. Positions are shares of the width, so that text keeps its size on any screen.

Each chart carries a title and a description for readers who do not see it, and each bar its value in words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from markupsafe import Markup, escape

ROW: Final = 36  # pixels a bar with its label
TALL: Final = 150  # pixels of standing columns
FILL, MARKED, REST = "#37607f", "#8a3b00", "#e4e7eb"


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar: its name, length, the value in words, and a mark for what lies past a limit."""

    label: str
    value: float
    text: str
    marked: bool = False
    of: float = 0.0  # what the bar is a part of, drawn behind it


def bars(identity: str, title: str, rows: Sequence[Bar]) -> Markup:
    """Draw lying bars, each beneath its label and value.

    Args:
        identity: Unique on the page; ties the title to the drawing.
        title: What the chart shows.
        rows: The bars from top to bottom.
    """
    longest = max((max(row.value, row.of) for row in rows), default=0.0) or 1.0
    drawn = Markup("").join(_bar(row, place * ROW, longest) for place, row in enumerate(rows))
    description = "; ".join(f"{row.label}: {row.text}" for row in rows)
    return frame(identity, title, description, max(len(rows), 1) * ROW, drawn)


def _bar(row: Bar, top: int, longest: float) -> Markup:
    mark = Markup('<tspan class="mark">▲ </tspan>') if row.marked else Markup("")
    behind = _rect(0, top + 20, row.of / longest, REST) if row.of else Markup("")
    return (
        Markup('<text x="0" y="{}">{}{}</text>').format(top + 14, mark, row.label)
        + Markup('<text x="100%" y="{}" text-anchor="end" class="value">{}</text>').format(top + 14, row.text)
        + behind
        + _rect(0, top + 20, row.value / longest, MARKED if row.marked else FILL)
    )


def _rect(left: float, top: float, share: float, colour: str) -> Markup:
    shape = '<rect x="{:.2f}%" y="{:.0f}" width="{:.2f}%" height="10" fill="{}"/>'
    return Markup(shape).format(100 * left, top, 100 * max(share, 0.0), colour)


def columns(identity: str, title: str, rows: Sequence[Bar], every: int) -> Markup:
    """Draw standing columns with a name beneath every so many; `of` is the whole column, `value` its dark part.

    Args:
        identity: Unique on the page.
        title: What the chart shows.
        rows: The columns from left to right.
        every: Name each n-th column.
    """
    highest = max((row.of for row in rows), default=0.0) or 1.0
    step = 100.0 / max(len(rows), 1)
    drawn = [Markup('<text x="0" y="12" class="value">{:,.0f}</text>').format(highest)]
    drawn.append(Markup('<line x1="0" x2="100%" y1="18" y2="18" stroke="#cbd2d9"/>'))
    for place, row in enumerate(rows):
        left = place * step
        drawn.append(_column(left, step, row.of / highest, "#9fb8cc"))
        drawn.append(_column(left, step, row.value / highest, FILL))
        if place % every == 0:
            drawn.append(Markup('<text x="{:.2f}%" y="{}">{}</text>').format(left, TALL + 36, row.label))
    description = "; ".join(f"{row.label}: {row.text}" for row in rows)
    return frame(identity, title, description, TALL + 44, Markup("").join(drawn))


@dataclass(frozen=True, slots=True)
class Between:
    """One column between two limits, with its value in words and a mark where it lies beyond one."""

    label: str
    value: float
    low: float
    high: float
    text: str
    mark: str = ""


def columns_with_limits(identity: str, title: str, rows: Sequence[Between], every: int) -> Markup:
    """Draw standing columns, each with its own lower limit (dashed) and upper limit (solid), and ▲ or ▼ beyond one.

    Args:
        identity: Unique on the page.
        title: What the chart shows.
        rows: The columns from left to right.
        every: Name each n-th column.
    """
    highest = max((max(row.value, row.high) for row in rows), default=0.0) or 1.0
    step = 100.0 / max(len(rows), 1)
    drawn = [Markup('<text x="0" y="12" class="value">{:,.1f}</text>').format(highest)]
    for place, row in enumerate(rows):
        left = place * step
        drawn.append(_column(left, step, row.value / highest, "#9fb8cc"))
        drawn += [_level(left, step, share / highest, dash) for share, dash in ((row.high, "none"), (row.low, "3 2"))]
        if row.mark:
            above = 18 + TALL * (1 - max(row.value, row.high) / highest) - 4
            shape = '<text x="{:.2f}%" y="{:.1f}" class="mark">{}</text>'
            drawn.append(Markup(shape).format(left, max(above, 12.0), row.mark))
        if place % every == 0:
            drawn.append(Markup('<text x="{:.2f}%" y="{}">{}</text>').format(left, TALL + 36, row.label))
    description = "; ".join(f"{row.label}: {row.text}" for row in rows)
    return frame(identity, title, description, TALL + 44, Markup("").join(drawn))


def _level(left: float, step: float, share: float, dash: str) -> Markup:
    """A limit across one column."""
    shape = (
        '<line x1="{:.2f}%" x2="{:.2f}%" y1="{:.1f}" y2="{:.1f}" stroke="{}" stroke-width="1.5" stroke-dasharray="{}"/>'
    )
    height = 18 + TALL * (1 - share)
    return Markup(shape).format(left, left + step, height, height, "#8a3b00", dash)


def _column(left: float, step: float, share: float, colour: str) -> Markup:
    height = TALL * max(share, 0.0)
    shape = '<rect x="{:.2f}%" y="{:.1f}" width="{:.2f}%" height="{:.1f}" fill="{}"/>'
    return Markup(shape).format(left + 0.1 * step, 18 + TALL - height, 0.8 * step, height, colour)


def frame(identity: str, title: str, description: str, height: int, drawn: Markup, beside: int = 0) -> Markup:
    """Put a drawing on the page, with its title and description for those who do not see it.

    `beside`: pixels left free at its right, for names that lie beyond it.
    """
    width = f"calc(100% - {beside}px)" if beside else "100%"
    return Markup(
        '<svg role="img" aria-labelledby="{0}-t {0}-d" style="width:{5}" height="{1}">'
        '<title id="{0}-t">{2}</title><desc id="{0}-d">{3}</desc>{4}</svg>'
    ).format(identity, height, escape(title), escape(description), drawn, width)
