"""A cutter fitted: a new one from stock, one set aside, or one back from regrinding."""

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.urls import reverse

from inventory.actions import fit, save_machine
from inventory.models import Fitting, Item, Lot, Machine, Regrind
from inventory.pages.cutter_choices import ChoiceWithItem, RegroundChoice, refuse_two_at_once
from inventory.pages.forms import ActionForm, ActionPage, DayField, LengthField
from inventory.pages.life import offset_words
from inventory.queries import cutter_lives as lives
from inventory.queries.regrinds import back_from_regrind

LABEL = re.compile(r"^[\w.\-]*$")


class FitForm(ActionForm):
    item = forms.ModelChoiceField(
        queryset=Item.objects.exclude(life_unit=""), to_field_name="code", label="Cutter"
    )
    machine = forms.ModelChoiceField(
        queryset=Machine.objects.all(), help_text="a new one is added on the page of the cutters"
    )
    pocket = forms.CharField(max_length=20, help_text="pocket or spindle, as on the machine")
    continues = ChoiceWithItem(
        queryset=Fitting.objects.none(),
        to_field_name="label",
        required=False,
        label="One set aside while still good",
        empty_label="no, a new one from stock",
        help_text="its life goes on where it stopped",
    )
    regrind = RegroundChoice(
        queryset=Regrind.objects.none(),
        required=False,
        label="One back from regrinding",
        empty_label="no",
        help_text="the same one with a new life",
    )
    lot = ChoiceWithItem(
        queryset=Lot.objects.none(),
        to_field_name="number",
        required=False,
        empty_label="the oldest there",
    )
    label = forms.CharField(
        max_length=20, required=False, help_text="empty: the next running number"
    )
    regrinds = forms.IntegerField(
        min_value=0, max_value=99, initial=0, required=False, label="Times reground"
    )
    diameter_um = LengthField(required=False, label="Measured diameter")
    work_material = forms.CharField(max_length=60, required=False, label="Cuts mostly")
    cutting_data = forms.CharField(
        max_length=60, required=False, label="Speed, feed and depth", help_text="as in the program"
    )
    day = DayField()
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        items = self.fields["item"].queryset
        if not self.is_bound and self.initial.get("item"):
            items = items.filter(code=self.initial["item"])
        self.fields["continues"].queryset = lives.set_aside().filter(item__in=items)
        self.fields["regrind"].queryset = back_from_regrind().filter(fitting__item__in=items)
        self.fields["lot"].queryset = (
            Lot.objects.filter(item__in=items, balances__qty__gt=0)
            .select_related("item")
            .order_by("item__code", "received_on", "pk")
            .distinct()
        )

    def clean_label(self) -> str:
        label = self.cleaned_data["label"]
        if not LABEL.match(label):
            raise ValidationError("Use letters, digits, points and hyphens only.")
        return label

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        refuse_two_at_once(cleaned)
        return cleaned

    def clean_regrinds(self) -> int:
        return self.cleaned_data["regrinds"] or 0


class FitCutter(ActionPage):
    form_class = FitForm
    heading = "Fit a cutter"
    sub = "One leaves the stock and its life in the pocket begins."
    submit_label = "Fit it"

    def get_initial(self) -> dict:
        return {
            name: self.request.GET[name] for name in self.request.GET if name in FitForm.base_fields
        }

    def act(self, form: FitForm) -> Fitting:
        return fit(**form.asked)

    def message_for(self, result: Fitting) -> str:
        words = f"{result} is in {result.machine}, pocket {result.pocket}."
        return words + offset_words(result, self.request.user.length_unit)

    def back_url(self) -> str:
        return reverse("cutters")


class MachineForm(ActionForm):
    name = forms.CharField(max_length=60)


class NewMachine(ActionPage):
    role = "owner"
    form_class = MachineForm
    heading = "New machine"
    submit_label = "Add it"

    def act(self, form: MachineForm) -> Machine:
        return save_machine(**form.asked)

    def message_for(self, result: Machine) -> str:
        return f"{result} is there. Now fit what is in it."

    def done_url(self, result: Machine) -> str:
        return reverse("cutter-fit")

    def back_url(self) -> str:
        return reverse("cutters")
