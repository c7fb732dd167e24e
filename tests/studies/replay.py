"""Replays the programme's policy, valve by valve and by lot: `python -m tests.studies.replay [histories]`.

Each history lives through the steps with its own luck; what it costs, discounted, is averaged over a million of them
and must agree with the expected cost that the programme gives, within three standard errors.
"""

from __future__ import annotations

import sys
import time
from typing import Final

import numpy as np

from audit.choice.programme import FULL, HEAD, MOTOR, Array, Costs, Grid, Lives, solve
from audit.life import chance_fail

LIVES: Final = Lives(head_shape=2.4, head_scale=9.0, body_shape=3.0, body_scale=24.0, motor_factor=0.4)
COSTS: Final = Costs(motor=60.0, head=107.0, full=225.0, head_failure=290.0, body_failure=420.0)  # failures are dear
GRID: Final = Grid()
STEPS: Final = 120  # 30 years
STARTS: Final = ((0, 0), (40, 40), (60, 90), (20, 110))  # quarters: ages of head and body


def solved(lives: Lives, costs: Costs, grid: Grid, steps: int) -> tuple[np.ndarray, Array]:
    """Best action by (steps to go, head, body), and the least cost with all the steps to go by (head, body)."""
    best = np.zeros((steps + 1, grid.head_steps, grid.body_steps), dtype=np.int8)
    last = np.zeros((grid.head_steps, grid.body_steps))

    def see(to_go: int, q: Array) -> None:
        best[to_go] = q.argmin(axis=0)
        last[:] = q.min(axis=0)

    solve(lives, costs, grid, steps, see)
    return best, last


def replay(best: np.ndarray, start: tuple[int, int], histories: int, seed: int) -> Array:
    """Cost of each history, GBP discounted (histories,)."""
    rng = np.random.default_rng(seed)
    head, body = (np.full(histories, age, dtype=np.int64) for age in start)
    cost = np.zeros(histories)
    worth, middle = 1.0, GRID.discount**0.5
    fail_head = chance_fail(np.arange(GRID.head_steps) * GRID.step, GRID.step, LIVES.head_shape, LIVES.head_scale)
    fail_body = chance_fail(np.arange(GRID.body_steps) * GRID.step, GRID.step, LIVES.body_shape, LIVES.body_scale)
    price = np.array([0.0, COSTS.motor, COSTS.head, COSTS.full])
    for to_go in range(len(best) - 1, 0, -1):
        action = best[to_go, head, body]
        cost += worth * price[action]
        kept = LIVES.motor_factor * head
        after_motor = np.floor(kept + rng.random(histories)).astype(np.int64)  # the step below or above, by its share
        head = np.where(action == MOTOR, after_motor, np.where((action == HEAD) | (action == FULL), 0, head))
        body = np.where(action == FULL, 0, body)
        body_fails = rng.random(histories) < fail_body[body]
        head_fails = ~body_fails & (rng.random(histories) < fail_head[head])
        cost += worth * middle * (body_fails * COSTS.body_failure + head_fails * COSTS.head_failure)
        head = np.where(body_fails | head_fails, 0, np.minimum(head + 1, GRID.head_steps - 1))
        body = np.where(body_fails, 0, np.minimum(body + 1, GRID.body_steps - 1))
        worth *= GRID.discount
    return cost


def main(histories: int) -> None:
    """Print the table."""
    best, least = solved(LIVES, COSTS, GRID, STEPS)
    print(f"{'head, body (quarters)':24}{'programme':>12}{'replayed':>12}{'error':>9}{'errors off':>12}{'seconds':>9}")
    for seed, start in enumerate(STARTS):
        began = time.process_time()
        cost = replay(best, start, histories, seed)
        error = cost.std() / np.sqrt(histories)
        off = (cost.mean() - least[start]) / error
        took = time.process_time() - began
        print(f"{start!s:24}{least[start]:12.3f}{cost.mean():12.3f}{error:9.3f}{off:12.2f}{took:9.1f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
