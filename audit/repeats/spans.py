"""Which visits make a chain: faults of one home and system, each reported soon after the one before was put right."""

from __future__ import annotations

import pandas as pd

from audit.lookup import order_of
from audit.repeats.events import GROUP, completion

WORK = ("motor", "head", "full", "wiring", "reset_lever", "earth", "relocate", "other_part")
NEEDED = [*GROUP, "episode", "reported", "attended", "completed", "outcome", "symptom", "is_call_out"]
OWN = ["chain_no", "visit", "valve_no", "of_last"]  # what `members` adds for the steps that follow
LOST = ("no_heating", "no_hot_water", "no_heating_or_hot_water")  # heat or hot water is lost, in whole or in part


def faults(visits: pd.DataFrame, window_days: float, as_of: pd.Timestamp) -> pd.DataFrame:
    """Give each fault its dates and the chain it belongs to.

    Args:
        visits: `facts.visits`.
        window_days: Longest time, in whole days, from the last completed attempt at a fault to the report of the next
            in the same home and system, for both to be of one chain. Where no completion is known, the last attendance
            counts, else the last report.
        as_of: The as-of date.

    Returns:
        One row a fault, by episode, in the order of home, system and date: episode, home_id, system, first, last
        (reports), done (NaT while open), wait_days (from the fault before; NaN for the first of its home and system),
        chain_no (from 0; -1 where the fault stands alone), last_of_chain (bool), following (report of
        the next fault in the home and system, NaT if none), open_days (from the first report to
        the completion, of one still open so far, at most `window_days`), lost (bool: heat or hot water was lost).
    """
    rows = visits[NEEDED].loc[visits["is_fault"]]
    let_in = rows["outcome"].ne("no_access")
    rows = rows.assign(
        done=completion(rows).where(let_in),
        there=rows["attended"].where(let_in),
        called=rows["reported"].where(rows["is_call_out"]),
        lost=rows["symptom"].isin(LOST),
    )
    grouped = rows.groupby("episode", sort=True)
    table = grouped[["done", "there", "called"]].max().rename(columns={"called": "last"})
    table = table.assign(first=grouped["called"].min(), lost=grouped["lost"].any()).reset_index()
    opens = rows.loc[rows["is_call_out"] & ~rows["episode"].where(rows["is_call_out"]).duplicated(), GROUP]
    table = table.assign(**{name: opens[name].array for name in GROUP})  # events are numbered in the order of the rows
    return _with_open_days(_with_chains(table, window_days), window_days, as_of)


def _with_chains(table: pd.DataFrame, window_days: float) -> pd.DataFrame:
    ended = table["done"].fillna(table["there"]).fillna(table["last"]).dt.normalize()
    same = table[GROUP].eq(table[GROUP].shift()).all(axis=1)
    wait = (table["first"].dt.normalize() - ended.shift()).dt.days.clip(lower=0).where(same)
    run = (wait.isna() | wait.gt(window_days)).cumsum()
    several = run.duplicated(keep=False)
    number = pd.Series(-1, index=table.index, dtype="int64")
    number.loc[several] = pd.factorize(run[several])[0]
    last = number.ge(0) & number.ne(number.shift(-1))
    following = table["first"].shift(-1).where(same.shift(-1, fill_value=False))
    return table.assign(wait_days=wait, chain_no=number, last_of_chain=last, following=following)


def _with_open_days(table: pd.DataFrame, window_days: float, as_of: pd.Timestamp) -> pd.DataFrame:
    start = table["first"].dt.normalize()
    so_far = (as_of - start).dt.days.clip(upper=window_days)
    days = (table["done"].dt.normalize() - start).dt.days.clip(lower=0)
    return table.assign(open_days=days.fillna(so_far))


def members(visits: pd.DataFrame, found: pd.DataFrame, window_days: float) -> pd.DataFrame:
    """The visits of all chains, in order of chain, report and number.

    Besides the visits of its faults, a chain shows the other visits of its home and system from its first report to its
    end, and those within the window after it in which work was done or nobody was in.

    Args:
        visits: `facts.visits`.
        found: What `faults` made of them with the same window.
        window_days: The window.

    Returns:
        Rows of `visits` with `done` (when the visit was completed or left things working), wait_days (on the first
        call-out of each fault but the chain's first), and `OWN`: chain_no, visit (row in `visits`), valve_no (rises
        with the valves' ids; -1 for none), of_last (bool: of the chain's last fault).
    """
    group = (~visits[GROUP].eq(visits[GROUP].shift()).all(axis=1)).cumsum()
    fault = visits["episode"].where(visits["is_fault"]).astype("float64")
    before = fault.groupby(group).ffill()
    by_episode = found.set_index("episode")
    chain = by_episode["chain_no"].reindex(before.fillna(-1).astype("int64")).set_axis(visits.index)
    chain = chain.loc[chain.ge(0)].astype("int64")
    near = visits[["is_fault", "reported", "attended", "completed", "outcome", "action"]].loc[chain.index]
    end = found.groupby("chain_no")[["done", "last"]].max().max(axis=1).reindex(chain).set_axis(chain.index)
    done = completion(near)
    did = near["action"].isin(WORK) & done.notna()
    soon = (near["reported"].dt.normalize() - end.dt.normalize()).dt.days.le(window_days)
    kept = near["is_fault"] | near["reported"].le(end) | (soon & (did | near["outcome"].eq("no_access")))
    chain = chain.loc[kept].sort_values(kind="stable")  # visits of one home and system are in order already
    rows = visits.loc[chain.index].assign(chain_no=chain, done=done.loc[chain.index]).reset_index(names="visit")
    of_fault = found.assign(wait_days=found["wait_days"].where(found.duplicated("chain_no"))).set_index("episode")
    of_fault = of_fault[["last_of_chain", "wait_days"]].reindex(rows["episode"]).set_axis(rows.index)
    opens = rows["is_fault"] & rows["is_call_out"]
    opens &= ~rows["episode"].where(opens).duplicated()
    made: pd.DataFrame = rows.assign(
        valve_no=order_of(rows["valve_id"]),
        of_last=rows["is_fault"] & of_fault["last_of_chain"].eq(True),  # missing is no
        wait_days=of_fault["wait_days"].where(opens),
    )
    return made
