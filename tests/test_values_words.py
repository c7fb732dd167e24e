"""The trade's names for the allowed words."""

from __future__ import annotations

import pytest

from audit.intake.values.names import key, names_of, table
from audit.intake.values.spelling import slips
from tests.values_cases import BY_NAME, check, read

WORDS = [column for column in BY_NAME.values() if column.kind == "word"]
TABLES = {
    "valves.arrangement": """
        two_port_zones          -> two_port_zones
        Two Port Zones          -> two_port_zones
        S Plan                  -> two_port_zones
        S-plan plus             -> two_port_zones
        S Plan+                 -> two_port_zones
        2 x 2-port              -> two_port_zones
        Y Plan                  -> mid_position
        midposition             -> mid_position
        Mid-Position valves     -> mid_position
        W-Plan                  -> diverter
        Diverter valve          -> diverter
        Mid Postion             -> mid_position | repaired: 90% of the letters agree
        diveter                 -> diverter     | repaired: letters agree
        3 port                  -> -            | bad: may mean diverter or mid_position
        3-port mid position (22mm) -> mid_position | repaired: the rest of the text is not kept
        combination boiler      -> -            | bad: not a word that this column knows
        none                    -> -
    """,
    "valves.circuit": """
        CH            -> heating
        C/H           -> heating
        htg           -> heating
        Radiators     -> heating
        HW            -> hot_water
        D.H.W.        -> hot_water
        Cylinder      -> hot_water
        CH2           -> heating_2
        Heating Zone 2 -> heating_2
        heating_3     -> heating_3
        UFH           -> underfloor
        under floor   -> underfloor
        CH & HW       -> both
        ch/hw         -> both
        Hot Watter    -> hot_water | repaired: letters agree
        heating 4     -> -         | bad: not a word
    """,
    "valves.head_kind": """
        2 port head        -> zone
        Zone valve         -> zone
        6 wire             -> zone_changeover
        2-port changeover  -> zone_changeover
        mid pos            -> mid_position
        diverter valve     -> diverter
        3 port             -> - | bad: may mean diverter or mid_position
    """,
    "valves.lever": """
        moves freely -> free
        AUTO         -> free
        stuck        -> stiff
        won't move   -> stiff
        MAN          -> latched
        held open    -> latched
        lached       -> latched | repaired: letters agree
    """,
    "valves.location": """
        A/C              -> airing_cupboard
        Airing Cpd       -> airing_cupboard
        cylinder cupboard -> airing_cupboard
        by boiler        -> boiler_cupboard
        under sink       -> kitchen
        attic            -> loft
        under stairs     -> other
        boiler room      -> - | bad: may mean boiler_cupboard or plant_room
    """,
    "valves.switch_load_kind": """
        relay      -> resistive
        pump       -> inductive
        contactors -> inductive
    """,
    "visits.kind": """
        Call-Out                 -> call_out
        reactive                 -> call_out
        Day to day repair        -> call_out
        PPM                      -> planned
        Void works               -> planned
        LGSR                     -> safety_check
        Service & safety check   -> safety_check
        follow on works          -> follow_on
        2nd visit                -> follow_on
        recall                   -> - | bad: may mean call_out or follow_on
    """,
    "visits.outcome": """
        Completed       -> fixed
        all working     -> fixed
        temp repair     -> temporary
        made safe       -> temporary
        NFF             -> no_fault_found
        no faults found -> no_fault_found
        carded          -> no_access
        No one in       -> no_access
        awaiting parts  -> parts_needed
        Parts on order  -> parts_needed
        compelted       -> fixed | repaired: letters agree
        Fixed / carded  -> -     | bad: names more than one word
        fixed? not sure -> -     | bad: not a word
        N/A             -> -
    """,
    "visits.symptom": """
        No heating                 -> no_heating
        no htg                     -> no_heating
        loss of C/H                -> no_heating
        NHW                        -> no_hot_water
        no hot water, heating ok   -> no_hot_water
        No Heating / Hot Water     -> no_heating_or_hot_water
        no CH or HW                -> no_heating_or_hot_water
        htg stuck on               -> heating_stays_on
        heating won't turn off     -> heating_stays_on
        HW on constantly           -> hot_water_stays_on
        rads hot when HW on        -> heating_with_hot_water_only
        scalding                   -> too_hot
        dripping                   -> leak
        water hammer               -> noise
        H01 - No heating           -> no_heating | repaired: the rest of the text is not kept
        no heatng                  -> no_heating | repaired: letters agree
        on heating                 -> -          | bad: not a word
    """,
    "visits.cause": """
        actuator failed -> head
        burnt out motor -> motor
        micro-switch    -> end_switch
        weak return spring -> spring
        letting by      -> body
        loose wires     -> wiring
        room stat       -> control
        left in manual  -> lever
        gland leaking   -> leak
        sludge          -> water_quality
        none            -> none_found
        unknown         -> -
    """,
    "visits.action": """
        none                    -> none
        No action taken         -> none
        new head                -> head
        Actuator replaced       -> head
        fitted new power head   -> head
        motor renewed           -> motor
        new zone valve          -> full
        valve & head replaced   -> full
        replaced valve c/w head -> full
        Replaced valve complete with head -> full
        New valve body and head -> full
        new 2 port valve & actuator -> full
        valve changed inc. head -> full
        new head + new body     -> full
        replaced vlave c/w head -> full | repaired: letters agree
        replaced head on valve  -> head
        new zone valve haed     -> - | bad: close to head, but it names more
        fitted new hed          -> head | repaired: letters agree
        lever reset             -> reset_lever
        re-wired                -> wiring
        earth reconnected       -> earth
        valve relocated         -> relocate
        new room stat           -> other_part
        head and motor          -> - | bad: may mean head or motor
        head - not replaced     -> - | bad: not a word
        n/a                     -> -
    """,
    "visits.position": """
        A         -> a
        port b    -> b
        half way  -> mid
        fully open -> open
        shut      -> closed
    """,
    "rates.item": """
        Labour               -> labour_hour
        Hourly rate          -> labour_hour
        Call-out charge      -> call_out
        OOH call out         -> out_of_hours_call_out
        2 port head          -> head_zone
        6 wire head          -> head_zone_changeover
        22mm zone valve      -> valve_2port_22
        2-port valve 28mm    -> valve_2port_28
        2 port valve & head 22mm -> valve_2port_22
        22mm mid position valve -> valve_3port_22
        inhibitor dose       -> inhibitor
        zone valve           -> - | bad: may mean valve_2port_22 or valve_2port_28
    """,
    "rates.unit": """
        ea        -> each
        per hour  -> hour
        /hr       -> hour
        per visit -> visit
    """,
}


