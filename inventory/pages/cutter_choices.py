"""Which one goes into a pocket: reground ones and those set aside, as a form offers them."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.models import Fitting, Lot, Regrind
from inventory.units import show_length


class ChoiceWithItem(forms.ModelChoiceField):
    """Lots or cutters, each with the code of its item."""

    def label_from_instance(self, obj: Lot | Fitting) -> str:
        return f"{obj.item.code} {obj}"


class RegroundChoice(forms.ModelChoiceField):
    """Cutters back from regrinding, with their measured diameter."""

    def label_from_instance(self, obj: Regrind) -> str:
        measured = f", {show_length(obj.diameter_um)}" if obj.diameter_um else ""
        return f"{obj.fitting.item.code} {obj.fitting}{measured}"


def refuse_two_at_once(cleaned: dict[str, Any]) -> None:
    """Only one goes in. Raises: ValidationError."""
    if cleaned.get("continues") and cleaned.get("regrind"):
        raise ValidationError(
            "Choose one: set aside while still good, or back from regrinding. Only one goes in."
        )
