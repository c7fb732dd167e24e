"""What a rule returns: one row a finding, and the small words that statements are built from."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

from schemas.words import spoken

if TYPE_CHECKING:
    import pandas as pd

IDS: Final = ("home_id", "valve_id", "visit_id")
TEXTS: Final = (*IDS, "group", "observed", "limit", "unit", "statement", "severity", "action", "limit_source")
NUMBERS: Final = ("margin", "relative")


def hits(
    rows: pd.DataFrame,
    *,
    statement: pd.Series | str,
    observed: pd.Series | str,
    limit: pd.Series | float | str = "",
    unit: pd.Series | str = "",
    margin: pd.Series | None = None,
    **given: pd.Series | str,
) -> pd.DataFrame:
    """Make one finding of each row.

    Args:
        rows: The rows of `facts` that fire, in the order of `facts`; home_id, valve_id and visit_id are taken over
            as far as they are there.
        statement: The finding in one sentence, aligned with `rows`, or one for all.
        observed: What was seen, in `unit` where it is a number.
        limit: The limit, in `unit`; a number also gives the margin its size (`relative`).
        unit: Unit of observed, limit and margin.
        margin: How far past the limit; negative inside it.
        given: `severity`, `action`, `limit_source` or `group`, where they differ from the rule's or row by row.

    Returns:
        Columns `TEXTS` (str; missing where nothing was said, so that the rule's own word stands) and `NUMBERS`.
    """
    import pandas as pd

    if rows.empty:
        return no_hits()
    said = {"statement": statement, "observed": observed, "limit": _limit_text(limit), "unit": unit, **given}
    said |= {name: rows[name] for name in IDS if name in rows}
    texts = {name: pd.Series(said.get(name), index=rows.index, dtype="str") for name in TEXTS}
    margin = pd.Series(margin, index=rows.index, dtype="float64")
    return pd.DataFrame({**texts, "margin": margin, "relative": margin / _size(limit)}).reset_index(drop=True)


def no_hits() -> pd.DataFrame:
    """No finding at all, in the columns of `hits`."""
    import pandas as pd

    texts = {name: pd.Series(dtype="str") for name in TEXTS}
    return pd.DataFrame({**texts, **{name: pd.Series(dtype="float64") for name in NUMBERS}})


def number_text(numbers: pd.Series) -> pd.Series:
    """Numbers as people write them: 52 and 52.5, not 52.0; up to six figures. Missing stays missing."""
    return _mapped(numbers, lambda value: f"{value:g}")


def count_text(numbers: pd.Series, thing: str) -> pd.Series:
    """A number with its thing, `1 day`, `3 days`; missing stays missing."""
    return number_text(numbers) + f" {thing}" + numbers.ne(1).map({True: "s", False: ""}).astype("str")


def years_text(years: pd.Series) -> pd.Series:
    """Years with one decimal, as the workbooks show them."""
    return _mapped(years, lambda value: f"{value:.1f}")


def day_text(days: pd.Series) -> pd.Series:
    """Days as 3 March 2014; missing stays missing."""
    return _mapped(days.dt.normalize(), lambda day: f"{day.day} {day:%B %Y}")


def seen_on(days: pd.Series) -> pd.Series:
    """` on 3 March 2014`, or ` (no date recorded)`, to follow what was seen."""
    return (" on " + day_text(days)).fillna(" (no date recorded)")


def too_old(days: pd.Series, as_of: pd.Timestamp, months: float) -> pd.Series:
    """Whether a reading was taken longer ago than so many months; one without a date is not known to be."""
    from audit.calendar import months_between

    return months_between(days, as_of).gt(months)


def old_text(old: pd.Series, months: float) -> pd.Series:
    """What to say behind a reading that is too old to act on; empty behind the others."""
    return old.map({True: f"; older than {months:g} months, so measure again first", False: ""}).astype("str")


def word_text(words: pd.Series) -> pd.Series:
    """Words of the vocabularies as people say them, see `schemas.words.spoken`; missing stays missing."""
    return _mapped(words, spoken)


def head_text(kinds: pd.Series) -> pd.Series:
    """Kinds of head as people say them: `mid-position head`; missing stays missing."""
    return _mapped(kinds, lambda kind: spoken(f"head_{kind}"))


def _mapped(values: pd.Series, write: Callable[[Any], str]) -> pd.Series:
    """Write each different value once; statements of a large portfolio repeat few values."""
    texts = {value: write(value) for value in values.dropna().unique()}
    return values.map(texts).astype("str")


def _limit_text(limit: pd.Series | float | str) -> pd.Series | str:
    if isinstance(limit, int | float):
        return f"{limit:g}"
    return limit if isinstance(limit, str) else number_text(limit)


def _size(limit: pd.Series | float | str) -> pd.Series | float:
    """What a margin is measured against: the limit, or 1 where there is none or it is 0."""
    if isinstance(limit, str):
        return 1.0
    if isinstance(limit, int | float):
        return abs(limit) or 1.0
    return limit.abs().where(limit.ne(0), 1.0)
