"""Use outside batches that won't come again: left out of forecasts, or counted in after all."""

from typing import Any

from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from inventory.actions import count_use_in, leave_out_use
from inventory.models import Posting
from inventory.pages import display
from inventory.pages.forms import ActionForm, ActionPage
from inventory.queries.exceptional_use import same_occasion
from inventory.units import show_quantity


class OfAnEntry(ActionPage):
    """A page about the occasion of one ledger entry, back to the entry when done."""

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.posting = get_object_or_404(Posting, pk=kwargs["pk"])
        self.entries = list(same_occasion(self.posting).prefetch_related("movements__item"))

    def occasion(self) -> str:
        """What was taken that day: “BAR-4X40 170 mm on 3 Mar 2025 (one-off)”."""
        why = ": ".join(filter(None, [self.posting.reason, self.posting.note]))
        return f"{self._taken()} on {display.day(self.posting.day)} ({why})"

    def _taken(self) -> str:
        taken = {}
        for entry in self.entries:
            for line in entry.movements.all():
                taken[line.item] = taken.get(line.item, 0) - line.qty
        return ", ".join(
            f"{item.code} {show_quantity(qty, item.stock_unit)}" for item, qty in taken.items()
        )

    def done_url(self, result: Posting) -> str:
        return reverse("entry", args=[result.pk])

    def back_url(self) -> str:
        return self.done_url(self.posting)


class LeaveOut(OfAnEntry):
    submit_label = "Not expected again"

    def get_context_data(self, **kwargs: Any) -> dict:
        self.heading = f"Leave entry {self.posting.pk} out of forecasts"
        if self.entries:
            self.sub = (
                f"{self.occasion()}. It stays in the ledger and in every report; forecasts from "
                "today on reckon as if it won't come again."
            )
        return super().get_context_data(**kwargs)

    def act(self, form: ActionForm) -> Posting:
        return leave_out_use(posting=self.posting, day=timezone.localdate(), **form.asked)

    def message_for(self, result: Posting) -> str:
        return f"{self.occasion()}: not expected again. The next forecast leaves it out."


class CountIn(OfAnEntry):
    submit_label = "Count it in again"

    def get_context_data(self, **kwargs: Any) -> dict:
        self.heading = f"Count entry {self.posting.pk} in again"
        if self.entries:
            self.sub = f"{self.occasion()}. Forecasts reckon again with such use."
        return super().get_context_data(**kwargs)

    def act(self, form: ActionForm) -> Posting:
        return count_use_in(posting=self.posting, **form.asked)

    def message_for(self, result: Posting) -> str:
        return f"{self.occasion()}: counted in by the next forecast."
