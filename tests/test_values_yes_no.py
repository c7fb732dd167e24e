"""Yes and no in all their forms."""

from __future__ import annotations

import pytest

from tests.values_cases import check, read

PLAIN = """
    Y       -> yes
    yes     -> yes
    YES     -> yes
    T       -> yes
    TRUE    -> yes
    1       -> yes
    1.0     -> yes
    ok      -> yes
    ✓       -> yes
    ✔       -> yes
    ☑       -> yes
    √       -> yes
    N       -> no
    no      -> no
    False   -> no
    0       -> no
    ✗       -> no
    ☐       -> no
    -       -> -
    n/a     -> -
    tbc     -> -
    not known -> -
    Yes - double checked -> yes | repaired: the rest of the text is not kept
    yes, see photo       -> yes | repaired: the rest of the text is not kept
    No (see notes)       -> no  | repaired: the rest of the text is not kept
    yes checked twice    -> yes | repaired: the rest of the text is not kept
    Yes?                 -> yes | repaired: marked as uncertain
    Y/N                  -> -   | bad: names more than one word
    yes but not tested   -> -   | bad: not a word
    yes, not tested      -> -   | bad: not a word
    maybe                -> -   | bad: not a word
    2                    -> -   | bad: not a word
"""
PHRASES = {
    "valves.isolation": """
        Isolators both sides  -> yes
        isolation valves fitted -> yes
        None                  -> no
        none fitted           -> no
        one side only         -> no
        drain down required   -> no
    """,
    "valves.earthed": """
        earthed           -> yes
        Earth connected   -> yes
        not earthed       -> no
        no earth          -> no
        missing           -> no
        earth disconnected -> no
    """,
    "valves.flow_direction_ok": """
        correct  -> yes
        reversed -> no
        Wrong way round -> no
    """,
    "valves.head_detachable": """
        removable      -> yes
        clip-on        -> yes
        integral       -> no
        not detachable -> no
    """,
    "valves.motor_replaceable": """
        replaceable -> yes
        sealed unit -> no
    """,
    "valves.changeover_in_use": """
        in use   -> yes
        not used -> no
        capped off -> no
    """,
    "visits.demand_heating": """
        calling   -> yes
        on        -> yes
        satisfied -> no
    """,
    "visits.brown_live": """
        live  -> yes
        230V  -> yes
        dead  -> no
        0v    -> no
        not live -> no
    """,
    "homes.priority_household": """
        Vulnerable -> yes
        standard   -> no
    """,
}


def test_every_form() -> None:
    check("valves.motor_replaceable", PLAIN)


@pytest.mark.parametrize("name", PHRASES)
def test_the_phrases_of_one_column(name: str) -> None:
    check(name, PHRASES[name])


def test_cells_of_other_types() -> None:
    assert read("valves.earthed", True, False, 1, 0, 1.0, None).values.tolist()[:5] == ["yes", "no", "yes", "no", "yes"]


@pytest.mark.parametrize(
    ("others", "wanted", "why"),
    [
        ((), "yes", "marks only what is so"),
        (("N",), "yes", "marks only what is so"),
        (("✓", "✓"), "no", "the other cells mark yes"),
        (("Y",), "no", "the other cells mark yes"),
    ],
)
def test_a_cross_is_what_the_other_cells_are_not(others: tuple[str, ...], wanted: str, why: str) -> None:
    parsed = read("valves.earthed", "x", *others, "")
    assert parsed.values[0] == wanted
    assert why in parsed.repaired["reason"][0]


def test_a_cross_beside_yes_and_no_is_refused() -> None:
    parsed = read("valves.earthed", "X", "yes", "no")
    assert list(parsed.bad["reason"]) == ["a cross beside yes and no may mean either"]
