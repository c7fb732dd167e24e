"""Whether faults come more often: the whole stock and each scheme, over years and month by month."""

from audit.trends.table import trend_tables

__all__ = ["trend_tables"]
