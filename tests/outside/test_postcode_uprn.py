"""Postcodes and property numbers against their published forms.

Postcodes: HM Government, "Bulk Data Transfer: additional validation valid from 12 November 2015" (a document of the
assets.publishing.service.gov.uk archive; its pattern was seen as quoted in public source code, not in the original):
GIR 0AA, or area and district A9, A99, AA9, AA99, A9A, AA9A, a blank, a digit and two letters. The well-known examples
of each form are from memory. UPRN: Ordnance Survey and GeoPlace, a number of up to 12 digits (examples as an
encyclopaedia prints them: 100023336956 and 000000199356).
"""

from __future__ import annotations

import pandas as pd
import pytest

from audit.intake.values import postcode_ok, tidy_postcode, uprn_ok
from audit.intake.values.postcodes import pad_uprn

EACH_FORM = ["M1 1AE", "B33 8TH", "CR2 6XH", "DN55 1PT", "W1A 1HQ", "EC1A 1BB", "GIR 0AA"]


def text(*values: str | None) -> pd.Series:
    return pd.Series(list(values), dtype="str")


def test_one_postcode_of_each_form() -> None:
    assert postcode_ok(text(*EACH_FORM)).all()


def test_the_pseudo_area_for_no_fixed_place() -> None:
    assert postcode_ok(text("ZZ99 3VZ", "ZZ99 3AB")).all()


def test_both_ends_are_anchored() -> None:
    """Copies of the pattern that anchor half of each alternative take these for postcodes."""
    assert not postcode_ok(text("xxM1 1AE", "M1 1AEyy", "xxGIR 0AA", "GIR 0AAyy", "M1 1AE M1 1AE")).any()


@pytest.mark.parametrize(
    "wrong", ["M 1AE", "MMM1 1AE", "M111 1AE", "M1 11E", "M1 1A", "M1 AE", "1M 1AE", "", "M1A1A 1AE"]
)
def test_other_forms_are_refused(wrong: str) -> None:
    assert not postcode_ok(text(wrong)).any()


def test_a_missing_postcode_is_not_one() -> None:
    assert list(postcode_ok(text("M1 1AE", None))) == [True, False]


@pytest.mark.parametrize("form", EACH_FORM)
def test_tidying_gives_the_published_form(form: str) -> None:
    for written in (
        form,
        form.lower(),
        form.replace(" ", ""),
        form.replace(" ", "  "),
        f" {form} ",
        form.replace(" ", "\u00a0"),
    ):
        assert tidy_postcode(text(written)).tolist() == [form]


def test_uprns_have_up_to_12_digits() -> None:
    good = text("100023336956", "199356", "000000199356", "1", "0000000000199356")
    assert uprn_ok(good).all()
    assert not uprn_ok(text("1234567890123", "12a", "", "0", "000000000000", "-1", "1.0", None)).any()


def test_leading_zeros_make_no_other_property() -> None:
    assert pad_uprn(text("199356", "000000199356")).tolist() == ["000000199356"] * 2
    assert pad_uprn(text("100023336956")).tolist() == ["100023336956"]
