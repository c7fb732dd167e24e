"""`summary.html`: one self-contained page for everyone; prints on A4, reads on a narrow screen, needs no network."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from reports.front import pounds
from reports.groups_sheets import whole_stock
from reports.svg import Bar, Between, bars, columns, columns_with_limits
from reports.years_page import years
from schemas import words as w
from schemas.results import CAUTIONS, CHANGE, Results
from schemas.sentences import AFTER_COST_SAID, SAFE_NOW, how_good, parted, returned_danger, returned_dangers

if TYPE_CHECKING:
    import pandas as pd

TEMPLATES: Final = Path(__file__).with_name("templates")
WORST: Final = 10  # homes shown
NAMED: Final = 8  # groups that fail too often, shown in full
GAPS, GROUPS = 8, 8  # gaps in the records; files, and schemes, whose quality is shown
HERO: Final = (
    "homes",
    "valves",
    "danger",
    "fault",
    "planned_visits",
    "planned_hours",
    "planned_cost",
    "planned_benefit",
    "left_out_visits",
    "rows_returned",
)
FILES: Final = (
    ("work-list.xlsx", "the planner's book: visits of the quarter, parts to load, what was left out"),
    ("stock-summary.xlsx", "the asset manager's book: stock, ages, temperatures, options and money, years ahead"),
    ("repeat-faults.xlsx", "the analyst's book: chains of repeat call-outs, groups that fail too often, trends"),
    ("returned-rows.xlsx", "for whoever keeps the records: rows to mend; copies with marks are in annotated/"),
    ("columns.toml", "how each header was understood; correct it and give it back with --columns"),
    ("planned-visits.ics", "the planned visits for a calendar program; no addresses in it"),
    ("run.json", "the record of this run"),
)


def write(results: Results, path: Path) -> None:
    """Write the page."""
    path.write_bytes(render(results).encode("utf-8", "replace"))


def render(results: Results) -> str:
    """The page as HTML; every text from outside is escaped."""
    return environment().get_template("summary.html.j2").render(**_content(results))


def environment() -> Environment:
    """The templates, with every text escaped, undefined names refused, and the filters that write numbers and dates."""
    made = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= {"amount": amount, "day": day, "plain": plain, "given": given, "part": part}
    return made


def amount(value: float, unit: str = "") -> str:
    """A number with its unit, as a reader expects it: £1,234; 12.5 h; 1,234 valves."""
    if value is None or value != value:
        return "not known"
    if unit == "GBP":
        return pounds(value)
    if unit == "share":
        return f"{value:.1%}"
    number = f"{value:,.1f}" if unit == "h" else f"{value:,.0f}"
    return f"{number} {unit.removesuffix('s') if number == '1' else unit}".strip()


def part(share: float) -> str:
    """A share in per cent; what is neither none nor all is never rounded to it."""
    if share != share:
        return "–"
    rounded = f"{share:.1%}"
    if share < 1.0 and rounded == "100.0%":
        return "over 99.9%"
    return "under 0.1%" if share > 0.0 and rounded == "0.0%" else rounded


def day(value: dt.date) -> str:
    """A date in words, without a leading zero."""
    return f"{value.day} {value:%B %Y}"


def plain(value: object) -> str:
    """A word of the vocabulary as it is spoken; nothing where it is missing."""
    return w.spoken(given(value))


def given(value: object) -> str:
    """A text as it stands; nothing where it is missing."""
    return "" if value is None or value != value else str(value)


def _content(results: Results) -> dict[str, Any]:
    tables = results.summaries
    to_do, how_read = parted(results.said)
    headline = tables["headline"].set_index("key")
    return {
        "results": results,
        "how_good": how_good(results.plan),
        "benefit_said": AFTER_COST_SAID,
        "cautions": CAUTIONS,
        "hero": [headline.loc[key].to_dict() for key in HERO if key in headline.index],
        "worst": tables["worst_homes"].head(WORST).to_dict("records"),
        "homes_to_act_on": len(tables["worst_homes"]),
        "to_do": to_do,
        "how_read": how_read,
        "charts": _charts(results),
        "weeks": len(tables["weeks"]),
        "severities": tables["findings_by_severity"].to_dict("records"),
        "words": w.SEVERITY,
        "named": _named(results.tables["groups"]).head(NAMED).to_dict("records"),
        "named_count": len(_named(results.tables["groups"])),
        "tried": len(results.tables["groups"]),
        "trend": tables["trends"].head(1).to_dict("records"),
        "worsening": _worsening(tables["trends"]),
        "out": whole_stock(tables["month_chart"]).loc[lambda rows: rows["out"].ne("")].to_dict("records"),
        "options": tables["options_cost"].loc[tables["options_cost"]["grouped_by"].eq("all")].to_dict("records"),
        "left_out": tables["left_out"].to_dict("records"),
        "returned_dangers": [returned_danger(row) for row in returned_dangers(results).to_dict("records")],
        "safe_now": SAFE_NOW,
        "danger_left": _danger_left(results.tables["planned-visits"]),
        "scenarios": results.tables["scenarios"].to_dict("records"),
        "changes": _changes(tables["plan_changes"]),
        "change_counts": _change_counts(tables["plan_changes"]),
        "parts": tables["parts_total"].to_dict("records"),
        "records": tables["records"].to_dict("records"),
        "reasons": tables["reasons"].head(10).to_dict("records"),
        "years": years(results),
        "quality": _first_of_each(tables["quality_side_by_side"]).to_dict("records"),
        "gaps": tables["quality_gaps"]["cost"].head(GAPS).tolist(),
        "terms": tables["quality_terms"].to_dict("records"),
        "inputs": results.inputs.to_dict("records"),
        "files": (*FILES, *((f"{name}.csv", "tidy table") for name in results.tables)),
        "clean": sorted(results.clean),
    }


def _named(groups: pd.DataFrame) -> pd.DataFrame:
    """The groups that fail too often, dearest first."""
    return groups.loc[groups["named"].eq("yes")]


def _worsening(trends: pd.DataFrame) -> list[str]:
    """The schemes in which faults come more often, by both tests; the row of all homes comes first and is none."""
    schemes = trends.iloc[1:]
    return schemes.loc[schemes["trend"].eq("more often"), "group"].tolist()


def _danger_left(visits: pd.DataFrame) -> list[dict[Any, Any]]:
    return visits.loc[visits["severity"].eq("danger") & visits["status"].eq("left_out")].to_dict("records")


def _changes(changes: pd.DataFrame) -> list[dict[Any, Any]]:
    """The first visits that are new, moved, done or dropped since the last plan."""
    return changes.loc[changes["change"].ne("kept")].head(WORST).to_dict("records")


def _change_counts(changes: pd.DataFrame) -> list[tuple[str, int]]:
    found = changes["change"].value_counts()
    return [(kind, int(found[kind])) for kind in CHANGE if kind in found.index]


def _first_of_each(quality: pd.DataFrame) -> pd.DataFrame:
    """The first few groups of each grouping."""
    return quality.loc[quality.groupby("grouped_by").cumcount().lt(GROUPS)]


def _charts(results: Results) -> dict[str, Markup]:
    tables = results.summaries
    ages, readings = tables["age_bands"], tables["temperature_bands"]
    charts = {
        "heads": bars("heads", "Heads by age in years", _counted(ages, "band", "heads", "valves")),
        "bodies": bars("bodies", "Bodies by age in years", _counted(ages, "band", "bodies", "valves")),
        "rules": bars("rules", "Findings by rule", _by_rule(tables["findings_by_rule"])),
        "weeks": bars("weeks", "Hours used of hours there, by week", _weeks(tables["weeks"])),
        "months": columns("months", "Call-outs by month, repeats dark", _months(tables["months"]), every=12),
    }
    if len(tables["month_chart"]):
        charts["limits"] = columns_with_limits(
            "limits", "Faults a month and 100 homes, with limits", _limits(tables["month_chart"]), every=12
        )
    if len(results.tables["scenarios"]):
        charts["scenarios"] = bars("scenarios", "Worth under each scenario", _scenarios(results.tables["scenarios"]))
    for place, (reading, rows) in enumerate(readings.groupby("reading", sort=False)):
        title = f"{str(reading).capitalize()} (°C); limit {rows['limit'].iloc[0]}"
        charts[f"reading {title}"] = bars(f"reading-{place}", title, _counted(rows, "band", "readings", "readings"))
    return charts


def _counted(frame: pd.DataFrame, label: str, value: str, unit: str) -> list[Bar]:
    return [
        Bar(
            str(row[label]),
            float(row[value]),
            amount(row[value], unit),
            row.get("past_limit") == "yes" and row[value] > 0,
        )
        for row in frame.to_dict("records")
    ]


def _by_rule(frame: pd.DataFrame) -> list[Bar]:
    return [
        Bar(
            f"{row['rule']} ({row['severity']})",
            float(row["findings"]),
            amount(row["findings"], "findings"),
            row["severity"] == "danger",
        )
        for row in frame.to_dict("records")
    ]


def _weeks(frame: pd.DataFrame) -> list[Bar]:
    return [
        Bar(
            f"Week of {row['week_starting'].day} {row['week_starting']:%b}",
            float(row["hours_used"]),
            f"{row['hours_used']:,.1f} of {row['hours_there']:,.1f} h, {row['visits']:,.0f} visits",
            of=float(row["hours_there"]),
        )
        for row in frame.to_dict("records")
    ]


def _limits(chart: pd.DataFrame) -> list[Between]:
    marks = {"above": "▲", "below": "▼", "": ""}
    return [
        Between(
            f"{row['month']:%b %Y}",
            float(row["rate"]),
            float(row["low_rate"]),
            float(row["high_rate"]),
            f"{row['rate']:.1f} where {row['low_rate']:.1f} to {row['high_rate']:.1f} is expected",
            marks[row["out"]],
        )
        for row in whole_stock(chart).to_dict("records")
    ]


def _scenarios(frame: pd.DataFrame) -> list[Bar]:
    return [
        Bar(str(row["scenario"]), float(row["worth_gbp"]), f"worth {pounds(row['worth_gbp'])}")
        for row in frame.to_dict("records")
    ]


def _months(frame: pd.DataFrame) -> list[Bar]:
    return [
        Bar(
            f"{row['month']:%b %Y}",
            float(row["repeats"]),
            f"{row['call_outs']:,.0f} call-outs, {row['repeats']:,.0f} of them repeats",
            of=float(row["call_outs"]),
        )
        for row in frame.to_dict("records")
    ]
