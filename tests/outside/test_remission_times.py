"""Remission times of 21 patients on 6-mercaptopurine, in weeks: the standard example of the product-limit estimate.

Freireich et al. (1963), Blood 21, 699-716; estimates as printed in Cox & Oakes (1984), Analysis of Survival Data, and
most textbooks since (values from memory, redone by hand: 18/21, times 16/17, times 14/15 ...).
"""

from __future__ import annotations

import numpy as np
import pytest

from audit.statistics.survival import kaplan_meier

RELAPSED = [6, 6, 6, 7, 10, 13, 16, 22, 23]
WATCHED = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
TIMES = [*RELAPSED, *WATCHED]
FAILED = [True] * len(RELAPSED) + [False] * len(WATCHED)


def test_the_product_limit_estimate() -> None:
    share, _, _ = kaplan_meier(TIMES, FAILED, [5, 6, 7, 10, 13, 16, 22, 23, 35])
    assert share == pytest.approx([1, 0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482, 0.4482], abs=5e-5)


def test_beyond_the_longest_watch_nothing_is_known() -> None:
    assert np.isnan(kaplan_meier(TIMES, FAILED, [36])[0]).all()


def test_limits_hold_the_share_and_stay_between_none_and_all() -> None:
    share, low, high = kaplan_meier(TIMES, FAILED, [6, 10, 23])
    assert ((low > 0) & (low < share) & (share < high) & (high < 1)).all()
    # Greenwood's error at 6 weeks is 0.0764 (printed); log-log: exp(log S * exp(+-1.96 * 0.0764 / (S |log S|)))
    width = 1.959964 * 0.0764 / (0.85714 * 0.15415)
    assert (low[0], high[0]) == pytest.approx((0.85714 ** np.exp(width), 0.85714 ** np.exp(-width)), abs=1e-3)
