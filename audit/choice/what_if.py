"""A simple model of each option's cost, in yearly steps, that a workbook can reckon again with other inputs.

Whatever is done now, later failures are mended as they come: a head's by a new head, a body's by a whole valve. That is
dearer than acting best later (`audit.choice.programme`), and simple enough for a sheet of formulas.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.choice.bill import drain_hours, fitted
from audit.choice.options import attendance, no_heat
from audit.choice.prices import Prices
from audit.model import Facts
from audit.policy import Policy
from schemas import words

Numbers = npt.NDArray[np.float64]

YEARS: Final = 30  # rows of the sheet's working, and the longest horizon
MOST: Final = 12  # classes shown
BAND, OLDEST = 5.0, 25.0  # years: width of a band of head ages, and where the last one begins
PARTS: Final = ("head_part", "valve_part")
OWN: Final = {  # inputs that are the policy's own: label, policy key, lowest and highest value taken
    "hours_motor": ("Time for a motor", "hours.motor", 0, 16),
    "hours_head": ("Time for a head", "hours.head", 0, 16),
    "hours_valve": ("Time for a whole valve, without drain-down", "hours.full_isolated", 0, 16),
}
LIVES: Final = {
    "head_shape": "Head life: Weibull shape",
    "head_scale": "Head life: Weibull scale",
    "body_shape": "Body life: Weibull shape",
    "body_scale": "Body life: Weibull scale",
}


def what_if(
    facts: Facts, lives: Mapping[str, tuple[float, str]], prices: Prices, policy: Policy
) -> dict[str, pd.DataFrame]:
    """Return the tables `what_if_inputs` and `what_if`.

    Args:
        facts: The valves; those whose head's age is known are put in classes.
        lives: Value and source of each of `LIVES`, see `whole_lives`.
        prices: Prices, GBP excluding VAT.
        policy: Hours, money and horizon.

    Returns:
        `what_if_inputs`: name, label, value, unit, low, high, source, whole; `what_if`: one row for each of the MOST
        commonest classes of head, part and age: PARTS, band, valves, head_age and body_age (means, years), motor_fits
        (can a motor be renewed: yes or no), and the totals of `totals`.
    """
    classes = _classes(facts)
    inputs = _inputs(classes, lives, prices, policy)
    values = dict(zip(inputs["name"], inputs["value"], strict=True))
    return {"what_if_inputs": inputs, "what_if": classes.join(totals(values, classes))}


def whole_lives(table: pd.DataFrame) -> dict[str, tuple[float, str]]:
    """Return the whole stock's life of head and body from the table `life`: value and source of each of LIVES."""
    found = {}
    for part in ("head", "body"):
        row = table.loc[table["part"].eq(part)].iloc[0]
        source = f"fitted from {row['failures']:,.0f} failures" if row["basis"] == "fitted" else "assumed by the policy"
        found[f"{part}_shape"] = (round(float(row["shape"]), 3), source)
        found[f"{part}_scale"] = (round(float(row["scale_years"]), 2), source)
    return found


def totals(values: Mapping[str, float], classes: pd.DataFrame) -> pd.DataFrame:
    """Reckon each class: GBP now and later of each option, the cheapest, and the price below which a head pays.

    Args:
        values: The inputs by name.
        classes: PARTS, head_age, body_age, motor_fits.

    Returns:
        A column an option, `cheapest` (of equals the lighter work; a motor only where it can be renewed) and
        `head_below_gbp`: a new head costs less than leaving while the head's price is lower; NaN where it never does.
    """
    rate, turn_up = values["labour_hour"], values["attendance"] + values["lost_heat"]
    head_age, body_age = classes["head_age"].to_numpy(), classes["body_age"].to_numpy()
    left = failures(values, "head", head_age)
    moved = failures(values, "head", head_age * (1.0 - values["motor_share"]))
    new = failures(values, "head", np.zeros(len(classes)))
    body = failures(values, "body", body_age)
    new_body = failures(values, "body", np.zeros(len(classes)))
    price = classes["head_part"].map(values).to_numpy(dtype=np.float64)
    head = values["hours_head"] * rate
    opened = (values["hours_valve"] + values["hours_drain"]) * rate + values["inhibitor"]
    whole = opened + classes["valve_part"].map(values).to_numpy(dtype=np.float64)
    motor = values["call_out"] + values["hours_motor"] * rate + values["motor"]
    mend_head, mend_body = turn_up + head + price, turn_up + whole
    found = pd.DataFrame(index=classes.index)
    found["leave"] = left * mend_head + body * mend_body
    found["motor"] = motor + moved * mend_head + body * mend_body
    found["head"] = values["call_out"] + head + price + new * mend_head + body * mend_body
    found["full"] = values["call_out"] + whole + new * mend_head + new_body * mend_body
    possible = found.assign(motor=found["motor"].where(classes["motor_fits"].eq("yes"), np.inf))
    names = np.array(list(words.OPTION))
    found["cheapest"] = pd.Series(names[np.argmin(possible[names].to_numpy(), axis=1)], index=found.index, dtype="str")
    found["head_below_gbp"] = _head_below(left - new, turn_up + head, values["call_out"] + head)
    return found


