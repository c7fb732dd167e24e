"""The lives that the choice works with, taken from the fit of the records, and the words that say which they are."""

from __future__ import annotations

import pandas as pd

from audit.choice.assumed_life import Life, Lives, lives
from audit.life import LifeFit
from audit.policy import Policy


def fitted(fit: LifeFit, policy: Policy) -> Lives:
    """Return the lives of the whole stock, for heads at the reference temperature; assumed where failures are few."""
    assumed = lives(policy)
    head, body = (_life(_whole(fit, part), given) for part, given in (("head", assumed.head), ("body", assumed.body)))
    return Lives(head=head, body=body, after_motor=head.age_with_share_left(policy.number("life.motor_share")))


def said(fit: LifeFit) -> tuple[str, ...]:
    """Say for each part whether its life was fitted, from how many failures and how surely, or assumed."""
    return (*(_told(part, _whole(fit, part)) for part in ("head", "body")), *fit.said)


def _whole(fit: LifeFit, part: str) -> pd.Series:
    return fit.table.loc[fit.table["part"].eq(part)].iloc[0]


def _life(row: pd.Series, assumed: Life) -> Life:
    return Life(float(row["shape"]), float(row["scale_years"])) if row["basis"] == "fitted" else assumed


def _told(part: str, row: pd.Series) -> str:
    rest = "chances and later costs rest on that"
    if row["basis"] != "fitted":
        return f"{part.capitalize()} life: assumed by the policy, median {row['median_years']:.1f} years; {rest}."
    return (
        f"{part.capitalize()} life: fitted from {row['failures']:,.0f} failures in {row['exposure_years']:,.0f} "
        f"valve-years, median {row['median_years']:.1f} years, Weibull scale {row['scale_years']:.1f} years "
        f"(90 %: {row['scale_low']:.1f} to {row['scale_high']:.1f}); {rest}."
    )
