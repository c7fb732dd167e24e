"""Leave, motor, head, or the whole valve: what each costs now and later, and which is the cheapest."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.choice.ahead import costs_ahead
from audit.choice.asked import asked_valves
from audit.choice.assumed_life import QUARTER
from audit.choice.bill import bill, cost, working
from audit.choice.feasible import body_sound, why_not
from audit.choice.flip import flips
from audit.choice.money import equivalent_annual_cost
from audit.choice.prices import Prices, pounds
from audit.choice.texts import written
from audit.choice.work import among, work
from audit.life import chance_fail
from audit.model import Facts
from audit.policy import Policy
from schemas import words
from schemas.results import RESULT_COLUMNS

Numbers = npt.NDArray[np.float64]

PENNY = 0.005  # GBP: less than this is no difference
ACTS = tuple(option for option in words.OPTION if option != "leave")


def options(facts: Facts, findings: pd.DataFrame, lived: pd.DataFrame, prices: Prices, policy: Policy) -> pd.DataFrame:
    """Return the `options` table: one row a valve with a finding that makes work, and option.

    `cost_now_gbp` is a planned visit of its own, call-out included; `expected_later_gbp` what failures, and the best
    work from then on, cost over the horizon (`audit.choice.ahead`). Options of a valve share the horizon, so the least
    total is also the least equivalent annual cost. A valve that must be moved is moved in every option, `leave` keeps
    its head, and later costs are those of a cool place. A valve that must not be left is charged, in the row of
    `leave`, with the same work done later, and with the dearer attendance of a call-out in the share
    `money.fault_call_out_share`.
    `chosen`: the cheapest possible option, where a call-out that the home needs anyway, or that several valves of
    one home share, counts once.
    """
    found = work(facts, findings, policy)
    valves = asked_valves(facts, found, lived, policy)
    made = _costed(valves, prices, policy)
    total = {option: (frame["now"] + frame["later"]).to_numpy() for option, frame in made.items()}
    possible = {option: frame["why_not"].eq("").to_numpy() for option, frame in made.items()}
    best = np.min([np.where(possible[option], total[option], np.inf) for option in ACTS], axis=0)
    must = ~possible["leave"]
    left = np.where(must, np.maximum(total["leave"], best + fault_surcharge(prices, policy)), total["leave"])
    made["leave"]["later"], total["leave"] = left - made["leave"]["now"], left
    call_out = prices.cost["call_out"]
    gain = left - best + call_out * ~valves["moved"].to_numpy()  # a move pays its call-out whatever is renewed
    acts = _worth_it(valves, found, must, gain, call_out)
    chosen = _chosen(total, possible, best, acts)
    dearer = _dearer(total, possible, chosen)
    years = valves["horizon_quarters"].to_numpy() * QUARTER
    rate = policy.number("money.discount_rate")
    rows = [
        made[option].assign(
            option=option,
            total_gbp=total[option],
            benefit_gbp=left - total[option],
            annual_gbp=equivalent_annual_cost(total[option], years, rate),
            chosen_why=_reasons(valves, option, chosen == option, must, left - total[option], call_out)
            + near(total, possible, option, np.where(chosen == option, dearer, np.nan), policy).set_axis(valves.index),
            chosen=np.where(chosen == option, "yes", "no"),
            dearer_gbp=np.where(chosen == option, dearer, np.nan),
            flip=flips(option, np.where(chosen == option, dearer, np.nan), made[option]["until"]),
        )
        for option in words.OPTION
    ]
    return _table(rows)


def _reasons(valves: pd.DataFrame, option: str, chosen: Any, must: Any, benefit: Numbers, call_out: float) -> pd.Series:
    """Say why an option is chosen, above all one that costs more than leaving, were its call-out paid for it alone."""

    def write(row: dict[str, Any]) -> str:
        if not row["chosen"]:
            return ""
        if row["must"]:
            return f"a fault needs it ({row['bound_by']}); of what mends it, this costs least"
        if row["saves"] >= -PENNY:
            return "of what is possible, this costs least"
        return (
            f"pays because the home's visit is shared: its call-out of {pounds(call_out)} counts once, and without it "
            f"this saves {pounds(row['saves'] + call_out)}"
        )

    told = pd.DataFrame(
        {
            "chosen": chosen,
            "must": must & chosen & (option != "leave"),
            "bound_by": valves["bound_by"].where(chosen, ""),
            "saves": np.where(chosen, np.round(benefit, 2), 0.0),
        }
    )
    return written(told, write)


def near(
    total: dict[str, Numbers], possible: dict[str, Any], option: str, dearer: Numbers, policy: Policy
) -> pd.Series:
    """Say which other option costs nearly as little as the one chosen (`dearer`, GBP, by so much); empty elsewhere."""
    others = [name for name in words.OPTION if name != option]
    costs = np.array([np.where(possible[name], total[name], np.inf) for name in others])
    near = (dearer >= 0) & (dearer <= policy.number("money.near_equal"))
    other = pd.Series(np.array(others)[costs.argmin(axis=0)], dtype="str").where(near)
    told = pd.DataFrame({"other": other, "apart": np.round(dearer, 2)})

    def write(row: dict[str, Any]) -> str:
        return f"; near enough equal to {row['other']}, {pounds(row['apart'])} apart" if row["other"] else ""

    return written(told, write)


def attendance(prices: Prices, policy: Policy) -> float:
    """Return what turning up for a failure costs: some out of hours, some twice because a part had to be fetched."""
    share = policy.number("money.out_of_hours_share")
    again = policy.number("money.second_visit_share")
    call_out = prices.cost["call_out"]
    return (1.0 - share) * call_out + share * prices.cost["out_of_hours_call_out"] + again * call_out


def no_heat(policy: Policy) -> float:
    """Return the allowance for the household's loss of heat at a failure, GBP, averaged over the seasons."""
    return policy.number("money.no_heat_winter") * policy.number("money.winter_share")


