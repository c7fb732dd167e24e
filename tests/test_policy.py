"""The policy: every limit has a unit, a source and a range, and a landlord's file changes single values."""

from __future__ import annotations

from pathlib import Path

import pytest

from audit.errors import CannotUse
from audit.policy import Limit, load_policy

LIMITS = list(load_policy().values())


@pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.name)
def test_every_limit_says_what_it_is_and_where_it_comes_from(limit: Limit) -> None:
    assert limit.unit
    assert limit.source
    assert limit.meaning.endswith(".")


@pytest.mark.parametrize("limit", [x for x in LIMITS if not isinstance(x.value, list)], ids=lambda limit: limit.name)
def test_every_default_lies_in_its_own_range(limit: Limit) -> None:
    assert limit.low is not None
    assert limit.high is not None
    assert limit.low <= limit.number <= limit.high


def own(folder: Path, text: str) -> Path:
    path = folder / "own.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_landlords_value_stands_beside_its_default(tmp_path: Path) -> None:
    changed = load_policy(own(tmp_path, "[age]\nhead_service_life = 15\n"))
    limit = changed["age.head_service_life"]
    assert limit.number == 15
    assert limit.source == "own.toml (default 12, assumed)"
    assert changed.number("age.body_service_life") == load_policy().number("age.body_service_life")
    assert changed.sha256 != load_policy().sha256


def test_equal_values_have_equal_digests(tmp_path: Path) -> None:
    assert load_policy(own(tmp_path, "[age]\nhead_service_life = 12\n")).sha256 == load_policy().sha256


def test_a_value_at_its_bound_is_taken_and_one_past_is_not(tmp_path: Path) -> None:
    assert load_policy(own(tmp_path, "[age]\nhead_service_life = 60\n")).number("age.head_service_life") == 60
    with pytest.raises(CannotUse, match=r"age\.head_service_life = 61 is out of range.*60 years"):
        load_policy(own(tmp_path, "[age]\nhead_service_life = 61\n"))


def test_holidays_are_dates(tmp_path: Path) -> None:
    days = load_policy(own(tmp_path, "[response]\nextra_holidays = [2026-12-24]\n"))["response.extra_holidays"].value
    assert [day.isoformat() for day in days] == ["2026-12-24"]
    with pytest.raises(CannotUse, match="list of dates"):
        load_policy(own(tmp_path, "[response]\nextra_holidays = ['Christmas Eve']\n"))


def test_limits_that_cross_are_refused(tmp_path: Path) -> None:
    with pytest.raises(CannotUse, match=r"fit\.insertion_22_low = 20 lies above fit\.insertion_22_high = 15"):
        load_policy(own(tmp_path, "[fit]\ninsertion_22_low = 20\n"))
