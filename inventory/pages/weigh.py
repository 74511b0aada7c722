"""Counting on a scale: a sample tells the weight of one, full and empty container the rest."""

from decimal import Decimal
from typing import Any

from django import forms
from django.http import Http404, HttpRequest
from django.shortcuts import get_object_or_404
from django.urls import reverse

from inventory.actions import weigh_sample
from inventory.errors import Refused
from inventory.models import CountLine, Item
from inventory.pages import display
from inventory.pages.forms import ActionForm, ActionPage, QuantityFormField, read_in_units_of
from inventory.units import show_number
from inventory.weighing import WeighedCount, count_by_weight, net_weight

STEPS = [(step, f"{step} g") for step in ("0.01", "0.1", "0.5", "1", "2", "5", "10")]
USUAL_STEP = "1"
EXAMPLE = 500


def step_field(help_text: str = "") -> forms.TypedChoiceField:
    return forms.TypedChoiceField(
        label="The scale counts in steps of",
        choices=STEPS,
        initial=USUAL_STEP,
        coerce=Decimal,
        help_text=help_text,
    )


def may_be_weighed(item: Item) -> bool:
    """Whether a scale tells how much is there: masses, volumes of known density, known parts."""
    if item.stock_unit == Item.Unit.EACH:
        return item.weight_of_one_g is not None
    return item.stock_unit == Item.Unit.GRAM or bool(
        item.stock_unit == Item.Unit.ML and item.density_g_per_ml
    )


class ReadingForm(forms.Form):
    """Two readings of the scale. The step matters only for what is counted."""

    gross = QuantityFormField(unit="g", label="Full container")
    tare = QuantityFormField(unit="g", label="Empty container", required=False)
    step = step_field("Of the two scales if the sample was weighed on another: the coarser step.")

    def __init__(self, *args: Any, item: Item, user: Any, **kwargs: Any) -> None:
        super().__init__(*args, label_suffix="", **kwargs)
        read_in_units_of(user, self)
        if item.stock_unit != Item.Unit.EACH:
            del self.fields["step"]


def by_weight(
    item: Item, user: Any, gross: Decimal, tare: Decimal | None, step: Decimal | None = None
) -> tuple[Decimal, str]:
    """What two readings come to, in the stock unit, and in words how sure that is."""
    net = net_weight(gross, tare or Decimal(0))
    weighed = display.quantity_text(net, "g", user)
    if item.stock_unit == Item.Unit.EACH:
        found = count_by_weight(net, item.weight_of_one_g, step_g=step, sample=item.weighed_sample)
        return Decimal(found.count), f"{weighed} net: {in_words(found, step, item.weighed_sample)}"
    if item.stock_unit == Item.Unit.ML:
        net = (net / item.density_g_per_ml).quantize(Decimal("0.001"))
    return net, f"{weighed} net."


def in_words(found: WeighedCount, step: Decimal, sample: int | None) -> str:
    """Count, least and most as a sentence, with what keeps them apart."""
    count, least, most = (show_number(Decimal(n)) for n in (found.count, found.least, found.most))
    if found.least == found.most:
        return f"{count}, if they all weigh alike."
    by_sample = f" and a sample of {sample}" if sample else ""
    return (
        f"about {count}, at least {least} and at most {most}: a scale that counts in steps of "
        f"{show_number(step)} g{by_sample} can't tell it closer. Count by hand if that isn't enough, "
        "or weigh a larger sample."
    )


class SampleForm(ActionForm):
    sample = forms.IntegerField(
        label="Pieces on the scale",
        min_value=1,
        max_value=100_000,
        help_text="The more, the closer every later count.",
    )
    weight = QuantityFormField(unit="g", label="They weigh, without the container")
    step = step_field()


class WeighSample(ActionPage):
    """The weight of one, of an item kept by count; ?line= leads back to the count it was for."""

    form_class = SampleForm
    submit_label = "Keep this weight"

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.item = get_object_or_404(Item, code=kwargs["code"])
        if self.item.stock_unit != Item.Unit.EACH or self.item.is_service:
            raise Http404("Only what is kept by count has a weight of one.")
        self.heading, self.sub = f"Weigh a sample of {self.item.code}", self.item.name

    def act(self, form: SampleForm) -> Item:
        asked = form.asked
        self.step = asked.pop("step")
        return weigh_sample(item=self.item, **asked)

    def message_for(self, result: Item) -> str:
        one = result.weight_of_one_g
        kept = f"One {result.code} weighs {show_number(one, 6)} g."
        try:
            net = EXAMPLE * one
            example = count_by_weight(net, one, step_g=self.step, sample=result.weighed_sample)
        except Refused as refusal:
            return f"{kept} {refusal}"
        return f"{kept} A count of {EXAMPLE} on that scale is good to {example.plus_minus} more or less."

    def done_url(self, result: Item) -> str:
        return self.back_url()

    def back_url(self) -> str:
        asked = self.request.GET.get("line", "")
        line = CountLine.objects.filter(pk=asked).first() if asked.isdecimal() else None
        if line is None:
            return self.item.get_absolute_url()
        return reverse("count-line", args=[line.count.number, line.pk])
