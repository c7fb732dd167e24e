"""The jobs: for each valve, or for a home's system, what is to be done, with what, why, and in which order."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd

from audit.choice import bill as bills
from audit.choice.asked import asked_valves
from audit.choice.options import chance_where_it_is, fault_surcharge
from audit.choice.options import notes as taken
from audit.choice.prices import Prices, pounds
from audit.choice.texts import written
from audit.choice.wording import in_short, what
from audit.choice.work import RENEWALS, among, needs, work
from audit.model import Facts
from audit.policy import Policy
from audit.repeats.text import joined_by
from schemas import words
from schemas.results import RESULT_COLUMNS, SEVERITY_ORDER

RANK_KEYS: Final = ["worst", "short", "gain", "likely", "waits", "home"]
KEPT_OR_NEW: Final = {"leave": "with the head kept", "head": "with a new head", "full": "with a new valve"}
REASONS: Final = 3  # findings told in full for each job; how many more is said


def jobs(
    facts: Facts,
    findings: pd.DataFrame,
    options: pd.DataFrame,
    lived: pd.DataFrame,
    prices: Prices,
    policy: Policy,
) -> pd.DataFrame:
    """Return the `jobs` table, most urgent first: danger, then fault, then money (`rank_keys`).

    One row a valve with its chosen option and its tasks, and one row a home for tasks on the home's system. A valve
    that is best left, and has no task, makes no job. Several jobs that drain one system drain it once: the first of
    them (by severity, then valve) carries the time and the dose. The benefit of a home's jobs, with one call-out taken
    off, is shared out in proportion to what each saves before it; it is never negative and never missing.
    """
    found = work(facts, findings, policy)
    asked = _asked(facts, found, options, lived, policy)
    asked = pd.concat([asked, _billed(asked, policy)], axis=1)
    asked = pd.concat([asked, _benefit(asked, prices, policy)], axis=1)
    asked = asked.assign(cost=bills.cost(asked, prices), reason=_reasons(asked, found), chosen_why=_why(asked))
    asked = asked.assign(puts_right=_puts_right(asked, found))
    return _table(_ranked(asked), prices, policy)


def rank_keys(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the sort keys RANK_KEYS of jobs or visits.

    From severity, hours, benefit_gbp, chance_fail_quarter, priority_household, home_id.

    Danger: the shortest first, so that the most homes are made safe in the hours there are. Fault: by benefit. Money:
    by benefit per hour. Work that is needed whatever a valve's age saves the same for each, so faults are often equal:
    then the likelier to fail within the quarter comes first, then homes to be kept warm, then by home_id.
    """
    worst = rows["severity"].map(SEVERITY_ORDER).astype("int64")
    per_hour = rows["benefit_gbp"] / rows["hours"].clip(lower=0.01)
    danger, fault = rows["severity"].eq("danger"), rows["severity"].eq("fault")
    gain = per_hour.mask(fault, rows["benefit_gbp"]).mask(danger, 0.0)
    return pd.DataFrame(
        {
            "worst": worst,
            "short": rows["hours"].where(danger, 0.0),
            "gain": -gain.round(2),
            "likely": -rows["chance_fail_quarter"].fillna(0.0).round(4),
            "waits": rows["priority_household"].ne("yes"),
            "home": rows["home_id"],
        }
    )


