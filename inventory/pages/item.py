"""One item: what lies where, what may be used, what is done with it by hand."""

import django_tables2 as tables
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from inventory.models import Balance, Item, Lot
from inventory.pages import display
from inventory.pages.at_hand import hand_of_item
from inventory.pages.columns import DayColumn, QuantityColumn, StatusColumn, TextColumn
from inventory.pages.item_words import alike_words, ratio_words
from inventory.queries.cautions import DEFER, hazard_texts
from inventory.queries.item_shelf import items_with_outlook, look_at_item
from inventory.queries.mixing import two_part_systems
from inventory.queries.products import active_operations

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
    """The shelf. Use and prices, and the history, are pages of their own that this one calls in."""
    item = get_object_or_404(items_with_outlook(), code=code)
    today = timezone.localdate()
    shelf = look_at_item(item, today)
    by_hand = request.user.may_write and not (item.in_pieces or item.is_service)
    table = PieceTable if item.in_pieces else BalanceTable
    shown = {
        "item": item,
        "heading": item.code,
        "sub": item.name,
        "stock": shelf.stock,
        "hand": hand_of_item(shelf, request.user) if by_hand else None,
        "balance_table": table(shelf.balances, request=request),
        "reservations": shelf.held,
        "made_by": active_operations(item) if item.kind == Item.Kind.MADE else None,
        "hazards": hazard_texts(item),
        "defer": DEFER,
        "alike": alike_words(item) if item.thickness_um or item.width_um else "",
        "mixes": [(mix, ratio_words(mix)) for mix in two_part_systems(today, [item])]
        if item.is_mixed
        else [],
    }
    return render(request, "stock/item.html", shown)
