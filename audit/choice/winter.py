"""The share of failures that leaves homes cold: the log's own where it holds enough failures, else the policy's."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from audit.life.season import Season
from audit.policy import Policy

SHARE: Final = "money.winter_share"
ENOUGH: Final = "life.own_season_failures"


def with_own_winter(policy: Policy, season: Season) -> tuple[Policy, str]:
    """Put the log's share of failures in the cold half-year into the policy, and say which share is used.

    A share that a landlord set in a policy file stands.
    """
    given, least, seen = policy[SHARE], policy.number(ENOUGH), season.failures
    if given.source != "assumed":
        return policy, f"Failures in the cold half-year: {_per_cent(given.number)}, as set ({SHARE})."
    if seen < least:
        return policy, (
            f"Failures in the cold half-year: {_per_cent(given.number)}, assumed ({SHARE}); the {seen:,} failures in "
            f"whole years of the log are fewer than the {least:,.0f} that would tell ({ENOUGH})."
        )
    told = f"the log, {seen:,} failures"
    source = f"{told} in whole years; stands in place of the assumed {given.number:g} ({ENOUGH})"
    own = Policy({**policy, SHARE: replace(given, value=round(season.cold, 4), source=source)})
    return own, (
        f"Failures in the cold half-year: {_per_cent(season.cold)} by {told} in whole years, used for the allowance "
        f"for homes without heat in place of the assumed {_per_cent(given.number)} ({SHARE})."
    )


def _per_cent(share: float) -> str:
    return f"{100 * share:.0f} %"
