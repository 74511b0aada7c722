"""An entry of life used put right: taken back, or moved to the cutter that did the work."""

from typing import Any

from django import forms
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from inventory.actions import move_wear, reverse_wear
from inventory.days import show_day
from inventory.models import Fitting, WearLog
from inventory.pages.cutter_log import FittingAction, LifeDayForm
from inventory.pages.life import life_text
from inventory.queries import cutter_lives as lives


class EntryAction(FittingAction):
    """An action on one entry of a cutter."""

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.log = get_object_or_404(WearLog, pk=kwargs["pk"], fitting=self.fitting)
        self.sub = (
            f"{life_text(self.log.amount, self.fitting.item.life_unit)} of {show_day(self.log.day)}, "
            f"{self.sub}"
        )


class UndoForm(LifeDayForm):
    pass


class UndoWear(EntryAction):
    form_class = UndoForm
    heading = "Take an entry back"
    submit_label = "Take it back"
    done_message = "Taken back. Both lines stay in the record."

    def act(self, form: UndoForm) -> WearLog:
        return reverse_wear(log=self.log, **form.asked)


class FittedChoice(forms.ModelChoiceField):
    """Cutters by the pocket they are or were in."""

    def label_from_instance(self, obj: Fitting) -> str:
        out = (
            "" if obj.is_fitted else f", {obj.get_end_reason_display()} {show_day(obj.removed_on)}"
        )
        return f"{obj.machine}, pocket {obj.pocket}: {obj} ({obj.item.code}){out}"


class MoveForm(LifeDayForm):
    to = FittedChoice(queryset=Fitting.objects.none(), to_field_name="label", label="It belongs to")
    field_order = ["key", "to", "day"]


class MoveWear(EntryAction):
    form_class = MoveForm
    heading = "Move an entry"
    submit_label = "Move it"

    def get_form(self, form_class: type | None = None) -> MoveForm:
        form = super().get_form(form_class)
        others = lives.in_a_machine_on(self.log.day).exclude(pk=self.fitting.pk)
        form.fields["to"].queryset = others.filter(item__life_unit=self.fitting.item.life_unit)
        return form

    def act(self, form: MoveForm) -> WearLog:
        return move_wear(log=self.log, **form.asked)

    def done_url(self, result: WearLog) -> str:
        return result.fitting.get_absolute_url()

    def message_for(self, result: WearLog) -> str:
        return (
            f"{life_text(result.amount, self.fitting.item.life_unit)} moved from {self.fitting} to "
            f"{result.fitting}."
        )
