"""A form over a record that two people may have open at once."""

import json
from typing import Any

from django import forms

from inventory.pages.forms import ActionForm


class RecordForm(ActionForm, forms.ModelForm):
    """An action form whose fields are those of a record; only the action writes it.

    The page carries what it showed when it was opened. Only fields that were given another content
    since are written, so that a page opened earlier takes nothing back that was saved meanwhile.
    """

    opened = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, value in self.initial.items():
            if isinstance(self.fields.get(name), forms.DecimalField) and value is not None:
                self.initial[name] = f"{value.normalize():f}"
        if self.instance.pk:
            self.initial["opened"] = json.dumps(self._as_stored())

    def says_something(self, field: forms.BoundField) -> bool:
        """More than what a new record would say."""
        default = self._meta.model._meta.get_field(field.name).get_default()
        return field.value() not in (None, "", False, default, str(default))

    def clean(self) -> dict[str, Any]:
        """Ask again before a field is written that was changed meanwhile as well."""
        cleaned = super().clean()
        shown, stored = self._as_opened(), self._as_stored()
        for name in self._touched(cleaned, shown) & shown.keys() & stored.keys():
            then, now = shown[name], stored[name]
            if then != now and self._means_otherwise(name, now, cleaned[name]):
                shown[name] = now
                self.add_error(
                    name,
                    f"Meanwhile this was changed to “{self._in_words(name, now)}”. Save again to "
                    "put yours in its place.",
                )
        if shown:
            self.data = self.data.copy()
            self.data["opened"] = json.dumps(shown)
        return cleaned

    @property
    def values(self) -> dict[str, Any]:
        """Cleaned values of the fields to write."""
        touched = self._touched(self.cleaned_data, self._as_opened())
        return {name: value for name, value in super().values.items() if name in touched}

    def _touched(self, cleaned: dict[str, Any], shown: dict[str, Any]) -> set[str]:
        """Fields with another content than the page showed; in a new record all of them."""
        return {
            name
            for name, value in cleaned.items()
            if name != "opened"
            and (name not in shown or self._means_otherwise(name, shown[name], value))
        }

    def _means_otherwise(self, name: str, shown: Any, value: Any) -> bool:
        try:
            return self.fields[name].clean(shown) != value
        except forms.ValidationError:
            return True

    def _as_opened(self) -> dict[str, Any]:
        try:
            shown = json.loads(self.data.get("opened") or "{}")
        except ValueError:
            return {}
        return shown if isinstance(shown, dict) else {}

    def _as_stored(self) -> dict[str, Any]:
        """What the fields of the record show now, as a page carries it."""
        shown = {
            name: field.prepare_value(self.get_initial_for_field(field, name))
            for name, field in self.fields.items()
            if name not in ("key", "opened") and not isinstance(field, forms.FileField)
        }
        return json.loads(json.dumps(shown, default=str))

    def _in_words(self, name: str, shown: Any) -> str:
        if isinstance(shown, bool):
            return "yes" if shown else "no"
        choices = getattr(self.fields[name], "choices", ())
        labels = {str(value): str(label) for value, label in choices}
        return labels.get(str(shown), str(shown)) if shown not in (None, "") else "nothing"
