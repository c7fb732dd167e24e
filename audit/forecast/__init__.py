"""The years ahead: what failures, drain-downs and spend each policy of renewal brings, year by year."""

from audit.forecast.years import forecast

__all__ = ["forecast"]
