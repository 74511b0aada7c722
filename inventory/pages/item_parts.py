"""Parts of an item's page that are pages of their own: use and prices, and the history.

The item's page calls them in once it stands; without JavaScript it links to them.
"""

from datetime import date
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers

from inventory.models import Item, Offer
from inventory.pages.charts import chart_unit
from inventory.pages.movements import newest_movements
from inventory.pages.stock_drawing import price_chart, stock_weeks_chart
from inventory.queries import stock as queries
from inventory.queries.count_history import count_history
from inventory.queries.item_shelf import items_with_outlook
from inventory.queries.nest import nest_of
from inventory.queries.prices import holding_on, offered_prices, offers_ever, paid_prices
from inventory.queries.stock_by_week import stock_by_week, turnover
from inventory.units import convert

SPANS = {26: "half a year", 52: "a year", 104: "two years"}
PRICED_IN = {"mm": ("m", "ft"), "mm2": ("m²", "ft²"), "g": ("kg", "lb"), "mL": ("L", "L")}


def prices_page(request: HttpRequest, code: str) -> HttpResponse:
    """Which bills ask for it, how it is really cut, who sells it, and what it cost over time."""
    item = get_object_or_404(Item, code=code)
    today = timezone.localdate()
    offers = [] if item.kind == Item.Kind.MADE else offers_ever(item)
    shown = {
        "item": item,
        "heading": f"{item.code}: use and prices",
        "uses": queries.uses_of(item),
        "nest": nest_of(item) if item.in_pieces else None,
        "offers": holding_on(offers, today),
        "orders": queries.open_orders_of(item) if offers else [],
        **_prices(item, offers, request, today),
    }
    return _part(request, "prices", shown)


def history_page(request: HttpRequest, code: str) -> HttpResponse:
    """Stock week by week, counts, and the newest movements."""
    item = get_object_or_404(items_with_outlook(), code=code)
    today = timezone.localdate()
    asked = request.GET.get("weeks")
    weeks = next((count for count in SPANS if str(count) == asked), min(SPANS))
    shown = {
        "item": item,
        "heading": f"{item.code}: history",
        "span": weeks,
        "spans": SPANS,
        "counted": count_history(item, today),
        "movements": newest_movements(request, item=item),
        **_weeks(item, weeks, request, today),
    }
    return _part(request, "history", shown)


def _part(request: HttpRequest, name: str, shown: dict[str, Any]) -> HttpResponse:
    alone = request.htmx and not request.htmx.history_restore_request
    response = render(request, f"stock/{name}{'_part' if alone else ''}.html", shown)
    patch_vary_headers(response, ["HX-Request"])
    return response


def _weeks(item: Item, weeks: int, request: HttpRequest, today: date) -> dict[str, Any]:
    rows = stock_by_week(item, today, weeks)
    largest = max(max(week.stock, week.came, week.used) for week in rows)
    unit, factor = chart_unit(item, request.user, largest)
    limit = None if item.reorder_point is None else item.reorder_point * float(factor)
    moving = sum(1 for week in rows if week.came or week.used)
    title = f"{item.code}: stock over {SPANS[weeks]}{f', in {unit}' if unit else ''}"
    drawn = stock_weeks_chart(
        rows,
        factor=float(factor),
        limit=limit,
        title=title,
        described=f"{weeks} weeks, in {moving} of which something came or was used. "
        "The table beside it has the numbers.",
    )
    return {
        "chart": drawn,
        "chart_unit": unit,
        "weeks": rows[::-1],
        "limit": limit,
        "turnover": turnover(rows),
    }


def _prices(item: Item, offers: list[Offer], request: HttpRequest, today: date) -> dict[str, Any]:
    """Prices for a unit people buy in: of bar by the metre or foot, of epoxy by the kg or lb."""
    unit, factor = _priced_in(item, request)
    offered, paid = offered_prices(offers), paid_prices(item)
    shown = {
        "price_unit": unit,
        "offered": [(one, one.price * factor) for one in offered],
        "paid": [(one, one.price * factor) for one in paid],
    }
    if offered or paid:
        shown["price_chart"] = price_chart(
            offered,
            paid,
            today=today,
            factor=float(factor),
            title=f"{item.code}: price {f'per {unit}' if unit else 'of one'} over time",
            described=f"Lines: {len(offered)} offers, as long as each held. "
            f"Dots: {len(paid)} deliveries as they were paid.",
        )
    return shown


def _priced_in(item: Item, request: HttpRequest) -> tuple[str, Decimal]:
    if item.stock_unit not in PRICED_IN:
        return "", Decimal(1)
    metric, imperial = PRICED_IN[item.stock_unit]
    user = request.user
    own = user.mass_unit == "oz" if item.stock_unit == "g" else user.length_unit == "in"
    unit = imperial if own else metric
    return unit, convert(Decimal(1), unit, item.stock_unit)
