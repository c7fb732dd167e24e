"""Repeats of chains that are put right ask for no work; the others stand, and the ranking closes up."""

from __future__ import annotations

import pandas as pd

from audit.repeats import settled
from audit.repeats.settled import WATCH

CHAINS = pd.DataFrame({"chain": ["C1", "C2"], "state": ["put right by the last visit", "to do"]})
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
    assert found.loc[found["visit_id"].eq("J9"), "action"].item() == "Read the history."


def test_no_chains_change_nothing() -> None:
    found = settled(FINDINGS, CHAINS.iloc[:0], STEPS.iloc[:0])
    pd.testing.assert_frame_equal(found, FINDINGS)
