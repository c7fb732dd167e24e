"""Parts to load by team and week, and parts to order, with the day by which."""

from __future__ import annotations

import numpy as np
import pandas as pd

from audit.plan.parts import NO_VOLTAGE
from schemas import words

LOAD = ["team", "week_starting", "part", "name", "pieces"]
ORDER = [
    *("part", "name", "voltage", "on_hand", "needed", "shortage", "lead_time_days", "first_short_week", "order_by"),
    "note",
]


def load(planned: pd.DataFrame, parts: pd.DataFrame) -> pd.DataFrame:
    """Return one row a week, team and part as named: the pieces that its visits need.

    Args:
        planned: Planned visits, with rank, team and week_starting.
        parts: One row a visit and part: rank, part, name, pieces.
    """
    lines = parts.merge(planned[["rank", "team", "week_starting"]], on="rank")
    lines["place"] = lines["part"].map({item: at for at, item in enumerate(words.RATE_ITEM)})
    key = ["week_starting", "team", "place", "part", "name"]
    return lines.groupby(key, dropna=False)["pieces"].sum().reset_index()[LOAD]


def order(planned: pd.DataFrame, parts: pd.DataFrame, stock: pd.DataFrame, as_of: pd.Timestamp) -> pd.DataFrame:
    """Return one row a part and voltage: on hand, needed, shortage, and the day by which to order (lead time before).

    The store's list does not tell voltages: what is on hand is that of the part at all of them. Where several are
    needed and some are on hand, the shortage of each is not known (missing), each is ordered for the first week that
    needs it, as if none of those on hand fitted, and the note says so.

    Args:
        planned: As for `load`; week_starting may be missing.
        parts: As for `load`, with voltage.
        stock: Columns part, on_hand, lead_time_days; may be empty.
        as_of: Today; an earlier day to order by is said to be past.
    """
    lines = parts.merge(planned[["rank", "week_starting"]], on="rank").sort_values("week_starting", kind="stable")
    held = stock.drop_duplicates("part").set_index("part")[["on_hand", "lead_time_days"]].astype("float64")
    used = lines.groupby("part")["pieces"].cumsum()
    short = lines.loc[used.to_numpy() > held["on_hand"].reindex(lines["part"]).to_numpy(dtype="float64")]
    first = short.groupby("part")["week_starting"].first()
    key = ["part", "voltage"]
    table = lines.groupby(key)["pieces"].sum().rename("needed").reset_index()
    place = table["part"].map({item: at for at, item in enumerate(words.PART)})
    table = table.assign(place=place).sort_values(["place", "voltage"], kind="stable", ignore_index=True)
    table = table.join(held, on="part", how="left")
    several = table.groupby("part")["voltage"].transform("size").gt(1)
    asked = lines.groupby(key)["week_starting"].first().reindex(pd.MultiIndex.from_frame(table[key]))
    begins = first.astype("datetime64[us]").reindex(table["part"]).set_axis(table.index)
    begins = begins.mask(several & table["on_hand"].notna(), asked.astype("datetime64[us]").set_axis(table.index))
    by = (begins - pd.to_timedelta(table["lead_time_days"], unit="D")).astype("datetime64[us]")
    every = table.groupby("part")["needed"].transform("sum")
    mixed = several & table["on_hand"].gt(0)
    table = table.assign(
        name=table["part"].map(dict(words.PART)).astype("str"),
        shortage=table["needed"].where(mixed, (every - table["on_hand"]).clip(lower=0.0)),
        first_short_week=begins,
        order_by=by,
    )
    check = table["on_hand"].map("the store's list does not tell voltages: look which its {:.0f} are; ".format)
    fits = ", unless the " + table["on_hand"].map("{:.0f} on hand are ".format).astype("str") + table["voltage"]
    fits = fits.str.replace(f"are {NO_VOLTAGE}", "fit", regex=False)
    told = check.astype("str") + every.map("{:.0f} needed in all; ".format).astype("str") + _note(table, as_of) + fits
    return table.assign(
        note=_note(table, as_of).mask(mixed, told).astype("str"),
        shortage=(table["needed"] - table["on_hand"]).clip(lower=0.0).mask(mixed),
    )[ORDER]


def _note(table: pd.DataFrame, as_of: pd.Timestamp) -> pd.Series:
    no_week = table["first_short_week"].isna()
    note = pd.Series("enough on hand", index=table.index, dtype="str")
    note = note.mask(table["shortage"].gt(0), "order by then")
    note = note.mask(table["shortage"].gt(0) & no_week, "order before the first visits that need it")
    note = note.mask(table["shortage"].gt(0) & table["lead_time_days"].isna(), "order now: lead time not recorded")
    late = table["order_by"].lt(as_of)
    past = (as_of - table["order_by"]).dt.days.where(late, 0).astype("float64")
    days = np.where(past.eq(1), "1 day", past.map("{:.0f} days".format).astype("str"))
    said = pd.Series("order now: " + pd.Series(days, index=table.index).astype("str") + " late for its first visits")
    note = note.mask(late, said.astype("str"))
    return note.mask(table["on_hand"].isna(), "stock not recorded: count it before the first week")
