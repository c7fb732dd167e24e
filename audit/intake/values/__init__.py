"""Understands the values of a column: dates, numbers, words, yes and no, ids, text. See `parse`."""

from audit.intake.values.join import Joined, join_ids
from audit.intake.values.parse import parse
from audit.intake.values.parsed import NOTE_COLUMNS, Parsed
from audit.intake.values.postcodes import postcode_ok, tidy_postcode, uprn_ok

__all__ = ["NOTE_COLUMNS", "Joined", "Parsed", "join_ids", "parse", "postcode_ok", "tidy_postcode", "uprn_ok"]
