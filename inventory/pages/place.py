"""One place: what lies there."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from inventory.models import Place
from inventory.pages import display
from inventory.pages.columns import LEAD, TextColumn
from inventory.pages.item import BalanceTable
from inventory.queries.stock import balances_at


class PlaceTable(BalanceTable):
    item = TextColumn(accessor="item__code", linkify=lambda record: record.item.get_absolute_url())
    name = TextColumn(accessor="item__name", verbose_name="Name", attrs=LEAD)
    piece = TextColumn(linkify=True)
    size = TextColumn(accessor="piece", verbose_name="Size")
    place = None

    class Meta(BalanceTable.Meta):
        sequence = ("item", "name", "piece", "size", "quantity", "lot", "...")
        empty_text = "Nothing lies here."

    def render_size(self, value: object) -> str:
        return display.size(value, self.request.user)


def place_page(request: HttpRequest, pk: int) -> HttpResponse:
    place = get_object_or_404(Place.objects.select_related("supplier"), pk=pk)
    balances = balances_at(place)
    hidden = [] if any(balance.piece_id for balance in balances) else ["piece", "size"]
    shown = {
        "place": place,
        "heading": place.name,
        "sub": f"At the vendor {place.supplier}" if place.supplier else "In the shop",
        "table": PlaceTable(balances, request=request, exclude=hidden),
    }
    return render(request, "stock/place.html", shown)
