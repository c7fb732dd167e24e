"""Groups of valves that fail more often than the stock's life says: schemes, makes, batches, years, places, files."""

from audit.groups.table import groups

__all__ = ["groups"]
