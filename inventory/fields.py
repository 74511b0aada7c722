"""Exact numbers: decimals kept as whole counts of a small unit.

SQLite has no exact decimal: it adds DECIMAL columns as floating point. A whole number is exact
on every engine, in SUM() too, so quantities and money are stored as counts of 10**-places.
"""

from decimal import ROUND_HALF_EVEN, Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db import models


class ScaledDecimalField(models.Field):
    """A Decimal with a fixed number of places, stored as a 64-bit whole number."""

    places = 6

    def get_internal_type(self) -> str:
        return "BigIntegerField"

    def to_python(self, value: Any) -> Decimal | None:
        if value is None or value == "":
            return None
        try:
            number = Decimal(str(value)) if isinstance(value, float) else Decimal(value)
        except (InvalidOperation, TypeError, ValueError) as error:
            raise ValidationError(f"{value!r} is not a number.") from error
        if not number.is_finite():
            raise ValidationError(f"{value!r} is not a number.")
        return number

    def from_db_value(self, value: Any, expression: Any, connection: Any) -> Decimal | None:
        return None if value is None else Decimal(int(value)).scaleb(-self.places)

    def get_prep_value(self, value: Any) -> int | None:
        number = self.to_python(super().get_prep_value(value))
        if number is None:
            return None
        return int(number.scaleb(self.places).to_integral_value(ROUND_HALF_EVEN))

    def value_to_string(self, obj: models.Model) -> str:
        return str(self.value_from_object(obj))

    def formfield(self, **kwargs: Any) -> forms.Field:
        return super().formfield(
            **{"form_class": forms.DecimalField, "decimal_places": self.places, **kwargs}
        )


class QuantityField(ScaledDecimalField):
    """A quantity in the item's stock unit, to a millionth (1 µm² of a sheet in mm²)."""

    places = 6


class MoneyField(ScaledDecimalField):
    """An amount of the shop's currency, to a hundred-thousandth (a screw costs 0.0345)."""

    places = 5


class UnitCostField(ScaledDecimalField):
    """Cost of one stock unit: a mm² of sheet costs 0.0001345, so an amount is too coarse."""

    places = 10
