"""Choice: what to do to each valve, at what cost now and later, and the jobs that follow."""

from audit.choice.ahead import NEAR
from audit.choice.assumed_life import assumed
from audit.choice.fitted_life import fitted
from audit.choice.fitted_life import said as lives_said
from audit.choice.jobs import jobs
from audit.choice.options import options
from audit.choice.prices import Prices, prices
from audit.choice.what_if import what_if, whole_lives
from audit.choice.winter import with_own_winter

__all__ = [
    "NEAR",
    "Prices",
    "assumed",
    "fitted",
    "jobs",
    "lives_said",
    "options",
    "prices",
    "what_if",
    "whole_lives",
    "with_own_winter",
]
