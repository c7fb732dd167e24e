"""Wire readings: check values case by case, and every combination against a simulation written apart from the code."""

from __future__ import annotations

import time
from collections.abc import Mapping
from functools import cache
from itertools import product
from typing import Any

import numpy as np
import pandas as pd
import pytest

from audit.readings import readings
from audit.readings.faults import PARTS
from audit.readings.judge import judge
from audit.readings.wiring import AXES, MODELS, SHAPE, fits
from tests import wiring
from tests.frames import Row, known_facts, portfolio

KINDS: dict[str, Row] = {
    "zone": {"head_kind": "zone", "ports": "2", "circuit": "heating"},
    "hot water zone": {"head_kind": "zone", "ports": "2", "circuit": "hot_water"},
    "changeover": {"head_kind": "zone_changeover", "ports": "2", "circuit": "heating", "changeover_in_use": "yes"},
    "mid": {"head_kind": "mid_position", "ports": "3", "circuit": "both"},
    "diverter": {"head_kind": "diverter", "ports": "3", "circuit": "both"},
}
SHORT = {
    "H": "demand_heating", "W": "demand_hot_water", "brown": "brown_live", "white": "white_live", "grey": "grey_live",
    "orange": "orange_live",
}  # fmt: skip


def row(text: str) -> dict[str, str]:
    """Cells from shorthand: "H+ brown- at:open lever:free" is heating called for, brown dead, and so on."""
    cells = {}
    for word in text.split():
        if ":" in word:
            name, value = word.split(":")
            cells[{"at": "position"}.get(name, name)] = value
        else:
            cells[SHORT[word[:-1]]] = "yes" if word.endswith("+") else "no"
    return cells


def judged(valve: Row, *texts: str, others: tuple[Row, ...] = ()) -> pd.DataFrame:
    """The verdicts on visits to one valve, in the order given."""
    visits: list[Row] = [
        {"visit_id": f"J{n:05d}", "home_id": "H1", "valve_id": "V1", "reported": "2026-01-01", **row(text)}
        for n, text in enumerate(texts)
    ]
    valves = [{"valve_id": "V1", "home_id": "H1", **valve}]
    valves += [{"valve_id": f"V{n}", "home_id": "H1", **other} for n, other in enumerate(others, 2)]
    return readings(known_facts(portfolio(valves=valves, visits=visits))).sort_values("visit_id", ignore_index=True)


