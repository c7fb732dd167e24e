"""The quarter: jobs become visits, visits go into the teams' hours."""

from audit.plan.quarter import plan, quarter_start

__all__ = ["plan", "quarter_start"]