def _asked(
    facts: Facts, found: pd.DataFrame, options: pd.DataFrame, lived: pd.DataFrame, policy: Policy
) -> pd.DataFrame:
    """One row a target with work on it: the valve's state (empty for a home's system), option, tasks, severity."""
    valves = asked_valves(facts, found, lived, policy)
    valves = valves.assign(chance_fail_quarter=chance_where_it_is(valves, policy), **_totals(valves, options))
    need = needs(found)
    homes = need.loc[need.index.str.startswith("home "), ["home_id"]].rename_axis("target").reset_index()
    priority = facts.homes.drop_duplicates("home_id").set_index("home_id")["priority_household"]
    rows = pd.concat([valves, homes.assign(priority_household=homes["home_id"].map(priority))], ignore_index=True)
    picked = options.loc[options["chosen"].eq("yes")].set_index("valve_id")
    of_row = need.reindex(rows["target"]).set_axis(rows.index)
    flags = of_row[list(words.TASK)].eq(True)
    flags["repipe"] &= ~flags["relocate"]  # moving a valve re-makes its pipework
    rows = rows.assign(
        of_home=rows["valve_id"].isna(),
        system=rows["system"].astype("str").fillna("main"),
        option=rows["valve_id"].map(picked["option"]).astype("str").fillna("leave"),
        saved=rows["valve_id"].map(picked["benefit_gbp"]).astype("float64").fillna(0.0),
        severity=of_row["severity"].astype("str"),
        chosen_why=rows["valve_id"].map(picked["chosen_why"]).astype("str").fillna(""),
        wrong_kind=rows["wrong_kind"].eq(True),
        tasks=written(flags, lambda row: "; ".join(task for task, asked in row.items() if asked)),
    )
    rows = pd.concat([rows, flags.add_prefix("task_")], axis=1)
    water_first = rows["option"].ne("leave") & among(rows["home_id"], rows.loc[rows["task_water_quality"], "home_id"])
    rows = rows.assign(water_first=water_first)
    rows = rows.loc[rows["option"].ne("leave") | rows["tasks"].ne("")]
    rows = rows.assign(worst=rows["severity"].map(SEVERITY_ORDER).astype("int64"))
    return rows.sort_values(["home_id", "worst", "target"], kind="stable").reset_index(drop=True)


def _totals(valves: pd.DataFrame, options: pd.DataFrame) -> dict[str, pd.Series]:
    """What each option costs in all, GBP, where the valve is moved; missing elsewhere, and where it is not possible."""
    possible = options.loc[options["feasible"].eq("yes")].set_index("valve_id")
    return {
        f"{option}_total": valves["valve_id"]
        .map(possible.loc[possible["option"].eq(option), "total_gbp"])
        .astype("float64")
        .where(valves["moved"])
        for option in KEPT_OR_NEW
    }


def _billed(asked: pd.DataFrame, policy: Policy) -> pd.DataFrame:
    """Hours, part, doses, drain_down; the second job that drains a system shares its drain-down and dose."""
    flags = asked[[f"task_{task}" for task in words.TASK]].rename(columns=lambda name: name.removeprefix("task_"))
    billed = bills.bill(asked, asked["option"], flags, policy)
    again = billed["drain_down"] & billed["drain_down"].groupby([asked["home_id"], asked["system"]]).cumsum().gt(1)
    saved = bills.drain_hours(policy) * again
    return billed.assign(
        hours=(billed["hours"] - saved).clip(lower=0.0).round(4), doses=billed["doses"].mask(again, 0.0), again=again
    )


def _benefit(asked: pd.DataFrame, prices: Prices, policy: Policy) -> pd.DataFrame:
    """What each job saves against leaving it, net of its cost (`benefit`), and that in words (`gained`).

    Work that is needed either way saves the dearer call-out it may come as. The home's call-out is paid once.
    """
    call_out, dearer = prices.cost["call_out"], fault_surcharge(prices, policy)
    shared = bills.drain_hours(policy) * prices.cost["labour_hour"] + prices.cost["inhibitor"]
    renews = asked["option"].ne("leave")
    needed = asked["tasks"].ne("") & asked["tasks"].ne("change_head_kind")
    apart = renews & ~asked["task_relocate"]  # what is renewed on a move needs no call-out of its own
    gain = renews * asked["saved"] + (apart * 1 + needed * 1) * call_out + needed * dearer + asked["again"] * shared
    gain = gain.clip(lower=0.0)
    together = gain.groupby(asked["home_id"]).transform("sum")
    net = (together - call_out).clip(lower=0.0)
    benefit = (gain * net / together.where(together.gt(0), 1.0)).astype("float64")
    share = policy.number("money.fault_call_out_share")
    calls = (apart * 1 + needed * 1).groupby(asked["home_id"]).transform("sum")
    told = asked[["saved", "again"]].assign(renews=renews, needed=needed, calls=calls, net=benefit).round(2)

    def write(row: dict[str, Any]) -> str:
        pieces = [f"doing it rather than leaving the valve {pounds(row['saved'])}"] if row["renews"] else []
        if row["needed"]:
            left = f"{100 * share:.0f} % of faults left"
            pieces.append(f"sparing the dearer call-out that {left} become {pounds(dearer)}")
        pieces += [f"sharing a drain-down {pounds(shared)}"] if row["again"] else []
        pieces += [f"one call-out of {pounds(call_out)}, not {row['calls']}, for the home"] if row["calls"] > 1 else []
        return f"benefit {pounds(row['net'])}, its cost taken off: {', '.join(pieces)}"

    return pd.DataFrame({"benefit": benefit, "gained": written(told, write)})


