"""Repeats that need no work now: put right by the last visit, or on a system that is renewed soon."""

from __future__ import annotations

from typing import Final

import pandas as pd

from audit.calendar import months_between
from audit.model import Facts
from audit.policy import Policy
from audit.repeats.chains import RIGHT
from audit.repeats.hypotheses import HYPOTHESES
from audit.rules.repeats import valve_failures
from schemas.results import SEVERITY_ORDER

TO_DO: Final = ("to do", "open")
SPEAKING: Final = (*TO_DO, RIGHT)  # states of chains that tell what to do now
BODY: Final = next(each for each in HYPOTHESES if each.name == "body")
WAITS: Final = (  # what a valve can live with until its heating is renewed
    "head-replaced-again",
    "location-too-hot",
    "lever-stiff",
    "too-close-to-pump",
    "insertion-out-of-range",
    "flow-direction-wrong",
)
WATCH: Final = "None now: the last visit of this chain put the cause right, and nothing followed; watch."


def settled(findings: pd.DataFrame, chains: pd.DataFrame, steps: pd.DataFrame) -> pd.DataFrame:
    """Let repeat call-outs follow their chain, and rank the findings anew.

    Those of a chain put right become records; those of a chain still to do say its next step.

    Args:
        findings: The ranked `findings` table.
        chains: The `chains` table.
        steps: The chains' visits, with chain and visit_id; see `audit.repeats.followed`.
    """
    over = steps.loc[steps["chain"].isin(chains.loc[chains["state"].eq(RIGHT), "chain"]), "visit_id"]
    done = findings["rule"].eq("repeat-call-out") & findings["visit_id"].isin(over) & findings["severity"].eq("fault")
    live = chains.loc[chains["state"].isin(TO_DO)].set_index("chain")["next_step"]
    chain = steps.loc[steps["chain"].isin(live.index)].drop_duplicates("visit_id").set_index("visit_id")["chain"]
    chain = findings["visit_id"].where(findings["rule"].eq("repeat-call-out")).map(chain)
    step = "As chain " + chain.astype("str") + " tells: " + chain.map(live).astype("str")
    action = findings["action"].mask(done, WATCH).mask(step.notna() & findings["severity"].eq("fault"), step)
    return _ranked(findings.assign(severity=findings["severity"].mask(done, "record"), action=action))


def found_since(
    findings: pd.DataFrame, chains: pd.DataFrame, steps: pd.DataFrame, facts: Facts, policy: Policy
) -> pd.DataFrame:
    """Turn faults not found, and several valves failing, into records where a home's chains were put right since.

    That holds where every visit counted belongs to such a chain.
    """
    over = steps.loc[steps["chain"].isin(chains.loc[chains["state"].eq(RIGHT), "chain"]), "visit_id"]
    visits = facts.visits.loc[~facts.visits["visit_id"].isin(over)]
    missed = visits["outcome"].eq("no_fault_found")
    missed &= months_between(visits["at"], facts.as_of).le(policy.number("repeats.no_fault_window"))
    failed = valve_failures(visits)
    failed &= months_between(visits["reported"], facts.as_of).le(policy.number("repeats.several_valves_window"))
    done = pd.Series(False, index=findings.index)
    for rule, left in {"no-fault-found-again": missed, "several-valves-one-home": failed}.items():
        done |= findings["rule"].eq(rule) & ~findings["home_id"].isin(visits.loc[left, "home_id"])
    found = findings.assign(
        severity=findings["severity"].mask(done, "record"), action=findings["action"].mask(done, WATCH)
    )
    return _ranked(found)


def rooted(findings: pd.DataFrame, chains: pd.DataFrame, steps: pd.DataFrame, facts: Facts) -> pd.DataFrame:
    """Let heads replaced again follow the chain that the valve's last fault belongs to, unless that is long ago.

    Where the chain would renew that whole valve it is a fault; where it is put right, or points elsewhere, a record.
    The action is the chain's own next step.

    Args:
        findings: The ranked `findings` table.
        chains: The `chains` table.
        steps: The chains' visits, with chain and visit_id; see `audit.repeats.followed`.
        facts: For the last fault of each valve.
    """
    own = findings.loc[findings["rule"].eq("head-replaced-again"), "valve_id"]
    of_valve = facts.visits.loc[facts.visits["is_fault"] & facts.visits["valve_id"].isin(own)]
    last = of_valve.drop_duplicates("valve_id", keep="last").set_index("valve_id")["visit_id"]
    chain = own.map(last).map(steps.drop_duplicates("visit_id").set_index("visit_id")["chain"])
    chain = chain.loc[chain.isin(chains.loc[chains["state"].isin(SPEAKING), "chain"])].astype("str")
    about = (
        chains.set_index("chain")[["state", "likely_root", "next_step"]].reindex(pd.Index(chain)).set_axis(chain.index)
    )
    pairs = zip(about["next_step"], own.loc[chain.index], strict=True)
    told = [step.startswith(BODY.next_step.format(valve=valve)) for step, valve in pairs]
    whole = pd.Series(told, index=chain.index, dtype="bool")
    action = "No new valve on this ground: chain " + chain + " points at " + about["likely_root"] + ". "
    same = about["state"].eq(RIGHT) | whole
    action = (action + about["next_step"]).mask(same, "As chain " + chain + " tells: " + about["next_step"])
    found = findings.assign(severity=findings["severity"].copy(), action=findings["action"].copy())
    found.loc[chain.index, "severity"] = whole.map({True: "fault", False: "record"})
    found.loc[chain.index, "action"] = action
    return _ranked(found)


def renewed_soon(findings: pd.DataFrame, facts: Facts, policy: Policy) -> pd.DataFrame:
    """Turn faults of pipework, body or place into records, where the heating is renewed soon and the valve works.

    A valve works where the last visit to it for a fault left it fixed, or there was none. It is then mended on failure
    until the renewal, which costs less than a new body or a move for so short a time.
    """
    months = policy.number("money.renewal_soon")
    valves = facts.valves.set_index("valve_id")
    due = findings["valve_id"].map(valves["heating_renewal_due"])
    soon = due.ge(facts.as_of) & due.lt(facts.as_of + pd.DateOffset(months=round(months)))
    waits = findings["rule"].isin(WAITS) & findings["severity"].eq("fault")
    over = waits & soon & ~findings["valve_id"].isin(_not_left_fixed(facts.visits))
    day = due.dt.day.astype("Int64").astype("str") + due.dt.strftime(" %B %Y")
    action = "None now: the heating is due for renewal on " + day + f", within {months:g} months, and the valve "
    action += "works as far as the log tells; until then it costs least to mend it on failure."
    return _ranked(
        findings.assign(
            severity=findings["severity"].mask(over, "record"), action=findings["action"].mask(over, action)
        )
    )


def _not_left_fixed(visits: pd.DataFrame) -> pd.Series:
    """The ids of valves whose last visit for a fault, return visits included, did not leave them fixed."""
    told = visits.loc[visits["valve_id"].notna() & visits["is_fault"]]
    last = told.sort_values(["valve_id", "reported", "visit_id"]).drop_duplicates("valve_id", keep="last")
    return last.loc[last["outcome"].ne("fixed"), "valve_id"]


def _ranked(found: pd.DataFrame) -> pd.DataFrame:
    order = found["severity"].map(SEVERITY_ORDER).astype("int64").sort_values(kind="stable").index
    return found.loc[order].assign(rank=range(1, len(found) + 1)).reset_index(drop=True)
