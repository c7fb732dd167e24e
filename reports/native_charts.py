"""Charts of a workbook's own kind: drawn by the spreadsheet program from the cells of a sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from openpyxl.chart import BarChart, LineChart, Reference, Series
from openpyxl.chart.data_source import StrRef
from openpyxl.chart.label import DataLabelList
from openpyxl.chart.series import SeriesLabel
from openpyxl.chart.shapes import GraphicalProperties
from openpyxl.chart.text import RichText
from openpyxl.drawing.line import LineProperties
from openpyxl.drawing.text import CharacterProperties, Paragraph, ParagraphProperties

from reports.workbook import Layout

SERIES: Final = ("37607F", "B5651D", "6B8E4E", "7A6A8A")  # dark enough for 3:1 against white
WIDTH, HEIGHT = 17.0, 8.5  # cm


def bars(
    source: Layout,
    title: str,
    category: str,
    values: Sequence[str],
    axes: tuple[str, str],
    *,
    rows: int = 0,
    lying: bool = False,
    stacked: bool = False,
    first_row: int = 0,
    colours: Sequence[str] = SERIES,
) -> Any:
    """Make a bar chart from columns of a table.

    Args:
        source: The table's place.
        title: What the chart shows.
        category: Column with the bars' names.
        values: Columns with the bars' lengths; their headers name the series.
        axes: Titles of the category and the value axis, with units.
        rows: How many rows to draw, 0 for all.
        lying: Bars lie, first row on top: for long names.
        stacked: Stack the series.
        first_row: First row to draw, 0 for the first of the table.
        colours: One a series.
    """
    chart = BarChart()
    chart.type = "bar" if lying else "col"
    chart.grouping = "stacked" if stacked else "clustered"
    chart.overlap = 100 if stacked else 0
    chart.gapWidth = 40
    first = first_row or source.header_row + 1
    _add_series(chart, source, category, values, first, _last(source, first, rows), colours)
    _label_bars(chart, many=len(values) > 1)
    _dress(chart, title, axes, legend=len(values) > 1)
    if lying:
        chart.x_axis.scaling.orientation = "maxMin"
        chart.y_axis.crosses = "max"  # keeps the value axis at the bottom
        chart.height = max(HEIGHT, 2.6 + 0.62 * (_last(source, first, rows) - first + 1))
    return chart


def lines(source: Layout, title: str, category: str, values: Sequence[str], axes: tuple[str, str]) -> Any:
    """Make a line chart over dates or names, one line a column of `values`."""
    chart = LineChart()
    _add_series(chart, source, category, values, source.header_row + 1, source.last_row, SERIES)
    _dress(chart, title, axes, legend=len(values) > 1)
    for series, dash in zip(chart.series, ("solid", "dash", "sysDot", "dashDot"), strict=False):
        series.smooth = False
        series.graphicalProperties.line.width = 22_000
        series.graphicalProperties.line.dashStyle = dash
    return chart


def place(chart: Any, sheet: Any, anchor: str, width: float = WIDTH) -> None:
    """Put a chart on a sheet with its top left corner at a cell."""
    chart.width = width
    sheet.add_chart(chart, anchor)


def _last(source: Layout, first: int, rows: int) -> int:
    return min(source.last_row, first + rows - 1) if rows else source.last_row


def _add_series(
    chart: Any, source: Layout, category: str, values: Sequence[str], first: int, last: int, colours: Sequence[str]
) -> None:
    for name, colour in zip(values, colours, strict=False):
        column = source.columns[name]
        series = Series(Reference(source.sheet, min_col=column, min_row=first, max_row=last))
        header = Reference(source.sheet, min_col=column, min_row=source.header_row)
        series.tx = SeriesLabel(strRef=StrRef(f=str(header)))
        series.graphicalProperties = GraphicalProperties(solidFill=colour)
        series.graphicalProperties.line.solidFill = colour
        chart.series.append(series)
    chart.set_categories(Reference(source.sheet, min_col=source.columns[category], min_row=first, max_row=last))


def _label_bars(chart: Any, *, many: bool) -> None:
    if many:
        return
    chart.dataLabels = DataLabelList()
    chart.dataLabels.showVal = True
    for off in ("showSerName", "showCatName", "showLegendKey", "showPercent", "showLeaderLines"):
        setattr(chart.dataLabels, off, False)


def _dress(chart: Any, title: str, axes: tuple[str, str], *, legend: bool) -> None:
    chart.title = title
    chart.title.overlay = False
    chart.x_axis.title, chart.y_axis.title = axes
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.y_axis.scaling.min = 0
    chart.y_axis.majorGridlines.spPr = GraphicalProperties(ln=_thin())
    chart.height, chart.width = HEIGHT, WIDTH
    if legend:
        chart.legend.position = "b"
    else:
        chart.legend = None
    _small(chart)


def _thin() -> Any:
    return LineProperties(solidFill="E4E7EB", w=6_350)


def _small(chart: Any) -> None:
    """Titles in a size that leaves room for the bars."""

    def sized(points: float, bold: bool) -> Any:
        return CharacterProperties(sz=int(points * 100), b=bold, solidFill="1F2933")

    for holder, points, bold in (
        (chart.title, 12, True),
        (chart.x_axis.title, 9, False),
        (chart.y_axis.title, 9, False),
    ):
        for paragraph in holder.tx.rich.p:
            paragraph.pPr = ParagraphProperties(defRPr=sized(points, bold))
            for run in paragraph.r or ():
                run.rPr = sized(points, bold)
    body = RichText(p=[Paragraph(pPr=ParagraphProperties(defRPr=sized(9, False)), endParaRPr=sized(9, False))])
    chart.x_axis.txPr = body
    chart.y_axis.txPr = body
