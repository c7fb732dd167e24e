"""Several exports, one truth: the same job twice, open and then done, corrected, contradicted, copied."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from tests.corpus.delimited import pages
from tests.corpus.dialects import CONTRACTOR, LANDLORD, SPELLINGS, trade
from tests.corpus.files import text_files, workbook
from tests.corpus.layouts import three
from tests.corpus.plant import RETURNED, Book, Headers, Page, typed
from tests.corpus.stock import Record, portfolio

DONE = ("completed", "outcome", "cause", "action", "parts", "hours", "cost_gbp")


def _log(name: str, records: Sequence[Record], names: Headers, **more: object) -> Page:
    show = typed("visits", names) | trade("visits", list(records))
    return Page(name).table("visits", records, names, show=show, **more)


def same_jobs_twice(folder: Path) -> Book:
    """Two months' exports that overlap: the same jobs in both, under other headers and words."""
    stock = portfolio(501)["visits"]
    for record in stock:
        record["valve_id"] = record["valve_id"] or f"V{record['home_id']}-1"
    both = {c: h for c, h in LANDLORD["visits"].items() if CONTRACTOR["visits"].get(c)}
    book = text_files(folder, pages(501, LANDLORD)[:2])
    march = _log("march", stock[:30], both)
    april = Page("April").table("visits", stock[20:], CONTRACTOR["visits"], show=trade("visits", stock))
    book.add(text_files(folder, [march]).files[0], [march])
    book.add(workbook(folder / "april.xlsx", april), [april])
    return book


def open_then_done(folder: Path) -> Book:
    """An export with open jobs, and a later one in which they are done: the later one completes, and that is said."""
    stock = portfolio(502)["visits"]
    names = LANDLORD["visits"]
    full = [r | {"attended": r["attended"] or r["reported"], "completed": r["completed"] or dt.datetime(2026, 7, 1)}
            for r in stock]  # fmt: skip
    early = [r | dict.fromkeys(DONE) for r in full[:25]]
    book = text_files(folder, [*pages(502, LANDLORD)[:2], _log("2 early", early, names, truths=full[:25])])
    late = _log("3 late", full, names)
    book.add(text_files(folder, [late]).files[0], [late])
    book.says = [r"(?i)later|fuller|complet"]
    return book


def done_then_open(folder: Path) -> Book:
    """The same two exports, the later one read first: the order of the files makes no difference."""
    stock = portfolio(503)["visits"]
    names = LANDLORD["visits"]
    full = [r | {"attended": r["attended"] or r["reported"], "completed": r["completed"] or dt.datetime(2026, 7, 1)}
            for r in stock]  # fmt: skip
    early = [r | dict.fromkeys(DONE) for r in full[:25]]
    late, first = _log("1 late", full, names), _log("2 early", early, names, truths=full[:25])
    return text_files(folder, [*pages(503, LANDLORD)[:2], late, first])


def corrected_later(folder: Path) -> Book:
    """The call centre's first guess at symptom, valve and engineer, put right once the job was done; said."""
    stock = portfolio(504)["visits"]
    names = LANDLORD["visits"]
    full = [r | {"attended": r["attended"] or r["reported"], "completed": r["completed"] or dt.datetime(2026, 7, 1),
                 "symptom": "leak", "engineer": "E17"} for r in stock]  # fmt: skip
    early = [r | dict.fromkeys(DONE) | {"symptom": "no_heating", "engineer": "E01"} for r in full[:20]]
    book = text_files(folder, [*pages(504, LANDLORD)[:2], _log("early", early, names, truths=full[:20])])
    late = _log("late", full, names)
    book.add(text_files(folder, [late]).files[0], [late])
    book.says = [r"(?i)later|fuller"]
    return book


def amended_later(folder: Path) -> Book:
    """Two quarterly exports that overlap: done jobs are billed, timed and judged anew in the later one; said."""
    stock = portfolio(510)["visits"]
    names = LANDLORD["visits"]
    day = {"attended": dt.datetime(2026, 7, 1), "completed": dt.datetime(2026, 7, 1)}
    new = [r | day | {"outcome": "temporary", "cost_gbp": 91.5, "hours": 1.25} for r in stock]
    old = [r | {"outcome": "fixed", "cost_gbp": 80.0, "hours": 1.0} for r in new[:25]]
    book = text_files(folder, [*pages(510, LANDLORD)[:2], _log("jobs 2026-09-30", new, names)])
    first = _log("jobs 2026-08-31", old, names, truths=new[:25])
    book.add(text_files(folder, [first]).files[0], [first])
    book.says = [r"later row counts, jobs 2026-09-30.csv.*outcome “temporary” instead of “fixed”.*“91.5” instead"]
    return book