@pytest.mark.parametrize("name", TABLES)
def test_the_trades_names(name: str) -> None:
    check(name, TABLES[name])


@pytest.mark.parametrize("column", WORDS, ids=lambda column: f"{column.table}.{column.name}")
def test_every_word_means_itself_however_it_is_written(column) -> None:
    for word in column.words:
        for text in (word, word.replace("_", " "), word.upper(), word.replace("_", "-").title(), f" {word} "):
            parsed = read(f"{column.table}.{column.name}", text)
            assert parsed.values.tolist() == [word]
            assert parsed.repaired.empty


@pytest.mark.parametrize("column", WORDS, ids=lambda column: f"{column.table}.{column.name}")
def test_every_word_has_other_names(column) -> None:
    """A word that only its own spelling reaches would be lost in every book but ours."""
    names = names_of(column)
    for word in column.words:
        assert any(name != key(word) and meant == {word} for name, meant in names.words.items()), word


def test_the_table_names_only_words_that_exist() -> None:
    allowed = {}
    for column in WORDS:
        section = "live" if column.name.endswith("_live") else column.name
        allowed.setdefault(section, set()).update(column.words)
    allowed["yes_no"] = {"yes", "no"}
    for section, names in table().items():
        if section not in ("spelling", "groups"):
            assert set(names) <= allowed[section], section


def test_a_negation_is_never_taken_for_a_slip() -> None:
    """`unearthed` is two letters from `earthed`, `no access` two from `access`; the opposite must not be read."""
    assert read("valves.earthed", "unearthed").values.tolist() == ["no"]
    assert read("visits.symptom", "on heating").values.isna().all()
    assert read("visits.outcome", "not fixd").values.isna().all()
    assert read("visits.outcome", "not complete").values.isna().all()


def test_two_names_equally_close_are_refused_with_both() -> None:
    """`harnd` is one letter from `hand` (latched) and one from `hard` (stiff)."""
    assert read("valves.lever", "harnd").bad["reason"][0] == "close to latched and to stiff"


def test_names_are_said_with_the_number_of_cells() -> None:
    parsed = read("valves.circuit", "CH", "CH", "HW", "heating", "Hot Water")
    assert parsed.said == ("circuit: names read as the column's words: 'CH' = heating (2), 'HW' = hot_water (1).",)


def test_the_mend_lists_the_words() -> None:
    assert read("valves.lever", "purple").bad["mend"][0] == "use one of: free, stiff, latched"


def test_a_note_in_a_word_column_is_refused() -> None:
    assert "a note stands here" in read("visits.symptom", "no heating " * 20).bad["reason"][0]


def test_a_column_of_many_different_texts_ends_soon() -> None:
    parsed = read("visits.symptom", *(f"job {n} done" for n in range(21_000)))
    assert len(parsed.bad) == 21_000


@pytest.mark.parametrize(
    ("one", "two", "apart"),
    [
        ("head", "head", 0),
        ("head", "haed", 1),
        ("head", "heads", 1),
        ("head", "hed", 1),
        ("head", "lead", 1),
        ("kitten", "sitting", 3),
    ],
)
def test_slips_are_counted(one: str, two: str, apart: int) -> None:
    assert slips(one, two, 9) == slips(two, one, 9) == apart
