"""The least expected cost: against brute force on a small grid, and against the age-replacement optimum.

Age replacement: Barlow & Hunter (1960); optimum of cost 1 planned, 5 on failure, Weibull shape 2.5, scale 1000: age
493.047, cost rate 0.00346204 (recomputed from the first-order condition).
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from audit.choice.programme import ACTIONS, Array, Costs, Grid, Lives, solve

LIVES = Lives(head_shape=2.4, head_scale=1.5, body_shape=3.0, body_scale=2.5, motor_factor=0.5)
COSTS = Costs(motor=30, head=55, full=140, head_failure=120, body_failure=260)
GRID = Grid(step=0.5, rate=0.035, head_steps=4, body_steps=5)
STEPS = 4


def brute_force(costs: Costs) -> dict[tuple[int, int, int, int], float]:
    """Cost of each action at each pair of ages and steps to go, by plain recursion over every outcome."""

    def chance(age: float, shape: float, scale: float) -> float:
        return 1 - np.exp((age / scale) ** shape - ((age + GRID.step) / scale) ** shape)

    @cache
    def wait(head: int, body: int, to_go: int) -> float:
        if to_go == 0:
            return 0.0
        fail_head = chance(head * GRID.step, LIVES.head_shape, LIVES.head_scale)
        fail_body = chance(body * GRID.step, LIVES.body_shape, LIVES.body_scale)
        older_head, older_body = min(head + 1, GRID.head_steps - 1), min(body + 1, GRID.body_steps - 1)
        discount, middle = GRID.discount, GRID.discount**0.5
        both = middle * costs.body_failure + discount * best(0, 0, to_go - 1)
        after = best(0, 0, to_go - 1) if costs.head_failure_renews_body else best(0, older_body, to_go - 1)
        head_only = middle * costs.head_failure + discount * after
        neither = discount * best(older_head, older_body, to_go - 1)
        return fail_body * both + (1 - fail_body) * (fail_head * head_only + (1 - fail_head) * neither)

    @cache
    def action(name: str, head: int, body: int, to_go: int) -> float:
        if name == "motor":
            age = LIVES.motor_factor * head
            low, share = int(age), age - int(age)
            above = wait(min(low + 1, GRID.head_steps - 1), body, to_go)
            return costs.motor + (1 - share) * wait(low, body, to_go) + share * above
        if name == "head":
            return costs.head + wait(0, body, to_go)
        return costs.full + wait(0, 0, to_go) if name == "full" else wait(head, body, to_go)

    @cache
    def best(head: int, body: int, to_go: int) -> float:
        return min(action(name, head, body, to_go) for name in ACTIONS) if to_go else 0.0

    return {
        (place, head, body, to_go): action(name, head, body, to_go)
        for place, name in enumerate(ACTIONS)
        for head in range(GRID.head_steps)
        for body in range(GRID.body_steps)
        for to_go in range(1, STEPS + 1)
    }


@pytest.mark.parametrize("renews_body", [False, True])
def test_equals_brute_force(renews_body: bool) -> None:
    costs = Costs(30, 55, 140, 120, 260, renews_body)
    seen: dict[int, Array] = {}
    solve(LIVES, costs, GRID, STEPS, lambda to_go, q: seen.__setitem__(to_go, q.copy()))
    for (place, head, body, to_go), expected in brute_force(costs).items():
        assert seen[to_go][place, head, body] == pytest.approx(expected, abs=1e-9)


def test_one_part_without_discount_is_replaced_at_the_optimal_age() -> None:
    step, steps = 5.0, 4_000
    lives = Lives(head_shape=2.5, head_scale=1000, body_shape=1, body_scale=1e12, motor_factor=1)
    costs = Costs(motor=1e18, head=1, full=1e18, head_failure=5, body_failure=0)
    last: list[Array] = []
    grid = Grid(step=step, rate=0, head_steps=300, body_steps=1)
    new = solve(lives, costs, grid, steps, lambda to_go, q: last.append(q[:, :, 0].copy()) if to_go == steps else None)
    age = np.flatnonzero(last[0].argmin(axis=0) == ACTIONS.index("head"))[0] * step
    assert age == pytest.approx(493.047, abs=step)
    assert (new[-1] - new[-1001]) / (1000 * step) == pytest.approx(0.00346204, rel=0.002)
