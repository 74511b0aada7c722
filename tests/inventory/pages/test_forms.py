"""What people may type into quantity, length, size and piece fields."""

from decimal import Decimal

import pytest
from django import forms

from inventory.pages.forms import LengthField, PiecesField, QuantityFormField, SizeField


@pytest.mark.parametrize(
    ("unit", "typed", "kept"),
    [
        ("each", "12", "12"),
        ("g", "2.5 lb", "1133.980925"),
        ("mm", "48 in", "1219.2"),
        ("mm2", "12 x 24 in", "185806.08"),
        ("mL", "1 L", "1000"),
    ],
    ids=["count", "pounds", "inches", "area from a size", "litre"],
)
def test_typed_quantity_is_kept_in_the_stock_unit(unit, typed, kept):
    # 1 lb = 453.59237 g, 1 in = 25.4 mm: NIST SP 811 (2008), appendix B (from memory).
    assert QuantityFormField(unit=unit).clean(typed) == Decimal(kept)


@pytest.mark.parametrize(
    ("unit", "typed", "message"),
    [
        ("g", "5 in", "measures a length"),
        ("mL", "3 oz", "fl oz"),
        ("each", "1.000,5", "two ways"),
    ],
    ids=["length for a mass", "ounce for a volume", "two marks"],
)
def test_quantity_of_another_dimension_is_refused(unit, typed, message):
    with pytest.raises(forms.ValidationError, match=message):
        QuantityFormField(unit=unit).clean(typed)


def test_bare_length_is_read_in_the_persons_unit():
    assert LengthField().clean("10") == 10_000
    assert LengthField(default="in").clean("1/2") == 12_700


def test_stored_length_is_shown_as_it_may_be_typed():
    field = LengthField(default="in")
    assert field.prepare_value(12_700) == "0.5 in"
    assert field.clean(field.prepare_value(12_700)) == 12_700


def test_part_to_be_cut_rounds_up_and_a_piece_on_the_shelf_rounds_down():
    assert LengthField(up=True).clean("1/16 in") == 1588
    assert LengthField().clean("1/16 in") == 1587


def test_size_has_a_width_only_for_sheets():
    assert SizeField().clean("305 x 610 mm") == (305_000, 610_000)
    assert SizeField().clean("914 mm") == (914_000, None)


def test_pieces_are_read_a_size_a_line():
    typed = "4 of 305 x 610 mm\n\n  914 x 300 mm "
    assert PiecesField().clean(typed) == [(305_000, 610_000, 4), (914_000, 300_000, 1)]


@pytest.mark.parametrize("typed", ["x of 914 mm", "0 of 914 mm", "5000 of 914 mm", "² of 914 mm"])
def test_pieces_with_an_odd_count_are_refused(typed):
    with pytest.raises(forms.ValidationError, match="count first"):
        PiecesField().clean(typed)
