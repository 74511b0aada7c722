"""Lists of one item to look through or to take as CSV: all its lots, all its pieces."""

from typing import Any

import django_tables2 as tables
from django.db.models import QuerySet
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from inventory.models import Item, Lot, Piece
from inventory.pages.columns import (
    DayColumn,
    MoneyColumn,
    QuantityColumn,
    SizeColumn,
    StatusColumn,
    TextColumn,
)
from inventory.pages.item import lot_mark
from inventory.pages.table_page import TablePage
from inventory.queries.item_lists import lots_of, pieces_of


class LotTable(tables.Table):
    number = TextColumn(verbose_name="Lot", linkify=True)
    maker_number = TextColumn(verbose_name="Heat, colour, batch")
    left = QuantityColumn(unit="item__stock_unit")
    unit = TextColumn(accessor="item__stock_unit", visible=False)
    received = DayColumn(accessor="received_on", verbose_name="Received")
    expires = DayColumn(accessor="expires_on", verbose_name="Use by")
    state = StatusColumn(verbose_name="State", mark_of=lot_mark, orderable=False)
    supplier = TextColumn(accessor="supplier__name", verbose_name="Supplier")
    cost = MoneyColumn(accessor="unit_cost", verbose_name="Cost of one unit")

    class Meta:
        empty_text = "Nothing of it ever came in."


class PieceTable(tables.Table):
    label = TextColumn(verbose_name="Piece", linkify=True)
    size = SizeColumn(accessor="length_um", verbose_name="Size")
    lot = TextColumn(linkify=True, order_by="lot__number")
    maker_number = TextColumn(accessor="lot__maker_number", verbose_name="Heat, colour, batch")
    parent = TextColumn(verbose_name="Cut from", linkify=True, order_by="parent__label")
    place = TextColumn(default="gone")

    class Meta:
        empty_text = "Nothing of it ever came in."


class ItemList(TablePage):
    """A list of one item; `what` of it."""

    what = ""

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.item = get_object_or_404(Item, code=kwargs["code"])
        self.heading = f"{self.what} of {self.item.code}"
        self.sub = self.item.name
        self.export_name = f"{self.what.lower()}-{self.item.code}"


class ItemLots(ItemList):
    table_class = LotTable
    what = "Lots"

    def get_rows(self) -> QuerySet[Lot]:
        return lots_of(self.item)


class ItemPieces(ItemList):
    table_class = PieceTable
    what = "Pieces"

    def get_rows(self) -> QuerySet[Piece]:
        return pieces_of(self.item)
