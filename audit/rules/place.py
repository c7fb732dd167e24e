"""Place: heads in air that is too hot for them, and hot cupboards that nobody has measured."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from audit.guard_band import CLEARLY_OVER, CLEARLY_WITHIN, upper_verdict
from audit.model import Facts, Rule
from audit.rules.hits import day_text, hits, number_text, old_text, seen_on, too_old, word_text
from schemas.words import HOT_LOCATIONS

if TYPE_CHECKING:
    import pandas as pd

    from audit.policy import Policy


LIMITS: Final = ("place.location_limit", "place.reading_uncertainty")


def location_too_hot(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Air at the head clearly above the limit (fault); within the uncertainty of it, or read too long ago (record)."""
    limit, spread = (policy.number(name) for name in LIMITS)
    valves = facts.valves.assign(verdict=upper_verdict(facts.valves["location_temp_c"], limit, spread))
    rows = valves[valves["location_temp_c"].notna() & valves["verdict"].ne(CLEARLY_WITHIN)]
    air, verdict = rows["location_temp_c"], rows["verdict"].astype("str")
    most = policy.number("place.reading_max_age")
    old = too_old(rows["location_temp_on"], facts.as_of, most)
    again = old | verdict.ne(CLEARLY_OVER)
    statement = (
        "Air at the head " + number_text(air) + " °C" + seen_on(rows["location_temp_on"]) + ", " + verdict
        + f": the limit is {limit:g} °C (reading uncertain by ±{spread:g} °C)" + old_text(old, most) + "."
    )  # fmt: skip
    measure = "Measure again at the next visit, at the hottest time; no fault yet."
    return hits(
        rows,
        statement=statement,
        observed=number_text(air),
        limit=limit,
        unit="°C",
        margin=air - limit,
        limit_source="; ".join(policy[name].source for name in LIMITS),
        severity=again.map({True: "record", False: "fault"}),
        action=again.map({True: measure, False: None}),
    )


def location_reading_missing(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Valves in a hot cupboard without a reading, or whose reading is older than the limit in months."""
    from audit.calendar import months_between

    limit = policy.number("place.reading_max_age")
    valves = facts.valves[facts.valves["location"].isin(HOT_LOCATIONS)]
    valves = valves.assign(months=months_between(valves["location_temp_on"], facts.as_of))
    rows = valves[valves["location_temp_c"].isna() | valves["months"].gt(limit)]
    months, none = rows["months"], rows["location_temp_c"].isna()
    age = number_text(months.round(2))
    old = "the last air temperature at the head is from " + day_text(rows["location_temp_on"]) + ", " + age
    said = (old + f" months ago; it counts for {limit:g} months.").mask(
        none, "no air temperature at the head is known."
    )
    return hits(
        rows,
        statement="In the " + word_text(rows["location"]) + ": " + said,
        observed=age.mask(none, "none"),
        limit=limit,
        unit="months",
        margin=months - limit,
    )


RULES: Final = (
    Rule(
        name="location-too-hot",
        family="place",
        severity="fault",
        fires="Air at the head is above the limit by more than the uncertainty. Within the uncertainty of it, or "
        "read too long ago, it is recorded as to be measured again.",
        why="Heat ages winding and switch; a head in a hot cupboard fails early.",
        action="Move the valve to a cooler place, or cool the place, before fitting the next head.",
        limits=(*LIMITS, "place.reading_max_age"),
        needs=("valves.location_temp_c or visits.location_temp_c",),
        remedy="relocate",
        check=location_too_hot,
    ),
    Rule(
        name="location-reading-missing",
        family="place",
        severity="record",
        fires="The valve is in a hot cupboard and has no air temperature, or one older than this.",
        why="Hot cupboards are where heads die of heat, and only a reading tells which.",
        action="Measure the air at the head at the next visit, heating and cylinder hot.",
        limits=("place.reading_max_age",),
        needs=("valves.location", "valves.location_temp_c or visits.location_temp_c"),
        remedy="",
        check=location_reading_missing,
    ),
)
