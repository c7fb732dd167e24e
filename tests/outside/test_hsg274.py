"""HSE L8 and HSG274 Part 2 (2014), hot water: store at 60 °C or more, taps 50 °C or more within one minute.

https://hse.gov.uk/legionnaires/hot-and-cold.htm
"""

from __future__ import annotations

import pytest

from audit.policy import load_policy
from tests.frames import found, portfolio


def fired(column: str, reading: str) -> set[str]:
    visit = {"visit_id": "J1", "home_id": "H1", "reported": "2026-03-02", "completed": "2026-03-02", column: reading}
    return set(found(portfolio(visits=[visit]))["rule"])


@pytest.mark.parametrize(("reading", "cool"), [("59.9", True), ("60.0", False), ("60.1", False), ("20", True)])
def test_store_at_least_60(reading: str, cool: bool) -> None:
    assert ("store-too-cool" in fired("store_temp_c", reading)) == cool


@pytest.mark.parametrize(("reading", "cool"), [("49.9", True), ("50.0", False), ("20", True)])
def test_tap_at_least_50(reading: str, cool: bool) -> None:
    assert ("tap-too-cool" in fired("tap_temp_c", reading)) == cool


def test_the_limits_name_their_source() -> None:
    policy = load_policy()
    assert (policy.number("water.store_minimum"), policy.number("water.tap_minimum")) == (60, 50)
    assert all("HSG274" in policy[name].source for name in ("water.store_minimum", "water.tap_minimum"))
