"""A line of the reorder list put aside for a while, and brought back."""

from datetime import date, timedelta
from typing import Any

from django import forms
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from inventory.actions import end_snooze, snooze_item
from inventory.models import Item
from inventory.pages import display
from inventory.pages.forms import ActionForm, ActionPage, DayField
from inventory.queries.forecast_inputs import latest_run
from inventory.queries.reorder_list import reorder_lines


def in_a_week() -> date:
    return timezone.localdate() + timedelta(weeks=1)


class SnoozeForm(ActionForm):
    until = DayField(label="Back on the list on", initial=in_a_week)
    reason = forms.CharField(max_length=120, required=False, help_text="for whoever looks next")


class OfAnItem(ActionPage):
    """A page about one item's line, back to the list when done."""

    def setup(self, *args: Any, **kwargs: Any) -> None:
        super().setup(*args, **kwargs)
        self.item = get_object_or_404(Item, code=self.kwargs["code"])

    def done_url(self, result: Item | None) -> str:
        return reverse("reorder")

    def back_url(self) -> str:
        return self.done_url(None)


class SnoozeLine(OfAnItem):
    form_class = SnoozeForm
    submit_label = "Put it aside"
    sub = (
        "It leaves the list and nothing is ordered. It is back on that day, or earlier when it "
        "would run out more than two days earlier than is expected now."
    )

    def get_context_data(self, **kwargs: Any) -> dict:
        self.heading = f"Put {self.item.code} aside"
        return super().get_context_data(**kwargs)

    def act(self, form: SnoozeForm) -> Item:
        today, self.until = timezone.localdate(), form.cleaned_data["until"]
        return snooze_item(item=self.item, day=today, runs_out=self._runs_out(today), **form.asked)

    def _runs_out(self, today: date) -> date | None:
        run = latest_run()
        lines = reorder_lines(run, today, [self.item.pk]) if run else []
        return lines[0].runs_out.expected if lines else None

    def message_for(self, result: Item) -> SafeString:
        until = display.day(self.until)
        undo = reverse("reorder-wake", args=[result.code])
        return format_html(
            '{} is put aside until {}. <a class="button" href="{}">Undo</a>',
            *(result.code, until, undo),
        )


class BringBack(OfAnItem):
    submit_label = "Bring it back"
    sub = "It stands on the list again, if it is due or will be soon."

    def get_context_data(self, **kwargs: Any) -> dict:
        self.heading = f"Bring {self.item.code} back to the list"
        return super().get_context_data(**kwargs)

    def act(self, form: ActionForm) -> Item:
        return end_snooze(item=self.item, **form.asked)

    def message_for(self, result: Item) -> str:
        return f"{result.code} is no longer put aside."
