"""What if: other terms tried on one item, beside what holds now. Nothing of it is stored."""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.safestring import SafeString

from inventory.models import Item, ItemForecast, Product, Shop
from inventory.models.supplier import LONGEST_LEAD_DAYS
from inventory.pages import display
from inventory.pages.forms import DayField
from inventory.queries.forecast_inputs import is_stale, newest_forecast
from inventory.queries.what_if import PlannedBatch, Standing, Tried, users_of, what_if
from inventory.templatetags.shop import percent

MOST_KNIVES = 10_000
NONE = "not in sight"


class WhatIfForm(forms.Form):
    """Every field empty: as it is now."""

    service = forms.DecimalField(
        label="Lasts until the delivery",
        required=False,
        min_value=Decimal("0.5"),
        max_value=Decimal("99.9"),
        help_text="of 100 times",
    )
    lead = forms.IntegerField(
        label="Lead time quoted",
        required=False,
        min_value=1,
        max_value=LONGEST_LEAD_DAYS,
        help_text="days",
    )
    price = forms.DecimalField(
        label="Price of a pack", required=False, min_value=Decimal("0.00001")
    )
    product = forms.ModelChoiceField(
        Product.objects.none(),
        label="One more batch of",
        required=False,
        empty_label="none",
        to_field_name="code",
    )
    knives = forms.IntegerField(
        label="Knives to start", required=False, min_value=1, max_value=MOST_KNIVES
    )
    start = DayField(label="On", required=False, initial=None)

    def __init__(self, *args: Any, forecast: ItemForecast, **kwargs: Any) -> None:
        super().__init__(*args, label_suffix="", **kwargs)
        self.fields["product"].queryset = users_of(forecast)
        self.fields["service"].help_text += f", now {100 * forecast.service_level:.3g}"
        self.fields["lead"].help_text += f", now about {forecast.lead_mean_days:.0f}"
        self.day = timezone.localdate()

    def clean(self) -> dict[str, Any]:
        """A batch needs all three; its day is one still to come."""
        cleaned = super().clean()
        said = [cleaned.get(name) for name in ("product", "knives", "start")]
        if any(said) and not all(said) and not self.errors:
            raise forms.ValidationError(
                "A batch needs its product, the knives to start and its day. Fill in all three, or none."
            )
        if cleaned.get("start") and cleaned["start"] < self.day:
            self.add_error("start", "That day is over. Choose today or a later one.")
        return cleaned

    @property
    def tried(self) -> Tried:
        said = self.cleaned_data
        batch = None
        if said["product"]:
            batch = PlannedBatch(said["product"], said["knives"], said["start"])
        service = said["service"]
        return Tried(
            service_level=None if service is None else float(service) / 100,
            lead_days=said["lead"],
            batch=batch,
            price=said["price"],
        )


@dataclass(frozen=True)
class Compared:
    """One figure now and as tried; meaning: what it is, in words. differs: shown in bold."""

    name: str
    now: SafeString | str
    tried: SafeString | str
    meaning: str = ""

    @property
    def differs(self) -> bool:
        return self.now != self.tried


def what_if_page(request: HttpRequest, code: str) -> HttpResponse:
    """?service=98&lead=30&price=4&product=TRAIL&knives=24&start=2025-11-03"""
    item = get_object_or_404(Item, code=code)
    forecast = newest_forecast(item)
    if forecast is None or not forecast.is_used:
        raise Http404(f"No use of {code} is forecast yet.")
    if item.status == Item.Status.DISCONTINUED:
        raise Http404(f"{code} is discontinued, so nothing of it is ordered.")
    asked = {name for name, text in request.GET.items() if text.strip()}
    form = WhatIfForm(request.GET if asked else None, forecast=forecast)
    shown = {
        "heading": f"What if: {item.code}",
        "item": item,
        "forecast": forecast,
        "form": form,
        "is_stale": is_stale(forecast.run),
    }
    status = 200
    if form.is_bound:
        if form.is_valid():
            answer = what_if(forecast, form.day, form.tried)
            shown["rows"] = _rows(answer.present, answer.tried, request)
        else:
            status = 422
    return render(request, "forecast/what_if.html", shown, status=status)


def _rows(now: Standing, tried: Standing, request: HttpRequest) -> list[Compared]:
    unit, user, currency = now.line.item.stock_unit, request.user, Shop.objects.get().currency

    def quantity(amount: float | Decimal) -> SafeString:
        return display.quantity(float(amount), unit, user)

    def both(name: str, shown: Callable[[Standing], Any], meaning: str = "") -> Compared:
        return Compared(name, shown(now), shown(tried), meaning)

    return [
        both(
            "Lasts until the delivery",
            lambda one: f"{_share(one.line.forecast.service_level)} of the times",
            "as asked for",
        ),
        both("Lead time", _lead_time, "quoted, and as it is expected to be 9 times in 10"),
        both(
            "Use until an order is here",
            lambda one: quantity(one.line.forecast.lead_demand_mean),
            "and until the look after it, expected",
        ),
        both("Safety stock", lambda one: quantity(one.line.forecast.safety_stock)),
        both(
            "Reorder point",
            lambda one: quantity(one.line.forecast.reorder_point),
            "the two together",
        ),
        both("Order up to", lambda one: quantity(one.line.forecast.order_up_to)),
        both("An order at the reorder point", lambda one: quantity(one.order)),
        both("To order today", lambda one: _to_order(one, currency)),
        both(
            "Use met from the shelf",
            lambda one: _share(one.fill),
            "expected, with such orders",
        ),
        both("On the shelf on average", lambda one: quantity(one.mean_stock)),
        both(
            "Money on the shelf",
            lambda one: display.money(one.money, currency) or "no price is known",
        ),
        both(
            "Runs out without an order", lambda one: display.day(one.line.runs_out.expected) or NONE
        ),
        both("Order by", lambda one: display.day(one.line.order_by) or NONE),
    ]


def _share(share: float) -> str:
    return percent(round(share, 3))


def _lead_time(one: Standing) -> str:
    told = one.line.forecast
    return f"{one.quoted_days:.0f} days, {told.lead_low_days:.0f} to {told.lead_high_days:.0f}"


def _to_order(one: Standing, currency: str) -> str:
    line = one.line
    if not line.is_due or line.choice is None or not line.choice.packs:
        return "nothing"
    cost = display.money(line.choice.cost, currency)
    return f"{line.choice.packs} × {line.offer.pack_name}, {cost}"
