"""One item: what lies where, what may be used, where it is used, who sells it, what moved."""

from decimal import Decimal

import django_tables2 as tables
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.safestring import SafeString

from inventory.models import Balance, Item, ItemForecast, Lot
from inventory.pages import display
from inventory.pages.at_hand import hand_of_item
from inventory.pages.charts import step_chart
from inventory.pages.columns import DayColumn, QuantityColumn, StatusColumn, TextColumn
from inventory.pages.item_words import alike_words, ratio_words
from inventory.pages.movements import newest_movements
from inventory.queries import stock as queries
from inventory.queries.availability import stock_by_item
from inventory.queries.cautions import DEFER, hazard_texts
from inventory.queries.count_history import count_history
from inventory.queries.mixing import two_part_systems
from inventory.queries.products import active_bill
from inventory.units import convert, show_quantity

LOT_MARKS = {
    Lot.Status.RELEASED: "good",
    Lot.Status.RECEIVED: "watch",
    Lot.Status.QUARANTINE: "watch",
    Lot.Status.REJECTED: "stop",
    Lot.Status.UNKNOWN: "stop",
}


def lot_mark(lot: Lot) -> tuple[str, str]:
    """Whether a lot may be used today, as (word, mark)."""
    today = timezone.localdate()
    if lot.status != Lot.Status.RELEASED:
        return lot.get_status_display(), LOT_MARKS[lot.status]
    if lot.expires_on and lot.expires_on < today:
        return f"expired {display.day(lot.expires_on)}", "stop"
    if lot.usable_from and lot.usable_from > today:
        return f"curing until {display.day(lot.usable_from)}", "work"
    return "usable", "good"


class BalanceTable(tables.Table):
    lot = TextColumn(linkify=True)
    maker_number = TextColumn(accessor="lot__maker_number", verbose_name="Heat, colour, batch")
    quantity = QuantityColumn(accessor="qty", verbose_name="Quantity", unit="item__stock_unit")
    place = TextColumn(linkify=True)
    received = DayColumn(accessor="lot__received_on", verbose_name="Received")
    expires = DayColumn(accessor="lot__expires_on", verbose_name="Use by")
    state = StatusColumn(verbose_name="State", mark_of=lambda balance: lot_mark(balance.lot))

    class Meta:
        orderable = False
        empty_text = "Nothing of it is here."


class PieceTable(BalanceTable):
    piece = TextColumn(linkify=True)
    size = TextColumn(accessor="piece", verbose_name="Size")
    quantity = None
    sort = TextColumn(accessor="piece", verbose_name="Piece or remnant")

    class Meta(BalanceTable.Meta):
        sequence = ("piece", "size", "sort", "lot", "...")

    def render_size(self, record: Balance) -> str:
        return display.size(record.piece, self.request.user)

    def render_sort(self, record: Balance) -> str:
        return "remnant" if record.piece.is_remnant else "whole"


def item_page(request: HttpRequest, code: str) -> HttpResponse:
    item = get_object_or_404(Item.objects.select_related("place"), code=code)
    today = timezone.localdate()
    balances = queries.balances_of(item)
    by_hand = request.user.may_write and not (item.in_pieces or item.is_service)
    table = PieceTable if item.in_pieces else BalanceTable
    shown = {
        "item": item,
        "heading": item.code,
        "sub": item.name,
        "stock": stock_by_item(today, [item.pk])[item.pk],
        "balances": balances,
        "hand": hand_of_item(item, balances, request.user) if by_hand else None,
        "balance_table": table(balances, request=request),
        "reservations": queries.reservations_of(item),
        "uses": queries.uses_of(item),
        "offers": queries.offers_of(item, today),
        "orders": queries.open_orders_of(item),
        "movements": newest_movements(request, item=item),
        "counted": None if item.is_service else count_history(item, today),
        "bill": active_bill(item) if item.kind == Item.Kind.MADE else None,
        "hazards": hazard_texts(item),
        "defer": DEFER,
        "alike": alike_words(item),
        "mixes": [(mix, ratio_words(mix)) for mix in two_part_systems(today, [item])],
        "newest_forecast": item.forecasts.select_related("run").order_by("-run_id").first(),
    }
    if not item.is_service:
        shown |= stock_chart(item, request, shown["newest_forecast"])
    return render(request, "stock/item.html", shown)


def stock_chart(item: Item, request: HttpRequest, forecast: ItemForecast | None) -> dict:
    """Stock of the past year as a drawing and as the numbers behind it."""
    limit = None if forecast is None else Decimal(str(forecast.reorder_point))
    points = queries.stock_over_time(item, timezone.localdate())
    unit, factor = chart_unit(item, request.user, max(qty for _, qty in points))
    drawn: SafeString = step_chart(
        [(day, float(qty * factor)) for day, qty in points],
        title=f"{item.code}: stock over the past year{f', in {unit}' if unit else ''}",
        description=f"From {show_quantity(points[0][1], item.stock_unit)} "
        f"to {show_quantity(points[-1][1], item.stock_unit)}; "
        f"{len(points) - 2} days with a movement.",
        limit=None if limit is None else float(limit * factor),
    )
    return {"chart": drawn, "chart_points": points[::-1], "chart_unit": unit}


def chart_unit(item: Item, user: object, largest: Decimal) -> tuple[str, Decimal]:
    """Unit for the chart's axis and the factor to it: the one the largest amount is shown in."""
    shown = display.quantity_text(largest or Decimal(1), item.stock_unit, user).partition(" ")[2]
    if not shown:
        return "", Decimal(1)
    return shown, convert(Decimal(1), item.stock_unit, shown)
