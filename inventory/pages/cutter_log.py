"""What is done to a cutter: fitted, used, measured, changed, an entry taken back."""

import re
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from inventory.actions import fit, log_wear, read_wear, remove, reverse_wear, save_machine, swap
from inventory.days import show_day
from inventory.models import Batch, Fitting, Item, Lot, Machine, WearLog, WearReading
from inventory.pages.forms import ActionForm, ActionPage, DayField, LengthField, QuantityFormField
from inventory.pages.life import life_text
from inventory.queries import cutter_lives as lives

ENDS = Fitting.EndReason
LABEL = re.compile(r"^[\w.\-]*$")


class LifeDayForm(ActionForm):
    """A form whose day is today unless another is typed: a thumb leaves it out."""

    day = DayField(required=False)

    def clean_day(self) -> date:
        today = timezone.localdate()
        day = self.cleaned_data["day"] or today
        if day > today:
            raise ValidationError(
                f"{show_day(day)} is in the future. Log it on the day it happens."
            )
        return day


class FittingAction(ActionPage):
    """An action on one cutter; the way back is its page."""

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.fitting = get_object_or_404(lives.fittings(), label=kwargs["label"])
        self.sub = (
            f"{self.fitting.item.code} · {self.fitting.label} · "
            f"{self.fitting.machine}, pocket {self.fitting.pocket}"
        )

    def back_url(self) -> str:
        return self.fitting.get_absolute_url()

    def done_url(self, result: Any) -> str:
        return self.fitting.get_absolute_url()


class LogForm(LifeDayForm):
    amount = QuantityFormField(label="Life used")
    batch = forms.ModelChoiceField(
        queryset=Batch.objects.filter(state=Batch.State.IN_WORK),
        to_field_name="number",
        required=False,
        empty_label="no batch",
    )
    operation = forms.CharField(max_length=60, required=False)
    field_order = ["key", "amount", "batch", "operation", "day"]


class LogWear(FittingAction):
    form_class = LogForm
    heading = "Log life used"
    submit_label = "Log it"

    def get_form(self, form_class: type | None = None) -> LogForm:
        form = super().get_form(form_class)
        form.fields["amount"].label = f"Life used, in {self.fitting.item.get_life_unit_display()}"
        form.fields["amount"].widget.attrs["inputmode"] = "decimal"
        return form

    def act(self, form: LogForm) -> WearLog:
        return log_wear(fitting=self.fitting, **form.asked)

    def message_for(self, result: WearLog) -> str:
        return f"{life_text(result.amount, self.fitting.item.life_unit)} logged on {self.fitting}."


class ReadForm(LifeDayForm):
    vb_um = forms.IntegerField(
        label="Wear land VB in µm",
        min_value=0,
        help_text="the widest place on the flank, under the loupe (ISO 8688-2)",
    )
    field_order = ["key", "vb_um", "day"]


class ReadWear(FittingAction):
    form_class = ReadForm
    heading = "Note a wear land reading"
    submit_label = "Note it"

    def act(self, form: ReadForm) -> WearReading:
        return read_wear(fitting=self.fitting, **form.asked)

    def message_for(self, result: WearReading) -> str:
        limit = self.fitting.item.wear_limit_um
        words = f"{result.vb_um} µm noted on {self.fitting}."
        if limit and result.vb_um >= limit:
            return f"{words} That is at its limit of {limit} µm: change it."
        return words


class ChangeForm(LifeDayForm):
    reason = forms.ChoiceField(label="It was", choices=ENDS.choices)
    fit_next = forms.BooleanField(
        label="Fit the next one from stock in the same pocket", required=False
    )
    note = forms.CharField(max_length=200, required=False)
    field_order = ["key", "reason", "fit_next", "note", "day"]


class ChangeCutter(FittingAction):
    form_class = ChangeForm
    heading = "Change it"
    submit_label = "Take it out"
    initial = {"fit_next": True}

    def act(self, form: ChangeForm) -> Fitting:
        asked = form.asked
        change = swap if asked.pop("fit_next") else remove
        return change(fitting=self.fitting, **asked)

    def done_url(self, result: Fitting) -> str:
        return result.get_absolute_url() if result.is_fitted else reverse("cutters")

    def message_for(self, result: Fitting) -> str:
        if result.is_fitted:
            return (
                f"{self.fitting} is out. {result} is in {result.machine}, pocket {result.pocket}."
            )
        return (
            f"{self.fitting} is out; {self.fitting.machine}, pocket {self.fitting.pocket} is empty."
        )


class UndoForm(LifeDayForm):
    pass


class UndoWear(FittingAction):
    form_class = UndoForm
    heading = "Take an entry back"
    submit_label = "Take it back"
    done_message = "Taken back. Both lines stay in the record."

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.log = get_object_or_404(WearLog, pk=kwargs["pk"], fitting=self.fitting)
        self.sub = (
            f"{life_text(self.log.amount, self.fitting.item.life_unit)} of {show_day(self.log.day)}, "
            f"{self.sub}"
        )

    def act(self, form: UndoForm) -> WearLog:
        return reverse_wear(log=self.log, **form.asked)


class ChoiceWithItem(forms.ModelChoiceField):
    """Lots or cutters, each with the code of its item."""

    def label_from_instance(self, obj: Lot | Fitting) -> str:
        return f"{obj.item.code} {obj}"


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
    day = DayField()
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        items = self.fields["item"].queryset
        if not self.is_bound and self.initial.get("item"):
            items = items.filter(code=self.initial["item"])
        self.fields["continues"].queryset = lives.set_aside().filter(item__in=items)
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
        return f"{result} is in {result.machine}, pocket {result.pocket}."

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
