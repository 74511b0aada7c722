"""Forms that end in one action, and the fields people type quantities and sizes into."""

import uuid
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.contrib import messages
from django.db.models.fields import BLANK_CHOICE_DASH
from django.http import HttpResponse, HttpResponseRedirect
from django.utils import timezone
from django.views.generic import FormView

from inventory.errors import Refused, WrongUnit
from inventory.pages.access import RoleRequired
from inventory.units import parse_length, parse_quantity, parse_size, show_length

UNPROCESSABLE = 422
DASHES = BLANK_CHOICE_DASH[0][1]


class QuantityFormField(forms.CharField):
    """A quantity as people write it ("48 in", "2.5 lb"), cleaned to the stock unit's Decimal.

    Args:
        unit: stock unit of the item; set it later by form.fields[...].unit when the item is
            only known then.
        density_g_per_ml: of the item, so that a mass may be typed for a volume.
    """

    def __init__(
        self, *, unit: str = "each", density_g_per_ml: Decimal | None = None, **kwargs: Any
    ) -> None:
        super().__init__(max_length=40, **kwargs)
        self.unit, self.density = unit, density_g_per_ml
        mode = "numeric" if unit == "each" else "text"
        self.widget.attrs.update(inputmode=mode, autocomplete="off")

    def clean(self, value: Any) -> Decimal | None:
        text = super().clean(value)
        if not text:
            return None
        return _typed(parse_quantity, text, self.unit, density_g_per_ml=self.density)


class LengthField(forms.CharField):
    """A length as people write it ("240 mm", "9 1/2 in"), cleaned to whole µm.

    Args:
        up: round up, for a part to be cut; a piece that lies there rounds down.
        default: unit of a bare number; forms set the reader's own.
        nothing: what an empty field means, None or 0.
    """

    def __init__(
        self, *, up: bool = False, default: str = "mm", nothing: int | None = None, **kwargs: Any
    ) -> None:
        super().__init__(max_length=40, **kwargs)
        self.up, self.default, self.nothing = up, default, nothing
        self.widget.attrs.update(autocomplete="off")

    def prepare_value(self, value: Any) -> Any:
        """Show a stored length as it may be typed."""
        if not isinstance(value, int):
            return value
        return show_length(value, self.default).replace("\u202f", "") if value else ""

    def clean(self, value: Any) -> int | None:
        text = super().clean(value)
        if not text:
            return self.nothing
        return _typed(parse_length, text, default=self.default, up=self.up)


class SizeField(forms.CharField):
    """ "305 x 610 mm" or "914 mm", cleaned to (length µm, width µm or None)."""

    def __init__(self, *, up: bool = False, default: str = "mm", **kwargs: Any) -> None:
        super().__init__(max_length=60, **kwargs)
        self.up, self.default = up, default
        self.widget.attrs.update(autocomplete="off")

    def clean(self, value: Any) -> tuple[int, int | None] | None:
        text = super().clean(value)
        if not text:
            return None
        return _typed(parse_size, text, default=self.default, up=self.up)


class PiecesField(forms.CharField):
    """Pieces, one size a line with an optional count: "4 of 305 x 610 mm" or "914 mm".

    Cleaned to [(length µm, width µm or None, count), ...].
    """

    widget = forms.Textarea(attrs={"rows": 3, "autocomplete": "off"})

    def __init__(self, *, up: bool = False, default: str = "mm", **kwargs: Any) -> None:
        super().__init__(max_length=2000, **kwargs)
        self.up, self.default = up, default

    def clean(self, value: Any) -> list[tuple[int, int | None, int]]:
        lines = [line.strip() for line in super().clean(value).splitlines() if line.strip()]
        return [self._read(line) for line in lines]

    def _read(self, line: str) -> tuple[int, int | None, int]:
        count, of, size = line.partition(" of ")
        if not of:
            count, size = "1", line
        count = count.strip()
        if not (count.isdecimal() and len(count) < 5 and 1 <= int(count) <= 1000):
            raise forms.ValidationError(f"“{line}”: write the count first, as in 4 of 914 mm.")
        length, width = _typed(parse_size, size.strip(), default=self.default, up=self.up)
        return length, width, int(count)


