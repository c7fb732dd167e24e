"""Prices: what is given counts, what is missing is assumed and said."""

from __future__ import annotations

from pathlib import Path

import pytest

from audit.choice.prices import pounds, prices
from audit.policy import load_policy
from schemas import words
from tests.choosing import RATES_TABLE, rates
from tests.frames import frame

POLICY = load_policy()


def test_no_rates_at_all_means_every_price_is_assumed() -> None:
    assumed = prices(frame("rates"), POLICY)
    assert assumed.assumed == set(words.RATE_ITEM)
    assert assumed.cost["labour_hour"] == POLICY.number("rates.labour_hour")
    assert assumed.caveat(["labour_hour", "head_zone"]) == " (all prices assumed)"
    assert "zone head £48" in assumed.said()[0]


def test_full_rates_leave_nothing_to_say() -> None:
    given = prices(RATES_TABLE, POLICY)
    assert (given.assumed, given.said(), given.caveat(["labour_hour"])) == (frozenset(), (), "")
    assert given.cost == {item: float(RATES_TABLE.set_index("item")["cost_gbp"][item]) for item in words.RATE_ITEM}


def test_one_missing_price_is_named_in_every_sum_it_stands_in() -> None:
    some = prices(rates().query("item != 'labour_hour'"), POLICY)
    assert some.assumed == {"labour_hour"}
    assert some.caveat(["labour_hour", "head_zone"]) == " (labour assumed)"
    assert some.caveat(["head_zone"]) == ""


def test_a_row_without_a_cost_counts_as_missing() -> None:
    blank = rates()
    blank.loc[blank["item"].eq("motor"), "cost_gbp"] = float("nan")
    assert prices(blank, POLICY).assumed == {"motor"}


def test_a_price_set_in_a_policy_file_is_not_assumed(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text("[rates]\nlabour_hour = 50\n", encoding="utf-8")
    set_by_hand = prices(frame("rates"), load_policy(own))
    assert set_by_hand.cost["labour_hour"] == 50
    assert "labour_hour" not in set_by_hand.assumed
    assert "own.toml" in set_by_hand.source["labour_hour"]


@pytest.mark.parametrize(
    ("amount", "text"),
    [(107, "£107"), (52.25, "£52.25"), (1250, "£1,250"), (0.1 + 0.2, "£0.30"), (-7.5, "−£7.50"), (-0.001, "£0")],
)
def test_pounds(amount: float, text: str) -> None:
    assert pounds(amount) == text
