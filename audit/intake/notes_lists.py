"""What was read from notes, what stands against it, and what was not understood, as tables to go through."""

from __future__ import annotations

import pandas as pd


def notes_lists(coded: pd.DataFrame, conflicts: pd.DataFrame, uncoded: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """List what the notes told; empty where no note told anything.

    Args:
        coded: One row a cell filled: visit_id, column, value, phrase.
        conflicts: One row a cell that its note contradicts: file, sheet, row, visit_id, column, column_value,
            note_value, phrase.
        uncoded: text, count (visits), most frequent first.

    Returns:
        `notes_against` (conflicts as given), `notes_read` (column, value, phrase in small letters, cells:
        how often, the most frequent first), `notes_not_understood` (text, visits).
    """
    tables = {
        "notes_against": conflicts,
        "notes_read": _phrases(coded) if len(coded) else coded,
        "notes_not_understood": uncoded.rename(columns={"count": "visits"}),
    }
    return {name: table for name, table in tables.items() if len(table)}


def _phrases(coded: pd.DataFrame) -> pd.DataFrame:
    """How often each phrase gave each value."""
    keys = [coded["column"], coded["value"], coded["phrase"].str.casefold()]
    counted = coded.groupby(keys, sort=False).size().rename("cells").reset_index()
    by = ["cells", "column", "value", "phrase"]
    return counted.sort_values(by, ascending=[False, True, True, True], kind="stable", ignore_index=True)
