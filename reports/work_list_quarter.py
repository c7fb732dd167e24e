"""The sheet Quarter of the work list: hours used of hours there, by team and week, as live formulas and bars.

The formulas read the sheet Visits, so that a visit taken out, moved or given other hours there re-totals everything.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from openpyxl.cell import WriteOnlyCell
from openpyxl.formatting.rule import DataBar, FormatObject, Rule
from openpyxl.styles import Color
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from reports.look import FORMATS, cell
from reports.workbook import Book, Layout, append_note
from schemas.sentences import how_good

if TYPE_CHECKING:
    import pandas as pd

FIRST: Final = 22.0  # width of the first column, in characters
TOTAL: Final = 14.0  # the first week's column, which holds the totals too
WEEK: Final = 9.5
TEAMS_MOST: Final = 400


@dataclass(frozen=True)
class Visits:
    """Where the sheet Visits holds what the formulas need: absolute ranges by column."""

    layout: Layout

    def range(self, name: str) -> str:
        """One column of the table, such as Visits!$B$5:$B$80."""
        letter = get_column_letter(self.layout.columns[name])
        last = max(self.layout.last_row, self.layout.header_row + 1)
        return f"Visits!${letter}${self.layout.header_row + 1}:${letter}${last}"

    def included(self, name: str, *tests: str) -> str:
        """Sum of a column over the visits included that pass further tests, each 'range,criterion'."""
        return "SUMIFS(" + ",".join([self.range(name), self.range("include"), '"yes"', *tests]) + ")"


def choices(layout: Layout, name: str, words: str) -> None:
    """Offer words, separated by commas, in every cell of a column."""
    letter = get_column_letter(layout.columns[name])
    if layout.last_row > layout.header_row:
        rule = DataValidation(type="list", formula1=f'"{words}"', allow_blank=True)
        rule.add(f"{letter}{layout.header_row + 1}:{letter}{layout.last_row}")
        layout.sheet.data_validations.append(rule)


def formula(sheet: Any, text: str, form: Any) -> Any:
    """A cell with a formula of ours; no text of a user ever stands in one."""
    made = cell(sheet, None, "right", FORMATS[form])
    made.value = text
    made.data_type = "f"
    return made


def add_quarter(book: Book, visits: Layout, slots: pd.DataFrame, left: Layout, plan: dict[str, Any]) -> None:
    """Add the sheet: totals, then used of there as bars, then the hours used and the hours there that they rest on."""
    here = Visits(visits)
    weeks = sorted(slots["week_starting"].unique())
    teams = sorted(slots["team"].unique())[:TEAMS_MOST]
    there = slots.groupby(["team", "week_starting"])["hours"].sum().to_dict()
    widths = [FIRST, TOTAL, *[WEEK] * max(len(weeks), 4)]
    sheet = book.sheet("Quarter", widths)
    sheet.append([cell(sheet, "The quarter: hours used of the hours there", "title")])
    append_note(sheet, _note(plan), widths)
    for label, text, form in _totals(here, left):
        sheet.append([cell(sheet, label, "label"), formula(sheet, text, form)])
    first = 3 + len(_totals(here, left))
    block = len(teams) + 3  # heading, weeks, teams, a blank row
    used, hours = first + block, first + 2 * block
    _block(sheet, "Used, share of the hours there", weeks, teams, lambda row, column: _share(used, hours, row, column))
    _bars(sheet, first + 2, len(teams), len(weeks))
    tests = (here.range("team"), here.range("week_starting"))
    _block(sheet, "Hours used (h), with time kept for no access", weeks, teams, lambda row, column: (
        "=" + "+".join(
            here.included(name, f"{tests[0]},$A{used + 2 + row}", f"{tests[1]},{_letter(column)}${used + 1}")
            for name in ("hours", "allowance_h")
        )
    ))  # fmt: skip
    _block(sheet, "Hours there (h)", weeks, teams, lambda row, column: there.get((teams[row], weeks[column])))


def _note(plan: dict[str, Any]) -> str:
    said = "Change Include, Week starting, Team or Hours on the sheet Visits, and everything here follows."
    return " ".join(filter(None, [how_good(plan), said]))


def _totals(here: Visits, left: Layout) -> list[tuple[str, str, str]]:
    column = get_column_letter(left.columns["benefit_gbp"])
    forgone = f"'Left out'!${column}${left.header_row + 1}:${column}${max(left.last_row, left.header_row + 1)}"
    return [
        ("Visits included", f'=COUNTIF({here.range("include")},"yes")', "whole"),
        ("Hours (h)", "=" + here.included("hours"), "number"),
        ("Cost, excluding VAT", "=" + here.included("cost_gbp"), "money"),
        ("Benefit", "=" + here.included("benefit_gbp"), "money"),
        (
            "Benefit left out",
            f'=SUM({forgone})+SUMIFS({here.range("benefit_gbp")},{here.range("include")},"no")',
            "money",
        ),
    ]


def _letter(column: int) -> str:
    return get_column_letter(column + 2)


def _share(used: int, there: int, row: int, column: int) -> str:
    letter = _letter(column)
    return f'=IF(N({letter}{there + 2 + row})>0,{letter}{used + 2 + row}/{letter}{there + 2 + row},"")'


def _block(sheet: Any, heading: str, weeks: list[Any], teams: list[str], value: Any) -> None:
    sheet.append([cell(sheet, heading, "heading")])
    sheet.append([cell(sheet, "Team", "header"), *(cell(sheet, week, "header_right", "dd mmm") for week in weeks)])
    form: Any = "share" if heading.startswith("Used") else "number"
    for row, team in enumerate(teams):
        cells: list[Any] = [cell(sheet, team, "label")]
        for column in range(len(weeks)):
            made = value(row, column)
            is_formula = isinstance(made, str)
            cells.append(formula(sheet, made, form) if is_formula else cell(sheet, made, "right", FORMATS[form]))
        sheet.append(cells)
    sheet.append([WriteOnlyCell(sheet)])


def _bars(sheet: Any, first: int, rows: int, columns: int) -> None:
    if rows and columns:
        ends = [FormatObject(type="num", val=share) for share in (0, 1)]
        bar = Rule("dataBar", dataBar=DataBar(cfvo=ends, color=Color("FF9FB8CC"), showValue=True))
        sheet.conditional_formatting.add(f"B{first}:{_letter(columns - 1)}{first + rows - 1}", bar)
