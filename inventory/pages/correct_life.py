"""The record of a cutter put right: why it came out, that it never did, what was only read or sent."""

from typing import Any

from django import forms
from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.utils import timezone

from inventory.actions import (
    confirm_life,
    correct_end_reason,
    put_back_in,
    take_back_reading,
    take_back_regrind,
)
from inventory.days import show_day
from inventory.models import Fitting, Regrind, WearReading
from inventory.pages.cutter_log import FittingAction
from inventory.pages.forms import ActionForm


class ReasonForm(ActionForm):
    reason = forms.ChoiceField(label="It was", choices=Fitting.EndReason.choices)


class CorrectReason(FittingAction):
    form_class = ReasonForm
    heading = "Correct why it came out"
    submit_label = "Correct it"

    def get_initial(self) -> dict[str, Any]:
        return {"reason": self.fitting.end_reason}

    def act(self, form: ReasonForm) -> Fitting:
        return correct_end_reason(fitting=self.fitting, **form.asked)

    def message_for(self, result: Fitting) -> str:
        return f"{result} was {result.get_end_reason_display()}. What stood there before is kept."


class PutBackIn(FittingAction):
    heading = "It never came out"
    submit_label = "It is still in"

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.sub += ". The one noted after it goes back where it came from."

    def act(self, form: ActionForm) -> Fitting:
        return put_back_in(fitting=self.fitting, day=timezone.localdate(), **form.asked)

    def message_for(self, result: Fitting) -> str:
        return f"{result} is in {result.machine}, pocket {result.pocket}, and its life goes on."


class ConfirmLife(FittingAction):
    heading = "Count this life all the same"
    submit_label = "It is true, count it"

    def act(self, form: ActionForm) -> Fitting:
        return confirm_life(fitting=self.fitting, **form.asked)

    def message_for(self, result: Fitting) -> str:
        return f"{result} is counted among the lives of {result.item.code}."


class TakeBackReading(FittingAction):
    heading = "Take a reading back"
    submit_label = "Take it back"
    done_message = "Taken back. What it read is kept below."

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.reading = get_object_or_404(WearReading, pk=kwargs["pk"], fitting=self.fitting)
        self.sub = f"{self.reading}, {show_day(self.reading.day)} · {self.sub}"

    def act(self, form: ActionForm) -> Fitting:
        return take_back_reading(reading=self.reading, **form.asked)


class TakeBackRegrind(FittingAction):
    heading = "It wasn't sent out"
    submit_label = "It is still here"

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.regrind = get_object_or_404(Regrind, fitting=self.fitting)

    def act(self, form: ActionForm) -> Fitting:
        return take_back_regrind(regrind=self.regrind, **form.asked)

    def message_for(self, result: Fitting) -> str:
        return f"{result} is here, not out to be reground."
