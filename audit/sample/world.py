"""The invented landlord's hidden numbers: what is true, whatever its records say."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

HEAD_SCALE = {"zone": 11.0, "zone_changeover": 11.0, "mid_position": 9.5, "diverter": 12.0}


@dataclass(frozen=True)
class World:
    """Every planted number. Lives are Weibull in effective years; rates are a year; shares lie in 0..1.

    `plain()` gives the same landlord without groups, chains or hot cupboards, for tests of the life fits.
    """

    log_start: dt.date = dt.date(2019, 1, 1)  # the visit log begins
    oldest_years: float = 35.0  # the oldest scheme was built this long before the as-of date

    head_shape: float = 2.4
    head_scale: Mapping[str, float] = field(default_factory=lambda: dict(HEAD_SCALE))  # effective years
    body_shape: float = 3.0
    body_scale: float = 34.0  # effective years
    motor_share: float = 0.6  # share of a head's age that a new motor takes off
    motor_choice: float = 0.25  # of failed motors that can be changed on their own, so many are
    reference_c: float = 40.0  # above it a head ages faster ...
    doubling_c: float = 10.0  # ... twice as fast for every so many °C
    hot_share: float = 0.04  # homes whose cupboard cooks the heads, besides the ordinary spread

    batch_share: float = 0.012  # valves of the bad batch
    batch_rate: float = 2.0  # its heads fail this many times as often
    scheme_homes: int = 60  # the bad scheme is the one nearest to this size
    scheme_rate: float = 3.0  # its heads and bodies fail this many times as often

    planned_rate: float = 0.010  # heads and valves renewed for another reason, a valve
    wiring_rate: float = 0.006  # loose wires, a valve
    other_rate: float = 0.110  # call-outs that no valve caused, a home
    inspection_rate: float = 0.03  # planned visits that look and measure, a home
    checks_share: float = 0.4  # homes whose annual safety visits are in the log

    no_access: float = 0.10  # first attempts that found nobody in
    parts_needed: float = 0.22  # repairs that took a second visit for parts
    chains: Mapping[str, float] = field(
        default_factory=lambda: {
            "seized_body": 0.30,  # of seized bodies
            "hot_cupboard": 0.35,  # of heads that fail where ageing is at least three times as fast
            "bad_batch": 0.25,  # of failed heads of the bad batch
            "bad_end_switch": 0.18,  # of failed end switches
            "loose_wire": 0.45,  # of loose wires
        }
    )

    @property
    def log_start_day(self) -> float:
        """The log's first day, as days since 1970."""
        return float((self.log_start - dt.date(1970, 1, 1)).days)


def plain(scale: float = 11.0) -> World:
    """The landlord with one life for all heads: no groups, heat, chains, loose wires or new motors in old heads."""
    return World(
        head_scale=dict.fromkeys(HEAD_SCALE, scale),
        hot_share=0.0,
        reference_c=200.0,
        batch_rate=1.0,
        scheme_rate=1.0,
        wiring_rate=0.0,
        motor_choice=0.0,
        chains={},
    )
