"""Typed tables of many sheets to one clean table each: ids joined, copies merged, links checked, every row counted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from audit.intake.duplicates import settle
from audit.intake.headers import columns
from audit.intake.ids import join_ids
from audit.intake.matching import TABLES
from audit.intake.problems import joined, problems_at
from audit.intake.typed import Typed, empty_table
from schemas import checks
from schemas.tables import SOURCE

MISSING_MEND = "fill the cell in"


@dataclass
class Tables:
    """Tables on their way: `out` are masks of rows returned or merged, over the frames."""

    frames: dict[str, pd.DataFrame]
    returned: dict[str, np.ndarray]
    merged: dict[str, np.ndarray]
    problems: list[pd.DataFrame]
    said: list[str]
    headers: dict[tuple[str, str, str, str], str]  # (table, file, sheet, column) → the file's own header

    def kept(self, table: str) -> np.ndarray:
        """Rows neither returned nor merged."""
        return ~(self.returned[table] | self.merged[table])


def assemble(
    parts: Mapping[str, Sequence[Typed]], headers: dict[tuple[str, str, str, str], str]
) -> tuple[dict[str, pd.DataFrame], pd.DataFrame, pd.DataFrame, list[str]]:
    """Make the clean tables.

    Args:
        parts: For each canonical table its typed pieces in order of file, sheet and row.
        headers: The file's own header for each (table, file, sheet, canonical column).

    Returns:
        The tables, everything that was returned, repaired or merged, the counts, and what is to be said.
    """
    work = _together(parts, headers)
    work.frames, told = join_ids(work.frames)
    work.said += told
    for table in TABLES:
        _return_without_required(work, table)
        _blank_faults(work, table, checks.cell_faults(table, work.frames[table]))
        _settle(work, table)
        _blank_faults(work, table, checks.order_faults(table, work.frames[table]))
    _link(work)
    for table in TABLES:
        _last_net(work, table)
    tables = {t: work.frames[t][work.kept(t)].reset_index(drop=True) for t in TABLES}
    counts = _counts(work)
    tables, counts = _with_homes(tables, counts, parts, work.said)
    return tables, _in_order(work), counts, work.said


def _together(parts: Mapping[str, Sequence[Typed]], headers: dict[tuple[str, str, str, str], str]) -> Tables:
    frames, problems, said = {}, [], []
    for table in TABLES:
        pieces = parts.get(table, ())
        frames[table] = (
            pd.concat([p.frame for p in pieces], ignore_index=True) if len(pieces) > 1
            else pieces[0].frame if pieces else empty_table(table)
        )  # fmt: skip
        problems += [p.problems for p in pieces]
        said += [sentence for p in pieces for sentence in p.said]
    none = {t: np.zeros(len(frames[t]), dtype=bool) for t in TABLES}
    return Tables(frames, none, {t: m.copy() for t, m in none.items()}, problems, said, headers)


def _return_without_required(work: Tables, table: str) -> None:
    """Return rows that lack what every row needs; a cell that was there and could not be read is said already."""
    frame = work.frames[table]
    told = joined(work.problems)
    told = told[told["table"].eq(table) & told["effect"].eq("returned")]
    known = set(zip(told["file"], told["sheet"].fillna(""), told["row"], strict=True))
    for column in columns(table):
        lacking = frame[column.name].isna().to_numpy() & ~work.returned[table] if column.required else None
        if lacking is None or not lacking.any():
            continue
        rows = frame.loc[lacking, list(SOURCE)]
        keys = zip(rows["source_file"], rows["source_sheet"].fillna(""), rows["source_row"].astype(float), strict=True)
        new = rows[[place not in known for place in keys]]
        work.problems.append(
            problems_at(
                table,
                new,
                column=_header(work, table, new, column.name),
                value="",
                reason=f"there is no {column.name}, and every row needs one",
                mend=MISSING_MEND,
                effect="returned",
            )
        )
        work.returned[table] = work.returned[table] | lacking


def _header(work: Tables, table: str, rows: pd.DataFrame, column: str) -> list[str]:
    """The file's own header of a column, for each row."""
    pairs = zip(rows["source_file"], rows["source_sheet"].fillna(""), strict=True)
    return [work.headers.get((table, file, sheet, column), column) for file, sheet in pairs]


def _blank_faults(work: Tables, table: str, faults: pd.DataFrame) -> None:
    """Blank doubtful cells and say so; return the row where a required cell is at fault."""
    if faults.empty:
        return
    frame = work.frames[table].copy(deep=False)
    required = {c.name for c in columns(table) if c.required}
    faults = faults[work.kept(table)[faults["pos"].to_numpy()]]
    for name, part in faults.groupby("column", sort=False):
        column, pos = str(name), part["pos"].to_numpy()
        rows = frame.iloc[pos]
        effect = "returned" if column in required else "repaired"
        work.problems.append(
            problems_at(
                table,
                rows,
                column=_header(work, table, rows, column),
                value=rows[column].astype("str"),
                reason=part["reason"],
                mend=part["mend"],
                effect=effect,
            )
        )
        if effect == "returned":
            work.returned[table][pos] = True
        else:
            values = frame[column].array.copy()
            values[pos] = None if values.dtype.kind not in "fM" else np.nan if values.dtype.kind == "f" else pd.NaT
            frame[column] = values
    work.frames[table] = frame


