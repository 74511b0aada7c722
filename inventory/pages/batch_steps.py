"""Steps of a batch, each as a form: hold, give back, count, cancel."""

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404
from django.utils import timezone

from inventory.actions import (
    cancel_batch,
    count_stage,
    release_batch,
    reserve_batch,
)
from inventory.errors import AlreadyDone, Refused
from inventory.models import Batch, BatchLine, Operation, StageCount
from inventory.pages.batch_words import batch_words
from inventory.pages.forms import ActionForm, DayField, RecordActionPage
from inventory.queries.batches import batches_with_lines, line_stages

CAUSES = ["over-ground", "clamp slip", "warped", "cracked", "size", "finish", "handle gap"]


class BatchPage(RecordActionPage):
    """An action on one batch."""

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.batch = self.about = get_object_or_404(batches_with_lines(), number=kwargs["number"])
        self.heading = f"{self.what} batch {self.batch.number}"
        self.sub = batch_words(self.batch)

    def form_refused(self, form: ActionForm, refusal: Refused) -> HttpResponse:
        """The second of two taps asks about a batch that is further on, so it only looks other."""
        if not isinstance(refusal, AlreadyDone):
            return super().form_refused(form, refusal)
        messages.warning(
            self.request,
            "This form was sent before. What it said the first time stands; this is the batch now.",
        )
        return HttpResponseRedirect(self.back_url())


class ReserveBatch(BatchPage):
    what = "Hold everything for"
    submit_label = "Hold it"
    done_message = "Everything is held. The bench sheet now names pieces and lots."

    def act(self, form: ActionForm) -> Batch:
        return reserve_batch(batch=self.batch, day=timezone.localdate(), **form.asked)


class ReleaseBatch(BatchPage):
    what = "Give back what is held for"
    submit_label = "Give it back"
    done_message = "Nothing is held any more; the batch stays planned."

    def act(self, form: ActionForm) -> Batch:
        return release_batch(batch=self.batch, **form.asked)


class CancelForm(ActionForm):
    day = DayField()
    note = forms.CharField(
        label="Why, and what becomes of the blanks", max_length=200, required=False
    )


class CancelBatch(BatchPage):
    what = "Cancel"
    form_class = CancelForm
    submit_label = "Cancel the batch"
    done_message = "Cancelled. What was held is free again."

    def act(self, form: CancelForm) -> Batch:
        return cancel_batch(batch=self.batch, **form.asked)


class CountForm(ActionForm):
    """Scrapped at one stage of one line; both are hidden, the page names them."""

    line = forms.ModelChoiceField(BatchLine.objects.all(), widget=forms.HiddenInput)
    operation = forms.ModelChoiceField(
        Operation.objects.select_related("bill"), widget=forms.HiddenInput
    )
    scrapped = forms.IntegerField(
        label="Scrapped here",
        min_value=0,
        initial=0,
        widget=forms.NumberInput({"inputmode": "numeric"}),
    )
    cause = forms.CharField(
        label="Why", max_length=80, required=False, widget=forms.TextInput({"list": "causes"})
    )
    day = DayField()


class CountStage(BatchPage):
    what = "Count a stage of"
    template_name = "batches/count.html"
    form_class = CountForm
    submit_label = "Count it"

    def get_initial(self) -> dict:
        ahead = [line for line in line_stages(self.batch) if line.ahead]
        if not ahead:
            return {}
        return {"line": ahead[0].line, "operation": ahead[0].ahead.operation}

    def act(self, form: CountForm) -> StageCount:
        if form.cleaned_data["line"].batch_id != self.batch.pk:
            raise Refused(f"That line isn't of batch {self.batch.number}. Open the batch again.")
        return count_stage(**form.asked)

    def message_for(self, result: StageCount) -> str:
        lost = f", {result.scrapped} scrapped" if result.scrapped else ""
        return f"{result.operation.name}: {result.good} good{lost}."

    def get_context_data(self, **kwargs: Any) -> dict:
        return super().get_context_data(
            batch=self.batch, lines=line_stages(self.batch), causes=CAUSES, **kwargs
        )
