"""A backtest in words and in a few numbers."""

from __future__ import annotations

from typing import Final

import pandas as pd

from audit.backtest.calibration import with_limits
from audit.backtest.capture import DRAWS
from audit.backtest.failed import DEFINITION
from audit.backtest.lost_dates import DRAWN
from audit.backtest.score import Score
from schemas.backtest import TOP

SHOWN: Final = {
    "chance of failing": "by chance of failing",
    "benefit": "by benefit",
    "oldest first": "of the oldest heads",
}
NAMED: Final = 5  # valves named in a sentence


def sentences(found: Score) -> pd.DataFrame:
    """Return about, sentence: the answer first, then how it was reckoned and what could not be known."""
    told = {
        "The answer": _answer(found),
        "How it was reckoned": [*_method(found), *([found.winter] if found.winter else [])],
        "What could not be known": _unknown(found),
    }
    rows = [(about, text) for about, texts in told.items() for text in texts]
    return pd.DataFrame(rows, columns=["about", "sentence"]).astype("str")


def figures(found: Score) -> pd.DataFrame:
    """Return name, value, unit of the numbers that matter."""
    top = found.capture.loc[found.capture["share"].eq(TOP)].set_index("order")
    total = total_ratio(found)
    shown = [(order, by) for order, by in SHOWN.items() if order in top.index]
    rows = [
        ("Valves ranked", float(len(found.ranking)), ""),
        ("Failed in the 13 weeks", float(found.ranking["failed"].sum()), ""),
        *((f"Of them in the first {TOP:.0%} {by}", top.at[order, "caught_share"], "share") for order, by in shown),
        ("Failures expected", total["expected"], ""),
        ("Slope of the chances (1 is right)", found.slope.value, "fine"),
    ]
    return pd.DataFrame(rows, columns=["name", "value", "unit"])


def total_ratio(found: Score) -> pd.Series:
    """Return expected, observed, ratio and limits of all valves together."""
    return with_limits(found.calibration[["expected", "observed"]].sum().to_frame().T).iloc[0]


def _answer(found: Score) -> list[str]:
    top = found.capture.loc[found.capture["share"].eq(TOP)].set_index("order")
    seen = int(found.ranking["failed"].sum())
    told = [
        f"On {_day(found.on)}, {len(found.ranking):,} valves in {found.homes:,} homes were ranked with what was known "
        f"that day; {seen:,} of them failed by {_day(found.end)}."
    ]
    told += [
        f"{str(order).capitalize()}: the first {TOP:.0%} ({row['valves']:,.0f} valves) hold {row['caught']:,.1f} of "
        f"the failed valves, {_share(row, 'caught_share')}, {row['times_random']:.1f} times what as many at random "
        f"hold; {row['per_1000_gbp']:.2f} of them for each £1,000 of work, {row['per_100_hours']:.1f} for each 100 h."
        for order, row in top.drop(index="random").iterrows()
    ]
    return [*told, _paying(found), _expected(found), _slope(found)]


def _paying(found: Score) -> str:
    """Say how many valves have a benefit at all; where none has, why the order by benefit is not shown."""
    pay = int(found.ranking["benefit_gbp"].gt(0).sum())
    apart = (
        "what makes work pay in an audit besides (a fault found, a move out of the heat, a visit that valves share) is "
        "no part of this ranking"
    )
    if "benefit" in set(found.capture["order"]):
        return (
            f"{pay:,} of {len(found.ranking):,} valves have a benefit, the others follow by their chance of failing; "
            f"{apart}."
        )
    return (
        "No valve paid by benefit alone on that day, so the order is the chance of failing: a failed head cost "
        f"£{found.dearer_gbp:,.0f} more than one renewed by plan, and on every valve the chance of that was "
        f"worth less than the life that its head had left; {apart}."
    )


def _expected(found: Score) -> str:
    total = total_ratio(found)
    return (
        f"Failures expected: {total['expected']:,.1f}; seen: {total['observed']:,.0f}, {total['ratio']:.2f} times as "
        f"many (90 %: {total['ratio_low']:.2f} to {total['ratio_high']:.2f}, exact Poisson limits, Garwood 1936)."
    )


