"""Groups: how valves are divided, and how small groups are drawn to the greater."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from audit.life.counting import count_lives
from audit.life.groups import Prior, Tree, drawn, tree, within
from audit.life.lifetimes import PartLives
from audit.life.likelihood import find_peak
from audit.life.renewal import Unseen

LEVELS = ((("head_kind", "{}"), ("wires", "{} wires")), (("make", "{}"),))


def valves(*counts: tuple[str | None, float, str | None, int]) -> pd.DataFrame:
    rows = [row[:3] for row in counts for _ in range(row[3])]
    return pd.DataFrame(rows, columns=["head_kind", "wires", "make"]).astype({"head_kind": "str", "make": "str"})


def test_valves_are_divided_level_by_level() -> None:
    table = valves(("zone", 5, "Make A", 40), ("zone", 5, "Make B", 40), ("diverter", 3, "Make A", 40))
    found = tree(table, LEVELS, least=30)
    assert found.names == (
        "all",
        "diverter, 3 wires",
        "zone, 5 wires",
        "zone, 5 wires, Make A",
        "zone, 5 wires, Make B",
    )
    assert found.parent.tolist() == [-1, 0, 0, 2, 2]
    assert np.bincount(found.leaf).tolist() == [0, 40, 0, 40, 40]


@pytest.mark.parametrize(
    ("case", "table", "names"),
    [
        ("one kind only is the whole", valves(("zone", 5, "Make A", 50)), ("all",)),
        (
            "too few stay in the whole",
            valves(("zone", 5, None, 50), ("diverter", 3, None, 29)),
            ("all", "zone, 5 wires"),
        ),
        (
            "missing values say nothing",
            valves((None, np.nan, None, 50), ("zone", 5, None, 50)),
            ("all", "zone, 5 wires"),
        ),
        (
            "what is known of them divides them",
            valves((None, 5, None, 50), ("zone", 5, None, 50)),
            ("all", "5 wires", "zone, 5 wires"),
        ),
    ],
)
def test_which_groups_there_are(case: str, table: pd.DataFrame, names: tuple[str, ...]) -> None:
    assert tree(table, LEVELS, least=30).names == names


def test_a_group_holds_what_its_parts_hold() -> None:
    assert within(np.array([1.0, 2, 4, 8]), np.array([-1, 0, 0, 2])).tolist() == [15, 2, 12, 8]


def stock(seed: int, *groups: tuple[int, float, float]) -> tuple[PartLives, Tree]:
    """Lives watched from new for 9 years; groups of so many valves with shape and scale."""
    draw = np.random.default_rng(seed)
    ended = np.concatenate([scale * draw.weibull(shape, many) for many, shape, scale in groups])
    leaf = np.repeat(np.arange(len(groups)) + 1, [many for many, *_ in groups])
    later = pd.DataFrame(
        {"valve": np.arange(len(leaf)), "entered": 0.0, "ended": np.minimum(ended, 9.0), "failed": ended < 9}
    )
    opening = pd.DataFrame({"valve": np.arange(len(leaf)), "origin": 0.0, "age": 0.0, "span": 0.0, "failed": False})
    parent = np.array([-1] + [0] * len(groups))
    return PartLives(opening, later, Unseen()), Tree(("all", *map(str, range(len(groups)))), parent, leaf)


def fits(lives: PartLives, groups: Tree, spread: float) -> list:
    counts, _ = count_lives(lives, np.ones(len(groups.leaf)), groups.leaf)
    whole = find_peak(counts, 0.8, 2.4)
    return [whole, *drawn(counts.log_likelihoods, groups.parent, whole, (spread, spread), 0.90)]


def test_a_group_of_five_does_not_shout() -> None:
    """Five heads that all failed within three years, beside 3,000 of scale 11: drawn to them, and said so."""
    lives, groups = stock(1, (3000, 2.4, 11.0), (5, 8.0, 2.5))
    whole, _, (peak, _, prior) = fits(lives, groups, 0.25)
    assert whole.scale == pytest.approx(11, rel=0.06)
    assert 6 < peak.scale < whole.scale
    assert prior.weight(peak) > 0.2


def test_a_large_group_speaks_for_itself() -> None:
    lives, groups = stock(2, (3000, 2.4, 11.0), (1000, 2.0, 6.0))
    _, (one, _, of_one), (other, _, of_other) = fits(lives, groups, 0.25)
    assert (one.scale, other.scale) == pytest.approx((11, 6), rel=0.06)
    assert (one.shape, other.shape) == pytest.approx((2.4, 2.0), rel=0.1)
    assert max(of_one.weight(one), of_other.weight(other)) < 0.02


def test_the_wider_the_spread_the_less_it_is_drawn() -> None:
    lives, groups = stock(3, (3000, 2.4, 11.0), (20, 2.4, 5.0))
    scales, weights = zip(
        *(
            (peak.scale, prior.weight(peak))
            for _, _, (peak, _, prior) in (fits(lives, groups, s) for s in (0.05, 0.25, 1.0))
        ),
        strict=True,
    )
    assert scales[0] > scales[1] > scales[2]
    assert weights[0] > weights[1] > weights[2]


def test_the_lattice_gives_what_the_group_alone_would_give() -> None:
    lives, groups = stock(4, (3000, 2.4, 11.0), (400, 1.6, 5.0))
    _, _, (peak, _, prior) = fits(lives, groups, 0.25)
    mine = groups.leaf == 2
    alone = PartLives(lives.openings[mine], lives.later[mine[lives.later["valve"]]], Unseen())
    counts, _ = count_lives(alone, np.ones(len(mine)), np.zeros(len(mine), dtype=np.int64))
    exact = find_peak(lambda x, y: counts(x, y) + prior(x, y), prior.log_shape, prior.log_scale)
    assert peak.scale == pytest.approx(exact.scale, rel=2e-3)
    assert peak.shape == pytest.approx(exact.shape, rel=1e-2)
    np.testing.assert_allclose(peak.errors, exact.errors, rtol=0.05)


def test_without_a_failure_or_a_year_the_group_is_what_holds_it() -> None:
    lives, groups = stock(5, (3000, 2.4, 11.0), (5, 2.4, 11.0))
    later = lives.later.loc[lives.later["valve"] < 3000]
    whole, _, (peak, _, prior) = fits(PartLives(lives.openings, later, Unseen()), groups, 0.25)
    assert (peak.shape, peak.scale) == pytest.approx((whole.shape, whole.scale), rel=1e-3)
    assert prior.weight(peak) == pytest.approx(1, abs=1e-3)


def test_penalty_by_hand() -> None:
    prior = Prior(0.0, 1.0, 0.5, 0.25)
    assert prior(0.0, 1.0) == 0
    assert prior(0.5, 1.25) == pytest.approx(-1.0)
