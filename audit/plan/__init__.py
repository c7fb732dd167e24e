"""The quarter: jobs become visits, visits go into the teams' hours."""

from audit.plan.quarter import plan, quarter_start
from audit.plan.scenarios import Scenarios

__all__ = ["Scenarios", "plan", "quarter_start"]
