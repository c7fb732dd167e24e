"""The lives that the choice works with, taken from the fit of the records, and the words that say which they are."""

from __future__ import annotations

import numpy as np
import pandas as pd

from audit.choice.assumed_life import LIVED, PACE, assumed
from audit.life import LifeFit
from audit.life.unseen_age import even_head_ages, has_even_age
from audit.model import Facts
from audit.policy import Policy


def fitted(fit: LifeFit, facts: Facts, policy: Policy) -> pd.DataFrame:
    """Return the lives of each valve, as `audit.choice.assumed_life.assumed` does, and PACE; assumed where few failed.

    A head's are its group's, in years as they pass in its place: in a hot one they count for more. Ages likewise; one
    whose date is not known is reckoned with its even age, see `audit.life.unseen_age`.
    """
    lived = assumed(facts, policy)
    if _whole(fit, "head")["basis"] == "fitted":
        lived = lived.assign(head_shape=fit.head.shape, head_scale=fit.head.scale, head_age=fit.head.age / fit.pace)
    if _whole(fit, "body")["basis"] == "fitted":
        lived = lived.assign(body_shape=fit.body.shape, body_scale=fit.body.scale, body_age=fit.body.age)
    even = even_head_ages(fit, facts)
    age = lived["head_age"].where(np.isnan(even), even / fit.pace)
    lived = lived.assign(head_age=age, head_scale=lived["head_scale"] / fit.pace)[list(LIVED)]
    lived[PACE] = fit.pace
    return lived


def said(fit: LifeFit, facts: Facts) -> tuple[str, ...]:
    """Say for each part whether its life was fitted, from how many failures and how surely, or assumed."""
    return (*(_told(part, _whole(fit, part)) for part in ("head", "body")), *_undated(fit, facts), *fit.said)


def _undated(fit: LifeFit, facts: Facts) -> tuple[str, ...]:
    """Say how many heads are reckoned with an even age."""
    undated = int(has_even_age(fit, facts).sum())
    if not undated:
        return ()
    heads = "1 head has" if undated == 1 else f"{undated:,} heads have"
    return (
        f"{heads} no fitting date: chances and later costs take the age that the body's date and the life make likely, "
        "renewals unseen before the log included; findings say at most how old.",
    )


def _whole(fit: LifeFit, part: str) -> pd.Series:
    return fit.table.loc[fit.table["part"].eq(part)].iloc[0]


def _told(part: str, row: pd.Series) -> str:
    rest = "chances and later costs rest on that"
    if row["basis"] != "fitted":
        return f"{part.capitalize()} life: assumed by the policy, median {row['median_years']:.1f} years; {rest}."
    return (
        f"{part.capitalize()} life: fitted from {row['failures']:,.0f} failures in {row['exposure_years']:,.0f} "
        f"valve-years, median {row['median_years']:.1f} years, Weibull scale {row['scale_years']:.1f} years "
        f"(90 %: {row['scale_low']:.1f} to {row['scale_high']:.1f}); {rest}."
    )
