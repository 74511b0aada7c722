"""Can I make this batch: what is asked, the answer in words, and planning it from there."""

from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from inventory.actions import plan_batch
from inventory.errors import Refused
from inventory.exchange.csv_export import csv_response
from inventory.models import Batch, Product, ProductOption
from inventory.pages.batch_tables import NeedTable, check_tables, need_rows
from inventory.pages.batch_words import knives, start_words, verdict
from inventory.pages.forms import UNPROCESSABLE, ActionForm, ActionPage, DayField
from inventory.queries.batch_check import BatchCheck, check_batch
from inventory.queries.batch_needs import LARGEST_BATCH, Wanted
from inventory.queries.cautions import DEFER

MOST_LINES = 8
CHOICE = "choice-"


class LineForm(forms.Form):
    """One product of the check; its choices appear once the product is known."""

    product = forms.ModelChoiceField(
        Product.objects.filter(active=True),
        to_field_name="code",
        empty_label="choose",
    )
    qty = forms.IntegerField(
        label="Good knives wanted",
        min_value=1,
        max_value=LARGEST_BATCH,
        widget=forms.NumberInput({"inputmode": "numeric"}),
    )
    start = forms.IntegerField(
        label="Start",
        required=False,
        min_value=1,
        max_value=2 * LARGEST_BATCH,
        help_text="Empty: from the yields.",
        widget=forms.NumberInput({"inputmode": "numeric"}),
    )

    def __init__(self, data: QueryDict | None, *, number: int) -> None:
        prefix = str(number) if number > 1 else None
        super().__init__(
            data,
            prefix=prefix,
            label_suffix="",
            empty_permitted=number > 1,
            use_required_attribute=False,
        )
        self.choices_id = f"choices-{number}"
        self.fields["product"].widget.attrs |= {
            "hx-get": reverse("batch-check"),
            "hx-include": "closest form",
            "hx-target": f"#{self.choices_id}",
            "hx-select": f"#{self.choices_id}",
            "hx-swap": "outerHTML",
        }
        self.offered: dict[str, list[ProductOption]] = {}
        if data and (code := data.get(self.add_prefix("product"))):
            self._offer_choices(code)

    def _offer_choices(self, code: str) -> None:
        for option in ProductOption.objects.filter(product__code=code):
            self.offered.setdefault(option.group, []).append(option)
        for group, options in self.offered.items():
            self.fields[CHOICE + group] = ChoiceOf(options)

    @property
    def choice_fields(self) -> list[forms.BoundField]:
        return [self[CHOICE + group] for group in self.offered]

    def wanted(self) -> Wanted:
        cleaned = self.cleaned_data
        chosen = [
            option
            for group, options in sorted(self.offered.items())
            for option in options
            if option.choice == cleaned[CHOICE + group]
        ]
        return Wanted(cleaned["product"], cleaned["qty"], tuple(chosen), cleaned["start"])


class ChoiceOf(forms.ChoiceField):
    """A choice of one group; what the product doesn't have falls back to its default."""

    def __init__(self, options: list[ProductOption]) -> None:
        choices = [option.choice for option in options]
        super().__init__(
            label=options[0].group.capitalize(),
            choices=[(choice, choice) for choice in choices],
            required=False,
        )
        default = next((option for option in options if option.is_default), options[0])
        self.usual, self.there = default.choice, choices

    def to_python(self, value: Any) -> str:
        return value if value in self.there else self.usual


@dataclass(frozen=True)
class Asked:
    """The lines of an address; wanted is empty until every line can be read."""

    lines: list[LineForm]
    wanted: list[Wanted]

    @property
    def is_empty(self) -> bool:
        return not self.lines[0].is_bound


def read_lines(address: QueryDict) -> Asked:
    """Read “?product=FIELD&qty=12&choice-handle=orange&2-product=...”."""
    if "product" not in address:
        return Asked([LineForm(None, number=1)], [])
    asked = [address.get("lines", ""), *(key[:1] for key in address if key[1:] == "-product")]
    count = max([1, *(int(text) for text in asked if text.isdecimal() and len(text) < 3)])
    lines = [LineForm(address, number=number) for number in range(1, min(count, MOST_LINES) + 1)]
    all_valid = all(line.is_valid() for line in lines)
    filled = [line for line in lines if line.has_changed()]
    return Asked(lines, [line.wanted() for line in filled] if all_valid and filled else [])


def check_page(request: HttpRequest) -> HttpResponse:
    """Form and answer on one page, with an address that can be passed on."""
    asked = read_lines(request.GET)
    shown: dict[str, Any] = {"asked": asked, "heading": "Can I make this batch?"}
    shown["more_lines"] = len(asked.lines) + 1 if len(asked.lines) < MOST_LINES else 0
    status = 200
    only_choices = (request.htmx.target or "").startswith("choices-")
    if asked.wanted and not only_choices:
        try:
            check = check_batch(asked.wanted, timezone.localdate())
        except Refused as refusal:
            shown["refusal"], status = str(refusal), UNPROCESSABLE
        else:
            if request.GET.get("format") == "csv":
                return need_csv(check, request)
            shown |= check_shown(check, request) | {"plan_form": PlanForm(user=request.user)}
    return render(request, "batches/check.html", shown, status=status)


def check_shown(check: BatchCheck, request: HttpRequest) -> dict[str, Any]:
    """What the answer's template shows of a check."""
    return {
        "check": check,
        "verdict": verdict(check),
        "starts": [
            (
                line,
                start_words(line),
                list(zip(line.build.bill.steps, line.start.entering, strict=True)),
            )
            for line in check.lines
        ],
        "defer": DEFER,
        **check_tables(check, request),
    }


def need_csv(check: BatchCheck, request: HttpRequest) -> HttpResponse:
    table = NeedTable(need_rows(check, request.user), request=request)
    return csv_response("batch-need", table.as_values())


class PlanForm(ActionForm):
    start_on = DayField(label="Planned start")
    note = forms.CharField(label="Note", max_length=200, required=False)


class PlanBatch(ActionPage):
    """Plan what the address asks for."""

    form_class = PlanForm
    heading = "Plan this batch"
    submit_label = "Plan this batch"

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.wanted = read_lines(request.GET).wanted
        self.sub = " and ".join(
            knives(each.qty, each.product.code, each.options) for each in self.wanted
        )

    def act(self, form: PlanForm) -> Batch:
        return plan_batch(lines=self.wanted, **form.asked)

    def message_for(self, result: Batch) -> str:
        return f"Batch {result.number} is planned. Nothing is held for it yet."

    def back_url(self) -> str:
        return f"{reverse('batch-check')}?{self.request.GET.urlencode()}"
