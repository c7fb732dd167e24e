"""The quarter: jobs become visits, visits go into the teams' hours."""

from audit.plan.quarter import plan, quarter_start
from audit.plan.reckoning import of_jobs
from audit.plan.scenarios import Scenarios

__all__ = ["Scenarios", "of_jobs", "plan", "quarter_start"]
