"""Groups of valves that fail more often than the stock's life says: schemes, makes, batches, years, places, files."""

from audit.groups.table import groups, named_batches

__all__ = ["groups", "named_batches"]
