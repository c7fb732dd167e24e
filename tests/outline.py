"""Readable outlines of what the reports write, compared with `tests/golden/`; a diff shows the cell that changed.

After a wanted change: `python -m tests.outline` writes the golden files anew; read the diff before committing it.
"""

from __future__ import annotations

import datetime as dt
import re
import tempfile
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from openpyxl import load_workbook

import reports
from tests.reported import small_results

GOLDEN: Final = Path(__file__).with_name("golden")
BOOKS: Final = ("work-list", "stock-summary", "repeat-faults", "returned-rows")


def outline(path: Path) -> str:
    """Sheets with their set-up, rows with their values, number formats of the first body row, charts."""
    book = load_workbook(path)
    lines = [line for sheet in book for line in _sheet(sheet)]
    return "\n".join([*lines, *_charts(path)]) + "\n"


def _sheet(sheet: Any) -> Iterator[str]:
    yield f"[{sheet.title}]"
    yield f"  freeze {sheet.freeze_panes}, filter {sheet.auto_filter.ref}, repeated {sheet.print_title_rows}"
    yield f"  printed {sheet.print_area or 'all'}, {sheet.page_setup.orientation}, paper {sheet.page_setup.paperSize}"
    for row in sheet.iter_rows():
        cells = [_value(cell) for cell in row]
        if any(cells):
            yield f"  {row[0].row}: " + " | ".join(cells).rstrip(" |")
        if sheet.freeze_panes and row[0].row == sheet[sheet.freeze_panes].row:
            yield "  formats: " + " | ".join(cell.number_format for cell in row)
    yield ""


def _value(cell: Any) -> str:
    if cell.value is None:
        return ""
    if isinstance(cell.value, dt.datetime):
        return cell.value.isoformat(sep=" ").removesuffix(" 00:00:00")
    return repr(cell.value) if isinstance(cell.value, str) and cell.data_type == "s" else f"{cell.value}"


def _charts(path: Path) -> Iterator[str]:
    with zipfile.ZipFile(path) as archive:
        names = [name for name in archive.namelist() if name.startswith("xl/charts/")]
        for name in sorted(names, key=lambda text: int(re.sub(r"\D", "", text))):
            xml = archive.read(name).decode()
            titles = [text for text in re.findall(r"<a:t>(.*?)</a:t>", xml) if text]  # none empty
            yield f"chart: {' / '.join(titles)}; {', '.join(re.findall(r'<(?:c:)?f>(.*?)</(?:c:)?f>', xml))}"


def outlines() -> dict[str, str]:
    """The outline of every file of the small audit, by golden file name."""
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder)
        reports.write(small_results(), out)
        found = {f"{name}.txt": outline(out / f"{name}.xlsx") for name in BOOKS}
        for name in ("run.json", "findings.csv", "planned-visits.csv"):
            found[name] = (out / name).read_text(encoding="utf-8")
        found["run.json"] = re.sub(r"\b[0-9a-f]{64}\b(?=\"\n  })", "(digest)", found["run.json"])  # of a zip: varies
    return found


if __name__ == "__main__":
    GOLDEN.mkdir(exist_ok=True)
    for name, text in outlines().items():
        (GOLDEN / name).write_text(text, encoding="utf-8", newline="\n")
