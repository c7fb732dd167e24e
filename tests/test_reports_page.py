"""The page: self-contained, escaped, and readable without seeing its charts or its colours."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from jinja2 import UndefinedError

from reports import page
from reports.svg import Bar, bars, columns
from reports.svg_lines import Line, lines
from schemas.results import CAUTIONS
from tests.contrast import contrast
from tests.reported import FORMULA, SCRIPT, small_results

CSS = (page.TEMPLATES / "summary.css").read_text(encoding="utf-8")
VOID = {"meta", "br", "link", "img", "rect", "line"}


@pytest.fixture(scope="module")
def html() -> str:
    return page.render(small_results())


class Tags(HTMLParser):
    """Collects tags and checks that they nest."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def tags(html: str) -> list[tuple[str, dict[str, str | None]]]:
    parser = Tags()
    parser.feed(html)
    assert not parser.open
    return parser.seen


def test_text_from_users_is_escaped(html: str) -> None:
    assert SCRIPT not in html
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in html
    assert not [tag for tag, _ in tags(html) if tag == "script"]


def test_nothing_comes_from_elsewhere(html: str) -> None:
    for tag, attributes in tags(html):
        assert tag not in ("link", "script", "img", "iframe", "object"), tag
        assert not attributes.get("src")
    assert not re.findall(r"https?://|url\(|@import", html)


def test_links_lead_to_files_beside_the_page(html: str) -> None:
    links = {attributes["href"] for tag, attributes in tags(html) if tag == "a"}
    assert {"work-list.xlsx", "findings.csv", "clean/homes.csv", "run.json"} <= links
    assert all(re.fullmatch(r"#?[\w./-]+", str(link)) for link in links)


def test_cautions_come_before_every_number(html: str) -> None:
    for caution in CAUTIONS:
        words = caution.replace("'", "&#39;")
        assert 0 < html.index(words) < html.index("In numbers")


def test_charts_say_their_title_and_values_in_words(html: str) -> None:
    charts = re.findall(r'<svg role="img".*?</svg>', html, flags=re.S)
    assert len(charts) == 15
    for chart in charts:
        identity = re.search(r'aria-labelledby="(\S+) (\S+)"', chart)
        assert identity
        assert f'<title id="{identity[1]}">' in chart
        assert f'<desc id="{identity[2]}">' in chart


def test_identities_are_unique(html: str) -> None:
    identities = re.findall(r' id="([^"]+)"', html)
    assert len(identities) == len(set(identities))


def test_tables_have_captions_and_header_cells(html: str) -> None:
    for table in re.findall(r"<table.*?</table>", html, flags=re.S):
        assert "<caption>" in table
        assert '<th scope="col"' in table


def test_numbers_carry_their_units(html: str) -> None:
    for text in ("3 homes", "2.0 h", "£166", "£43", "2 rows", "2.0 of 4.0 h, 2 visits", "1 valve<"):
        assert text in html


def test_a_template_that_names_something_unknown_fails(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "summary.html.j2").write_text("{{ nobody_knows_this }}", encoding="utf-8")
    monkeypatch.setattr(page, "TEMPLATES", tmp_path)
    with pytest.raises(UndefinedError):
        page.render(small_results())


def test_an_audit_that_found_nothing_still_reads_well() -> None:
    results = small_results()
    empty = {name: table.iloc[:0] for name, table in results.tables.items()}
    counts = {name: table.iloc[:0] for name, table in results.summaries.items() if name not in ("headline",)}
    html = page.render(replace(results, tables=empty, summaries={**results.summaries, **counts}, said=()))
    tags(html)
    assert "No rule fired." in html
    assert "The years ahead" not in html
    assert "Nothing was left out." in html


def test_bars_are_as_long_as_their_share_and_marked_in_words() -> None:
    drawn = str(bars("x", "Title & more", [Bar("a", 5, "5 valves"), Bar(FORMULA, 10, "10 valves", marked=True)]))
    assert re.findall(r'<rect[^>]* width="([\d.]+)%"', drawn) == ["50.00", "100.00"]
    assert "Title &amp; more" in drawn
    assert drawn.count("▲") == 1
    assert "a: 5 valves; =HYPERLINK" in drawn


