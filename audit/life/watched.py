"""From when to when each valve was watched: the visit log of a contractor begins and ends, file by file.

Before its first day a failure leaves no visit; after its last day (a contractor gone, no successor) neither.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from audit.life.grid import Floats
from audit.model import Facts
from audit.policy import Policy

MONTH = 30.4375  # days
OF_A_SCHEME = 0.05  # share of a scheme's visits that a file needs to count as the scheme's


def days(dates: pd.Series[pd.Timestamp]) -> Floats:
    """Return dates as days since 1970, NaN where missing."""
    return np.asarray((dates - pd.Timestamp(0)) / pd.Timedelta(days=1), dtype=float)


def watched(facts: Facts, policy: Policy) -> tuple[Floats, Floats]:
    """Return the first and last day (since 1970) on which each valve's failures would have left a visit.

    Each is aligned with `facts.valves`. A log file's first day is where its visits begin in earnest, so that one
    mistyped date does not start it years early. A scheme is watched from the first day of the earliest file that
    holds its visits to the last day of the latest; a scheme without visits from the latest first day to the earliest
    last day of all. A log that still runs is watched to the as-of date.
    """
    today = float(days(pd.Series([facts.as_of]))[0])
    visits = facts.visits
    if visits.empty:
        nobody = np.full(len(facts.valves), today)
        return nobody, nobody.copy()
    number, names = pd.factorize(visits["scheme"].fillna(""))
    seen = pd.DataFrame(
        {
            "file": visits.groupby(["source_file", "source_sheet"], dropna=False).ngroup(),
            "scheme": number,
            "day": np.floor(days(visits["reported"])),
        }
    )
    spans = _file_spans(seen, policy.number("life.log_start_share"), policy.number("life.log_gap"))
    spans.loc[spans["last"] >= today - policy.number("life.log_silence"), "last"] = today
    pairs = seen.groupby(["scheme", "file"]).size().rename("visits").reset_index()
    pairs["scheme"] = names[pairs["scheme"]]
    share = pairs["visits"] / pairs.groupby("scheme")["visits"].transform("sum")
    own = pairs.loc[share >= OF_A_SCHEME].merge(spans, on="file").groupby("scheme")
    scheme = facts.valves["scheme"].fillna("")
    first = scheme.map(own["first"].min()).fillna(spans["first"].max())
    last = scheme.map(own["last"].max()).fillna(spans["last"].min())
    began, ended = first.to_numpy(float), last.to_numpy(float)
    return began, np.minimum(np.maximum(began, ended), today)


def _file_spans(seen: pd.DataFrame, start_share: float, gap: float) -> pd.DataFrame:
    """Return the first and last day of each file.

    It starts after its last long gap, in the first month that has a share of its usual number of visits.
    """
    daily = seen.groupby(["file", "day"]).size().rename("visits").reset_index()
    broken = daily["day"].diff().gt(gap) & daily["file"].eq(daily["file"].shift())
    after = daily["day"].where(broken).groupby(daily["file"]).transform("max").fillna(-np.inf)
    going = daily.loc[daily["day"] >= after]
    by_month = going.assign(month=going["day"] // MONTH).groupby(["file", "month"])
    monthly = by_month.agg(visits=("visits", "sum"), first=("day", "min"))
    usual = monthly["visits"].groupby("file").transform("median")
    first = monthly["first"].where(monthly["visits"] >= start_share * usual).groupby("file").min()
    return pd.DataFrame({"first": first, "last": daily.groupby("file")["day"].max()}).reset_index()
