"""Age: heads and bodies past their service life, and valves whose age nobody knows. Age alone is never a fault."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from audit.model import Facts, Rule
from audit.rules.hits import day_text, hits, years_text

if TYPE_CHECKING:
    import pandas as pd

    from audit.policy import Policy

DATES: Final = "valves.head_fitted or valves.body_fitted or visits.action"
FROM: Final = {  # how sure an age is, by its basis: words before it, words after its date
    "its own date": ("", "from its own date"),
    "a visit": ("", "from the visit that renewed it"),
    "the body's date": ("at most ", "from the body's date, the head's being unknown"),
    "the head's date": ("at least ", "from the head's date, the body's being unknown"),
}


def head_past_service_life(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Heads at least as old, on the as-of date, as the limit in years."""
    return _past(facts, "head", policy.number("age.head_service_life"))


def body_past_service_life(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Bodies at least as old, on the as-of date, as the limit in years."""
    return _past(facts, "body", policy.number("age.body_service_life"))


def age_unknown(facts: Facts, policy: Policy) -> pd.DataFrame:
    """Valves with no date from which an age follows: none in the register, none from a visit."""
    rows = facts.valves[facts.valves["head_since"].isna()]
    return hits(rows, statement="No date is recorded from which the age of head or body follows.", observed="no date")


def _past(facts: Facts, part: str, limit: float) -> pd.DataFrame:
    rows = facts.valves[facts.valves[f"{part}_age_years"] >= limit]
    years, basis = rows[f"{part}_age_years"], rows[f"{part}_age_basis"]
    how_sure = basis.map({name: words[0] for name, words in FROM.items()}).astype("str")
    follows = basis.map({name: words[1] for name, words in FROM.items()}).astype("str")
    age = years_text(years)
    statement = (
        f"{part.capitalize()} in service " + how_sure + age + " years on " + f"{facts.as_of.day} {facts.as_of:%B %Y}"
        " (since " + day_text(rows[f"{part}_since"]) + ", " + follows + f"); service life {limit:g} years."
    )  # fmt: skip
    return hits(rows, statement=statement, observed=age, limit=limit, unit="years", margin=years - limit)


RULES: Final = (
    Rule(
        name="head-past-service-life",
        family="age",
        severity="money",
        fires="The head has been in service at least this long on the as-of date.",
        why="Motor, spring and end switch wear; an old head is likelier to fail in the first cold weeks.",
        action="Compare a new motor, head or valve with waiting; age alone is no fault.",
        limits=("age.head_service_life",),
        needs=(DATES,),
        remedy="renew",
        check=head_past_service_life,
    ),
    Rule(
        name="body-past-service-life",
        family="age",
        severity="money",
        fires="The body has been in service at least this long on the as-of date.",
        why="Spindle, ball and seals wear and seize; a new head on a worn body soon fails.",
        action="Compare the whole valve with waiting; age alone is no fault.",
        limits=("age.body_service_life",),
        needs=(DATES,),
        remedy="renew",
        check=body_past_service_life,
    ),
    Rule(
        name="age-unknown",
        family="age",
        severity="record",
        fires="No date is known from which the age of head or body follows.",
        why="Without a date neither service life nor the chance of failure can be judged.",
        action="Read the date code at the next visit and enter head_fitted and body_fitted.",
        limits=(),
        needs=("valves.head_fitted or valves.body_fitted",),
        remedy="",
        check=age_unknown,
        source="the register itself",
    ),
)
