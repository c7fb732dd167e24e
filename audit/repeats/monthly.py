"""How many call-outs of each month were repeats, in both windows, with limits that hold for small counts."""

from __future__ import annotations

import pandas as pd

from audit.model import Facts
from audit.policy import Policy
from audit.repeats.spans import faults
from audit.statistics.rates import wilson


def repeat_rate(facts: Facts, policy: Policy, months: int) -> pd.DataFrame:
    """Count faults by month of their first report, and those that came within a window after the last attempt.

    Args:
        facts: The visits, and the as-of date.
        policy: The windows.
        months: Calendar months shown, the as-of date's last.

    Returns:
        One row a month: month, call_outs, then for the long window repeats, repeat_share, share_low, share_high, and
        for the short one repeats_short, short_share, short_low, short_high (shares 0 to 1, 95 % limits after Wilson;
        missing in a month without call-outs).
    """
    long = policy.number("repeats.long_window")
    first = facts.as_of.normalize().replace(day=1) - pd.DateOffset(months=months - 1)
    found = faults(facts.visits, long, facts.as_of)
    found = found.loc[found["first"].ge(first)]
    wait = found["wait_days"]
    counted = pd.DataFrame(
        {
            "call_outs": 1.0,
            "repeats": wait.le(long).astype("float64"),
            "repeats_short": wait.le(policy.number("repeats.short_window")).astype("float64"),
        }
    )
    table = counted.groupby(found["first"].dt.to_period("M").dt.to_timestamp()).sum()
    table = table.reindex(pd.date_range(first, facts.as_of, freq="MS", name="month"), fill_value=0.0).reset_index()
    for name, share in (("repeats", "repeat_share"), ("repeats_short", "short_share")):
        low, high = wilson(table[name], table["call_outs"])
        table[share] = table[name] / table["call_outs"].where(table["call_outs"].gt(0))
        part = share.removeprefix("repeat_").removesuffix("_share")
        table[f"{part}_low"], table[f"{part}_high"] = low, high
    return table