CASES = (
    # two-port zone head, five wires
    ("zone", "H+ W- brown+ grey+ orange+ at:open lever:free", "none_found", ""),
    ("zone", "H- W- brown- grey+ orange- at:closed lever:free", "none_found", ""),
    ("zone", "H- W+ brown- grey+ orange+ at:closed lever:free", "none_found", ""),  # orange from the other head
    ("zone", "H+ brown+ grey+ orange- at:closed lever:free", "named", "motor"),
    ("zone", "H+ brown+ grey+ orange- at:closed lever:stiff", "named", "body"),
    ("zone", "H+ brown+ grey+ orange- at:closed", "cannot_tell", ""),
    ("zone", "H+ brown+ grey+ orange- at:open", "named", "end_switch"),
    ("zone", "H+ brown+ grey- orange- at:open lever:free", "none_found", ""),  # volt-free: the feed may not show
    ("zone", "H- brown- at:open lever:free", "named", "spring_or_body"),
    ("zone", "H- brown- at:open lever:stiff", "named", "body"),
    ("zone", "H- brown- at:open lever:latched", "cannot_tell", ""),
    ("zone", "H- brown- at:open", "cannot_tell", ""),
    ("zone", "H- W- brown- grey+ orange+ at:closed lever:free", "named", "end_switch"),  # welded
    ("zone", "H- brown- grey+ orange+ at:closed lever:free", "none_found", ""),  # hot water may be called for
    ("zone", "H+ brown- grey+ orange- at:closed", "named", "controls_or_wiring"),
    ("zone", "H- brown+ at:open", "named", "controls_or_wiring"),
    ("zone", "H+ brown- at:open lever:free", "contradictory", ""),
    ("zone", "H+ brown+ white+ at:open", "contradictory", ""),  # five wires have no white
    ("zone", "H+ brown+ at:mid", "contradictory", ""),  # a two-port body has no middle
    ("hot water zone", "W+ H- brown+ at:closed lever:free", "named", "motor"),
    ("hot water zone", "W+ brown- at:closed", "named", "controls_or_wiring"),
    ("hot water zone", "H+ brown- at:closed", "none_found", ""),
    # six wires: white joined to orange at rest, parted from it at full travel
    ("changeover", "H- W- brown- white+ orange+ grey- at:closed lever:free", "none_found", ""),
    ("changeover", "H+ W- brown+ white- orange+ grey+ at:open lever:free", "none_found", ""),
    ("changeover", "H+ W- brown+ white+ orange+ grey- at:open lever:free", "named", "end_switch"),
    ("changeover", "H- W- brown- white- orange+ grey- at:closed lever:free", "named", "end_switch"),
    # diverter head: A at rest, B when driven
    ("diverter", "W+ H- brown+ at:b lever:free", "none_found", ""),
    ("diverter", "W- H+ brown- at:a lever:free", "none_found", ""),
    ("diverter", "W+ H- brown+ at:a lever:free", "named", "motor"),
    ("diverter", "W+ H- brown+ at:a lever:stiff", "named", "body"),
    ("diverter", "W- brown- at:b lever:free", "named", "spring_or_body"),
    ("diverter", "W- brown- at:mid lever:latched", "cannot_tell", ""),
    ("diverter", "W+ H- brown- at:a", "named", "controls_or_wiring"),
    ("diverter", "W+ H+ brown- at:a", "none_found", ""),  # the priority decides
    # mid-position head
    ("mid", "H- W+ white- grey- orange- at:b", "none_found", ""),
    ("mid", "H- W+ white- grey- orange+ at:b", "none_found", ""),  # the cylinder thermostat feeds orange
    ("mid", "H+ W+ white+ grey- orange- at:mid", "none_found", ""),
    ("mid", "H+ W- white+ grey+ orange+ at:a", "none_found", ""),
    ("mid", "H- W- white- grey+ orange- at:a", "none_found", ""),  # stays at heating
    ("mid", "H+ W- white+ grey+ orange- at:b lever:free", "named", "motor"),
    ("mid", "H+ W- white+ grey+ orange- at:b lever:stiff", "named", "body"),
    ("mid", "H+ W- white+ grey+ orange- at:a", "named", "end_switch"),
    ("mid", "H- W- white- grey+ orange+ at:a", "named", "end_switch"),
    ("mid", "H- W+ white- grey- orange+ at:a lever:free", "named", "spring_or_body"),
    ("mid", "H- W+ white- grey- orange+ at:mid lever:latched", "cannot_tell", ""),
    ("mid", "H+ W- white- grey+ orange- at:b", "named", "controls_or_wiring"),
    ("mid", "H+ W- white+ grey+ at:mid lever:free", "cannot_tell", ""),
    ("mid", "H+ brown+ at:b", "contradictory", ""),
)


@pytest.mark.parametrize("kind", KINDS)
def test_check_values(kind: str) -> None:
    cases = [case for case in CASES if case[0] == kind]
    got = judged(KINDS[kind], *(text for _, text, _, _ in cases))
    told = list(zip(got["verdict"], got["part"].fillna(""), strict=True))
    assert dict(zip([text for _, text, _, _ in cases], told, strict=True)) == {
        text: (verdict, part) for _, text, verdict, part in cases
    }


def code(values: tuple[str, ...], seen: object) -> int:
    return int(seen) if isinstance(seen, bool) else values.index(str(seen))


@cache
def simulated(kind: str) -> Mapping[str, np.ndarray[Any, Any]]:
    """For each part, whether the simulation can read so, for every combination of known and unread: shape SHAPE."""
    axes = list(AXES.values())
    tables = {part: np.zeros(SHAPE, dtype=bool) for part in PARTS}
    read: dict[str, set[wiring.Reading]] = {part: set() for part in PARTS}
    for part, valve in wiring.faults(kind):
        read[part] |= set(wiring.readings(kind, part, valve))
    for part, full in read.items():
        coded = [[code(*seen) for seen in zip(axes, one, strict=True)] for one in full]
        places = np.array(coded, dtype=np.int64).reshape(-1, len(axes))
        for hidden in product((False, True), repeat=len(axes)):
            known = places
            if hidden[-1] and part != "latched":  # an unread lever is latched only where that alone is the matter
                known = known[known[:, -1] != axes[-1].index("latched")]
            masked = np.where(hidden, [len(axis) for axis in axes], known)
            tables[part][tuple(masked.T)] = True
    return tables


@pytest.mark.parametrize("model", MODELS)
def test_every_combination_agrees_with_the_simulation(model: str) -> None:
    expected = simulated(model)
    table = fits(model)
    for part in PARTS:
        rows = [place for place, fault in enumerate(MODELS[model]) if fault.part == part]
        np.testing.assert_array_equal(table[rows].any(axis=0), expected[part], err_msg=part)


