"""Every rule of the audit, in the order of the catalogue."""

from typing import Final

from audit.model import Rule
from audit.rules import age, electric, fit, place, readings, repeats, response, water

RULES: Final[tuple[Rule, ...]] = (
    *age.RULES,
    *place.RULES,
    *water.RULES,
    *electric.RULES,
    *fit.RULES,
    *repeats.RULES,
    *readings.RULES,
    *response.RULES,
)
