"""Marks in a user's own workbook: a comment, a border and a fill on each cell to mend, and a sheet that lists them.

A mark never rests on colour alone: a returned cell has a thick border, a repaired one a dashed border, and the comment
begins with the word. Marks of an earlier copy are taken away first; a cell then has neither fill nor border, since what
it had before is not on record.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, Final

from openpyxl.cell import Cell, MergedCell
from openpyxl.comments import Comment
from openpyxl.styles import Border, Font, PatternFill, Side
from openpyxl.styles.borders import DEFAULT_BORDER
from openpyxl.styles.cell_style import StyleArray
from openpyxl.styles.fills import DEFAULT_EMPTY_FILL
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.hyperlink import Hyperlink

from reports.look import Field, body_cell, cell, clean_text, fill, header_height, header_look, row_heights
from schemas.results import MARKS_TITLE

if TYPE_CHECKING:
    import pandas as pd

NAME: Final = "Marks"
AUTHOR: Final = "valve-audit"
SIGNED: Final = f"({AUTHOR})"
OURS: Final = re.compile(rf"(?:\A|\n\n)(?:Returned|Repaired): (?:(?!\n\n).)*\n{re.escape(SIGNED)}\s*\Z", re.DOTALL)
LOOKS: Final = {  # effect → fill, border, what it means
    "returned": (PatternFill("solid", fgColor="F4B6B6"), Side(style="thick", color="A61B1B"), "the row was not used"),
    "repaired": (
        PatternFill("solid", fgColor="FCE3B4"),
        Side(style="mediumDashed", color="9A5B00"),
        "the row was used, without this value or with it put right",
    ),
}
FIELDS: Final = (
    Field("what", "What", width=11),
    Field("cell", "Cell", width=9),
    Field("sheet", "Sheet", width=18),
    Field("row", "Row", "whole", 9),
    Field("column", "Column", width=19),
    Field("value", "What stood there", "prose", 22),
    Field("reason", "Why it could not be used as it stood", "prose", 46),
    Field("mend", "How to mend it", "prose", 40),
)
HEADER_ROW: Final = 7
LONGEST: Final = 2_000  # characters of ours in one comment
LINKS: Final = 65_000  # a sheet of the file format holds 65,530 links
WIDE, LINE, PER_LINE = 330, 17, 46  # of a comment's box: pixels, pixels a line, characters a line


def take_away(book: Any) -> None:
    """Take away the marks and the list of an earlier copy; every comment left gets a box that its text fits in."""
    for sheet in [sheet for sheet in book.worksheets if sheet["A1"].value == MARKS_TITLE]:
        book.remove(sheet)
    fills = {(look.fill_type, look.fgColor.rgb) for look, _, _ in LOOKS.values()}
    for sheet in book.worksheets:
        for marked in [found for found in sheet._cells.values() if found._comment is not None]:
            text = OURS.sub("", marked.comment.text)
            if text != marked.comment.text and (marked.fill.fill_type, marked.fill.fgColor.rgb) in fills:
                marked.fill, marked.border = DEFAULT_EMPTY_FILL, DEFAULT_BORDER
            marked.comment = _note(text, marked.comment.author) if text else None


def mark(book: Any, problems: pd.DataFrame) -> None:
    """Mark each cell named by `sheet` and `cell`; returned counts before repaired where a cell is both.

    Args:
        book: The workbook, changed in place.
        problems: effect, sheet, cell, reason, mend; no value missing.
    """
    told: dict[tuple[str, str], dict[str, str]] = {}  # sheet and cell → what to say there → effect
    sheets = set(book.sheetnames)
    for name, place, effect, reason, mend in zip(
        *(problems[column].tolist() for column in ("sheet", "cell", "effect", "reason", "mend")), strict=True
    ):
        if name in sheets and place:
            key = (name, _carrier(book[name], place).coordinate)
            told.setdefault(key, {})[f"{effect.capitalize()}: {_sentence(reason)} Mend: {_sentence(mend)}"] = effect
    looks: dict[tuple[Any, ...], StyleArray] = {}  # look before and effect → look with the mark
    for (name, place), lines in told.items():
        effect = "returned" if "returned" in lines.values() else "repaired"
        _mark(book[name][place], effect, "\n".join(lines), looks)


def _sentence(text: str) -> str:
    plain = " ".join(text.split())
    return plain if plain.endswith((".", "?", "!")) else f"{plain}."


def _carrier(sheet: Any, place: str) -> Any:
    """The cell that can carry a mark: the first of a merged area; a new cell looks as its row or column does."""
    found = sheet[place]
    if isinstance(found, MergedCell):
        area = next(area for area in sheet.merged_cells.ranges if place in area)
        return sheet.cell(area.min_row, area.min_col)
    if found.value is None and not found.has_style:
        row = sheet.row_dimensions.get(found.row)
        beside = [row] if row is not None and row.has_style else _columns_over(sheet, found.column)
        for dimension in beside[:1]:
            found._style = StyleArray(dimension._style)
    return found


def _columns_over(sheet: Any, column: int) -> list[Any]:
    dimensions = sheet.column_dimensions.values()
    return [d for d in dimensions if d.min and d.min <= column <= (d.max or d.min) and d.has_style]


def _mark(carrier: Any, effect: str, text: str, looks: dict[tuple[Any, ...], StyleArray]) -> None:
    told = clean_text(text if len(text) <= LONGEST else f"{text[:LONGEST]} …") + f"\n{SIGNED}"
    own = carrier.comment
    carrier.comment = _note(f"{own.text}\n\n{told}", own.author) if own else _note(told, AUTHOR)
    before = (effect, *(carrier._style or ()))
    if before not in looks:
        _dress(carrier, effect)
        looks[before] = carrier._style
    carrier._style = StyleArray(looks[before])


def _dress(made: Any, effect: str) -> None:
    look, side, _ = LOOKS[effect]
    made.fill, made.border = look, Border(left=side, right=side, top=side, bottom=side)


def _note(text: str, author: str) -> Comment:
    lines = sum(1 + len(line) // PER_LINE for line in text.split("\n"))
    return Comment(text, author, height=LINE * (lines + 1), width=WIDE)


def list_marks(book: Any, problems: pd.DataFrame, said: Sequence[str], as_of: dt.date) -> None:
    """Put a sheet first that lists every mark, with a link to its cell.

    Args:
        book: The workbook, changed in place.
        problems: effect, sheet, row, cell, column, value, reason, mend; in the order to be listed.
        said: What the reader must know of this copy.
        as_of: The as-of date.
    """
    sheet = book.create_sheet(NAME, 0)  # where the user has one of that name, a number is added
    widths = [column.width for column in FIELDS]
    for place, width in enumerate(widths, 1):
        sheet.column_dimensions[get_column_letter(place)].width = width
    counts = problems["effect"].value_counts()
    sheet.append([cell(sheet, MARKS_TITLE, "title")])
    sheet.append([cell(sheet, _how(as_of), "note")])
    for effect, (_, _, meaning) in LOOKS.items():
        sheet.append([_sample(sheet, effect), None, cell(sheet, f"{counts.get(effect, 0):,} × {meaning}", "note")])
    sheet.append([cell(sheet, " ".join(said), "warning")])
    sheet.append([])
    sheet.append([cell(sheet, column.header, header_look(column)) for column in FIELDS])
    sheet.row_dimensions[HEADER_ROW].height = header_height(FIELDS, widths)
    rows = problems.assign(what=problems["effect"].str.capitalize())
    _append(sheet, rows, row_heights(rows, FIELDS, widths), set(book.sheetnames))
    _set_up(book, sheet, HEADER_ROW + max(len(rows), 1))


def _how(as_of: dt.date) -> str:
    return (
        f"As of {as_of.day} {as_of:%B %Y}. Mend the marked cells in your own workbook, or in this copy after moving it "
        "elsewhere (the next run writes it anew); then run the audit on it. This sheet is passed over."
    )


def _sample(sheet: Any, effect: str) -> Any:
    made = cell(sheet, effect.capitalize(), "left")
    _dress(made, effect)
    return made


def _append(sheet: Any, rows: pd.DataFrame, heights: Iterable[float], sheets: set[str]) -> None:
    """Append the rows; styles are made once a column, since making one for every cell takes minutes."""
    plain = [body_cell(sheet, column, strong=False)._style for column in FIELDS]
    linked = body_cell(sheet, FIELDS[1], strong=False)
    linked.font = Font(name=linked.font.name, size=linked.font.size, color="0B5394", underline="single")
    samples = {effect: _sample(sheet, effect)._style for effect in LOOKS}
    names = [column.name for column in FIELDS]
    values = zip(*(rows[name].tolist() for name in [*names, "effect"]), strict=True)
    for number, (row, height) in enumerate(zip(values, heights, strict=True), HEADER_ROW + 1):
        made = [
            fill(Cell(sheet, number, n, style_array=s), v) for n, (s, v) in enumerate(zip(plain, row, strict=False), 1)
        ]
        made[0]._style = samples[row[-1]]
        if row[2] in sheets and number <= LINKS:
            made[1]._style = linked._style
            quoted = str(row[2]).replace("'", "''")
            made[1].hyperlink = Hyperlink(ref="", location=f"'{quoted}'!{row[1]}")
        sheet.append(made)
        sheet.row_dimensions[number].height = height


def _set_up(book: Any, sheet: Any, last_row: int) -> None:
    book.active = sheet
    for other in book.worksheets:
        other.sheet_view.tabSelected = other is sheet  # more than one selected sheet would be edited together
    for view in book.views:
        view.firstSheet = 0
    last = get_column_letter(len(FIELDS))
    sheet.sheet_view.showGridLines = False
    sheet.freeze_panes = f"C{HEADER_ROW + 1}"
    sheet.auto_filter.ref = f"A{HEADER_ROW}:{last}{last_row}"
    sheet.print_title_rows = f"{HEADER_ROW}:{HEADER_ROW}"
    sheet.page_setup.paperSize, sheet.page_setup.orientation = 9, "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.page_margins.left = sheet.page_margins.right = 0.4
    sheet.page_margins.top, sheet.page_margins.bottom = 0.5, 0.6
    sheet.oddFooter.left.text, sheet.oddFooter.right.text = NAME, "Page &P of &N"
