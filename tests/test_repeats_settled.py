"""Repeats of chains that are put right ask for no work; the others stand, and the ranking closes up."""

from __future__ import annotations

import pandas as pd

from audit.model import Facts
from audit.policy import load_policy
from audit.repeats import found_since, renewed_soon, settled
from audit.repeats.settled import WATCH

STEP = "Renew the whole valve V9; another head will not cure it."
CHAINS = pd.DataFrame(
    {"chain": ["C1", "C2"], "state": ["put right by the last visit", "to do"], "next_step": ["Nothing: watch.", STEP]}
)
STEPS = pd.DataFrame({"chain": ["C1", "C1", "C2"], "visit_id": ["J1", "J2", "J9"]})
FINDINGS = pd.DataFrame(
    {
        "rank": [1, 2, 3, 4],
        "rule": ["repeat-call-out", "repeat-call-out", "no-fault-found-again", "age-unknown"],
        "visit_id": ["J2", "J9", None, None],
        "severity": ["fault", "fault", "fault", "record"],
        "action": ["Read the history."] * 4,
    }
)


def test_a_repeat_of_a_chain_put_right_becomes_a_record_that_says_so() -> None:
    found = settled(FINDINGS, CHAINS, STEPS)
    assert found["rank"].tolist() == [1, 2, 3, 4]
    assert found["severity"].tolist() == ["fault", "fault", "record", "record"]
    told = found.loc[found["visit_id"].eq("J2")].iloc[0]
    assert (told["severity"], told["action"]) == ("record", WATCH)
    assert found.loc[found["visit_id"].eq("J9"), "action"].item() == f"As chain C2 tells: {STEP}"


def test_no_chains_change_nothing() -> None:
    found = settled(FINDINGS, CHAINS.iloc[:0], STEPS.iloc[:0])
    pd.testing.assert_frame_equal(found, FINDINGS)


def test_faults_not_found_become_a_record_where_the_chains_of_all_of_them_were_put_right() -> None:
    visits = pd.DataFrame(
        {
            "visit_id": ["J1", "J2", "J9", "J3"],
            "home_id": ["H1", "H1", "H2", "H2"],
            "outcome": "no_fault_found",
            **{"is_fault": True, "episode": [0, 1, 2, 3], "valve_id": None, "cause": None, "reported": pd.NaT},
            "at": pd.to_datetime(["2026-05-01", "2026-06-01", "2026-05-01", "2026-06-01"]).astype("datetime64[us]"),
        }
    )
    known = Facts(homes=pd.DataFrame(), valves=pd.DataFrame(), visits=visits, as_of=pd.Timestamp("2026-09-30"))
    rows = FINDINGS.iloc[[2, 2]].reset_index(drop=True).assign(home_id=["H2", "H1"], rank=[1, 2])
    found = found_since(rows, CHAINS, STEPS, known, load_policy())  # of H1 both, of H2 none belongs to the chain C1
    assert found[["rank", "home_id", "severity"]].to_numpy().tolist() == [[1, "H2", "fault"], [2, "H1", "record"]]
    assert found["action"].tolist() == ["Read the history.", WATCH]


DUE_CASES = pd.DataFrame(
    [  # valve, renewal due, last call-out, left to the renewal?
        ("V1", "2028-09-29", "fixed", True),  # a day inside 24 months of 30 September 2026
        ("V2", "2028-09-30", "fixed", False),  # at the limit
        ("V3", "2026-09-30", "fixed", True),  # due on the day itself
        ("V4", "2026-09-29", "fixed", False),  # overdue: nobody knows when
        ("V5", "2027-06-01", "temporary", False),  # not mended: the work stands
        ("V6", None, "fixed", False),  # no day known
    ],
    columns=["valve_id", "due", "outcome", "left"],
)


def test_a_valve_that_works_is_left_where_the_heating_is_renewed_soon() -> None:
    known = case_facts()
    found = renewed_soon(_again(DUE_CASES["valve_id"]), known, load_policy())
    left = found.set_index("valve_id")["severity"].eq("record")
    assert left.reindex(DUE_CASES["valve_id"]).tolist() == DUE_CASES["left"].tolist()
    assert (
        found.loc[found["valve_id"].eq("V1"), "action"]
        .item()
        .startswith("None now: the heating is due for renewal on 29 September 2028, within 24 months")
    )
    assert found["rank"].tolist() == [1, 2, 3, 4, 5, 6]


def _again(valves: pd.Series) -> pd.DataFrame:
    rows = {"rank": range(1, 7), "rule": "head-replaced-again", "valve_id": valves, "severity": "fault", "action": "-"}
    return pd.DataFrame(rows)


def case_facts() -> Facts:
    """Each valve was fixed once, long ago; its last call-out ended as in the case."""
    due = pd.to_datetime(DUE_CASES["due"]).astype("datetime64[us]")
    valves = pd.DataFrame({"valve_id": DUE_CASES["valve_id"], "heating_renewal_due": due})
    last = DUE_CASES.assign(visit_id=[f"J2{n}" for n in range(6)], reported=pd.Timestamp("2026-05-01"))
    first = last.assign(visit_id=[f"J1{n}" for n in range(6)], reported=pd.Timestamp("2024-05-01"), outcome="fixed")
    visits = pd.concat([last, first]).assign(is_fault=True)
    return Facts(homes=pd.DataFrame(), valves=valves, visits=visits, as_of=pd.Timestamp("2026-09-30"))
