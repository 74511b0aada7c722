"""What stands on a label, by what it is stuck to."""

from dataclasses import dataclass

from inventory.models import Batch, Fitting, Item, Lot, Piece, Place, User
from inventory.pages import display
from inventory.queries.labels import Labelled, key_of


@dataclass(frozen=True)
class Label:
    """number: the large text. key: what the code's address ends in."""

    key: str
    number: str
    code: str = ""
    name: str = ""
    details: tuple[str, ...] = ()


def label_of(record: Labelled, user: User) -> Label:
    write = {
        Piece: _piece,
        Lot: _lot,
        Item: _item,
        Place: _place,
        Fitting: _fitting,
        Batch: _batch,
    }
    return write[type(record)](record, user)


def _piece(piece: Piece, user: User) -> Label:
    lot, item = piece.lot, piece.lot.item
    size = display.size(piece, user) + (", remnant" if piece.is_remnant else "")
    heat = f"{lot.number} {lot.maker_number}".strip()
    details = (size, heat, display.day(lot.received_on))
    return Label(key_of(piece), piece.label, item.code, item.name, details)


def _lot(lot: Lot, user: User) -> Label:
    use_by = (f"use by {display.day(lot.expires_on)}",) if lot.expires_on else ()
    made_by = (lot.maker_number,) if lot.maker_number else ()
    details = (*made_by, f"in {display.day(lot.received_on)}", *use_by)
    return Label(key_of(lot), lot.number, lot.item.code, lot.item.name, details)


def _item(item: Item, user: User) -> Label:
    facts = (item.grade, item.colour, item.place.name if item.place else "")
    return Label(key_of(item), item.code, name=item.name, details=tuple(filter(None, facts)))


def _place(place: Place, user: User) -> Label:
    return Label(key_of(place), place.name, name="at the vendor" if place.supplier else "")


def _fitting(fitting: Fitting, user: User) -> Label:
    where = f"{fitting.machine}, pocket {fitting.pocket}"
    details = (where, f"since {display.day(fitting.fitted_on)}")
    return Label(key_of(fitting), fitting.label, fitting.item.code, fitting.item.name, details)


def _batch(batch: Batch, user: User) -> Label:
    knives = [
        f"{line.wanted} {line.product.code}" for line in batch.lines.select_related("product")
    ]
    details = (*knives, f"start {display.day(batch.started_on or batch.start_on)}")
    return Label(key_of(batch), batch.number, name="batch", details=details)