@pytest.mark.parametrize("model", MODELS)
def test_a_part_is_named_exactly_where_it_alone_reads_so(model: str) -> None:
    tables = simulated(model)
    shown = np.stack([tables[part] for part in PARTS])
    kinds, first, counts = np.unique(shown.reshape(len(PARTS), -1), axis=1, return_index=True, return_counts=True)
    assert counts.sum() == np.prod(SHAPE)
    named = set()
    for column, place in zip(kinds.T, first, strict=True):
        can = {part for part, yes in zip(PARTS, column, strict=True) if yes}
        codes = tuple(int(code) for code in np.unravel_index(place, SHAPE))
        got = judge(model, codes, frozenset())
        if not can:
            assert got.verdict == "contradictory"
        elif can == {"spring", "body"}:
            assert (got.verdict, got.part) == ("named", "spring_or_body")
        elif len(can) == 1 and not can & {"sound", "latched"}:
            assert (got.verdict, got.part) == ("named", *can)
        else:
            assert got.verdict in ("cannot_tell", "none_found")
            assert got.part == ""
            assert got.verdict == "cannot_tell" or "sound" in can
        named.add(got.part)
    wanted = {"motor", "body", "spring_or_body", "controls_or_wiring", *(["end_switch"] if model != "diverter" else [])}
    assert named - {""} == wanted


def random_rows(n: int, seed: int) -> list[str]:
    rng = np.random.default_rng(seed)
    wires = rng.choice(["", "+", "-"], size=(n, len(SHORT)), p=[0.2, 0.4, 0.4])
    places = rng.choice(["", *AXES["position"]], size=n)
    levers = rng.choice(["", *AXES["lever"]], size=n)
    return [
        " ".join(
            [name + sign for name, sign in zip(SHORT, signs, strict=True) if sign]
            + ([f"at:{place}"] if place else [])
            + ([f"lever:{lever}"] if lever else [])
            + ["brown-"] * (not place and not any(signs[2:]))
        )
        for signs, place, lever in zip(wires, places, levers, strict=True)
    ]


@pytest.mark.parametrize(("kind", "model", "own"), [
    ("zone", "zone", "demand_heating"), ("hot water zone", "zone", "demand_hot_water"),
    ("changeover", "zone_changeover", "demand_heating"), ("mid", "mid_position", "demand_heating"),
    ("diverter", "diverter", "demand_hot_water"),
])  # fmt: skip
def test_from_the_log_to_the_verdict(kind: str, model: str, own: str) -> None:
    """Readings as a log has them, against the simulation: no sound valve is blamed, each part alone is named."""
    texts = random_rows(300, 7)
    got = judged(KINDS[kind], *texts)
    tables = simulated(model)
    other = "demand_hot_water" if own == "demand_heating" else "demand_heating"
    columns = dict(zip(AXES, (own, other, "", *list(AXES)[3:]), strict=True))
    for text, verdict, part in zip(texts, got["verdict"], got["part"].fillna(""), strict=True):
        cells = {**row(text), "": "no"}
        codes = tuple(
            values.index(cells[columns[axis]]) if columns[axis] in cells else len(values)
            for axis, values in AXES.items()
        )
        can = {name for name in PARTS if tables[name][codes]}
        alone = {"spring_or_body"} if can == {"spring", "body"} else can if len(can) == 1 else set()
        assert {part} - {""} == alone - {"sound", "latched"}, text
        assert (verdict == "contradictory") == (not can), text


@pytest.mark.parametrize(("kind", "text", "following"), [
    ("zone", "H+ brown+ at:closed", "lever"),  # motor or body
    ("zone", "H+ at:closed lever:free", "brown_live"),  # motor or controls
    ("zone", "H+ brown+ grey+ orange- lever:free", "position"),  # motor or end switch
    ("zone", "H- brown- at:open", "lever"),  # latched, spring or body
    ("zone", "H- brown- at:open lever:latched", "lever"),  # release it and read again
    ("zone", "H- brown- at:open lever:free", "spindle"),
    ("zone", "H- brown- grey+ orange+ at:closed lever:free", "demand_hot_water"),  # welded, or fed by another head
    ("zone", "H+ brown+ at:open lever:free", "grey_live and orange_live"),  # neither tells alone: volt-free
    ("zone", "H+ brown+ white+ at:open", "white_live"),  # the one that clashes
    ("mid", "H+ W- grey+ orange- at:b lever:free", "white_live"),  # motor or controls
    ("mid", "H+ W- white+ grey+ orange- lever:free", "position"),  # not moved, or not made
])  # fmt: skip
def test_the_reading_that_tells_most(kind: str, text: str, following: str) -> None:
    assert list(judged(KINDS[kind], text)["next_reading"]) == [following]


