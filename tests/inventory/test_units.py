"""Quantities as people write them."""

from decimal import Decimal

import pytest

from inventory.errors import WrongUnit
from inventory.units import (
    convert,
    parse_length,
    parse_number,
    parse_quantity,
    parse_size,
    show_length,
    show_number,
    show_quantity,
    show_size,
)
from tests.factories import D


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("12", "each", "12"),
        ("12 pcs", "each", "12"),
        ("-3", "each", "-3"),
        ("1 1/2", "each", "1.5"),
        ("250", "g", "250"),
        ("2.5 lb", "g", "1133.980925"),
        ("1 kg", "g", "1000"),
        ("1 KG", "g", "1000"),
        ("0,5 kg", "g", "500"),
        ("8 oz", "g", "226.796185"),
        ("8 fl oz", "mL", "236.588236"),
        ("8 fl. oz", "mL", "236.588236"),
        ("1 l", "mL", "1000"),
        ("250 ML", "mL", "250"),
        ("48 in", "mm", "1219.2"),
        ('48"', "mm", "1219.2"),
        ("4 ft", "mm", "1219.2"),
        ("4'", "mm", "1219.2"),
        ("3/16 in", "mm", "4.7625"),
        ("1 1/4 in", "mm", "31.75"),
        ("10 yd", "mm", "9144"),
        ("3 m", "mm", "3000"),
        ("3 CM", "mm", "30"),
        ("20 mil", "mm", "0.508"),
        ("20 thou", "mm", "0.508"),
        ("1 m²", "mm2", "1000000"),
        ("1 ft2", "mm2", "92903.04"),
        ("12 x 24 in", "mm2", "185806.08"),
        ("305 x 610", "mm2", "186050"),
        (".5 g", "g", "0.5"),
        ("  7 g ", "g", "7"),
        ("1/3 in", "mm", "8.466667"),
        ("1-1/2 in", "mm", "38.1"),
        ("1½ in", "mm", "38.1"),
        ("4 ft 6 in", "mm", "1371.6"),
        ("4' 6\"", "mm", "1371.6"),
        ("2 lb 3 oz", "g", "992.233309"),
        ("1 gal", "mL", "3785.411784"),
        ("1 sq yd", "mm2", "836127.36"),
    ],
)
def test_quantity_is_read_in_the_items_unit(text, unit, expected):
    assert parse_quantity(text, unit) == D(expected)


@pytest.mark.parametrize(
    ("text", "unit", "words"),
    [
        ("3 m", "g", "“m” measures a length, but this item is kept as a mass in g"),
        ("200 g", "mm", "“g” measures a mass, but this item is kept as a length in mm"),
        ("3 m", "mm2", "measures a length, but this item is kept as an area"),
        ("8 oz", "mL", "An ounce is a weight; a fluid ounce is written “fl oz”"),
        ("8 fl oz", "g", "State the item's density"),
        ("3 g", "each", "is counted; “g” is not a count"),
        ("5 pcs", "g", "unit “pcs” isn't known. This item is kept as a mass in g"),
        ("3 parsec", "mm", "unit “parsec” isn't known"),
        ("3 degC", "mm", "isn't known"),
        ("", "g", "is not a quantity"),
        ("g", "g", "is not a quantity"),
        ("twelve", "each", "is not a quantity"),
        ("1e5", "g", "is not a quantity"),
        ("1.2.3", "g", "is not a number"),
        ("1/0", "g", "is not a number"),
        ("1,500 g", "g", "could be read two ways"),
        ("1.500,5 g", "g", "could be read two ways"),
        ("9999999999", "g", "more than any shop holds"),
        ("9" * 400, "g", "more than any shop holds"),
        ("9" * 5000, "g", "is not a number"),
        ("3; drop", "g", "isn't known"),
        ("6 in 4 ft", "mm", "write the larger unit first"),
        ("4 ft 6", "mm", "is not a quantity"),
    ],
)
def test_what_can_not_be_read_is_refused_in_words(text, unit, words):
    with pytest.raises(WrongUnit, match=words):
        parse_quantity(text, unit)