def test_lines_differ_without_colour_and_bear_their_names() -> None:
    """Two lines that end at the same height: dashes of their own, and names beside each other's, not upon."""
    flat = [Line(name, [5, 5, 5], [4, 4, 4], [6, 6, 6], f"{name} in words") for name in ("one", FORMULA)]
    drawn = str(lines("x", "Title & more", flat, unit="£"))
    assert set(re.findall(r'stroke-width="2.4" stroke-dasharray="([^"]+)"', drawn)) == {"none", "9 5"}
    heights = [float(y) for y in re.findall(r'<svg x="100%" y="([\d.]+)"', drawn)]
    assert heights[1] - heights[0] == pytest.approx(17)
    assert "one: one in words; =HYPERLINK" in drawn
    assert re.findall(r'class="value over">([^<]+)<', drawn) == ["£4", "£4.5", "£5", "£5.5", "£6"]


@pytest.mark.parametrize(
    ("low", "high", "marks"),
    [
        (0, 0, [0, 1]),
        (1, 100, [0, 25, 50, 75, 100]),
        (90, 104, [90, 95, 100, 105]),
        (0.2, 0.9, [0, 0.25, 0.5, 0.75, 1]),
    ],
)
def test_a_scale_has_round_numbers_and_holds_everything(low: float, high: float, marks: list[float]) -> None:
    drawn = str(lines("x", "T", [Line("a", [low, high], [low, low], [high, high], "")]))
    assert [float(text) for text in re.findall(r'class="value over">([^<]+)<', drawn)] == marks
    assert "nan" not in drawn


@pytest.mark.parametrize("rows", [[], [Bar("a", 0, "0 valves")]], ids=["none", "zero"])
def test_charts_of_nothing_are_drawn(rows: list[Bar]) -> None:
    assert "NaN" not in str(bars("x", "T", rows)) + str(columns("y", "T", rows, every=3))


def test_columns_name_each_so_many() -> None:
    drawn = str(columns("x", "T", [Bar(f"m{n}", 1, "1", of=2) for n in range(6)], every=3))
    assert re.findall(r"<text[^>]*>(\w+)</text>", drawn) == ["2", "m0", "m3"]


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (1234.4, "GBP", "£1,234"), (-3.6, "GBP", "−£4"), (12.25, "h", "12.2 h"), (1234, "valves", "1,234 valves"),
        (1, "valves", "1 valve"),
        (0.125, "share", "12.5%"), (float("nan"), "GBP", "not known"), (7, "", "7"),
    ],
)  # fmt: skip
def test_amounts_are_worded(value: float, unit: str, words: str) -> None:
    assert page.amount(value, unit) == words


def test_dates_are_worded() -> None:
    assert page.day(dt.date(2026, 1, 5)) == "5 January 2026"


def colour(name: str) -> str:
    found = re.search(rf"--{name}: #([0-9a-f]{{6}})", CSS)
    assert found
    return found[1]


@pytest.mark.parametrize(
    ("text", "ground"),
    [
        (colour("ink"), "ffffff"), (colour("ink"), colour("panel")), (colour("quiet"), "ffffff"),
        (colour("quiet"), colour("panel")), (colour("warn"), "fff8f0"), (colour("warn"), "ffffff"),
        (colour("ink"), "fff8f0"), ("9b1c1c", "ffffff"), ("1d4e79", "ffffff"),
    ],
)  # fmt: skip
def test_text_stands_out_from_its_ground(text: str, ground: str) -> None:
    assert contrast(text, ground) >= 4.5


def test_contrast_is_computed_as_published() -> None:
    # the two ends of the scale, and the grey that WCAG's own explanations use for 4.5 to 1
    assert contrast("000000", "ffffff") == pytest.approx(21)
    assert contrast("767676", "ffffff") == pytest.approx(4.54, abs=0.01)
