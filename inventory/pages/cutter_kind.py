"""One kind of cutter: how long it lasts, how its lives ended, when to change it."""

from collections.abc import Iterable, Iterator
from decimal import Decimal

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from inventory.exchange.csv_export import csv_response
from inventory.models import Fitting, Item
from inventory.pages import life
from inventory.pages.cutters import pockets_of
from inventory.pages.life_drawings import survival_chart
from inventory.queries import cutter_lives as lives
from inventory.queries.arrivals import current_offers
from inventory.queries.cutter_outlook import outlook_of

FAILURE_COSTS = Decimal(3)
"""A failure against a planned change, until the reader says better: common practice, no source."""


class CostForm(forms.Form):
    planned = forms.DecimalField(label="Change made in time", min_value=Decimal("0.01"))
    failure = forms.DecimalField(
        label="Change after a failure",
        min_value=Decimal("0.01"),
        help_text="cutter, minutes lost, spoilt blade",
    )


def kind_page(request: HttpRequest, code: str) -> HttpResponse:
    item = get_object_or_404(Item.objects.exclude(life_unit=""), code=code)
    kind = lives.kind_of_cutter(item)
    if request.GET.get("format") == "csv":
        return csv_response(f"lives-{item.code}", _life_rows(kind.lives))
    today = timezone.localdate()
    shown = {
        "heading": item.name,
        "item": item,
        "unit": item.life_unit,
        "kind": kind,
        "rows": [(one, life.life_text(one.life_used, item.life_unit)) for one in kind.lives],
        "pockets": [
            pocket for pocket in pockets_of([outlook_of(item, today)]) if pocket.fitting is not None
        ],
    }
    if kind.model is not None:
        shown |= _fit_figures(kind)
        shown |= _policy(request, item, kind)
    return render(request, "cutters/kind.html", shown)


def _fit_figures(kind: lives.KindOfCutter) -> dict:
    low, high = kind.model.shape_interval
    unit = kind.item.life_unit
    return {
        "chart": survival_chart(kind, unit),
        "curve": [
            (
                life.number(point.life),
                *(f"{share:.0%}" for share in (point.fitted, point.low, point.high)),
            )
            for point in kind.curve[::6]
        ],
        "figures": [
            ("One in ten is gone by", *_life_and_range(kind.b10, unit)),
            ("Half are gone by", *_life_and_range(kind.median, unit)),
            ("Mean life", life.life_text(kind.model.weibull.mean, unit), ""),
            ("Weibull shape", f"{kind.model.weibull.shape:.2g}", f"{low:.2g} to {high:.2g}"),
        ],
    }


def _life_and_range(known: tuple[float, float, float], unit: str) -> tuple[str, str]:
    middle, low, high = known
    return life.life_text(middle, unit), f"{life.number(low)} to {life.number(high)}"


def _policy(request: HttpRequest, item: Item, kind: lives.KindOfCutter) -> dict:
    price = _price(item)
    initial = {"planned": price, "failure": price * FAILURE_COSTS}
    form = CostForm(
        request.GET if "planned" in request.GET else None, initial=initial, label_suffix=""
    )
    costs = initial
    if form.is_bound and form.is_valid():
        costs = form.cleaned_data
    asked = float(costs["planned"]), float(costs["failure"])
    return {"cost_form": form, "policy": lives.policy(kind.model, *asked)}


def _price(item: Item) -> Decimal:
    """Of one, as bought; 1 when no price is known, so that the costs stand as a ratio."""
    offer = current_offers(timezone.localdate(), [item.pk]).get(item.pk)
    steps = list(offer.price_breaks.all()) if offer else []
    price = steps[0].price / offer.pack_qty if steps else Decimal(0)
    return round(price, 2) or Decimal(1)


def _life_rows(fittings: Iterable[Fitting]) -> Iterator[tuple]:
    yield (
        "label",
        "revision",
        "machine",
        "pocket",
        "work material",
        "regrinds",
        "diameter µm",
        "fitted",
        "removed",
        "life used",
        "life unit",
        "end",
    )
    for one in fittings:
        yield (
            one.label,
            one.revision,
            one.machine.name,
            one.pocket,
            one.work_material,
            one.regrinds,
            one.diameter_um or "",
            one.fitted_on,
            one.removed_on or "",
            one.life_used,
            one.item.life_unit,
            one.get_end_reason_display() or lives.IN_USE,
        )
