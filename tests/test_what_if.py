"""The what-if sheet: its model by hand, and its live formulas, reckoned again by LibreOffice, against the model."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from openpyxl import load_workbook

from audit.choice.what_if import failures, totals
from reports import stock_summary
from reports.what_if import HEADER, NAME
from tests.reported import small_results

COLUMNS = {"leave": "F", "motor": "G", "head": "H", "full": "I"}
VALUES = {
    "head_shape": 1.0, "head_scale": 10.0, "body_shape": 1.0, "body_scale": 40.0, "motor_share": 0.5,
    "discount_rate": 0.0, "horizon": 30.0, "labour_hour": 40.0, "call_out": 30.0, "attendance": 50.0,
    "lost_heat": 10.0, "hours_motor": 0.5, "hours_head": 0.5, "hours_valve": 1.5, "hours_drain": 1.0,
    "inhibitor": 15.0, "motor": 20.0, "head_zone": 50.0, "valve_2port_22": 80.0,
}  # fmt: skip


def classes(head_age: float = 8.0, body_age: float = 12.0, motor: str = "yes") -> pd.DataFrame:
    """One class."""
    row = {"head_part": "head_zone", "valve_part": "valve_2port_22", "head_age": head_age, "body_age": body_age}
    return pd.DataFrame([{**row, "motor_fits": motor}])


@pytest.mark.parametrize(("rate", "years"), [(0.0, 30), (0.0, 7), (0.035, 30), (0.1, 12)])
def test_a_constant_hazard_fails_alike_at_every_age(rate: float, years: int) -> None:
    """At shape 1 a part fails in each year with chance 1 - exp(-1/scale), whatever went before."""
    values = VALUES | {"discount_rate": rate, "horizon": float(years)}
    expected = (1 - np.exp(-1 / 10)) * sum((1 + rate) ** (0.5 - year) for year in range(1, years + 1))
    assert failures(values, "head", np.array([0.0, 3.0, 25.0])) == pytest.approx([expected] * 3, rel=1e-12)


def test_a_part_that_surely_fails_in_its_second_year_fails_every_second_year() -> None:
    """Shape 60 and scale 1.5: a new part fails in years 2, 4, 6; one that is 1 year old in 1, 3, 5."""
    values = VALUES | {"head_shape": 60.0, "head_scale": 1.5, "horizon": 6.0, "discount_rate": 0.1}
    new, old = failures(values, "head", np.array([0.0, 1.0]))
    assert new == pytest.approx(sum(1.1**-t for t in (1.5, 3.5, 5.5)))
    assert old == pytest.approx(sum(1.1**-t for t in (0.5, 2.5, 4.5)))


def test_costs_by_hand() -> None:
    """Constant hazards, no discount: 30 x 0.0951626 = 2.854878 heads at 130, 30 x 0.0246901 bodies at 255."""
    row = totals(VALUES, classes()).iloc[0]
    later = 2.8548775 * 130 + 0.7407026 * 255
    assert row["leave"] == pytest.approx(later, abs=1e-3)
    assert row["motor"] == pytest.approx(later + 70, abs=1e-3)  # 30 + 20 + 20
    assert row["head"] == pytest.approx(later + 100, abs=1e-3)  # 30 + 20 + 50
    assert row["full"] == pytest.approx(later + 225, abs=1e-3)  # 30 + 100 + 15 + 80
    assert row["cheapest"] == "leave"
    assert np.isnan(row["head_below_gbp"])


def test_at_the_break_even_price_a_head_costs_what_leaving_does() -> None:
    values = VALUES | {"head_shape": 3.0, "attendance": 90.0}
    price = float(totals(values, classes(14.0))["head_below_gbp"].iloc[0])
    at = totals(values | {"head_zone": price}, classes(14.0)).iloc[0]
    assert at["head"] == pytest.approx(at["leave"], abs=1e-9)
    less = totals(values | {"head_zone": price - 1}, classes(14.0)).iloc[0]
    assert less["head"] < less["leave"]


def test_a_motor_that_cannot_be_renewed_is_never_the_cheapest() -> None:
    values = VALUES | {"head_shape": 4.0, "motor": 0.0, "hours_motor": 0.0, "head_zone": 500.0, "valve_2port_22": 900.0}
    assert totals(values, classes(14.0))["cheapest"].item() == "motor"
    assert totals(values, classes(14.0, motor="no"))["cheapest"].item() != "motor"


@pytest.fixture(scope="module")
def reckoned(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The sheet as LibreOffice reckons it, as written and with a head's price and life changed."""
    if shutil.which("soffice") is None:
        pytest.skip("LibreOffice is not installed")
    folder = tmp_path_factory.mktemp("what_if")
    results = small_results()
    stock_summary.write(results, folder / "asis.xlsx", 1000)
    book = load_workbook(folder / "asis.xlsx")
    for name in book.sheetnames:
        if not name.startswith("What"):
            del book[name]
    book.save(folder / "asis.xlsx")
    inputs = results.summaries["what_if_inputs"].set_index("name")["value"].to_dict()
    changed = inputs | {"head_zone": 130.0, "head_scale": 6.5, "horizon": 20.0}
    first = HEADER + len(results.summaries["what_if"]) + 3
    for row, name in enumerate(inputs):
        book[NAME][f"B{first + row}"] = changed[name]
    book.save(folder / "changed.xlsx")
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    command = ["soffice", profile, "--headless", "--convert-to", "xlsx", "--outdir", str(folder / "out")]
    files = [str(folder / f"{name}.xlsx") for name in ("asis", "changed")]
    subprocess.run([*command, *files], check=True, capture_output=True, timeout=120)
    found = {Path(file).stem: load_workbook(folder / "out" / Path(file).name, data_only=True)[NAME] for file in files}
    return found | {"results": results, "values": {"asis": inputs, "changed": changed}}


@pytest.mark.parametrize(("name", "check"), [("asis", "as computed"), ("changed", "changed")])
def test_live_formulas_equal_the_model(reckoned: dict[str, Any], name: str, check: str) -> None:
    """Every total to a penny, the cheapest option and the break-even price; the check cell says what moved."""
    made = reckoned["results"].summaries["what_if"]
    assert len(made)
    expected = totals(reckoned["values"][name], made)
    sheet = reckoned[name]
    for at, row in enumerate(expected.to_dict("records"), HEADER + 1):
        for option, column in COLUMNS.items():
            assert sheet[f"{column}{at}"].value == pytest.approx(row[option], abs=0.005), (at, option)
        assert sheet[f"J{at}"].value == row["cheapest"]
        below = row["head_below_gbp"]
        word = "never" if np.isnan(below) else "always"
        assert sheet[f"K{at}"].value == (pytest.approx(below, abs=0.005) if np.isfinite(below) else word)
        assert sheet[f"P{at}"].value == check
