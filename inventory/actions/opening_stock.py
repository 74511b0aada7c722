"""What lies on the shelf when the records begin."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.actions.catalogue import save_place
from inventory.actions.numbering import LOT, PIECE, next_numbers
from inventory.actions.posting import (
    Entry,
    NewPosting,
    lock_items,
    place_of,
    post_together,
    refuse_impossible_day,
)
from inventory.actions.receive import refuse_wrong_form, refuse_wrong_lot
from inventory.actions.request import action
from inventory.errors import Refused
from inventory.models import Item, Lot, Piece, Place, Posting, Supplier, User
from inventory.models.lot import expiry

OPENING = "opening stock"
"""The reason by which a posting is known as one of these."""


@dataclass(frozen=True)
class OpeningPart:
    """A quantity of the lot at one place, or so many pieces of a size (length µm, width µm or None).

    place: its name; empty for the item's own. A piece that carries a label already keeps it.
    """

    qty: Decimal | None = None
    size: tuple[int, int | None] | None = None
    count: int = 1
    place: str = ""
    label: str = ""
    is_offcut: bool = False


@dataclass(frozen=True)
class OpeningLot:
    """One lot with all that is there of it; a lot that carries a number already keeps it."""

    item: Item
    day: date
    parts: tuple[OpeningPart, ...]
    number: str = ""
    maker_number: str = ""
    supplier: Supplier | None = None
    made_on: date | None = None
    opened_on: date | None = None
    expires_on: date | None = None
    usable_from: date | None = None
    status: str = Lot.Status.RELEASED
    unit_cost: Decimal = Decimal(0)
    thickness_um: int | None = None
    note: str = ""


@action
def record_opening_stock(*, lots: Sequence[OpeningLot], by: User | None = None) -> int:
    """Book lots as received, one posting an item and day, and return how many lots.

    Places that aren't there yet are made. Refuses what a delivery refuses, and numbers or labels
    that are taken.
    """
    for lot in lots:
        refuse_impossible_lot(lot)
    lock_items(lot.item.pk for lot in lots)
    made = _new_lots(lots)
    pieces = _new_pieces(made)
    booked = _by_item_and_day(made, pieces)
    deliveries = [NewPosting(entries, day, OPENING) for (_, day), entries in booked.items()]
    post_together(Posting.Kind.RECEIVE, deliveries, by=by)
    return len(lots)


def refuse_impossible_lot(lot: OpeningLot) -> None:
    """Raise Refused for what could not be booked; labels and numbers aren't looked up."""
    refuse_impossible_day(lot.day)
    refuse_wrong_lot(lot.item, lot.day, None, lot.made_on, lot.status, lot.unit_cost)
    for part in lot.parts:
        sizes = None if part.size is None else [(*part.size, part.count)]
        refuse_wrong_form(lot.item, part.qty, sizes)
        if part.label and part.count > 1:
            raise Refused(f"{lot.item.code}: the label {part.label} is for one piece only.")
        if lot.item.stock_unit == Item.Unit.EACH and part.qty % 1:
            raise Refused(
                f"{lot.item.code} is counted in whole pieces, not {part.qty.normalize()}."
            )
    if lot.item.is_service:
        raise Refused(f"{lot.item.code} is an outside service; it isn't kept in stock.")


def _new_lots(lots: Sequence[OpeningLot]) -> list[tuple[OpeningLot, Lot]]:
    numbers = _numbers([lot.number for lot in lots], LOT, Lot, "number")
    records = Lot.objects.bulk_create(
        [
            Lot(
                item=lot.item,
                number=number,
                maker_number=lot.maker_number,
                status=lot.status,
                supplier=lot.supplier,
                received_on=lot.day,
                made_on=lot.made_on,
                opened_on=lot.opened_on,
                expires_on=lot.expires_on or _expiry(lot),
                usable_from=lot.usable_from,
                thickness_um=lot.thickness_um,
                unit_cost=lot.unit_cost,
                note=lot.note,
            )
            for lot, number in zip(lots, numbers, strict=True)
        ]
    )
    return list(zip(lots, records, strict=True))


def _expiry(lot: OpeningLot) -> date | None:
    item = lot.item
    return expiry(
        item.shelf_life_days, item.opened_life_days, lot.made_on or lot.day, lot.opened_on
    )


def _new_pieces(made: Iterable[tuple[OpeningLot, Lot]]) -> Iterator[Piece]:
    """Pieces in the order in which the lots and their parts name them."""
    wanted = [
        (record, part)
        for lot, record in made
        for part in lot.parts
        if part.size is not None
        for _ in range(part.count)
    ]
    labels = _numbers([part.label for _, part in wanted], PIECE, Piece, "label")
    return iter(
        Piece.objects.bulk_create(
            Piece(
                lot=record,
                label=label,
                length_um=part.size[0],
                width_um=part.size[1],
                is_offcut=part.is_offcut,
            )
            for (record, part), label in zip(wanted, labels, strict=True)
        )
    )


def _by_item_and_day(
    made: Sequence[tuple[OpeningLot, Lot]], pieces: Iterator[Piece]
) -> dict[tuple[int, date], list[Entry]]:
    entries: dict[tuple[int, date], list[Entry]] = defaultdict(list)
    places = _places({part.place for lot, _ in made for part in lot.parts} - {""})
    for lot, record in made:
        booked = entries[lot.item.pk, lot.day]
        for part in lot.parts:
            place = places.get(part.place) or place_of(lot.item, None)
            if part.size is None:
                booked.append(Entry(record, place, part.qty))
                continue
            for piece in (next(pieces) for _ in range(part.count)):
                booked.append(Entry(record, place, piece.quantity, piece))
    return entries


def _places(names: set[str]) -> dict[str, Place]:
    known = set(Place.objects.filter(name__in=names).values_list("name", flat=True))
    for name in sorted(names - known):
        save_place(name=name)
    return {place.name: place for place in Place.objects.filter(name__in=names)}


def _numbers(
    given: Sequence[str], prefix: str, model: type[Lot] | type[Piece], field: str
) -> list[str]:
    """The numbers that were given, and the next ones where none was."""
    own = [number for number in given if number]
    taken = set(model.objects.filter(**{f"{field}__in": own}).values_list(field, flat=True))
    for number in own:
        if number in taken:
            raise Refused(f"The {field} {number} is taken. Leave it empty to get the next one.")
        taken.add(number)
    if len(own) == len(given):
        return own
    fresh = (each for each in next_numbers(prefix, len(given), model, field) if each not in taken)
    return [number or next(fresh) for number in given]
