"""One row for each valve that work is asked for: what the options depend on, gathered in one frame."""

from __future__ import annotations

from typing import Final

import pandas as pd

from audit.choice.assumed_life import LIVED, PACE, QUARTER, typical_age
from audit.choice.bill import fitted
from audit.choice.work import RENEWALS, among, needs
from audit.model import Facts
from audit.policy import Policy
from audit.readings.named import read_parts

USED: Final = (
    "valve_id", "home_id", "system", "arrangement", "circuit", "ports", "body_size_mm", "head_kind", "wires",
    "voltage_v", "head_detachable", "motor_replaceable", "isolation", "location", "changeover_in_use", "lever",
    "head_age_years", "body_age_years", "heating_renewal_due", "priority_household",
)  # fmt: skip
OLDEST_HEAD: Final = 60.0  # years: older heads count as this old
OLDEST_BODY: Final = 100.0


def asked_valves(facts: Facts, found: pd.DataFrame, lived: pd.DataFrame, policy: Policy) -> pd.DataFrame:
    """Return one row for each valve of `found` (see `audit.choice.work.work`), sorted by valve_id.

    The valve's facts, and: `asked` (a renewal is asked for), `moved` (to a cooler place, with its head or a new one),
    `cooled` (how many times slower its head ages then; 1 where it is not moved), `bound_head`, `bound_body` (leaving is
    ruled out),
    `wrong_kind`, `bound_by` (the rule that binds), `read_part` (the part
    that readings name, or empty), `leaking`, `head_old`, `body_old` (past service life),
    `head_quarters`, `body_quarters` (ages in quarters; an unknown one is that of a typical part),
    `horizon_quarters` (how far ahead is reckoned), `head_part`, `valve_part`, and LIVED of `lived`, in years. A head
    that is moved is lived at the ordinary pace from now on, and its age counts as what it is worn.
    """
    valves = facts.valves.loc[among(facts.valves["valve_id"], found["valve_id"]), list(USED)]
    valves = valves.sort_values("valve_id").reset_index(drop=True)
    target = "valve " + valves["valve_id"]
    need = needs(found).reindex(target).set_axis(valves.index)
    asks, moved = need[list(RENEWALS)].eq(True), need["relocate"].eq(True)
    lived, cooled = _cooled(lived.reindex(pd.Index(valves["valve_id"])).set_axis(valves.index), moved)
    read = read_parts(facts, policy).set_index("valve_id")["part"]
    valves = valves.assign(
        target=target,
        asked=asks.any(axis=1),
        moved=moved,
        cooled=cooled,
        bound_head=asks["renew_head"] | asks["change_head_kind"],
        bound_body=asks["renew_body"],
        wrong_kind=asks["change_head_kind"],
        bound_by=need["bound_by"].fillna("").astype("str"),
        read_part=read.reindex(pd.Index(valves["valve_id"])).set_axis(valves.index).astype("str").fillna(""),
        leaking=among(valves["valve_id"], leaking(facts)),
        head_old=valves["head_age_years"].ge(policy.number("age.head_service_life")),
        body_old=valves["body_age_years"].ge(policy.number("age.body_service_life")),
        age_taken=valves["head_age_years"].isna(),
        head_quarters=_quarters(lived, "head", OLDEST_HEAD),
        body_quarters=_quarters(lived, "body", OLDEST_BODY),
        horizon_quarters=quarters_to_renewal(valves["heating_renewal_due"], facts.as_of, policy),
    )
    return pd.concat([valves, fitted(valves, valves["wrong_kind"]), lived], axis=1)


def _cooled(lived: pd.DataFrame, moved: pd.Series) -> tuple[pd.DataFrame, pd.Series]:
    """The lives of heads as lived from now on, those moved at the ordinary pace; and how much slower they age."""
    pace = lived.get(PACE, pd.Series(1.0, index=lived.index)).where(moved, 1.0)
    ordinary = {name: lived[name] * pace for name in ("head_scale", "head_age")}
    return lived.assign(**ordinary)[list(LIVED)], pace


def leaking(facts: Facts) -> pd.Series:
    """Return the ids of valves whose last attended visit told of a leak that was not left fixed."""
    visits = facts.visits
    seen = visits["valve_id"].notna() & visits["attended"].notna() & visits["outcome"].ne("no_access")
    open_leak = seen & (visits["symptom"].eq("leak") | visits["cause"].eq("leak")) & visits["outcome"].ne("fixed")
    ever = visits.loc[open_leak, "valve_id"]
    told = visits.loc[seen & among(visits["valve_id"], ever), ["valve_id", "at", "visit_id"]]
    last = told.sort_values(["valve_id", "at", "visit_id"]).drop_duplicates("valve_id", keep="last")
    return last.loc[open_leak.loc[last.index], "valve_id"]


def _quarters(lived: pd.DataFrame, part: str, oldest: float) -> pd.Series:
    typical = typical_age(lived[f"{part}_shape"], lived[f"{part}_scale"])
    return (lived[f"{part}_age"].fillna(typical).clip(0.0, oldest) / QUARTER).round().astype("int64")


def quarters_to_renewal(renewal_due: pd.Series, as_of: pd.Timestamp, policy: Policy) -> pd.Series:
    """Return the quarters to the renewal of the home's heating where that is ahead, at most the policy's horizon."""
    most = round(policy.number("money.horizon") / QUARTER)
    years = (renewal_due - as_of).dt.days / 365.25
    return (years.where(years.gt(0)) / QUARTER).round().clip(1, most).fillna(most).astype("int64")
