"""Call-outs that come back: events, chains, and what the pattern says."""

from audit.repeats.chains import chains

__all__ = ["chains"]
