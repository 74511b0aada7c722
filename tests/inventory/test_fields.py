"""Exact numbers on every engine: what went in comes out, and sums in the database are exact."""

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db.models import Sum

from inventory.fields import MoneyField, QuantityField, UnitCostField
from inventory.models import Movement, Posting
from tests.factories import DAY, D, epoxy, stock, where


@pytest.mark.parametrize(
    ("field", "number", "stored"),
    [
        (QuantityField(), "1", 1_000_000),
        (QuantityField(), "0.000001", 1),
        (QuantityField(), "-2.5", -2_500_000),
        (QuantityField(), "0.0000005", 0),
        (QuantityField(), "0.0000015", 2),
        (MoneyField(), "0.0345", 3450),
        (UnitCostField(), "0.0001345489", 1_345_489),
    ],
)
def test_number_is_stored_as_whole_small_units_half_to_even(field, number, stored):
    assert field.get_prep_value(Decimal(number)) == stored


@pytest.mark.parametrize("number", ["0", "0.1", "-0.000001", "123456789.123456", "1000000000"])
def test_number_comes_back_as_it_went_in(number):
    field = QuantityField()
    assert field.from_db_value(field.get_prep_value(D(number)), None, None) == D(number)


@pytest.mark.parametrize("value", ["abc", "NaN", "Infinity", object()])
def test_what_is_no_number_is_refused(value):
    with pytest.raises(ValidationError, match="is not a number"):
        QuantityField().to_python(value)


@pytest.mark.parametrize("value", [None, ""])
def test_empty_stays_empty(value):
    assert QuantityField().get_prep_value(value) is None


def test_float_is_read_as_it_is_written():
    assert QuantityField().to_python(0.1) == D("0.1")


@pytest.mark.django_db
def test_ten_thousand_tiny_movements_add_up_exactly():
    # Paper: 10,000 x 0.1 = 1000; as floating point the sum is 1000.0000000001588.
    lot = stock(epoxy(), "0.1")
    shelf = where(lot)
    row = {"posting": Posting.objects.get(), "item": lot.item, "lot": lot, "day": DAY}
    Movement.objects.bulk_create(
        [Movement(**row, place=shelf, qty=D("0.1")) for _ in range(9_999)], batch_size=500
    )
    assert sum([0.1] * 10_000) != 1000
    assert Movement.objects.aggregate(total=Sum("qty"))["total"] == 1000


@pytest.mark.django_db
def test_database_compares_exactly():
    stock(epoxy(), "0.3")
    assert Movement.objects.filter(qty=D("0.3")).exists()
    assert not Movement.objects.filter(qty__lt=D("0.3")).exists()
