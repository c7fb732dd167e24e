"""The columns of the sheets of `work-list.xlsx`."""

from __future__ import annotations

from typing import Final

from reports.look import Field
from schemas.sentences import AFTER_COST
from schemas.work_list import NUMBER

VISITS: Final = (
    Field("rank", "Rank", "whole", 7),
    Field("include", "Include", width=9),
    Field("keep", "Keep", width=8),
    Field("severity", "Severity", "severity"),
    Field("week_starting", "Week starting", "date", 12),
    Field("team", "Team", width=10),
    Field("home_id", "Home"),
    Field("address", "Address", width=16),
    Field("postcode", "Postcode", width=11),
    Field("jobs", "What to do", "prose", 40),
    Field("parts_named", "Parts", "prose", 23),
    Field("hours", "Hours (h)", "number", 8),
    Field("drain_down", "Drain down", width=8),
    Field("wait_gbp", "A week's wait costs (£)", "money", 10),
    Field("reason", "Why this week", "prose", 30, paper=False),
    Field("why", "Why", "prose", 40, paper=False),
    Field("priority_household", "Priority household", width=11, paper=False),
    Field("gas_note", "Gas safety check", "prose", 22, paper=False),
    Field("access_note", "Access", "prose", 18, paper=False),
    Field("of_visits", "Which visit", paper=False),
    Field("scheme", "Scheme", paper=False),
    Field("patch", "Patch", paper=False),
    Field("allowance_h", "Kept for no access (h)", "number", 10, paper=False),
    Field("cost_gbp", "Cost (£)", "money", paper=False),
    Field("benefit_gbp", f"{AFTER_COST} (£)", "money", paper=False),
    Field("chance_fail_quarter", "Fails in 13 weeks if left", "share", 11, paper=False),
    Field("gas_check_due", "Gas check due", "date", paper=False),
    Field("history", "History", "prose", 30, paper=False),
    Field("visit_number", NUMBER, paper=False),
)
LEFT_OUT: Final = (
    Field("rank", "Rank", "whole", 7),
    Field("include", "Include", width=9),
    Field("severity", "Severity", "severity"),
    Field("home_id", "Home"),
    Field("address", "Address", width=20),
    Field("postcode", "Postcode", width=12),
    Field("jobs", "What it needs", "prose", 40),
    Field("why", "Why", "prose", 40),
    Field("hours", "Hours (h)", "number", 9),
    Field("drain_down", "Drain down", width=9),
    Field("benefit_gbp", f"{AFTER_COST}, forgone (£)", "money"),
    Field("reason", "Why left out", "prose", 30),
    Field("priority_household", "Priority household", width=11, paper=False),
    Field("of_visits", "Which visit", paper=False),
    Field("gas_note", "Gas safety check", "prose", 24, paper=False),
    Field("scheme", "Scheme", paper=False),
    Field("patch", "Patch", paper=False),
    Field("parts_named", "Parts", "prose", 24, paper=False),
    Field("chance_fail_quarter", "Fails in 13 weeks if left", "share", 11, paper=False),
    Field("cost_gbp", "Cost (£)", "money", paper=False),
    Field("history", "History", "prose", 30, paper=False),
    Field("visit_number", NUMBER, paper=False),
)
CHANGES: Final = (
    Field("change", "Change", width=11),
    Field("severity", "Severity", "severity"),
    Field("home_id", "Home"),
    Field("was_week", "Was in week", "date", 14),
    Field("was_team", "Was with", width=14),
    Field("week_starting", "Week starting", "date", 14),
    Field("team", "Team", width=14),
    Field("reason", "Why", "prose", 70),
    Field("visit_number", NUMBER, paper=False),
)
WEEK: Final = (
    Field("week_starting", "Week starting", "date", 14),
    Field("team", "Team", width=20),
    Field("visits", "Visits", "whole", 9),
    Field("hours_used", "Hours used (h)", "number", 12),
    Field("hours_there", "Hours there (h)", "number", 12),
    Field("share", "Used", "share", 24),
    Field("drain_downs", "Drain-downs", "whole", 12),
)
PARTS: Final = (
    Field("week_starting", "Week starting", "date", 14),
    Field("team", "Team", width=20),
    Field("name", "Part, by what it must fit", "prose", 70),
    Field("pieces", "Pieces", "whole", 9),
)
BENEFIT: Final = (
    Field("line", "Step", "prose", 70),
    Field("benefit_gbp", f"{AFTER_COST} (£)", "money", 14),
    Field("count", "Count", "whole", 9),
    Field("of", "Of", width=12),
)
TO_ORDER: Final = (
    Field("name", "Part", "prose", 34),
    Field("voltage", "Voltage", width=12),
    Field("on_hand", "On hand, any voltage", "whole", 10),
    Field("needed", "Needed", "whole", 9),
    Field("shortage", "Short", "whole", 9),
    Field("lead_time_days", "Lead time (days)", "whole", 10),
    Field("first_short_week", "First short week", "date", 14),
    Field("order_by", "Order by", "date", 14),
    Field("note", "What to do", "prose", 40),
)
JOBS: Final = (
    Field("rank", "Rank", "whole", 7),
    Field("severity", "Severity", "severity"),
    Field("home_id", "Home"),
    Field("valve_id", "Valve"),
    Field("in_short", "What is done", "prose", 14),
    Field("what", "What to do", "prose", 38),
    Field("reason", "Why", "prose", 38),
    Field("parts", "Parts", "prose", 22),
    Field("hours", "Hours (h)", "number", 9),
    Field("drain_down", "Drain down", width=9),
    Field("cost_gbp", "Cost (£)", "money"),
    Field("benefit_gbp", f"{AFTER_COST} (£)", "money"),
    Field("chosen_why", "Why it is done", "prose", 40, paper=False),
    Field("working", "How the cost adds up", "prose", 70, paper=False),
    Field("circuit", "Circuit", "word", paper=False),
    Field("chance_fail_quarter", "Fails in 13 weeks if left", "share", 11, paper=False),
)
