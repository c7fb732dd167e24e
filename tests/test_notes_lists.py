"""What was read from notes is listed so that people can go through it."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from audit import intake
from audit.intake.notes_lists import notes_lists
from tests.corpus import free_text


def test_a_note_against_its_column_is_listed_with_its_place(tmp_path: Path) -> None:
    reading = intake.read(free_text.notes_against_columns(tmp_path).files)
    first = notes_lists(reading.coded, reading.conflicts, reading.uncoded)["notes_against"].iloc[0]
    assert (first["file"], first["sheet"], first["row"]) == ("book.xlsx", "Log", 4)
    assert (first["column"], first["column_value"], first["note_value"], first["phrase"]) == (
        *("symptom", "no_heating", "hot_water_stays_on"),
        "hot water stuck on",
    )


def test_phrases_are_counted_whatever_their_capitals_and_the_commonest_comes_first() -> None:
    coded = pd.DataFrame(
        {
            "visit_id": ["J1", "J2", "J3"],
            "column": ["action", "cause", "cause"],
            "value": ["head", "head", "head"],
            "phrase": ["new head", "Head failed", "head failed"],
        }
    )
    read = notes_lists(coded, coded.iloc[:0], pd.DataFrame({"text": [], "count": []}))
    assert list(read) == ["notes_read"]
    assert read["notes_read"].to_dict("list") == {
        "column": ["cause", "action"],
        "value": ["head", "head"],
        "phrase": ["head failed", "new head"],
        "cells": [2, 1],
    }