def _settle(work: Tables, table: str) -> None:
    """Merge rows that are one thing, return rows that contradict each other."""
    places = np.flatnonzero(work.kept(table))
    part = work.frames[table].iloc[places].reset_index(drop=True)
    settled = settle(table, part)
    if not (settled.merged.any() or settled.returned.any()):
        return
    frame = work.frames[table].copy(deep=False)
    for column in columns(table):
        values = frame[column.name].array.copy()
        values[places] = settled.frame[column.name].array
        frame[column.name] = values
    work.frames[table] = frame
    work.merged[table][places] |= settled.merged
    work.returned[table][places] |= settled.returned
    work.problems.append(settled.problems)


def _link(work: Tables) -> None:
    """Check homes of valves and visits, and valves of visits."""
    homes = work.frames["homes"]
    if len(homes):
        for table in ("valves", "visits"):
            _return_unknown_homes(work, table, homes["home_id"][work.kept("homes")], homes["home_id"])
    valves, visits = work.frames["valves"], work.frames["visits"]
    if not len(valves) or not visits["valve_id"].notna().any():
        return
    kept = valves[work.kept("valves")]
    stray = checks.unknown(visits["valve_id"], kept["valve_id"]) & work.kept("visits")
    home_of = visits["valve_id"].map(kept.set_index("valve_id")["home_id"])
    elsewhere = (home_of.notna() & home_of.ne(visits["home_id"])).to_numpy() & work.kept("visits")
    for bad, reason in (
        (stray, "no valve of that number is in the register"),
        (elsewhere, "that valve is in another home"),
    ):
        pos = np.flatnonzero(bad)
        faults = pd.DataFrame(
            {"pos": pos, "column": "valve_id", "reason": reason, "mend": "correct the valve's number"}
        )
        _blank_faults(work, "visits", faults)


def _return_unknown_homes(work: Tables, table: str, known: pd.Series, read: pd.Series) -> None:
    ids = work.frames[table]["home_id"]
    bad = checks.unknown(ids, known) & work.kept(table)
    if not bad.any():
        return
    rows = work.frames[table][bad]
    listed = rows["home_id"].isin(read)
    reason = np.where(
        listed, "its home was read but returned, see the table homes", "no home of that number is in the table homes"
    )
    work.problems.append(
        problems_at(
            table,
            rows,
            column=_header(work, table, rows, "home_id"),
            value=rows["home_id"],
            reason=reason,
            mend="correct the home's number, or add the home",
            effect="returned",
        )
    )
    work.returned[table] |= bad


def _last_net(work: Tables, table: str) -> None:
    """Hold what is left against the model; nothing should be found any more."""
    places = np.flatnonzero(work.kept(table))
    if len(places):
        faults = checks.model_faults(table, work.frames[table].iloc[places])
        _blank_faults(work, table, faults.assign(pos=places[faults["pos"].to_numpy()]))


def _counts(work: Tables) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "table": list(TABLES),
            "rows_in": [len(work.frames[t]) for t in TABLES],
            "used": [int(work.kept(t).sum()) for t in TABLES],
            "merged": [int((work.merged[t] & ~work.returned[t]).sum()) for t in TABLES],
            "returned": [int(work.returned[t].sum()) for t in TABLES],
        }
    ).astype({"table": "str"})


def _with_homes(
    tables: dict[str, pd.DataFrame], counts: pd.DataFrame, parts: Mapping[str, Sequence[Typed]], said: list[str]
) -> tuple[dict[str, pd.DataFrame], pd.DataFrame]:
    """Take the homes from the valves, else from the visits, where no table of homes was given."""
    if parts.get("homes"):
        return tables, counts
    for table in ("valves", "visits"):
        if len(tables[table]):
            named = tables[table].drop_duplicates("home_id")
            homes = empty_table("homes").reindex(range(len(named)))
            homes = homes.astype(empty_table("homes").dtypes.drop("source_row").to_dict())
            for name in ("home_id", *SOURCE):
                homes[name] = named[name].array
            tables = {**tables, "homes": homes}
            count = len(homes)
            counts.loc[counts["table"].eq("homes"), ["rows_in", "used"]] = count
            said.append(f"No table of homes was given: {count:,} homes are known by number only, from the {table}.")
            break
    return tables, counts


def _in_order(work: Tables) -> pd.DataFrame:
    """All problems by table, file, sheet and row; one line a returned row says so, the rest of its lines say repaired."""
    found = joined(work.problems)
    if found.empty:
        return found
    order = {t: place for place, t in enumerate(TABLES)}
    places: dict[tuple[str, str, str], int] = {}
    for table in TABLES:
        seen = work.frames[table][["source_file", "source_sheet"]].drop_duplicates()
        for file, sheet in zip(seen["source_file"], seen["source_sheet"].fillna(""), strict=True):
            places[table, file, sheet] = len(places)
    keys = zip(found["table"], found["file"], found["sheet"].fillna(""), strict=True)
    found = found.assign(
        _table=found["table"].map(order), _place=[places.get(k, 0) for k in keys], _late=found["effect"].ne("returned")
    ).sort_values(["_table", "_place", "row", "_late"], kind="stable", ignore_index=True)
    again = found["effect"].eq("returned") & found.duplicated(["_table", "_place", "row", "effect"])
    found["effect"] = found["effect"].mask(again, "repaired")
    return found.drop(columns=["_table", "_place", "_late"])