@pytest.mark.parametrize(
    ("unit", "default", "expected"),
    [
        ("mm", "in", "1219.2"),
        ("mm2", "in2", "30967.68"),
        ("g", "oz", "1360.77711"),
        ("g", "", "48"),
    ],
)
def test_bare_number_is_read_in_the_default_unit(unit, default, expected):
    assert parse_quantity("48", unit, default=default) == D(expected)


def test_density_lets_a_volume_be_typed_for_a_mass_and_back():
    density = {"density_g_per_ml": D("1.15")}
    assert parse_quantity("100 mL", "g", **density) == 115
    assert parse_quantity("115 g", "mL", **density) == 100
    assert parse_quantity("200 g", "g", **density) == 200


@pytest.mark.parametrize(
    ("text", "down", "up"),
    [
        ("1/16 in", 1587, 1588),
        ("240 mm", 240_000, 240_000),
        ("240", 240_000, 240_000),
        ("1/3 in", 8466, 8467),
        ("0.0004 mm", 0, 1),
    ],
)
def test_stock_is_rounded_down_and_parts_up_to_a_whole_micrometre(text, down, up):
    assert (parse_length(text), parse_length(text, up=True)) == (down, up)


@pytest.mark.parametrize("text", ["-5 mm", "5 g", "abc", "", "9" * 40, "5 mm2", "3 pcs"])
def test_length_that_can_not_be_is_refused(text):
    with pytest.raises(WrongUnit):
        parse_length(text)


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("305 x 610 mm", (305_000, 610_000)),
        ("12 × 24 in", (304_800, 609_600)),
        ("1 ft x 610 mm", (304_800, 610_000)),
        ("914 mm", (914_000, None)),
        ("3 ft 4 in", (1_016_000, None)),
        ("1½ x 12 in", (38_100, 304_800)),
        ('12" x 24"', (304_800, 609_600)),
        ("305X610", (305_000, 610_000)),
    ],
)
def test_size_is_read_along_the_grain_first(text, size):
    assert parse_size(text) == size


@pytest.mark.parametrize(
    ("text", "number"), [("3/16", "0.1875"), ("1 1/2", "1.5"), ("12,5", "12.5"), ("7", "7")]
)
def test_number_is_read_exactly(text, number):
    assert parse_number(text) == D(number)


def test_conversion_between_spelled_units_is_exact():
    assert convert(D(1), "lb", "g") == D("453.59237")
    with pytest.raises(WrongUnit, match="can't be converted"):
        convert(D(1), "lb", "mm")


@pytest.mark.parametrize(
    ("number", "shown"),
    [
        ("1234567.5", "1\u202f234\u202f567.5"),
        ("0.1000", "0.1"),
        ("100", "100"),
        ("-0.0001", "0"),
        ("2.0005", "2"),
        ("0", "0"),
    ],
)
def test_number_is_shown_without_trailing_zeros(number, shown):
    assert show_number(Decimal(number)) == shown


@pytest.mark.parametrize(
    ("qty", "unit", "readers", "shown"),
    [
        ("12", "each", {}, "12"),
        ("914", "mm", {}, "914 mm"),
        ("9140", "mm", {}, "9.14 m"),
        ("914.4", "mm", {"length_unit": "in"}, "36 in"),
        ("92903.04", "mm2", {"length_unit": "in"}, "144 in²"),
        ("186050", "mm2", {}, "0.186 m²"),
        ("1500", "g", {}, "1.5 kg"),
        ("28.349523125", "g", {"mass_unit": "oz"}, "1 oz"),
        ("250", "mL", {}, "250 mL"),
        ("-1500", "g", {}, "-1.5 kg"),
    ],
)
def test_quantity_is_shown_in_the_readers_units(qty, unit, readers, shown):
    assert show_quantity(D(qty), unit, **readers) == shown


def test_sizes_are_shown_for_the_eye():
    assert show_length(None) == ""
    assert show_length(914_400, "in") == "36 in"
    assert show_size(305_000, 610_500) == "305 × 610.5 mm"
    assert show_size(304_800, 609_600, "in") == "12 × 24 in"
    assert show_size(914_000, None) == "914 mm"


@pytest.mark.parametrize("unit", ["each", "mm", "mm2", "g", "mL"])
def test_what_is_shown_can_be_typed_again(unit):
    shown = show_quantity(D("12"), unit)
    assert parse_quantity(shown, unit) == 12