def two_jobs_one_number(folder: Path) -> Book:
    """Different homes, days or results under one number: both are returned."""
    stock = portfolio(505)["visits"]
    names = LANDLORD["visits"]
    other = [
        stock[4] | {"home_id": "0001" if stock[4]["home_id"] != "0001" else "0002", "valve_id": None},
        stock[9] | {"reported": stock[9]["reported"] - dt.timedelta(days=40)},
        stock[14] | {"attended": stock[14]["reported"], "completed": stock[14]["reported"], "outcome": "fixed",
                     "cost_gbp": 12.0, "hours": 9.75},
    ]  # fmt: skip
    stock[14] |= {"attended": stock[14]["reported"], "completed": stock[14]["reported"], "outcome": "no_fault_found",
                  "cost_gbp": 77.0, "hours": 0.25}  # fmt: skip
    main = _log("log", stock, names, fates=dict.fromkeys((4, 9, 14), RETURNED))
    more = _log("more", other, names, fates=dict.fromkeys(range(3), RETURNED))
    return text_files(folder, [*pages(505, LANDLORD)[:2], main, more])


def copies_of_rows(folder: Path) -> Book:
    """Exact copies in one file: homes, valves and jobs, each counted once, and said."""
    stock = portfolio(506)
    made = []
    for table, records in stock.items():
        names = CONTRACTOR[table]
        show = typed(table, names) | trade(table, records)
        page = Page(table).table(table, records, names, show=show)
        made.append(page.rows(table, records[2:8], names, show={c: _moved(show[c]) for c in show}))
    book = text_files(folder, made)
    book.says = [r"(?i)same|copy"]
    return book


def _moved(cell: object) -> object:
    return lambda value, n: cell(value, n + 2)  # type: ignore[operator]


def three_windows(folder: Path) -> Book:
    """Three quarterly exports, each with the last weeks of the one before, jobs further on in each."""
    stock = portfolio(507)["visits"]
    names = dict(LANDLORD["visits"])
    full = [r | {"attended": r["attended"] or r["reported"], "completed": r["completed"] or dt.datetime(2026, 7, 1)}
            for r in stock]  # fmt: skip
    logged = [r | dict.fromkeys((*DONE, "attended")) for r in full]
    seen = [r | dict.fromkeys(DONE) for r in full]
    parts = (("q1", logged[:24], full[:24]), ("q2", seen[8:36], full[8:36]), ("q3", full, full))
    made = [_log(name, records, names, truths=truths) for name, records, truths in parts]
    return text_files(folder, [*pages(507, LANDLORD)[:2], *made])


def homes_that_disagree(folder: Path) -> Book:
    """One home at two addresses in two lists: both rows are returned, and what hangs on the home with them."""
    stock = portfolio(508)
    wrong = stock["homes"][3]
    made = three(508, LANDLORD)
    fates = {t: {n: RETURNED for n, r in enumerate(stock[t]) if r["home_id"] == wrong["home_id"]} for t in stock}
    made = [
        Page(t).table(t, stock[t], LANDLORD[t], show=typed(t, LANDLORD[t]) | trade(t, stock[t]), fates=fates[t])
        for t in stock
    ]
    wrong["address"] = wrong["address"] or "Flat 9, 9 Example Road"
    made[0] = Page("homes").table("homes", stock["homes"], LANDLORD["homes"], show=typed("homes", LANDLORD["homes"]),
                                  fates=fates["homes"])  # fmt: skip
    second = Page("homes again").table(
        "homes", [wrong | {"address": "77 Other Lane", "postcode": "ZZ99 9ZZ"}], LANDLORD["homes"],
        show=typed("homes", LANDLORD["homes"]), fates={0: RETURNED},
    )  # fmt: skip
    return text_files(folder, [*made, second])


def jobs_at_unknown_homes(folder: Path) -> Book:
    """Jobs at homes that no list has are returned; a valve that the register lacks is taken off its job and said."""
    stock = portfolio(509)["visits"]
    names = LANDLORD["visits"]
    strange = [stock[n] | {"visit_id": f"ZZ{n}", "home_id": f"9{n}77", "valve_id": None} for n in (1, 2, 3)]
    main = _log("log", stock, names)
    more = _log("more", strange, names, fates=dict.fromkeys(range(3), RETURNED))
    assert SPELLINGS["outcome"]
    return text_files(folder, [*pages(509, LANDLORD)[:2], main, more])


BOOKS = (
    same_jobs_twice, open_then_done, done_then_open, corrected_later, amended_later, two_jobs_one_number,
    copies_of_rows, three_windows, homes_that_disagree, jobs_at_unknown_homes,
)  # fmt: skip
