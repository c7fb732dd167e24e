"""How often the likely root of a chain is the planted one: `python -m tests.studies.repeat_roots [homes] [seeds]`.

Prints a confusion table, planted root by likely root, over the planted chains of three or more visits.
"""

from __future__ import annotations

import sys

import pandas as pd

from audit import sample
from audit.choice import prices
from audit.facts import facts
from audit.groups import groups, named_batches
from audit.life import life
from audit.policy import load_policy
from audit.repeats.chains import followed

PLANTED = {
    "seized_body": "body",
    "hot_cupboard": "hot",
    "bad_batch": "batch",
    "bad_end_switch": "switch",
    "loose_wire": "wiring",
}
LEAST_VISITS = 3


def judged(homes: int, seed: int) -> pd.DataFrame:
    """Planted chains of one sample beside the chain that holds most of their visits.

    Returns:
        One row a planted chain of at least `LEAST_VISITS` visits: root, hypothesis ("not found" where the log shows no
        chain), strength.
    """
    made = sample.make(homes, seed)
    policy = load_policy()
    known = facts(sample.portfolio(made), made.as_of, policy)
    tried = groups(known, life(known, policy), prices(made.tables["rates"], policy), policy)
    chains, visits = followed(known, policy, named_batches(known, tried))
    about = made.truth["visits"]
    about = about.loc[about["event"].ge(0) & about["root"].notna()]
    found = about.merge(visits[["visit_id", "chain"]], on="visit_id")
    most = found.groupby(["event", "chain"]).size().rename("held").reset_index()
    most = most.sort_values(["event", "held", "chain"], ascending=[True, False, True]).drop_duplicates("event")
    planted = made.truth["chains"]
    planted = planted.loc[planted["visits"].ge(LEAST_VISITS), ["event", "root"]]
    table = planted.merge(most, on="event", how="left").merge(chains, on="chain", how="left")
    return table.assign(hypothesis=table["hypothesis"].fillna("not found"))


def main(homes: int = 10_000, seeds: int = 3) -> None:
    """Print the confusion table and the share that is right."""
    table = pd.concat([judged(homes, seed) for seed in range(1, seeds + 1)], ignore_index=True)
    right = table["hypothesis"].eq(table["root"].map(PLANTED))
    print(pd.crosstab(table["root"], table["hypothesis"]).to_string())
    print(f"{right.mean():.1%} of {len(table):,} planted chains of {LEAST_VISITS} or more visits")
    print(right.groupby(table["root"]).mean().map("{:.1%}".format).to_string())
    print(right.groupby(table["strength"]).agg(["size", "mean"]).to_string())


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