def fault_surcharge(prices: Prices, policy: Policy) -> float:
    """Return what leaving a fault adds to work needed either way: the extra cost of a call-out, times its chance."""
    extra = max(0.0, attendance(prices, policy) - prices.cost["call_out"])
    return policy.number("money.fault_call_out_share") * extra


def _costed(valves: pd.DataFrame, prices: Prices, policy: Policy) -> dict[str, pd.DataFrame]:
    """Each option for every valve: cost now and later, chances, why not, flip point, and the working; not rounded."""
    right = valves.assign(wrong_kind=False, moved=False)  # head of the right kind, in a cool place by then
    planned = {option: cost(_bill(right, option, policy), prices) + prices.cost["call_out"] for option in ACTS}
    failing = attendance(prices, policy) + no_heat(policy)
    ahead = costs_ahead(
        valves.assign(
            motor=planned["motor"].where(valves["motor_replaceable"].eq("yes"), np.inf),
            head=planned["head"],
            full=planned["full"],
            head_failure=planned["head"] - prices.cost["call_out"] + failing,
            body_failure=planned["full"] - prices.cost["call_out"] + failing,
            frail=~body_sound(valves) | valves["head_detachable"].eq("no"),
        ),
        policy,
    )
    made = {}
    for place, option in enumerate(words.OPTION):
        billed = _bill(valves, option, policy)
        acts = valves["moved"] | (option != "leave")
        made[option] = pd.DataFrame(
            {
                "valve_id": valves["valve_id"],
                "why_not": why_not(valves, option, policy),
                "now": cost(billed, prices) + prices.cost["call_out"] * acts,
                "later": ahead.later[:, place],
                "until": ahead.until[:, place] * QUARTER,
                "chance_fail_quarter": _chance(valves, option, QUARTER, policy),
                "chance_fail_year": _chance(valves, option, 1.0, policy),
                "working": working(billed, notes(valves, option, policy), prices, call_out=acts),
            }
        )
    return made


def chance_where_it_is(valves: pd.DataFrame, policy: Policy) -> Numbers:
    """Return the chance that each valve of `asked_valves` fails within a quarter if nothing is done, heat included."""
    hot = {name: valves[name] / valves["cooled"] for name in ("head_scale", "head_quarters")}
    return _chance(valves.assign(**hot), "leave", QUARTER, policy)


def _chance(valves: pd.DataFrame, option: str, years: float, policy: Policy) -> Numbers:
    """The chance that head or body fails within `years`, once the option is done."""
    kept = {"leave": 1.0, "motor": 1.0 - policy.number("life.motor_share"), "head": 0.0, "full": 0.0}[option]
    lasts = np.ones(len(valves))
    for part, age in (("head", kept), ("body", 0.0 if option == "full" else 1.0)):
        shape, scale = valves[f"{part}_shape"], valves[f"{part}_scale"]
        lasts *= 1.0 - chance_fail(valves[f"{part}_quarters"] * QUARTER * age, years, shape, scale)
    return np.asarray(1.0 - lasts)


