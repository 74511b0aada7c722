"""Rows of the opening stock gathered into lots, and the lots that are there already."""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError

from inventory.actions.opening_stock import OPENING, OpeningPart
from inventory.actions.posting import ORIGIN
from inventory.errors import Refused
from inventory.exchange.tables.cells import Choice, Day, Length, Number, Text
from inventory.exchange.tables.codes import ByCode
from inventory.exchange.tables.table import Column, Found, Row, refusing
from inventory.exchange.workshop.files import parse_contents
from inventory.models import Balance, Item, Lot, Movement, Piece, Place
from inventory.models.piece import size_in_stock_unit
from inventory.queries.record_check import CODE
from inventory.units import show_exactly, show_size

__all__ = ["OF_THE_LOT", "Group", "KnownLots", "as_understood", "groups_of", "of_lot"]

Contents = Counter[tuple[str, Decimal]]
"""How often which quantity lies at which place: how lots in stock and in a file are compared."""

OF_THE_LOT = (
    Column(
        "heat",
        Text(60),
        "heat, colour or batch number of its maker",
        "7H-2231",
        field="maker_number",
    ),
    Column("supplier", Text(20), "code, if it is known"),
    Column("received", Day(), "empty: today", "2024-11-20", field="received_on"),
    Column("made", Day(), "shelf life counts from it", field="made_on"),
    Column("opened", Day(), "for what ages once it is open", field="opened_on"),
    Column("expires", Day(), "empty: from the item's shelf life", field="expires_on"),
    Column("usable from", Day(), "if it still cures"),
    Column("status", Choice(Lot.Status), ", ".join(Lot.Status.labels), "released"),
    Column("unit cost", Number(10), "of one mm, mm², g, mL or of one", "0.021"),
    Column("measured thickness", Length(), "a bare number is in mm", field="thickness_um"),
    Column("note", Text(), "anything else", "two ends are rusty"),
)


@dataclass
class Group:
    """The rows of one lot, and the parts they speak of."""

    item: Item
    number: str
    rows: list[Row] = field(default_factory=list)
    parts: list[OpeningPart] = field(default_factory=list)

    @property
    def heat(self) -> str:
        return self.rows[0].get("heat", "")

    def of_the_lot(self) -> dict[str, Any]:
        """What the rows say of the lot itself, by field."""
        first = self.rows[0]
        return {
            column.attribute: first[column.name]
            for column in OF_THE_LOT
            if column.name in first.values
        }

    def contents(self) -> Contents:
        home = self.item.place.name if self.item.place else ORIGIN
        found: Contents = Counter()
        for part in self.parts:
            place = part.place or home
            qty = part.qty if part.size is None else size_in_stock_unit(*part.size)
            found[place, qty] += part.count
        return found


class KnownLots:
    """Lots that rows could be about: by their number, or by heat among those of an opening list."""

    def __init__(self) -> None:
        self.places = set(Place.objects.values_list("name", flat=True))
        self.labels = set(Piece.objects.values_list("label", flat=True))
        lots = Lot.objects.select_related("item", "supplier")
        self.by_number = {lot.number: lot for lot in lots}
        opening = Movement.objects.filter(posting__reason=OPENING).values("lot")
        self.by_heat: dict[tuple[int, str], list[Lot]] = defaultdict(list)
        for lot in lots.filter(pk__in=opening):
            self.by_heat[lot.item_id, lot.maker_number].append(lot)
        self.balances: dict[int, Contents] = defaultdict(Counter)
        for lot, place, qty in Balance.objects.values_list("lot", "place__name", "qty"):
            self.balances[lot][place, qty] += 1

    def of(self, group: Group) -> Lot | None:
        if group.number:
            return self.by_number.get(group.number)
        alike = self.by_heat[group.item.pk, group.heat]
        day = group.rows[0].get("received")
        return next((lot for lot in alike if lot.received_on == day), next(iter(alike), None))

    def contents(self, lot: Lot) -> Contents:
        return self.balances[lot.pk]

    def refuse_taken_labels(self, group: Group) -> None:
        for part in group.parts:
            if part.label in self.labels:
                raise Refused(f"The piece label {part.label} is taken. Leave it empty.")
            if part.label:
                self.labels.add(part.label)


def groups_of(rows: Sequence[Row], found: Found) -> list[Group]:
    items = ByCode(Item.objects.select_related("place"))
    groups: dict[tuple[Any, ...], Group] = {}
    for row in rows:
        item = items.get(row["item"])
        if item is None:
            found.refuse(row.number, "item", f"There is no item {row['item']}.")
            continue
        number = row.get("lot", "")
        key = (item.pk, number) if number else (item.pk, "", row.get("heat", ""), _day_of(row))
        group = groups.setdefault(key, Group(item, number))
        with refusing(found, row, "contents"):
            group.parts += _parts(row, item)
        group.rows.append(row)
    for group in groups.values():
        _refuse_contradictions(group, found)
    refused = {refusal.row for refusal in found.refusals}
    return [
        group for group in groups.values() if refused.isdisjoint(row.number for row in group.rows)
    ]


def _day_of(row: Row) -> date | None:
    """Without a heat, what came on different days are different lots."""
    return None if row.get("heat") else row.get("received")


def _parts(row: Row, item: Item) -> list[OpeningPart]:
    qty, pieces = parse_contents(row["contents"], item.stock_unit)
    for column in ("lot", "piece"):
        if row.get(column):
            _refuse_odd_label(row[column])
    place, label = row.get("place", ""), row.get("piece", "")
    if pieces is None:
        return [OpeningPart(qty=qty, place=place)]
    if label and len(pieces) > 1:
        raise Refused(f"The label {label} is for one piece only.")
    return [
        OpeningPart(None, (length, width), count, place, label, row.get("offcut", False))
        for length, width, count in pieces
    ]


def as_understood(row: Row, item: Item) -> str:
    """What a row holds as it was typed, and beside it what was read where that says more."""
    qty, pieces = parse_contents(row["contents"], item.stock_unit)
    if pieces is None:
        read = show_exactly(qty, item.stock_unit)
    else:
        sizes = ((show_size(length, width), count) for length, width, count in pieces)
        read = " + ".join(f"{count} of {size}" if count > 1 else size for size, count in sizes)
    typed = row["contents"]
    return typed if _bare(read) == _bare(typed) else f"{typed}, read as {read}"


def _bare(text: str) -> str:
    return "".join(text.casefold().replace("×", "x").split())


def _refuse_odd_label(label: str) -> None:
    try:
        CODE(label)
    except ValidationError as error:
        raise Refused(f"“{label}”: {error.message}") from error


def _refuse_contradictions(group: Group, found: Found) -> None:
    """Rows of one lot agree about it; a row that says nothing takes over what the first says."""
    first = group.rows[0]
    for row in group.rows[1:]:
        for column in OF_THE_LOT:
            if row.get(column.name, first.get(column.name)) != first.get(column.name):
                found.refuse(
                    row.number,
                    column.name,
                    f"Row {first.number} says otherwise of the same lot. Give both the same.",
                )


def of_lot(lot: Lot, column: Column) -> Any:
    if column.name == "supplier":
        return lot.supplier.code if lot.supplier else ""
    return getattr(lot, column.attribute)
