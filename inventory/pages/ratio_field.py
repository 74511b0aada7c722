"""A mixing ratio as it stands on the can."""

import re
from decimal import Decimal
from typing import Any

from django import forms

from inventory.errors import WrongUnit
from inventory.units import in_millionths, parse_number

RATIO = re.compile(r"^\s*([\d.,/ ]+?)\s*(?::|to)\s*([\d.,/ ]+?)\s*$", re.I)


class RatioField(forms.CharField):
    """ "100 : 43" or "0.43", cleaned to what of the other part goes with one of this."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"max_length": 30, "required": False, **kwargs})
        self.widget.attrs.update(autocomplete="off")

    def prepare_value(self, value: Any) -> Any:
        return f"100 : {(value * 100).normalize():f}" if isinstance(value, Decimal) else value

    def clean(self, value: Any) -> Decimal | None:
        text = super().clean(value)
        return self._read(text) if text else None

    def _read(self, text: str) -> Decimal:
        match = RATIO.match(text)
        try:
            first, second = map(parse_number, match.groups()) if match else (1, parse_number(text))
            if first <= 0 or second <= 0:
                raise WrongUnit(f"“{text}” is no ratio. Write it as in 100 : 43.")
            return in_millionths(second / first)
        except WrongUnit as error:
            raise forms.ValidationError(str(error)) from error
