"""Understands the values of a column: dates, numbers, words, yes and no, ids, text. See `parse`."""

from audit.intake.values.parse import parse
from audit.intake.values.parsed import NOTE_COLUMNS, Parsed

__all__ = ["NOTE_COLUMNS", "Parsed", "parse"]