def _reasons(asked: pd.DataFrame, found: pd.DataFrame) -> pd.Series:
    said = found["statement"].str.strip().str.rstrip(".")
    return asked["target"].map(joined_by(found["target"], said, "; ", REASONS)).fillna("").astype("str")


def _why(asked: pd.DataFrame) -> pd.Series:
    """Why each job is done: for safety, for a fault, or for what it saves."""
    needed = ~asked["tasks"].isin(["", "change_head_kind"])
    why = asked["chosen_why"].mask(needed & asked["option"].eq("leave"), "")
    fault = "a fault, to be put right now or later; the benefit is what putting it right now spares"
    danger = "danger: made safe whatever it costs"
    must = pd.Series(fault, index=asked.index, dtype="str").mask(asked["severity"].eq("danger"), danger)
    must = must.where(needed | asked["severity"].eq("danger"), "")
    both = must.ne("") & why.ne("")
    return (must + why).mask(both, must + "; the new part: " + why)


def _puts_right(asked: pd.DataFrame, found: pd.DataFrame) -> pd.Series:
    """The rules whose findings each job puts right; those that ask for a renewal, where the part is renewed."""
    option = found["target"].map(asked.set_index("target")["option"])
    whole = ~found["remedy"].eq("renew_body") | option.eq("full")
    done = ~found["remedy"].isin(RENEWALS) | (option.ne("leave") & whole)
    rules = joined_by(found.loc[done, "target"], found.loc[done, "rule"], ", ")
    return asked["target"].map(rules).astype("str")


def _ranked(asked: pd.DataFrame) -> pd.DataFrame:
    rows = asked.assign(benefit_gbp=asked["benefit"].round(2))
    order = rank_keys(rows).assign(target=rows["target"]).sort_values([*RANK_KEYS, "target"], kind="stable")
    return rows.loc[order.index].reset_index(drop=True)


def _table(rows: pd.DataFrame, prices: Prices, policy: Policy) -> pd.DataFrame:
    pieces = rows[["part", "relays", "doses"]]
    table = rows.assign(
        rank=np.arange(1, len(rows) + 1),
        cost_gbp=rows["cost"].round(2),
        parts=written(pieces, lambda row: "; ".join(_pieces(row))),
        what=what(rows),
        in_short=in_short(rows),
        working=bills.working(rows, _tail(rows, policy), prices, call_out=False),
        drain_down=pd.Series(np.where(rows["drain_down"], "yes", "no"), dtype="str", index=rows.index),
    )
    return table[[column.name for column in RESULT_COLUMNS["jobs"]]]


def _pieces(row: dict[str, Any]) -> list[str]:
    counts = ((row["part"], 1), ("relay", row["relays"]), ("inhibitor", row["doses"]))
    return [f"{item} × {count:g}" for item, count in counts if item and count]


def _tail(rows: pd.DataFrame, policy: Policy) -> pd.Series:
    """What was taken for granted, and what the home's other jobs carry."""
    tail = pd.Series("", index=rows.index, dtype="str")
    for option in words.OPTION:
        of_valve = rows["option"].eq(option) & (rows["task_relocate"] | (option != "leave"))
        tail = tail.mask(of_valve, taken(rows.loc[of_valve], option, policy))
    tail = tail + written(rows[[f"{option}_total" for option in KEPT_OR_NEW]].round(2), _kept_or_new)
    tail = tail.mask(rows["again"], tail + "; drain-down and dose counted once for the home")
    return tail + "; the visit's call-out comes on top, once; " + rows["gained"]


def _kept_or_new(row: dict[str, Any]) -> str:
    """What a moved valve costs in all with its head, a new one, or all new."""
    totals = {told: row[f"{option}_total"] for option, told in KEPT_OR_NEW.items()}
    said = [f"{pounds(total)} {told}" for told, total in totals.items() if total is not None]
    return f" (now and later {', '.join(said)})" if len(said) > 1 else ""