def failures(values: Mapping[str, float], part: str, age: Numbers) -> Numbers:
    """Return the failures to expect within the horizon of a part of each `age` (years), each counted at today's worth.

    A failure counts in the middle of its year, and its part is as new from the same year of failure on: with f[t] the
    chance that a new part fails in its year t and d[t] the discount, a failure in year s stands for
    w[s] = d[s] + sum over k of f[k] w[s + k], itself and those after it.
    """
    shape, scale = values[f"{part}_shape"], values[f"{part}_scale"]
    year = np.arange(1, YEARS + 1)
    factor = np.where(year <= values["horizon"], (1.0 + values["discount_rate"]) ** (0.5 - year), 0.0)
    new = _fails(np.zeros(1), year, shape, scale)[0]
    worth = factor.copy()
    for at in range(YEARS - 2, -1, -1):
        worth[at] += new[: YEARS - 1 - at] @ worth[at + 1 :]
    return np.asarray(_fails(age, year, shape, scale) @ worth)


def _fails(age: Numbers, year: npt.NDArray[np.int64], shape: float, scale: float) -> Numbers:
    """The chance that a part of each age, working today, has its first failure in each year; (ages, years)."""
    aged = np.asarray(age)[:, None]
    past = (aged / scale) ** shape
    sooner, later = (((aged + year - back) / scale) ** shape for back in (1, 0))
    return np.asarray(np.exp(past - sooner) - np.exp(past - later))


def _head_below(saved: Numbers, mending: float, planned: float) -> Numbers:
    """The head's price p at which saved × (mending + p) = planned + p; infinite where any price pays."""
    with np.errstate(divide="ignore", invalid="ignore"):
        price = (saved * mending - planned) / (1.0 - saved)
    return np.where(saved >= 1.0, np.inf, np.where(price > 0.0, price, np.nan))


def _classes(facts: Facts) -> pd.DataFrame:
    valves = facts.valves
    table = fitted(valves, pd.Series(False, index=valves.index))[list(PARTS)]
    table = table.assign(
        start=(valves["head_age_years"] // BAND * BAND).clip(0.0, OLDEST),
        head_age=valves["head_age_years"],
        body_age=valves["body_age_years"],
        motor_fits=valves["motor_replaceable"].eq("yes"),
    ).dropna(subset="start")
    found = (
        table.groupby([*PARTS, "start"], sort=True)
        .agg(
            valves=("head_age", "size"),
            head_age=("head_age", "mean"),
            body_age=("body_age", "mean"),
            motor_fits=("motor_fits", "mean"),
        )
        .reset_index()
        .sort_values("valves", ascending=False, kind="stable")
        .head(MOST)
        .sort_values([*PARTS, "start"])
        .reset_index(drop=True)
    )
    return found.assign(
        band=pd.Series([_band(start) for start in found["start"]], index=found.index, dtype="str"),
        head_age=found["head_age"].clip(lower=0.0).round(1),
        body_age=found["body_age"].fillna(found["head_age"]).clip(lower=0.0).round(1),
        motor_fits=pd.Series(np.where(found["motor_fits"].ge(0.5), "yes", "no"), index=found.index, dtype="str"),
    ).drop(columns="start")


def _band(start: float) -> str:
    return f"{start:.0f} and over" if start >= OLDEST else f"{start:.0f} to under {start + BAND:.0f}"


def _inputs(
    classes: pd.DataFrame, lives: Mapping[str, tuple[float, str]], prices: Prices, policy: Policy
) -> pd.DataFrame:
    occur = [item for item in words.RATE_ITEM if item in {*classes["head_part"], *classes["valve_part"]}]
    paid = ["labour_hour", "call_out", *occur, "motor", "inhibitor"]
    rows: list[tuple[str, str, float, str, float, float, str]] = [
        (item, _label(item), prices.cost[item], _unit(item), 0, 100_000, prices.source[item]) for item in paid
    ]
    made = "reckoned: call-outs, the share out of hours and of second visits"
    rows.append(("attendance", "Attendance at a failure", round(attendance(prices, policy), 2), "£", 0, 10_000, made))
    made = "reckoned: allowance in the cold half-year, times its share of failures"
    rows.append(("lost_heat", "Household's loss of heat at a failure", round(no_heat(policy), 2), "£", 0, 10_000, made))
    for name, (label, key, low, high) in OWN.items():
        rows.append((name, label, policy.number(key), "h", low, high, policy[key].source))
    drain = "hours.full less hours.full_isolated"
    rows.append(
        ("hours_drain", "Time for drain-down, refill, venting", round(drain_hours(policy), 4), "h", 0, 16, drain)
    )
    for name, label in LIVES.items():
        shape = name.endswith("shape")
        value, source = lives[name]
        rows.append((name, label, value, "" if shape else "years", 0.3 if shape else 1, 20 if shape else 500, source))
    share = policy["life.motor_share"]
    rows.append(
        ("motor_share", "Share of a head's age that a new motor takes off", share.number, "", 0, 1, share.source)
    )
    rate, horizon = policy["money.discount_rate"], policy["money.horizon"]
    rows.append(("discount_rate", "Discount rate", rate.number, "a year", 0, 0.2, rate.source))
    years = min(float(YEARS), float(int(horizon.number)))
    rows.append(("horizon", f"Years looked ahead (whole, up to {YEARS})", years, "years", 1, YEARS, horizon.source))
    return pd.DataFrame(rows, columns=["name", "label", "value", "unit", "low", "high", "source"])


def _label(item: str) -> str:
    special = {"labour_hour": "Labour", "call_out": "Call-out for planned work"}
    meaning = words.RATE_ITEM[item]
    return special.get(item, meaning[:1].upper() + meaning[1:])


def _unit(item: str) -> str:
    return "£ an hour" if item == "labour_hour" else "£"
