"""Books of which only the free text says what was wrong and what was done; labelled from the meaning of each note."""

from __future__ import annotations

import csv
from pathlib import Path

from tests.corpus.delimited import pages
from tests.corpus.dialects import CONTRACTOR, LANDLORD, trade
from tests.corpus.files import one_workbook, text_files
from tests.corpus.layouts import three
from tests.corpus.plant import Book, Page, typed
from tests.corpus.stock import Record, portfolio

CODED = ("symptom", "cause", "action", "outcome", "parts", "lever", "position")
PLAIN = """\
note,symptom,cause,action,outcome,parts,lever,position
"no heating. head failed, fitted new head, tested ok",no_heating,head,head,fixed,,,
"no hot water, motor burnt out, replaced motor, all working",no_hot_water,motor,motor,fixed,motor,,
carded no access,,,,no_access,,,
"no access, left card",,,,no_access,,,
"heating stuck on. lever left in manual, reset lever, working ok",heating_stays_on,lever,reset_lever,fixed,,,
"no heating or hot water. boiler fault, passed to boiler team",no_heating_or_hot_water,boiler,,,,,
"tested all ok, no fault found",,none_found,,no_fault_found,,,
"loose wire in wiring centre, remade connection, tested ok",,wiring,wiring,fixed,,,
"valve seized, new valve required, parts ordered",,body,,parts_needed,,,
"leak from gland, temporary repair",leak,leak,,temporary,,,
"humming noise, motor faulty, new motor fitted, tested ok",noise,motor,motor,fixed,motor,,
"valve stuck closed, lever stiff",,,,,,stiff,closed
"3 port stuck mid position",,,,,,,mid
"hot water stuck on, replaced head, tested ok",hot_water_stays_on,,head,fixed,,,
"pump seized, fitted new pump, heating restored",,pump,other_part,fixed,,,
"""
SHORTHAND = """\
note,symptom,cause,action,outcome,parts,lever,position
"htg stuck on, fitted new head & reset, tested ok",heating_stays_on,,head,fixed,,,
"no hw. 3 port seized, drained & renewed",no_hot_water,body,full,,,,
"NO CH. HEAD U/S, RENEWED HEAD, T/OK",no_heating,head,head,fixed,,,
"no ch/hw, blr locked out",no_heating_or_hot_water,boiler,,,,,
"n/a carded",,,,no_access,,,
"NFF all ok",,none_found,,no_fault_found,,,
"no heatng, motr faulty, new mottor fitted",no_heating,motor,motor,,motor,,
"Heating permanantly on, actuater replaced",heating_stays_on,,head,,,,
"""
DENIED = """\
note,symptom,cause,action,outcome,parts,lever,position
"valve not leaking, no fault found",,none_found,,no_fault_found,,,
"no leak found, tested ok",,none_found,,no_fault_found,,,
"motor ok, head not faulty",,,,,,,
"tenant not in",,,,no_access,,,
"parts not required",,,,,,,
"lever not stiff",,,,,,,
"""
UNREAD = ("qwx zzyx plm", "gate code via office")  # clauses in no language that anybody could code


def notes_of(text: str) -> list[Record]:
    """The notes of a list with their labels; an empty label is None."""
    return [{name: value or None for name, value in row.items()} for row in csv.DictReader(text.splitlines())]


def _log(seed: int, labelled: list[Record], name: str = "log") -> tuple[Page, list[Record]]:
    """A log with the ids, the days and the notes of jobs, and nothing else; and what is to be read from it."""
    stock = portfolio(seed)["visits"]
    names = {c: LANDLORD["visits"][c] for c in ("visit_id", "home_id", "reported", "notes")}
    told = [labelled[n % len(labelled)] for n in range(len(stock))]
    records = [{c: r[c] for c in names} | {"notes": t["note"]} for r, t in zip(stock, told, strict=True)]
    truths = [r | {c: t[c] for c in CODED} for r, t in zip(records, told, strict=True)]
    page = Page(name).table("visits", records, names, show=typed("visits", names), truths=truths)
    return page, truths


def nothing_but_notes(folder: Path) -> Book:
    """A log with nothing but numbers, days and notes in plain words."""
    page, _ = _log(701, notes_of(PLAIN))
    return text_files(folder, [*pages(701, LANDLORD)[:2], page])


def shorthand(folder: Path) -> Book:
    """Notes in the trade's shorthand, in capitals, with slips of spelling."""
    page, _ = _log(702, notes_of(SHORTHAND))
    return text_files(folder, [*pages(702, LANDLORD)[:2], page])


def what_was_not(folder: Path) -> Book:
    """Notes that say what was not the matter: nothing may be read from them but that."""
    page, _ = _log(703, notes_of(DENIED))
    return text_files(folder, [*pages(703, LANDLORD)[:2], page])


def notes_of_nothing(folder: Path) -> Book:
    """Notes that say nothing of the valve, some often and some seldom: nothing is read from them."""
    labelled = [{"note": UNREAD[n % 3 == 0]} | dict.fromkeys(CODED) for n in range(9)]
    page, _ = _log(704, labelled)
    return text_files(folder, [*pages(704, LANDLORD)[:2], page])


def notes_against_columns(folder: Path) -> Book:
    """Coded columns beside notes that say the same, say more, or say something else: the column wins, said."""
    stock = portfolio(705)["visits"]
    names = CONTRACTOR["visits"]
    for n, record in enumerate(stock):
        record |= dict.fromkeys(CODED) | {"symptom": "no_heating", "cause": None, "action": "head", "outcome": "fixed"}
        record["notes"] = ("no heating, new head, tested ok", "no heating. head failed", "hot water stuck on")[n % 3]
    kept = [c for c in names if names[c]]
    truths = [{c: r[c] for c in kept} | {"cause": "head" if n % 3 == 1 else None} for n, r in enumerate(stock)]
    show = trade("visits", stock)
    page = Page("Log").table("visits", stock, names, show=show, truths=truths)
    book = one_workbook(folder, [*three(705, CONTRACTOR)[:2], page])
    book.says = [r"symptom.*no_heating.*hot_water_stays_on"]
    return book


BOOKS = (nothing_but_notes, shorthand, what_was_not, notes_of_nothing, notes_against_columns)