def _bill(valves: pd.DataFrame, option: str, policy: Policy) -> pd.DataFrame:
    every = pd.Series(option, index=valves.index, dtype="str")
    return bill(valves, every, valves[["moved"]].set_axis(["relocate"], axis=1), policy)


def notes(valves: pd.DataFrame, option: str, policy: Policy) -> pd.Series:
    """Return what had to be taken for granted about each valve, as the tail of the working."""
    most = round(policy.number("money.horizon") / QUARTER)
    columns = [
        "kind_taken",
        "body_taken",
        "head_detachable",
        "age_taken",
        "horizon_quarters",
        "head_part",
        "valve_part",
        "moved",
        "cooled",
    ]
    ordinary = policy.number("life.reference_temp")

    def write(row: dict[str, Any]) -> str:
        taken = []
        if row["kind_taken"] and option == "head":
            taken.append(f"kind of head not recorded, a {words.RATE_LABEL[row['head_part']]} taken")
        if row["body_taken"] and option == "full":
            taken.append(f"ports or size not recorded, a {words.RATE_LABEL[row['valve_part']]} taken")
        if row["head_detachable"] is None and option == "head":
            taken.append("not recorded whether the head comes off, taken as yes")
        if row["age_taken"]:
            taken.append("age not known, that of a typical part taken")
        if row["horizon_quarters"] < most:
            taken.append(f"reckoned over {row['horizon_quarters'] * QUARTER:g} years, until the heating is renewed")
        if row["moved"]:
            kept = ", the head kept" if option == "leave" else ""
            slower = f", not {row['cooled']:.1f} times as fast" if row["cooled"] > 1.05 else ""
            taken.append(f"moved{kept}: the head ages from then on at the pace of air up to {ordinary:g} °C{slower}")
        return "".join(f"; {text}" for text in taken)

    return written(valves[columns], write)


def _worth_it(valves: pd.DataFrame, found: pd.DataFrame, must: Any, gain: Numbers, call_out: float) -> Any:
    """Whether to act on each valve: where a fault needs it, and where it pays in a visit that is paid for.

    `gain` is what acting saves before the call-out. A home that must be visited pays it anyway; in another, the gains
    of its valves together must exceed it.
    """
    needs_visit = found.loc[found["remedy"].isin(list(words.TASK)), "home_id"]
    visited = among(valves["home_id"], pd.concat([needs_visit, valves["home_id"][must]]))
    asked = np.where((valves["asked"] | valves["moved"]) & np.isfinite(gain), np.maximum(gain, 0.0), 0.0)
    home = pd.factorize(valves["home_id"])[0]
    together = np.bincount(home, weights=asked, minlength=len(valves))[home]
    return must | ((asked > 0) & (visited | (together > call_out)))


def _chosen(total: dict[str, Numbers], possible: dict[str, Any], best: Numbers, acts: Any) -> npt.NDArray[np.str_]:
    chosen = np.full(len(best), "leave", dtype="<U5")
    for option in reversed(ACTS):  # of equal totals the lighter work
        chosen = np.where(acts & possible[option] & (total[option] == best), option, chosen)
    return chosen


def _dearer(total: dict[str, Numbers], possible: dict[str, Any], chosen: npt.NDArray[np.str_]) -> Numbers:
    """How much dearer the next best possible option is than the one chosen; negative where a shared visit decides."""
    mine = np.select([chosen == option for option in words.OPTION], [total[option] for option in words.OPTION])
    others = [np.where(possible[o] & (chosen != o), total[o], np.inf) for o in words.OPTION]
    return np.asarray(np.min(others, axis=0) - mine)


def _table(rows: list[pd.DataFrame]) -> pd.DataFrame:
    """Lay the options of each valve one below the other, in the order of OPTION; money to the penny."""
    table = pd.concat(rows)
    order = np.lexsort((np.repeat(np.arange(len(rows)), len(rows[0])), table.index.to_numpy()))
    table = table.iloc[order].reset_index(drop=True)
    table = table.rename(columns={"now": "cost_now_gbp", "later": "expected_later_gbp"})
    table = table.assign(
        feasible=pd.Series(np.where(table["why_not"].eq(""), "yes", "no"), dtype="str"),
        option=table["option"].astype("str"),
        chosen=table["chosen"].astype("str"),
    )
    money = ["cost_now_gbp", "expected_later_gbp", "total_gbp", "benefit_gbp", "annual_gbp", "dearer_gbp"]
    table["dearer_gbp"] = table["dearer_gbp"].where(np.isfinite(table["dearer_gbp"]))
    table[money] = table[money].round(2)
    return table[[column.name for column in RESULT_COLUMNS["options"]]]
