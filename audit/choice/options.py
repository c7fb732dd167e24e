"""Leave, motor, head, or the whole valve: what each costs now and later, and which is the cheapest."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from audit.choice.asked import asked_valves
from audit.choice.assumed_life import QUARTER, Lives, lives
from audit.choice.bill import bill, cost, working
from audit.choice.feasible import body_sound, why_not
from audit.choice.later import chance_of_failing, failures_ahead
from audit.choice.money import equivalent_annual_cost
from audit.choice.prices import Prices
from audit.choice.texts import written
from audit.choice.work import among, work
from audit.model import Facts
from audit.policy import Policy
from schemas import words
from schemas.results import RESULT_COLUMNS

Numbers = npt.NDArray[np.float64]

PENNY = 0.005  # GBP: less than this is no difference
ACTS = tuple(option for option in words.OPTION if option != "leave")


def options(
    facts: Facts, findings: pd.DataFrame, prices: Prices, policy: Policy, known: Lives | None = None
) -> pd.DataFrame:
    """Return the `options` table: one row a valve with a finding that makes work, and option.

    `cost_now_gbp` is a planned visit of its own, call-out included; `expected_later_gbp` what failures cost over the
    horizon, mended as they come (`audit.choice.later`). Options of a valve share the horizon, so the least total is
    also the least equivalent annual cost. A valve that must not be left is charged, in the row of `leave`, with the
    same work done later, and with the dearer attendance of a call-out in the share `money.fault_call_out_share`.
    `chosen`: the cheapest possible option, where a call-out that the home needs anyway, or that several valves of
    one home share, counts once. `known`: the lives; the policy's where None.
    """
    found = work(facts, findings, policy)
    known = known or lives(policy)
    valves = asked_valves(facts, found, known, policy)
    made = _costed(valves, known, prices, policy)
    total = {option: (frame["now"] + frame["later"]).to_numpy() for option, frame in made.items()}
    possible = {option: frame["why_not"].eq("").to_numpy() for option, frame in made.items()}
    best = np.min([np.where(possible[option], total[option], np.inf) for option in ACTS], axis=0)
    must = ~possible["leave"]
    left = np.where(must, np.maximum(total["leave"], best + fault_surcharge(prices, policy)), total["leave"])
    made["leave"]["later"], total["leave"] = left, left
    acts = _worth_it(valves, found, must, left - best + prices.cost["call_out"], prices.cost["call_out"])
    chosen = _chosen(total, possible, best, acts)
    years = valves["horizon_quarters"].to_numpy() * QUARTER
    rate = policy.number("money.discount_rate")
    rows = [
        made[option].assign(
            option=option,
            total_gbp=total[option],
            benefit_gbp=left - total[option],
            annual_gbp=equivalent_annual_cost(total[option], years, rate),
            working=_shared(made[option]["working"], (chosen == option) & (left - total[option] < -PENNY)),
            chosen=np.where(chosen == option, "yes", "no"),
        )
        for option in words.OPTION
    ]
    return _table(rows)


def _shared(working: pd.Series, dearer: npt.NDArray[np.bool_]) -> pd.Series:
    """Say why an option is chosen that costs more than leaving, were its call-out paid for it alone."""
    return working.mask(dearer, working + "; pays because the home's visit, and so the call-out, is shared")


def attendance(prices: Prices, policy: Policy) -> float:
    """Return what turning up for a failure costs: some out of hours, some twice because a part had to be fetched."""
    share = policy.number("money.out_of_hours_share")
    again = policy.number("money.second_visit_share")
    call_out = prices.cost["call_out"]
    return (1.0 - share) * call_out + share * prices.cost["out_of_hours_call_out"] + again * call_out


def fault_surcharge(prices: Prices, policy: Policy) -> float:
    """Return what leaving a fault adds to work needed either way: the extra cost of a call-out, times its chance."""
    extra = max(0.0, attendance(prices, policy) - prices.cost["call_out"])
    return policy.number("money.fault_call_out_share") * extra


def _costed(valves: pd.DataFrame, known: Lives, prices: Prices, policy: Policy) -> dict[str, pd.DataFrame]:
    """Each option for every valve: cost now and later, chances, why not, and the working; not rounded."""
    after = [_after(valves, option, known) for option in words.OPTION]
    head, body, frail = (np.concatenate(parts) for parts in zip(*after, strict=True))
    horizon = np.tile(valves["horizon_quarters"].to_numpy(), len(after))
    heads, fulls = failures_ahead(head, body, horizon, frail, known, policy)
    on_failure = [_on_failure(valves, option, prices, policy) for option in ("head", "full")]
    made = {}
    for place, option in enumerate(words.OPTION):
        billed, acts = _bill(valves, option, policy), option != "leave"
        rows = slice(place * len(valves), (place + 1) * len(valves))
        made[option] = pd.DataFrame(
            {
                "valve_id": valves["valve_id"],
                "why_not": why_not(valves, option, policy),
                "now": cost(billed, prices) + (prices.cost["call_out"] if acts else 0.0),
                "later": heads[rows] * on_failure[0] + fulls[rows] * on_failure[1],
                "chance_fail_quarter": chance_of_failing(head[rows], body[rows], QUARTER, known),
                "chance_fail_year": chance_of_failing(head[rows], body[rows], 1.0, known),
                "working": working(billed, notes(valves, option, policy), prices, call_out=acts),
            }
        )
    return made


def _after(valves: pd.DataFrame, option: str, known: Lives) -> tuple[Any, Any, Any]:
    """Ages of head and body in quarters, and whether the valve is frail, once the option is done."""
    head, body = valves["head_quarters"].to_numpy(), valves["body_quarters"].to_numpy()
    frail = (~body_sound(valves) | valves["head_detachable"].eq("no")).to_numpy()
    if option == "motor":
        return np.minimum(head, round(known.after_motor / QUARTER)), body, frail
    if option == "head":
        return np.zeros_like(head), body, frail
    if option == "full":
        return np.zeros_like(head), np.zeros_like(body), np.zeros_like(frail)
    return head, body, frail


def _bill(valves: pd.DataFrame, option: str, policy: Policy) -> pd.DataFrame:
    every = pd.Series(option, index=valves.index, dtype="str")
    return bill(valves, every, pd.DataFrame(index=valves.index), policy)


def _on_failure(valves: pd.DataFrame, option: str, prices: Prices, policy: Policy) -> pd.Series:
    """What a failure costs; a head of the wrong kind is put right by then."""
    right = valves.assign(wrong_kind=False)
    return cost(_bill(right, option, policy), prices) + attendance(prices, policy)


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
    ]

    def write(row: dict[str, Any]) -> str:
        taken = []
        if row["kind_taken"] and option == "head":
            taken.append(f"kind of head not recorded, {row['head_part']} taken")
        if row["body_taken"] and option == "full":
            taken.append(f"ports or size not recorded, {row['valve_part']} taken")
        if row["head_detachable"] is None and option == "head":
            taken.append("not recorded whether the head comes off, taken as yes")
        if row["age_taken"]:
            taken.append("age not known, that of a typical part taken")
        if row["horizon_quarters"] < most:
            taken.append(f"reckoned over {row['horizon_quarters'] * QUARTER:g} years, until the heating is renewed")
        return "".join(f"; {text}" for text in taken)

    return written(valves[columns], write)


def _worth_it(valves: pd.DataFrame, found: pd.DataFrame, must: Any, gain: Numbers, call_out: float) -> Any:
    """Whether to act on each valve: where a fault needs it, and where it pays in a visit that is paid for.

    `gain` is what acting saves before the call-out. A home that must be visited pays it anyway; in another, the gains
    of its valves together must exceed it.
    """
    needs_visit = found.loc[found["remedy"].isin(list(words.TASK)), "home_id"]
    visited = among(valves["home_id"], pd.concat([needs_visit, valves["home_id"][must]]))
    asked = np.where(valves["asked"] & np.isfinite(gain), np.maximum(gain, 0.0), 0.0)
    home = pd.factorize(valves["home_id"])[0]
    together = np.bincount(home, weights=asked, minlength=len(valves))[home]
    return must | ((asked > 0) & (visited | (together > call_out)))


def _chosen(total: dict[str, Numbers], possible: dict[str, Any], best: Numbers, acts: Any) -> npt.NDArray[np.str_]:
    chosen = np.full(len(best), "leave", dtype="<U5")
    for option in reversed(ACTS):  # of equal totals the lighter work
        chosen = np.where(acts & possible[option] & (total[option] == best), option, chosen)
    return chosen


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
    money = ["cost_now_gbp", "expected_later_gbp", "total_gbp", "benefit_gbp", "annual_gbp"]
    table[money] = table[money].round(2)
    return table[[column.name for column in RESULT_COLUMNS["options"]]]
