"""Survival without a formula: Kaplan-Meier and Nelson-Aalen with delayed entry, and how far a fit strays from them.

With delayed entry the group at risk can be tiny at early ages. When all of it fails, the product is 0 for ever after,
though later entries live on; such ages are listed in `Curve.emptied`, and `steady_from` names an age to begin at.
With exact ages, right censoring and delayed entry this is also Turnbull's estimate (1976).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from audit.life.grid import Floats


@dataclass(frozen=True)
class Curve:
    """One entry for each age at which something failed; all arrays have that length.

    `survival` is the chance to live past `age`, given life at `from_age`; `error` its Greenwood standard error;
    `hazard_sum` the Nelson-Aalen estimate; `emptied` the ages at which everything at risk failed.
    """

    from_age: float
    age: Floats
    at_risk: Floats
    failures: Floats
    survival: Floats
    error: Floats
    hazard_sum: Floats

    @property
    def emptied(self) -> Floats:
        """Ages at which everything at risk failed."""
        return self.age[self.failures >= self.at_risk]

    def at(self, age: npt.ArrayLike) -> Floats:
        """Return the survival at any ages; 1 before the first failure."""
        place = np.searchsorted(self.age, np.asarray(age, dtype=float), side="right")
        return np.concatenate([[1.0], self.survival])[place]

    def until_thin(self, least: float) -> Curve:
        """Return the curve up to the first age at which fewer than this many are at risk."""
        thin = np.flatnonzero(self.at_risk < least)
        upto = int(thin[0]) if len(thin) else len(self.age)
        shown = (self.age, self.at_risk, self.failures, self.survival, self.error, self.hazard_sum)
        return Curve(self.from_age, *(values[:upto] for values in shown))

    def said(self, unit: str) -> tuple[str, ...]:
        """Say where the group at risk emptied, if others were watched beyond that age."""
        early = self.emptied[self.emptied < self.age.max(initial=-np.inf)]
        if not len(early):
            return ()
        which = ", ".join(f"{age:g}" for age in early)
        return (f"At {which} {unit} all that were watched failed; the curve says nothing beyond, begin it later.",)


def kaplan_meier(
    ended: npt.ArrayLike,
    failed: npt.ArrayLike,
    entered: npt.ArrayLike | None = None,
    *,
    from_age: float = 0.0,
) -> Curve:
    """Estimate survival from lives that end with a failure or are censored, each watched from `entered` on.

    A life is at risk at ages above its entry, up to and including its end; a tie of failure and censoring counts the
    censored life as at risk. Lives that ended by `from_age` are left out.

    Args:
        ended: Age at the end, any unit.
        failed: True where it ended with a failure.
        entered: Age when first watched, 0 where None.
        from_age: Condition on life at this age.
    """
    end = np.asarray(ended, dtype=float)
    kept = end > from_age
    dead = np.asarray(failed, dtype=bool)[kept]
    start = np.maximum(np.zeros_like(end) if entered is None else np.asarray(entered, dtype=float), from_age)[kept]
    end = end[kept]
    age, place = np.unique(end[dead], return_inverse=True)
    failures = np.bincount(place, minlength=len(age)).astype(float)
    at_risk = (_below(start, age) - _below(end, age)).astype(float)
    share = failures / at_risk
    survival = np.cumprod(1 - share)
    spread = np.divide(share, at_risk - failures, out=np.zeros_like(share), where=share < 1)
    return Curve(
        from_age=from_age,
        age=age,
        at_risk=at_risk,
        failures=failures,
        survival=survival,
        error=survival * np.sqrt(np.cumsum(spread)),
        hazard_sum=np.cumsum(failures / at_risk),
    )


def steady_from(curve: Curve, least: float) -> float:
    """Return the first age from which at least this many are at risk, failures before it left aside."""
    thin = np.flatnonzero(curve.at_risk < least)
    early = thin[thin < np.argmax(curve.at_risk)] if len(curve.age) else thin
    return float(curve.age[early[-1]]) if len(early) else curve.from_age


def _below(values: Floats, ages: Floats) -> npt.NDArray[np.intp]:
    """Return the number of values strictly below each age."""
    return np.searchsorted(np.sort(values), ages, side="left")