def _typed(parse: Any, text: str, *args: Any, **kwargs: Any) -> Any:
    try:
        return parse(text, *args, **kwargs)
    except WrongUnit as error:
        raise forms.ValidationError(str(error)) from error


class DayField(forms.DateField):
    """A day, today unless another is chosen."""

    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"label": "Day", "initial": timezone.localdate, **kwargs})


def read_in_units_of(user: Any, form: forms.Form) -> None:
    """Read bare numbers of lengths and sizes in the unit the person chose."""
    for field in form.fields.values():
        if isinstance(field, LengthField | SizeField | PiecesField) and user:
            field.default = user.length_unit


def name_empty_choices(form: forms.Form) -> None:
    """Words in place of Django's row of dashes."""
    for field in form.fields.values():
        choices = getattr(field, "choices", ())
        words = "choose" if field.required else "none"
        if getattr(field, "empty_label", "") == DASHES:
            field.empty_label = words
        elif isinstance(field, forms.ChoiceField) and ("", DASHES) in choices:
            field.choices = [
                ("", words) if choice == ("", DASHES) else choice for choice in choices
            ]


class ActionForm(forms.Form):
    """Fields of one action; the hidden key makes a double tap act once."""

    key = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)

    def __init__(self, *args: Any, user: Any = None, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)
        self.user = user
        read_in_units_of(user, self)
        name_empty_choices(self)

    sections: Sequence[tuple[str, Sequence[str]]] = ()
    """Title and field names of each part of a long form; parts/form_sections.html shows them."""

    def in_sections(self) -> list[tuple[str, list[forms.BoundField], bool]]:
        """Title, fields and whether the section stands open: the first, or one with content."""
        shown = []
        for title, names in self.sections:
            fields = [self[name] for name in names if name in self.fields]
            filled = any(field.errors or self.says_something(field) for field in fields)
            shown.append((title, fields, filled or not shown))
        return shown

    def says_something(self, field: forms.BoundField) -> bool:
        return bool(field.value())

    @property
    def values(self) -> dict[str, Any]:
        """Cleaned values without the key, for actions that save a record."""
        return {name: value for name, value in self.cleaned_data.items() if name != "key"}

    @property
    def asked(self) -> dict[str, Any]:
        """Cleaned values with `key` and `by`, ready for the action."""
        return {**self.cleaned_data, "by": self.user}


class ActionPage(RoleRequired, FormView):
    """A form whose answer is one action.

    Set heading, submit_label, form_class and done_message; write act(form) to call the action
    (form.asked holds its arguments, key and by included) and done_url(result). What the action
    refuses stands on top of the form, with status 422, and nothing is lost of what was typed.
    A form without fields is a page that asks for confirmation.
    """

    role = "maker"
    template_name = "parts/action_page.html"
    form_class = ActionForm
    heading = ""
    sub = ""
    submit_label = "Save"
    done_message = "Saved."

    def act(self, form: ActionForm) -> Any:
        raise NotImplementedError(f"{type(self).__name__} must say which action it calls.")

    def done_url(self, result: Any) -> str:
        return result.get_absolute_url()

    def back_url(self) -> str:
        """Where the way back leads; empty for no link."""
        return ""

    def message_for(self, result: Any) -> str:
        return self.done_message

    def get_form_kwargs(self) -> dict:
        return {**super().get_form_kwargs(), "user": self.request.user}

    def form_valid(self, form: ActionForm) -> HttpResponse:
        try:
            result = self.act(form)
        except Refused as refusal:
            form.add_error(None, str(refusal))
            return self.form_invalid(form)
        if message := self.message_for(result):
            messages.success(self.request, message)
        return HttpResponseRedirect(self.done_url(result))

    def form_invalid(self, form: ActionForm) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=UNPROCESSABLE)

    def get_context_data(self, **kwargs: Any) -> dict:
        shown = {
            "heading": self.heading,
            "sub": self.sub,
            "submit_label": self.submit_label,
            "back": self.back_url(),
        }
        return super().get_context_data(**{**shown, **kwargs})