def _slope(found: Score) -> str:
    if found.slope.value != found.slope.value:
        return "Too few valves failed to tell a slope of the chances."
    side = "nothing shows that high and low chances lie too far apart or too close together"
    if found.slope.high < 1:
        side = "the chances lie too far apart: high ones are too high, low ones too low"
    if found.slope.low > 1:
        side = "the chances lie too close together: high ones are too low, low ones too high"
    return (
        f"Slope of the chances: {found.slope.value:.2f} (90 %: {found.slope.low:.2f} to {found.slope.high:.2f}); "
        f"{side}."
    )


def _method(found: Score) -> list[str]:
    return [
        DEFINITION,
        f"Call-outs to one valve that follow each other within {found.failed.window:g} days (repeats.long_window) are "
        "one fault, first reported with the first of them, even where a visit in between says that it was fixed; the "
        "chances count the same. A fault first reported before the 13 weeks is not counted.",
        "Only rows dated up to the earlier day were used to rank: lives were fitted, options costed and chances "
        "reckoned anew from them, the season of the 13 weeks allowed for. Valves need no finding to be ranked.",
        "The work on a valve is the motor, head or whole valve that costs least in the long run, in a visit of its "
        "own, as reckoned that day; its hours are those of the work alone. Prices are those of the price list "
        "given, or the policy's.",
        "Shares are those of whole valves. Valves that an order cannot tell apart share the place that the limit cuts, "
        "and count by their share.",
        f"Limits of shares hold 90 %: {DRAWS} draws of whole homes, each home as often as a Poisson number of mean 1 "
        "says (Hanley and MacGibbon 2006, Computer Methods and Programs in Biomedicine 83, 57-62).",
        "Slope: logit(chance to fail) = a + b · logit(predicted chance), by maximum likelihood (Cox 1958, Biometrika "
        "45, 562-565), b shown; homes may be alike inside (Liang and Zeger 1986, Biometrika 73, 13-22).",
    ]


def _unknown(found: Score) -> list[str]:
    told = [
        "A register keeps the last fitting date only: where a head was renewed after the earlier day, the date that "
        "stood in the register that day is gone, unless a visit tells it. That it is gone gives away that the head "
        "was renewed, mostly because it failed."
    ]
    if found.undated[0]:
        told.append(
            f"This touches {found.undated[0]:.1%} of the valves, and {found.undated[1]:.1%} of the failed ones. The "
            "ranking takes for such a head the age that its body's date and the fitted life make likely, never the "
            f"body's own age. For the score alone its age is drawn back {DRAWN} times, from the fitted life and from "
            "when and how the head ended, each draw is ranked anew, and the results are averaged (multiple "
            "imputation, Rubin 1987). So far the score leans on the fitted life, not on records."
        )
    if found.failed.earlier:
        ids = found.failed.earlier
        named = ", ".join(ids[:NAMED]) + (f" and {len(ids) - NAMED:,} more" if len(ids) > NAMED else "")
        told.append(f"Not counted: {named}, renewed in the 13 weeks for a fault that was first reported before them.")
    if found.failed.unnamed:
        told.append(
            f"{found.failed.unnamed:,} visits of the 13 weeks renewed a part for a fault but name none of the home's "
            f"valves; they are not counted, and of all failures expected the share {found.named:.1%} that names its "
            "valve is compared with those seen."
        )
    if found.unwatched:
        told.append(
            f"{found.unwatched:,} valves are left out: the visit log of their homes does not cover the 13 weeks, so "
            "that a failure would not show."
        )
    if found.unranked:
        told.append(
            f"{found.unranked:,} failed valves are not ranked, because nothing shows that they were there on the "
            "earlier day: their only date was overwritten, and no visit to their home came before."
        )
    return told


def _share(row: pd.Series, name: str) -> str:
    return f"{row[name]:.1%} (90 %: {row[f'{name}_low']:.1%} to {row[f'{name}_high']:.1%})"


def _day(day: pd.Timestamp) -> str:
    return f"{day.day} {day:%B %Y}"
