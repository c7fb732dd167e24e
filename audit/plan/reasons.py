"""Why a visit stands where it stands, or was left out, and what leaving it costs."""

from __future__ import annotations

import numpy as np
import pandas as pd

from audit.choice.prices import pounds


def why_here(at: pd.DataFrame, own: pd.Series) -> pd.Series:
    """Why a planned visit has this team and week."""
    team = pd.Series(np.where(own, "the patch's own team", "a team open to this home"), index=at.index, dtype="str")
    return "earliest week with room, " + team


def left_out(visits: pd.DataFrame, most: pd.Series) -> pd.Series:
    """Why a visit found no room, and what leaving it costs; `most` is the longest week of its teams, in hours."""
    needs = visits["hours"].map(lambda hours: f"{hours:.4g} h").astype("str")
    longest = most.map(lambda hours: f"{hours:.4g} h").astype("str")
    why = "no week has " + needs + " left for it"
    too_long = "needs " + needs + " in one go, longer than any week of its teams (" + longest + ")"
    why = why.mask(most.lt(visits["hours"]), too_long)
    why = why.mask(most.eq(0.0), "no team has hours for its patch in the quarter")
    cost = visits["benefit_gbp"].map(pounds).astype("str")
    costs = "leaving it forgoes " + cost
    costs = costs.mask(visits["benefit_gbp"].le(0), "a visit for it alone costs more than it saves")
    costs = costs.mask(visits["severity"].eq("fault"), "leaving it costs about " + cost + " and the fault stays")
    costs = costs.mask(visits["severity"].eq("danger"), "the danger stays: it must be made safe outside this plan")
    return why + "; " + costs
