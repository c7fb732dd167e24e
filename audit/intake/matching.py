"""Headers to columns: by their words, by close spelling and by what the cells look like; doubts are said."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from audit.intake.columns import NUMBERED, Choice, ColumnMap, Header, Known, fingerprint
from audit.intake.headers import (
    CLOSE,
    EXACT,
    MAYBE,
    VALUES,
    WORDS,
    Match,
    address_part,
    close_matches,
    columns,
    first_of_several,
    matches,
    not_ours,
    unit_of,
    with_vat,
)
from audit.intake.looks import Samples, looks_like, only_a_length
from audit.intake.sheet import Sheet, shown
from schemas.column import Column

FITS = 0.5  # share of cells that must make sense for a header's word to be believed
CLEARLY = 0.2  # by how much one column must fit better than another
NEVER = 0.2  # below this share of sensible cells a header's word is not believed
TABLES = ("homes", "valves", "visits", "rates", "capacity", "parts")


@dataclass
class Assignment:
    """Headers given to columns of one table, and what stayed open."""

    table: str
    chosen: dict[str, Choice] = field(default_factory=dict)
    questions: list[str] = field(default_factory=list)
    declined: dict[int, str] = field(default_factory=dict)  # grid column → why its words were not believed
    open: set[str] = field(default_factory=set)  # columns that several headers claim: only the user can say

    @property
    def taken(self) -> set[int]:
        """Grid columns already given away."""
        return {h.column for choice in self.chosen.values() for h in (choice.header, *choice.more)}

    @property
    def missing(self) -> list[str]:
        """Required columns not found."""
        return [c.name for c in columns(self.table) if c.required and c.name not in self.chosen]


def by_name(table: str, headers: Sequence[Header]) -> float:
    """Score how many columns of a table the headers name, without a look at the cells."""
    best: dict[str, float] = {}
    for header in headers:
        for match in matches(table, header.text, header.group)[:1]:
            best[match.column] = max(best.get(match.column, 0.0), match.sure)
    if table == "homes" and "uprn" in best:
        best.setdefault("home_id", best["uprn"])  # homes without a number of their own go by that one
    required = {c.name for c in columns(table) if c.required}
    return sum(sure * (2.0 if name in required else 1.0) for name, sure in best.items())


def understand(sheet: Sheet, row: int, headers: Sequence[Header], rows: np.ndarray, known: Known | None) -> ColumnMap:
    """Find out which table a header row belongs to and what each header means.

    Args:
        sheet: Where the header was found.
        row: Grid row of the header.
        headers: Its cells.
        rows: Grid rows of the data below.
        known: What a columns.toml says of this header row, if anything.
    """
    cells = Samples(sheet, rows)
    found = _as_known(known, headers, sheet) if known else _best(headers, cells)
    used = found.taken
    unused = tuple(h for h in headers if h.column not in used and (h.text.strip() or not cells.sample(h.column).empty))
    order = {c.name: place for place, c in enumerate(columns(found.table))}
    chosen = tuple(sorted(found.chosen.values(), key=lambda c: order[c.column]))
    return ColumnMap(
        sheet.file,
        sheet.name,
        sheet.row_number(row),
        found.table,
        fingerprint(headers),
        chosen,
        unused,
        tuple(found.questions),
        known is not None,
    )


def _as_known(known: Known, headers: Sequence[Header], sheet: Sheet) -> Assignment:
    found = Assignment(known.table)
    for name, wanted in known.columns.items():
        if wanted == NUMBERED and column_of(known.table, name).unique:
            reason = "the rows are numbered home by home, as the file of columns says"
            found.chosen[name] = Choice(name, Header(NUMBERED, column=-1, letter="-"), 1.0, reason)
            continue
        fitting = [h for h in headers if wanted in (h.label, f"{h.label} [{h.letter}]", f"column {h.letter}")]
        if not fitting:
            found.questions.append(
                f"the file of columns names “{wanted}” for {name}, but {sheet.place} has no such header"
            )
            continue
        unit = known.units.get(name, unit_of(fitting[0].text)[1])
        more = tuple(h for label in known.more.get(name, ()) for h in headers if h.label == label)
        found.chosen[name] = Choice(name, fitting[0], 1.0, "as the file of columns says", unit, more)
    return found


def _best(headers: Sequence[Header], cells: Samples) -> Assignment:
    """Try every table that the header words point at; the one that explains most headers wins."""
    scores = {table: by_name(table, headers) for table in TABLES}
    top = max(scores.values())
    tried = [assign(t, headers, cells) for t, score in scores.items() if score >= 0.7 * top]
    return max(tried, key=lambda a: (not a.missing, sum(c.sure for c in a.chosen.values()) - 2 * len(a.missing)))


def assign(table: str, headers: Sequence[Header], cells: Samples) -> Assignment:
    """Give headers to the columns of one table, the surest first."""
    found = Assignment(table)
    named = {h.column: _candidates(table, h) for h in headers}
    levels = sorted({m.sure for listed in named.values() for m in listed}, reverse=True)
    for level in levels:
        _give(found, headers, {p: [m for m in listed if m.sure == level] for p, listed in named.items()}, cells)
    _by_values(found, [h for h in headers if not named[h.column] or h.column in found.declined], cells)
    _date_of_readings(found, headers, named, cells)
    _by_uprn(found)
    _by_address(found, headers)
    _address_of_parts(found, headers)
    found.questions += [why for place, why in found.declined.items() if place not in found.taken]
    found.questions += _with_tax(found, headers)
    return found


def _with_tax(found: Assignment, headers: Sequence[Header]) -> list[str]:
    """Ask about amounts that hold the tax where no others are there."""
    if "cost_gbp" in found.chosen or all(c.name != "cost_gbp" for c in columns(found.table)):
        return []
    return [
        f"“{h.label}” (column {h.letter}) holds amounts with VAT, and cost_gbp is without it"
        for h in headers
        if with_vat(h.label) and h.column not in found.taken
    ]


def _date_of_readings(
    found: Assignment, headers: Sequence[Header], named: Mapping[int, list[Match]], cells: Samples
) -> None:
    """Give the one date beside several readings to each of them."""
    for header in headers:
        wanted = [m.column for m in named[header.column]]
        if header.column in found.taken or set(wanted) != {"location_temp_on", "flow_temp_on"}:
            continue
        if found.chosen.keys() & set(wanted) or cells.fit(header.column, column_of(found.table, wanted[0]), "") < FITS:
            continue
        for name in wanted:
            if name.removesuffix("_on") + "_c" in found.chosen:
                found.chosen[name] = Choice(name, header, MAYBE, "the one date beside the readings")
        found.questions = [q for q in found.questions if not q.endswith(f"any of {', '.join(wanted)}")]


def _by_uprn(found: Assignment) -> None:
    """Number homes by their UPRN where nothing else numbers them."""
    if found.table == "homes" and "home_id" not in found.chosen and "uprn" in found.chosen:
        uprn = found.chosen["uprn"]
        found.chosen["home_id"] = replace(uprn, column="home_id", reason="no other number of the home is there")


def _by_address(found: Assignment, headers: Sequence[Header]) -> None:
    """Name the home of a valve or visit by its address where nothing else names it."""
    if found.table not in ("valves", "visits") or "home_id" in found.chosen or "home_id" in found.open:
        return
    for header in headers:
        match = matches("homes", header.text, header.group)[:1]
        if match and match[0].column == "address" and match[0].sure >= WORDS and header.column not in found.taken:
            reason = "no number of the home is there; its address is held against the list of homes"
            found.chosen["home_id"] = Choice("home_id", header, MAYBE, reason)
            return


def _address_of_parts(found: Assignment, headers: Sequence[Header]) -> None:
    """Join an address that stands in several columns, in their order."""
    address = found.chosen.get("address")
    parts = [h for h in headers if h.column not in found.taken and address_part(h.text)]
    first = address is None or address_part(address.header.text) or any(h.text.strip().endswith("2") for h in parts)
    if found.table != "homes" or not parts or not first:
        return
    if address is None and len(parts) == 1:
        return
    listed = sorted([*parts, *([address.header] if address else ())], key=lambda h: h.column)
    reason = "parts of an address, joined in their order"
    found.chosen["address"] = Choice("address", listed[0], WORDS, reason, more=tuple(listed[1:]))


def _candidates(table: str, header: Header) -> list[Match]:
    listed = list(matches(table, header.text, header.group))
    if not listed and header.text.strip():
        listed = list(close_matches(table, header.label.replace(" / ", " "))) or list(close_matches(table, header.text))
    return listed


def _give(found: Assignment, headers: Sequence[Header], wishes: Mapping[int, list[Match]], cells: Samples) -> None:
    """Settle all wishes of one level of sureness."""
    by_place = {h.column: h for h in headers}
    pairs: dict[tuple[int, str], tuple[float, Match]] = {}
    for place, listed in wishes.items():
        for match in listed:
            if place in found.taken or match.column in found.chosen:
                continue
            unit = unit_of(by_place[place].text)[1]
            if match.sure == EXACT and len(listed) == 1:
                pairs[place, match.column] = 1.0, match
                continue
            fit = cells.fit(place, column_of(found.table, match.column), unit)
            if fit >= (NEVER if match.sure > CLOSE else FITS) or match.sure == EXACT:
                pairs[place, match.column] = fit, match
            else:
                header = by_place[place]
                found.declined[place] = (
                    f"“{header.label}” (column {header.letter}) would be {match.column} by its words, but only "
                    f"{fit:.0%} of its cells make sense as that (it has “{shown(cells.sample(place).iloc[0])[:40]}”)"
                )
    for place, listed in wishes.items():
        _settle(found, place, by_place[place].text, [m.column for m in listed if (place, m.column) in pairs], pairs)
    claims: defaultdict[str, list[int]] = defaultdict(list)
    for place, column in pairs:
        claims[column].append(place)
    for column, places in claims.items():
        _award(found, column, places, pairs, by_place, cells)


def _settle(
    found: Assignment, place: int, header: str, wanted: list[str], pairs: dict[tuple[int, str], tuple[float, Match]]
) -> None:
    """Leave a header with one column: the one that its cells fit clearly better, or that its words mean rather."""
    if len(wanted) < 2:
        return
    ranked = sorted(wanted, key=lambda c: -pairs[place, c][0])
    clear = pairs[place, ranked[0]][0] - pairs[place, ranked[1]][0] >= CLEARLY
    if not clear and first_of_several(header):
        ranked, clear = sorted(wanted, key=wanted.index), pairs[place, wanted[0]][0] >= 1 - CLEARLY
    for column in ranked[1:] if clear else ranked:
        match = pairs.pop((place, column))[1]
        if not clear:
            found.questions.append(f"{match.reason.split('”')[0]}” may be any of {', '.join(wanted)}")
    if not clear:
        found.questions[:] = list(dict.fromkeys(found.questions))


def _award(
    found: Assignment,
    column: str,
    places: list[int],
    pairs: dict[tuple[int, str], tuple[float, Match]],
    by_place: Mapping[int, Header],
    cells: Samples,
) -> None:
    """Give a column to the one header that claims it, or to the one that fits it clearly better; else ask."""
    ranked = sorted(places, key=lambda p: -pairs[p, column][0])
    if len(ranked) > 1:
        clear = pairs[ranked[0], column][0] - pairs[ranked[1], column][0] >= CLEARLY
        parts = column == "address" and all(address_part(by_place[p].text) for p in places)
        if not clear and not parts and not all(cells.same(ranked[0], other) for other in ranked[1:]):
            told = " and ".join(f"“{by_place[p].label}” (column {by_place[p].letter})" for p in sorted(ranked))
            found.questions.append(f"{told} fit {column} equally well")
            found.open.add(column)
            return
        if not clear:
            ranked = sorted(ranked)
    header = by_place[ranked[0]]
    match = pairs[ranked[0], column][1]
    if header.column not in found.taken:
        found.chosen[column] = Choice(column, header, match.sure, match.reason, unit_of(header.text)[1])


def _by_values(found: Assignment, headers: Sequence[Header], cells: Samples) -> None:
    """Give headers without a known word to the one column left that their cells look like."""
    for header in headers:
        if (
            header.column in found.taken
            or not_ours(header.text)
            or with_vat(header.label)
            or len(cells.sample(header.column)) < 2
        ):
            continue
        looks = looks_like(found.table, found.chosen, cells, header.column, unit_of(header.text)[1])
        if found.open.intersection(looks):
            continue
        if len(looks) == 1 and not only_a_length(found.table, looks[0]):
            reason = f"its cells look like {column_of(found.table, looks[0]).meaning.rstrip('.').lower()}"
            found.chosen[looks[0]] = Choice(looks[0], header, VALUES, reason, unit_of(header.text)[1])
        elif looks and len(looks) <= 12 and header.column not in found.declined:
            found.questions.append(
                f"“{header.label}” (column {header.letter}) is no known header; its cells could be {', '.join(looks)}"
            )


def column_of(table: str, name: str) -> Column:
    """The record of one column."""
    return next(c for c in columns(table) if c.name == name)
