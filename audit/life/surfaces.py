"""The peaks of many log-likelihoods at once, and the limits that each sets: splines over one lattice, with a prior.

What `audit.life.likelihood` does for one log-likelihood, whatever it is made of, is done here for hundreds side by
side, whose slopes and bends are known because they are splines.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from audit.life.likelihood import LONGEST, NEAR, LogLikelihood, Peak, bent_down, limits

if TYPE_CHECKING:
    from scipy.interpolate import BSpline

Floats = npt.NDArray[np.float64]

DEGREES = (3, 5)  # of the splines in log shape and log scale
MET = 1e-5  # log-likelihood, and its slope along the other parameter, at limits that count as found
TRIES = 100


@dataclass(frozen=True)
class Surfaces:
    """One log-likelihood of log shape and log scale a group, with a normal prior; flat beyond the lattice.

    `bases`: the splines that the two axes are made of; `weights` (groups, shapes, scales): of their products;
    `low`, `high` (2,): ends of the lattice; `centre` (groups, 2), `spread` (2,): of the priors.
    """

    bases: tuple[BSpline, BSpline]
    weights: Floats
    low: Floats
    high: Floats
    centre: Floats
    spread: Floats

    @classmethod
    def through(cls, axes: tuple[Floats, Floats], heights: Floats, centre: Floats, spread: Floats) -> Surfaces:
        """Lay a surface through the heights (groups, shapes, scales) of each group on the lattice of `axes`."""
        from scipy.interpolate import BSpline, make_interp_spline

        along = make_interp_spline(axes[0], heights, k=DEGREES[0], axis=1)
        across = make_interp_spline(axes[1], np.moveaxis(along.c, 0, -1), k=DEGREES[1], axis=1)
        bases = [BSpline(x.t, np.eye(len(x.t) - x.k - 1), x.k) for x in (along, across)]
        ends = np.array([[axis[0], axis[-1]] for axis in axes])
        return cls((bases[0], bases[1]), np.moveaxis(across.c, 0, -1), ends[:, 0], ends[:, 1], centre, spread)

    def value(self, at: Floats) -> Floats:
        """Return the height (groups,) of each group at its place, `at` (groups, 2)."""
        inside = np.clip(at, self.low, self.high)
        shape, scale = (base(inside[:, axis]) for axis, base in enumerate(self.bases))
        return np.asarray(self._sum(shape, scale) - 0.5 * np.square((at - self.centre) / self.spread).sum(axis=1))

    def bends(self, at: Floats) -> tuple[Floats, Floats, Floats]:
        """Return heights (groups,), slopes (groups, 2) and curvatures (groups, 2, 2) at a place each."""
        inside = np.clip(at, self.low, self.high)
        free = inside == at
        shape, scale = ([base(inside[:, axis], nu=nu) for nu in range(3)] for axis, base in enumerate(self.bases))
        slopes = np.column_stack([self._sum(shape[1], scale[0]), self._sum(shape[0], scale[1])]) * free
        own = np.column_stack([self._sum(shape[2], scale[0]), self._sum(shape[0], scale[2])]) * free
        mixed = self._sum(shape[1], scale[1]) * free.all(axis=1)
        bends = np.stack([np.stack([own[:, 0], mixed], axis=1), np.stack([mixed, own[:, 1]], axis=1)], axis=1)
        away = (at - self.centre) / np.square(self.spread)
        return self.value(at), slopes - away, bends - np.diag(1 / np.square(self.spread))

    def peaks(self) -> list[Peak]:
        """Climb from the centre of each prior to the peak, by damped Newton steps, and describe it."""
        at = self.centre.copy()
        for _ in range(TRIES):
            height, slopes, bends = self.bends(at)
            steps = np.linalg.solve(-bent_down(bends), slopes[:, :, None])[:, :, 0]
            if (0.5 * (steps * slopes).sum(axis=1)).max(initial=0.0) < NEAR:
                break
            steps *= np.minimum(1.0, LONGEST / np.maximum(np.abs(steps).max(axis=1), LONGEST))[:, None]
            for _ in range(30):
                lower = self.value(at + steps) < height
                steps[lower] /= 2
                if not lower.any():
                    break
            at = at + np.where(lower[:, None], 0.0, steps)
        height, _, bends = self.bends(at)
        spread = np.linalg.inv(-bent_down(bends))
        return [Peak(float(x), float(y), float(z), each) for (x, y), z, each in zip(at, height, spread, strict=True)]

    def limits(self, peaks: list[Peak], level: float) -> Floats:
        """Return the limits of log shape and log scale of each group (groups, 2, 2), as `audit.life.likelihood.limits`.

        A limit is where the height is that much below the peak, and level along the other parameter (Venzon and
        Moolgavkar 1988, Applied Statistics 37): Newton steps to both at once; one that goes astray is sought singly.
        """
        z = NormalDist().inv_cdf((1 + level) / 2)
        found = np.empty((len(peaks), 2, 2))
        for axis in (0, 1):
            for place, side in enumerate((-1.0, 1.0)):
                found[:, axis, place] = self._limit(peaks, z, axis, side)
            for group in np.flatnonzero(np.isnan(found[:, axis]).any(axis=1)):
                found[group, axis] = limits(self.single(int(group)), peaks[group], axis=axis, level=level)
        return found

    def _limit(self, peaks: list[Peak], z: float, axis: int, side: float) -> Floats:
        """Return one limit of each group (groups,), NaN where the steps did not arrive at it."""
        best = np.array([[peak.log_shape, peak.log_scale] for peak in peaks])
        spread = np.array([peak.covariance[axis] for peak in peaks])
        wanted = np.array([peak.value for peak in peaks]) - z * z / 2
        at = best + side * z * spread / np.sqrt(spread[:, axis : axis + 1])
        for _ in range(TRIES):
            height, slopes, bends = self.bends(at)
            off = np.column_stack([height - wanted, slopes[:, 1 - axis]])
            if np.abs(off).max(initial=0.0) < MET:
                break
            turn = np.stack([slopes, bends[:, 1 - axis]], axis=1)
            flat = np.abs(np.linalg.det(turn)) < np.finfo(float).tiny
            turn[flat] = np.eye(2)
            at = at - np.clip(np.linalg.solve(turn, off[:, :, None])[:, :, 0], -LONGEST / 4, LONGEST / 4)
        met = (np.abs(off) < MET).all(axis=1) & (side * (at - best)[:, axis] > 0) & (bends[:, 1 - axis, 1 - axis] < 0)
        return np.where(met, at[:, axis], np.nan)

    def single(self, group: int) -> LogLikelihood:
        """Return one group's height, of log shape and log scale."""
        alone = replace(self, weights=self.weights[[group]], centre=self.centre[[group]])
        return lambda x, y: float(alone.value(np.array([[x, y]]))[0])

    def _sum(self, shape: Floats, scale: Floats) -> Floats:
        return np.asarray(np.einsum("gi,gij,gj->g", shape, self.weights, scale, optimize=False))
