"""Finishing a batch: what was scrapped on the way, and what took more or less than the bill says."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone

from inventory.actions import StageTally, finish_batch
from inventory.days import show_day
from inventory.models import Batch, Fitting
from inventory.pages import display
from inventory.pages.batch_steps import CAUSES, BatchPage
from inventory.pages.forms import ActionForm, DayField, QuantityFormField
from inventory.queries.batch_use import (
    ProposedWear,
    fitted_by_then,
    made_parts_used,
    proposed_use,
    proposed_wear,
    taken_out_during,
    wear_logged,
)
from inventory.queries.batches import LineStages, builds_after, line_stages
from inventory.queries.bills import made_bills
from inventory.units import show_number


class FinishForm(ActionForm):
    """Fields for every stage not counted, every item and every fitted cutter of the batch."""

    day = DayField()

    def __init__(self, *args: Any, batch: Batch, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.batch = batch
        self.lines = line_stages(batch)
        self.made_used, self.bills = made_parts_used(batch), made_bills()
        builds = builds_after(batch, {})
        for line in self.lines:
            self._ask_scrap(line)
        for item, qty in proposed_use(builds, self.made_used, self.bills):
            self._ask_use(item, qty)
        rows = self._proposed_wear(builds)
        self.gone = taken_out_during(batch, rows)
        for one, number in self.gone:
            self._ask_gone(one, rows[number])
        for row in rows:
            if row.fitting is not None:
                self._ask_wear(row)
        asked = {number for _, number in self.gone}
        self.nowhere = [
            f"{row.item.code}, {show_number(row.life, 1)} {row.item.life_unit}"
            for number, row in enumerate(rows)
            if row.fitting is None and row.life and number not in asked
        ]

    def _ask_scrap(self, line: LineStages) -> None:
        for stage in line.uncounted:
            name = f"{line.line.pk}-{stage.operation.pk}"
            self.fields[f"scrap-{name}"] = forms.IntegerField(
                label=f"Scrapped at {stage.operation}",
                min_value=0,
                required=False,
                initial=0,
                widget=forms.NumberInput({"inputmode": "numeric"}),
            )
            self.fields[f"cause-{name}"] = forms.CharField(
                label="Why",
                max_length=80,
                required=False,
                widget=forms.TextInput({"list": "causes"}),
            )

    def _ask_use(self, item: Any, qty: Decimal) -> None:
        shown = display.quantity_text(qty, item.stock_unit, self.user)
        field = QuantityFormField(
            label=f"{item.code} {item.name}", required=False, help_text=f"By the bill {shown}."
        )
        field.of(item)
        field.read_for(self.user)
        self.fields[f"used-{item.pk}"] = field

    def _ask_wear(self, row: Any) -> None:
        self.fields[f"wear-{row.fitting.pk}"] = QuantityFormField(
            label=f"{row.item.code}, {row.fitting.machine} {row.fitting.pocket}",
            required=False,
            help_text=f"By the bill {show_number(row.life, 1)} {row.item.life_unit}.",
        )

    def _ask_gone(self, one: Fitting, row: ProposedWear) -> None:
        out = f"{one.get_end_reason_display()} {show_day(one.removed_on)}"
        after = f"; the rest goes on {row.fitting}" if row.fitting else "; nothing is fitted now"
        self.fields[f"gone-{one.pk}"] = QuantityFormField(
            label=f"{one}, {one.item.code} in {one.machine} {one.pocket} ({out}), in {one.item.life_unit}",
            help_text=(
                f"Nothing is logged on it for this batch. By the bill "
                f"{show_number(row.life, 1)} {row.item.life_unit} are left in all{after}. "
                "0 if it did none of it."
            ),
        )

    @property
    def scrap_lines(self) -> list[tuple[LineStages, list]]:
        """Each line with the two fields of every stage that isn't counted yet."""
        return [
            (
                line,
                [
                    [
                        self[f"{part}-{line.line.pk}-{stage.operation.pk}"]
                        for part in ("scrap", "cause")
                    ]
                    for stage in line.uncounted
                ],
            )
            for line in self.lines
        ]

    @property
    def use_fields(self) -> list:
        return [self[name] for name in self.fields if name.startswith("used-")]

    @property
    def wear_fields(self) -> list:
        return [self[name] for name in self.fields if name.startswith("wear-")]

    @property
    def gone_fields(self) -> list:
        return [self[name] for name in self.fields if name.startswith("gone-")]

    @property
    def tallies(self) -> dict[tuple[int, int], StageTally]:
        """Scrapped by (batch line id, operation id)."""
        asked = self.cleaned_data
        found = {}
        for line in self.lines:
            for stage in line.uncounted:
                name = f"{line.line.pk}-{stage.operation.pk}"
                scrapped = asked[f"scrap-{name}"] or 0
                found[line.line.pk, stage.operation.pk] = StageTally(
                    scrapped, asked[f"cause-{name}"]
                )
        return found

    @property
    def used(self) -> dict[int, Decimal]:
        return self._typed("used-")

    @property
    def wear(self) -> dict[int, Decimal] | None:
        """Life used by fitting: as typed, the others by the bill for the knives that got there."""
        typed, gone = self._typed("wear-"), self._typed("gone-")
        if not typed and not gone:
            return None
        scrapped = {key: tally.scrapped for key, tally in self.tallies.items()}
        rows = self._proposed_wear(builds_after(self.batch, scrapped))
        left = fitted_by_then(self._less_by_the_gone(rows, gone), self.cleaned_data["day"])
        return {**left, **typed, **gone}

    def _less_by_the_gone(
        self, rows: list[ProposedWear], gone: dict[int, Decimal]
    ) -> list[ProposedWear]:
        """What is left for the ones fitted now, after those taken out during the batch."""
        rows = list(rows)
        for one, number in self.gone:
            life = max(rows[number].life - gone[one.pk], Decimal(0))
            rows[number] = replace(rows[number], life=life)
        return rows

    def _proposed_wear(self, builds: list) -> list[ProposedWear]:
        logged = wear_logged([self.batch])[self.batch.pk]
        return proposed_wear(builds, self.made_used, self.bills, logged)

    def _typed(self, prefix: str) -> dict[int, Decimal]:
        return {
            int(name.removeprefix(prefix)): value
            for name, value in self.cleaned_data.items()
            if name.startswith(prefix) and value is not None
        }


class FinishBatch(BatchPage):
    what = "Finish"
    template_name = "batches/finish.html"
    form_class = FinishForm
    submit_label = "Finish the batch"

    def get_form_kwargs(self) -> dict:
        return {**super().get_form_kwargs(), "batch": self.batch}

    def act(self, form: FinishForm) -> Batch:
        asked = form.asked
        self.nowhere = form.nowhere
        return finish_batch(
            batch=self.batch,
            day=asked["day"],
            counts=form.tallies,
            used=form.used,
            wear=form.wear,
            key=asked["key"],
            by=asked["by"],
            sure=asked.get("sure", False),
        )

    def message_for(self, result: Batch) -> str:
        good = sum(result.lines.values_list("good", flat=True))
        words = f"Finished with {good} good. Materials and cutter life are booked."
        if self.nowhere:
            words += f" Not logged, because none is fitted: {'; '.join(self.nowhere)}."
        return words

    def get_context_data(self, **kwargs: Any) -> dict:
        return super().get_context_data(
            batch=self.batch, causes=CAUSES, today=timezone.localdate(), **kwargs
        )
