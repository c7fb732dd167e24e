"""Small portfolios with findings made by hand, for the tests of choice and plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import pandas as pd

from audit.choice import assumed, jobs, options, prices
from audit.choice.prices import Prices
from audit.model import Facts
from audit.policy import Policy, load_policy
from schemas.results import RESULT_COLUMNS
from tests.frames import Row, frame, known_facts, portfolio

RATES: Final = {
    "labour_hour": 40, "call_out": 30, "out_of_hours_call_out": 90, "head_zone": 50, "head_zone_changeover": 60,
    "head_mid_position": 70, "head_diverter": 55, "motor": 20, "valve_2port_22": 80, "valve_2port_28": 110,
    "valve_3port_22": 95, "valve_3port_28": 135, "relay": 12, "inhibitor": 15,
}  # fmt: skip
FOUND: Final = ("rule", "severity", "home_id", "valve_id", "visit_id", "statement")
HEAD_OLD: Final = "head-past-service-life"
BODY_OLD: Final = "body-past-service-life"


def policy(**changes: float) -> Policy:
    """The default policy with single values changed: `policy(money__horizon=1)`."""
    named = {name.replace("__", "."): value for name, value in changes.items()}
    default = load_policy()
    assert set(named) <= set(default)
    return Policy({name: replace(limit, value=named.get(name, limit.value)) for name, limit in default.items()})


def rates(**changes: float) -> pd.DataFrame:
    """A complete rates table, with single prices changed."""
    return frame("rates", [{"item": k, "unit": "each", "cost_gbp": str(v)} for k, v in {**RATES, **changes}.items()])


def valve(valve_id: str, home_id: str = "H1", **cells: str) -> dict[str, str]:
    """A sound two-port valve with a zone head, 15 years old on the as-of date; cells as text change it."""
    return {
        "valve_id": valve_id, "home_id": home_id, "arrangement": "two_port_zones", "circuit": "heating", "ports": "2",
        "body_size_mm": "22", "head_kind": "zone", "wires": "5", "voltage_v": "230", "head_detachable": "yes",
        "motor_replaceable": "yes", "isolation": "no", "location": "airing_cupboard", "lever": "free",
        "body_fitted": "2011-11-25", "head_fitted": "2011-11-25",
    } | cells  # fmt: skip


def found(*rows: Sequence[str]) -> pd.DataFrame:
    """A findings table: rule, severity, home_id, valve_id, visit_id, statement; later ones may be left out."""
    cells = [dict(zip(FOUND, row, strict=False)) for row in rows]
    table = pd.DataFrame(cells, columns=[column.name for column in RESULT_COLUMNS["findings"]], dtype="object")
    table = table.where(table.notna() & table.ne(""), None).astype("str")
    return table.assign(statement=table["statement"].fillna(table["rule"] + "."))


class Case:
    """A portfolio with findings by hand, carried through options and jobs."""

    def __init__(
        self,
        valves: Sequence[Row],
        findings: pd.DataFrame,
        *,
        homes: Sequence[Row] = (),
        visits: Sequence[Row] = (),
        policy: Policy | None = None,
        rates: pd.DataFrame | None = None,
    ) -> None:
        """Reckon the options and the jobs."""
        self.policy = policy or load_policy()
        self.facts: Facts = known_facts(portfolio(homes, valves, visits), policy=self.policy)
        self.prices: Prices = prices(RATES_TABLE if rates is None else rates, self.policy)
        self.lived = assumed(self.facts, self.policy)
        self.options = options(self.facts, findings, self.lived, self.prices, self.policy)
        self.jobs = jobs(self.facts, findings, self.options, self.lived, self.prices, self.policy)

    def option(self, valve_id: str, option: str) -> pd.Series:
        """One row of the options table."""
        return self.options.set_index(["valve_id", "option"]).loc[(valve_id, option)]

    def chosen(self, valve_id: str) -> str:
        """The option chosen for a valve."""
        rows = self.options.loc[self.options["valve_id"].eq(valve_id) & self.options["chosen"].eq("yes"), "option"]
        return str(rows.item())


RATES_TABLE: Final = rates()
