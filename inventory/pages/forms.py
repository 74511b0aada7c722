"""Forms that end in one action, with the fields people type quantities and sizes into."""

import uuid
from collections.abc import Sequence
from typing import Any

from django import forms
from django.contrib import messages
from django.db.models import Model
from django.db.models.fields import BLANK_CHOICE_DASH
from django.http import HttpResponse, HttpResponseRedirect
from django.utils import timezone
from django.views.generic import FormView

from inventory.errors import NotSure, Refused
from inventory.pages.access import RoleRequired
from inventory.pages.typed_fields import (
    LengthField,
    PiecesField,
    QuantityFormField,
    SizeField,
    TypedField,
)

__all__ = [
    "ActionForm",
    "ActionPage",
    "DayField",
    "LengthField",
    "PiecesField",
    "QuantityFormField",
    "RecordActionPage",
    "SizeField",
    "name_empty_choices",
    "read_in_units_of",
]

UNPROCESSABLE = 422
DASHES = BLANK_CHOICE_DASH[0][1]


class DayField(forms.DateField):
    """A day, today unless another is chosen."""

    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"label": "Day", "initial": timezone.localdate, **kwargs})


def read_in_units_of(user: Any, form: forms.Form) -> None:
    """Read bare numbers in the units the person chose."""
    for field in form.fields.values():
        if isinstance(field, TypedField) and user:
            field.read_for(user)


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
        """Cleaned values with `key` and `by`, ready for the action; `sure` once that is ticked."""
        sure = {"sure": True} if self.data.get("sure") else {}
        return {**self.cleaned_data, "by": self.user, **sure}

    def ask_back(self) -> None:
        """Let whoever fills it in say that it is true all the same."""
        self.fields["sure"] = forms.BooleanField(label="Yes, all the same", required=False)


class ActionPage(RoleRequired, FormView):
    """A form whose answer is one action.

    Set heading, submit_label, form_class and done_message; write act(form) to call the action
    (form.asked holds its arguments, key and by included) and done_url(result). What the action
    refuses stands on top of the form, with status 422, and nothing is lost of what was typed; where
    it asks back, a box to tick is added.
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
            return self.form_refused(form, refusal)
        if message := self.message_for(result):
            messages.success(self.request, message)
        return HttpResponseRedirect(self.done_url(result))

    def form_refused(self, form: ActionForm, refusal: Refused) -> HttpResponse:
        words = str(refusal)
        if isinstance(refusal, NotSure):
            form.ask_back()
            words = f"{words} If so, tick the last box."
        form.add_error(None, words)
        return self.form_invalid(form)

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


class RecordActionPage(ActionPage):
    """An action on one record, `what` in its heading; the record's page is the way on and back.

    Set `about` in setup.
    """

    what = ""
    about: Model

    def done_url(self, result: Any) -> str:
        return self.about.get_absolute_url()

    def back_url(self) -> str:
        return self.about.get_absolute_url()