@pytest.mark.parametrize(("text", "option"), [
    ("H+ brown+ at:closed lever:free", "motor"), ("H+ brown+ grey+ orange- at:open", "head"),
    ("H- brown- at:open lever:free", "head or full"), ("H- brown- at:open lever:stiff", "full"),
    ("H+ brown- at:closed", "wiring"), ("H+ brown+ at:open", ""),
])  # fmt: skip
def test_the_part_allows_an_option(text: str, option: str) -> None:
    valve = KINDS["zone"] | {"motor_replaceable": "yes"}
    assert list(judged(valve, text)["option"].fillna("")) == [option]


def test_an_option_that_the_head_does_not_allow_becomes_the_next_larger() -> None:
    motor = "H+ brown+ at:closed lever:free"
    assert list(judged(KINDS["zone"], motor)["option"]) == ["head"]  # not known whether the motor comes out
    assert list(judged(KINDS["zone"] | {"head_detachable": "no"}, motor)["option"]) == ["full"]


def test_a_demand_of_several_zones_does_not_say_which() -> None:
    second: Row = {"head_kind": "zone", "ports": "2", "circuit": "heating_2"}
    texts = ("H+ brown- at:closed lever:free", "H- brown+ at:open", "H+ W- brown- grey+ orange+ at:closed lever:free")
    got = judged(KINDS["zone"], *texts, others=(second,))
    assert list(got["part"].fillna("")) == ["", "controls_or_wiring", ""]


def test_a_lever_that_was_reset_was_found_latched_and_a_new_body_has_a_free_one() -> None:
    held = "H- brown- at:open lever:free"
    got = judged(KINDS["zone"], f"{held} action:reset_lever", "H+ brown+ at:closed lever:free action:full", held)
    assert list(got["part"].fillna("")) == ["", "", "spring_or_body"]


@pytest.mark.parametrize(("valve", "words"), [
    ({}, "kind of head is not recorded"),
    ({"head_kind": "mid_position", "ports": "2"}, "does not belong on this body"),
    ({"head_kind": "zone", "ports": "3"}, "does not belong on this body"),
])  # fmt: skip
def test_a_head_that_is_not_known_is_not_judged(valve: Row, words: str) -> None:
    got = judged(valve, "H+ brown+ at:closed lever:free")
    assert list(got["verdict"]) == ["cannot_tell"]
    assert words in got.loc[0, "reasons"]


def test_the_pipework_tells_the_head_where_the_register_does_not() -> None:
    assert list(judged({"ports": "2", "circuit": "heating"}, "H+ brown+ at:closed lever:free")["part"]) == ["motor"]
    three: Row = {"ports": "3", "arrangement": "diverter"}
    assert list(judged(three, "W+ H- brown+ at:a lever:free")["part"]) == ["motor"]


def test_reasons_say_what_was_read_what_fits_and_what_to_do() -> None:
    got = judged(KINDS["zone"], "H+ brown+ grey+ orange- at:closed")
    assert got.loc[0, "reasons"] == (
        "Read: heating called for; brown live, grey live, orange dead; valve closed. A sound valve does not read like "
        "that. Could be: the motor does not move the valve; the body is stuck at rest. Ruled out: the lever is "
        "latched; the end switch does not make; the end switch is welded; the spring does not return the valve; "
        "the body is stuck open; the drive is not what the demand asks. Read next: the lever."
    )


def test_visits_without_readings_are_not_judged() -> None:
    assert judged(KINDS["zone"], "lever:stiff", "H+").empty


def test_many_visits_take_little_time() -> None:
    texts = ("H+ brown+ grey+ orange- at:closed", "H- brown- at:open lever:free", "H+ brown- at:closed")
    facts = known_facts(portfolio(
        valves=[{"valve_id": "V1", "home_id": "H1", **KINDS["zone"]}],
        visits=[
            {"visit_id": f"J{n}", "home_id": "H1", "valve_id": "V1", "reported": "2026-01-01", **row(text)}
            for n, text in enumerate(texts)
        ],
    ))  # fmt: skip
    many = facts.visits.iloc[np.tile(np.arange(3), 30_000)].reset_index(drop=True)
    many = many.assign(visit_id=pd.Series(np.arange(len(many))).astype("str"))
    started = time.process_time()
    got = readings(type(facts)(facts.as_of, facts.homes, facts.valves, many))
    assert time.process_time() - started < 3
    assert got["part"].value_counts().to_dict() == {"spring_or_body": 30_000, "controls_or_wiring": 30_000}
