"""The start of a batch: its cuts as planned, or as they really went."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.forms import BoundField
from django.utils import timezone

from inventory.actions import start_batch
from inventory.models import Batch
from inventory.pages.batch_steps import BatchPage
from inventory.pages.cut_sheets import CutSheet, PieceSheet, cut_sheets
from inventory.pages.forms import ActionForm, DayField, PiecesField
from inventory.queries.batch_needs import batch_builds
from inventory.queries.cut_plans import start_plan

THIN_SPACE = "\u202f"
KEPT = "kept-"


class StartForm(ActionForm):
    """The day, and for each piece what was kept of it, filled in as planned."""

    day = DayField(help_text="The pieces are booked as cut on this day.")

    def __init__(self, *args: Any, sheets: Sequence[CutSheet] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.cut = [planned for sheet in sheets for planned in sheet.pieces]
        for planned in self.cut:
            field = PiecesField(
                label=f"Kept of {planned.piece.label}",
                required=False,
                initial="\n".join(planned.remnants).replace(THIN_SPACE, ""),
                help_text="A size a line; empty when nothing was worth keeping.",
            )
            field.read_for(self.user)
            self.fields[KEPT + planned.piece.label] = field

    def kept_of(self, planned: PieceSheet) -> BoundField:
        return self[KEPT + planned.piece.label]

    def kept(self) -> Mapping[str, list[tuple[int, int | None]]]:
        """Sizes by piece where they differ from the plan."""
        return {
            planned.piece.label: [
                (length, width)
                for length, width, count in self.cleaned_data[KEPT + planned.piece.label]
                for _ in range(count)
            ]
            for planned in self.cut
            if self._is_otherwise(self.kept_of(planned))
        }

    def _is_otherwise(self, kept: BoundField) -> bool:
        return kept.data is not None and _lines(kept.data) != _lines(kept.initial)


class StartBatch(BatchPage):
    what = "Start"
    template_name = "batches/start.html"
    form_class = StartForm
    submit_label = "It is cut: start"
    done_message = "In work. Count each stage when it is done."

    def get_form_kwargs(self) -> dict:
        self.sheets = self._sheets()
        return {**super().get_form_kwargs(), "sheets": self.sheets}

    def act(self, form: StartForm) -> Batch:
        own = ("key", "by", "day", "sure")
        asked = {name: value for name, value in form.asked.items() if name in own}
        return start_batch(batch=self.batch, kept=form.kept(), **asked)

    def get_context_data(self, **kwargs: Any) -> dict:
        shown = super().get_context_data(**kwargs)
        form = shown["form"]
        cuts = [
            (sheet, [(planned, form.kept_of(planned)) for planned in sheet.pieces])
            for sheet in self.sheets
        ]
        return {**shown, "batch": self.batch, "cuts": cuts}

    def _sheets(self) -> list[CutSheet]:
        if self.batch.state != Batch.State.RESERVED:
            return []
        plan = start_plan(self.batch, batch_builds(self.batch), timezone.localdate())
        return cut_sheets(plan.cuts, self.request.user)


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]
