"""A cutter sent out to be reground, and taken back."""

from typing import Any

from django import forms
from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.urls import reverse

from inventory.actions import bring_back_reground, send_to_regrind
from inventory.days import show_day
from inventory.models import Regrind, Supplier
from inventory.pages.cutter_log import FittingAction, LifeDayForm
from inventory.pages.forms import LengthField


class SendForm(LifeDayForm):
    vendor = forms.ModelChoiceField(
        queryset=Supplier.objects.all(), required=False, empty_label="ground in house"
    )
    note = forms.CharField(max_length=200, required=False)
    field_order = ["key", "vendor", "note", "day"]


class SendToRegrind(FittingAction):
    form_class = SendForm
    heading = "Send it to be reground"
    submit_label = "It is on its way"

    def act(self, form: SendForm) -> Regrind:
        return send_to_regrind(fitting=self.fitting, **form.asked)

    def done_url(self, result: Regrind) -> str:
        return reverse("cutters")

    def message_for(self, result: Regrind) -> str:
        where = f"with {result.vendor}" if result.vendor else "being ground in house"
        return f"{self.fitting} is {where}."


class BackForm(LifeDayForm):
    diameter_um = LengthField(required=False, label="Measured diameter")
    is_usable = forms.BooleanField(label="It can be fitted again", required=False, initial=True)
    note = forms.CharField(max_length=200, required=False)
    field_order = ["key", "diameter_um", "is_usable", "note", "day"]


class BringBackReground(FittingAction):
    form_class = BackForm
    heading = "Back from regrinding"
    submit_label = "It is back"

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.regrind = get_object_or_404(
            Regrind.objects.select_related("vendor"), fitting=self.fitting
        )
        self.sub = f"{self.sub} · out since {show_day(self.regrind.sent_on)}"

    def act(self, form: BackForm) -> Regrind:
        return bring_back_reground(regrind=self.regrind, **form.asked)

    def done_url(self, result: Regrind) -> str:
        return self.fitting.get_absolute_url()

    def message_for(self, result: Regrind) -> str:
        if not result.is_usable:
            return f"{self.fitting} is back and not used any more."
        return f"{self.fitting} is back. Fit it when it is needed; its new life starts at nothing."
