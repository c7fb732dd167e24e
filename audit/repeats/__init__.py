"""Call-outs that come back: events, chains, what the pattern says, and which fixes held."""

from audit.repeats.chains import RIGHT, STATES, followed
from audit.repeats.held import fixes_held
from audit.repeats.hypotheses import hypothesis_table
from audit.repeats.monthly import repeat_rate
from audit.repeats.settled import found_since, renewed_soon, rooted, settled

__all__ = [
    "RIGHT",
    "STATES",
    "fixes_held",
    "followed",
    "found_since",
    "hypothesis_table",
    "renewed_soon",
    "repeat_rate",
    "rooted",
    "settled",
]
