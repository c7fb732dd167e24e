"""Trend tests, power law, mean cumulative function and c-chart against published worked examples.

NIST/SEMATECH e-Handbook of Statistical Methods 8.2.3.4 and 6.3.3.1; MIL-HDBK-189 (1981), appendix C; valve seats of 41
engines: Nelson & Doganaksoy (1989), Nelson (1995), Technometrics 37, 147-157.
"""

from __future__ import annotations

import numpy as np
import pytest

from audit.statistics.charts import c_chart, exact_chart
from audit.statistics.cumulative import mean_cumulative
from audit.statistics.trends import crow, crow_pooled, laplace, mil_hdbk_189, reversals

REPAIRS = [5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478]  # hours, stopped at 1500
HANDBOOK = [2.6, 16.5, 16.5, 17.0, 21.4, 29.1, 33.3, 56.5, 63.1, 70.6, 73.0, 77.7, 93.9, 95.5, 98.1, 101.1, 132.0]
HANDBOOK += [142.2, 147.7, 149.0, 167.2, 190.7, 193.0, 198.7, 251.9, 282.5, 286.1]  # stopped at 300
WAFERS = [16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13]
SEATS = """761; 759;
98|667; 326,653,653|667; 665; 84|667; 87|663; 646|653; 92|653; 651; 258,328,377,621|650; 61,539|648;
254,276,298,640|644;
76,538|642; 635|641; 349,404,561|649; 631; 596; 120,479|614; 323,449|582; 139,139|589; 593; 573|589;
165,408,604|606; 249|594; 344,497|613; 265,586|595; 166,206,348|389; 601; 410,581|601; 611; 608; 587; 367|603;
202,563,570|585; 587; 578; 578; 586; 585; 582"""  # days of replacements | end of observation, an engine each
MCF = [  # day, at risk, mean, robust standard error
    (61, 41, 0.024390, 0.024091),
    (139, 41, 0.219512, 0.073270),
    (404, 40, 0.683537, 0.135939),
    (563, 40, 0.908537, 0.164251),
    (604, 22, 1.059719, 0.185061),
    (646, 13, 1.320465, 0.228505),
    (653, 9, 1.542688, 0.311656),
]


def seats() -> tuple[list[int], list[int], list[int]]:
    unit, time, end = [], [], []
    for number, engine in enumerate(SEATS.split(";")):
        days, _, last = engine.strip().rpartition("|")
        end.append(int(last))
        for day in filter(None, days.split(",")):
            unit.append(number)
            time.append(int(day))
    return unit, time, end


def test_ten_repairs() -> None:
    assert reversals(np.diff([0, *REPAIRS])) == 33
    assert mil_hdbk_189(REPAIRS, 1500).statistic == pytest.approx(37.2281, abs=5e-5)
    assert laplace(REPAIRS, 1500).statistic == pytest.approx(-1.32695, abs=5e-6)
    fit = crow(REPAIRS, 1500)
    assert (fit.beta, fit.beta_unbiased) == pytest.approx((0.5372289, 0.483506), abs=5e-7)
    assert 1500 / (10 * fit.beta_unbiased) == pytest.approx(310.234, abs=5e-4)


def test_handbook_appendix_c() -> None:
    fit = crow(HANDBOOK, 300)
    assert (fit.beta, fit.beta_unbiased, fit.lam) == pytest.approx((0.71633926, 0.68980818, 0.45384186), abs=5e-9)
    assert (fit.end_mtbf, fit.cramer_von_mises) == pytest.approx((15.510962, 0.09106112), abs=5e-7)


def test_times_spread_evenly_show_no_trend() -> None:
    assert laplace([1, 2, 3, 4], 5).statistic == pytest.approx(0)
    assert mil_hdbk_189([1, 2, 3, 4], 5).statistic == pytest.approx(6.519396, abs=5e-7)


def test_valve_seats() -> None:
    unit, time, end = seats()
    assert (len(time), len(end)) == (48, 41)
    curve = mean_cumulative(unit, time, end)
    assert len(curve.time) == 46  # two engines had two replacements on one day
    for day, at_risk, mean, error in MCF:
        at = int(np.flatnonzero(curve.time == day)[0])
        assert curve.at_risk[at] == at_risk
        assert (curve.mean[at], np.sqrt(curve.variance[at])) == pytest.approx((mean, error), abs=1e-6)
    assert (curve.low[-1], curve.high[-1]) == pytest.approx((1.03829, 2.29213), abs=5e-5)
    beta, lam = crow_pooled(time, end)
    assert beta == pytest.approx(1.399579, abs=5e-7)
    assert lam == pytest.approx(0.0001447546, abs=5e-11)
    assert laplace(time, np.array(end)[unit]).statistic == pytest.approx(2.37869, abs=5e-6)
    assert mil_hdbk_189(time, np.array(end)[unit]).statistic == pytest.approx(66.1484, abs=5e-5)


def test_wafers() -> None:
    chart = c_chart(WAFERS)
    assert (chart.centre[0], chart.low[0], chart.high[0]) == (16, 4, 28)
    assert (np.flatnonzero(chart.out) + 1).tolist() == [24]


def test_exact_limits_of_small_counts() -> None:  # P(X >= 5 | 0.5) = 0.00017, P(X >= 4 | 0.5) = 0.00175
    assert exact_chart([4, 5], [0.5, 0.5]).out.tolist() == [False, True]
