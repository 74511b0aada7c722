"""What is done to a fitted cutter: used, measured, changed."""

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from inventory.actions import log_wear, read_wear, remove, swap
from inventory.days import show_day
from inventory.models import Batch, Fitting, Regrind, WearLog, WearReading
from inventory.pages.cutter_choices import ChoiceWithItem, RegroundChoice, refuse_two_at_once
from inventory.pages.forms import ActionForm, DayField, QuantityFormField, RecordActionPage
from inventory.pages.life import life_text, offset_words
from inventory.queries import cutter_lives as lives
from inventory.queries.regrinds import back_from_regrind

ENDS = Fitting.EndReason


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


class FittingAction(RecordActionPage):
    """An action on one cutter."""

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.fitting = self.about = get_object_or_404(lives.fittings(), label=kwargs["label"])
        self.sub = (
            f"{self.fitting.item.code} · {self.fitting.label} · "
            f"{self.fitting.machine}, pocket {self.fitting.pocket}"
        )


class LogForm(LifeDayForm):
    """Asks back once where the entry would make the life of `fitting` too long to be true."""

    fitting: Fitting
    amount = QuantityFormField(label="Life used")
    batch = forms.ModelChoiceField(
        queryset=Batch.objects.filter(state=Batch.State.IN_WORK),
        to_field_name="number",
        required=False,
        empty_label="no batch",
    )
    operation = forms.CharField(max_length=60, required=False)
    sure = forms.BooleanField(label="It is true, log it", required=False, widget=forms.HiddenInput)
    field_order = ["key", "amount", "batch", "operation", "day", "sure"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        amount = cleaned.get("amount")
        if cleaned.pop("sure", False) or not amount:
            return cleaned
        if lives.would_be_implausible(self.fitting, amount):
            self.fields["sure"].widget = forms.CheckboxInput()
            unit = self.fitting.item.life_unit
            raise ValidationError(
                f"With {life_text(amount, unit)} more, {self.fitting} would have run "
                f"{life_text(self.fitting.life_used + amount, unit)}, far beyond its usual life and any "
                "other. Check the amount, and whether a change wasn't logged. If it is true, tick the "
                "last box."
            )
        return cleaned


class LogWear(FittingAction):
    form_class = LogForm
    heading = "Log life used"
    submit_label = "Log it"

    def get_form(self, form_class: type | None = None) -> LogForm:
        form = super().get_form(form_class)
        form.fields["amount"].label = f"Life used, in {self.fitting.item.get_life_unit_display()}"
        form.fields["amount"].widget.attrs["inputmode"] = "decimal"
        form.fitting = self.fitting
        return form

    def act(self, form: LogForm) -> WearLog:
        return log_wear(fitting=self.fitting, **form.asked)

    def message_for(self, result: WearLog) -> str:
        return f"{life_text(result.amount, self.fitting.item.life_unit)} logged on {self.fitting}."


class ReadForm(LifeDayForm):
    vb_um = forms.IntegerField(
        label="Wear land VB in µm",
        min_value=0,
        required=False,
        help_text="the widest place on the flank, under the loupe (ISO 8688-2)",
    )
    level = forms.ChoiceField(
        label="Or by eye", choices=[("", "measured"), *WearReading.Level.choices], required=False
    )
    field_order = ["key", "vb_um", "level", "day"]


class ReadWear(FittingAction):
    form_class = ReadForm
    heading = "Note how worn it is"
    submit_label = "Note it"

    def act(self, form: ReadForm) -> WearReading:
        return read_wear(fitting=self.fitting, **form.asked)

    def message_for(self, result: WearReading) -> str:
        if result.level:
            words = f"{self.fitting} noted as {result.get_level_display()}."
            return f"{words} Change it." if result.level == WearReading.Level.WORN else words
        limit = self.fitting.item.wear_limit_um
        words = f"{result.vb_um} µm noted on {self.fitting}."
        if limit and result.vb_um >= limit:
            return f"{words} That is at its limit of {limit} µm: change it."
        return words


class ChangeForm(LifeDayForm):
    reason = forms.ChoiceField(label="It was", choices=ENDS.choices)
    fit_next = forms.BooleanField(label="Fit the next one in the same pocket", required=False)
    regrind = RegroundChoice(
        queryset=Regrind.objects.none(),
        required=False,
        label="Namely one back from regrinding",
        empty_label="no, a new one from stock",
    )
    continues = ChoiceWithItem(
        queryset=Fitting.objects.none(),
        to_field_name="label",
        required=False,
        label="Or one set aside while still good",
        empty_label="no",
    )
    note = forms.CharField(max_length=200, required=False)
    field_order = ["key", "reason", "fit_next", "regrind", "continues", "note", "day"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        refuse_two_at_once(cleaned)
        return cleaned


class ChangeCutter(FittingAction):
    form_class = ChangeForm
    heading = "Change it"
    submit_label = "Take it out"
    initial = {"fit_next": True}

    def get_form(self, form_class: type | None = None) -> ChangeForm:
        form = super().get_form(form_class)
        item = self.fitting.item
        for name, choices in (
            ("regrind", back_from_regrind().filter(fitting__item=item)),
            ("continues", lives.set_aside().filter(item=item)),
        ):
            form.fields[name].queryset = choices
            if not choices:
                form.fields[name].widget = form.fields[name].hidden_widget()
        return form

    def act(self, form: ChangeForm) -> Fitting:
        asked = form.asked
        if asked.pop("fit_next"):
            return swap(fitting=self.fitting, **asked)
        kept = {name: asked[name] for name in ("key", "by", "reason", "note", "day")}
        return remove(fitting=self.fitting, **kept)

    def done_url(self, result: Fitting) -> str:
        return result.get_absolute_url() if result.is_fitted else reverse("cutters")

    def message_for(self, result: Fitting) -> str:
        if result.is_fitted:
            return (
                f"{self.fitting} is out. {result} is in {result.machine}, pocket {result.pocket}."
                f"{offset_words(result, self.request.user.length_unit)}"
            )
        return (
            f"{self.fitting} is out; {self.fitting.machine}, pocket {self.fitting.pocket} is empty."
        )
