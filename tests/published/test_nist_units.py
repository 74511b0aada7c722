"""Exact US customary factors.

Sources: NIST Special Publication 811, Appendix B, and NIST Handbook 44, Appendix C. The gallon of
231 cubic inches was read in a copy of Handbook 44; ounce, fluid ounce, pint and pound on a page
quoting NIST; all are exact by definition.
"""

from decimal import Decimal

import pytest

from inventory.units import convert, parse_length, parse_quantity


@pytest.mark.parametrize(
    ("unit", "to", "factor"),
    [
        ("in", "mm", "25.4"),
        ("ft", "mm", "304.8"),
        ("yd", "mm", "914.4"),
        ("mil", "µm", "25.4"),
        ("ft2", "m2", "0.09290304"),
        ("in2", "mm2", "645.16"),
        ("lb", "g", "453.59237"),
        ("oz", "g", "28.349523125"),
        ("fl oz", "mL", "29.5735295625"),
        ("gallon", "L", "3.785411784"),
        ("quart", "mL", "946.352946"),
        ("pint", "mL", "473.176473"),
    ],
)
def test_factor_is_exact(unit, to, factor):
    assert convert(Decimal(1), unit, to) == Decimal(factor)


@pytest.mark.parametrize(
    ("typed", "unit", "kept"),
    [
        ("1 in", "mm", "25.4"),
        ("1 ft", "mm", "304.8"),
        ("1 yd", "mm", "914.4"),
        ("1 in²", "mm2", "645.16"),
        ("1 ft²", "mm2", "92903.04"),
        ("1 yd²", "mm2", "836127.36"),  # by arithmetic: 914.4 x 914.4
        ("1000 oz", "g", "28349.523125"),
        ("1 lb", "g", "453.59237"),
        ("10000 fl oz", "mL", "295735.295625"),
    ],
)
def test_typed_quantity_is_kept_by_the_exact_factor(typed, unit, kept):
    assert parse_quantity(typed, unit) == Decimal(kept)


def test_pound_is_sixteen_ounces_and_pint_sixteen_fluid_ounces():
    assert parse_quantity("16 oz", "g") == parse_quantity("1 lb", "g")
    assert parse_quantity("16 fl oz", "mL") == parse_quantity("1 pint", "mL")


def test_gallon_is_231_cubic_inches():
    cubic_inch_in_ml = Decimal("25.4") ** 3 / 1000
    assert cubic_inch_in_ml == Decimal("16.387064")
    assert convert(Decimal(1), "gallon", "mL") == 231 * cubic_inch_in_ml


def test_fluid_ounce_is_no_ounce():
    # By arithmetic: 4 fl oz of resin at 1.15 g/mL hold 136.0 g, which is 4.80 oz.
    grams = parse_quantity("4 fl oz", "g", density_g_per_ml=Decimal("1.15"))
    assert round(grams, 1) == 136
    assert round(convert(grams, "g", "oz"), 2) == Decimal("4.80")


def test_foot_is_the_international_one_not_the_survey_foot():
    # NIST: the survey foot is 0.3048006096 m; stock is never measured in it.
    assert parse_length("1000 ft") == 304_800_000


@pytest.mark.parametrize(
    ("inch", "micrometres"), [("3/16", 4762), ("5/32", 3968), ("1/8", 3175), ("1/4", 6350)]
)
def test_inch_fractions_are_not_their_metric_twins(inch, micrometres):
    # By arithmetic from 25.4: 5/32 in is 3.96875 mm, not 4 mm; 3/16 in is 4.7625 mm, not 4.8 mm.
    assert parse_length(f"{inch} in") == micrometres
