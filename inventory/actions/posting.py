"""The one place where the ledger and its balances are written, always together."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db import connection
from django.utils import timezone

from inventory.actions.late_entry import refuse_before_receipt, refuse_seen_by_count
from inventory.days import show_day
from inventory.errors import NotEnough, Refused, WrongState, WrongUnit
from inventory.models import (
    Balance,
    Batch,
    Item,
    Lot,
    Movement,
    Piece,
    Place,
    Posting,
    Reservation,
    User,
)
from inventory.units import show_quantity

ORIGIN = "Shop"
"""Where stock lies when neither the form nor the item names a place."""

FINEST = Decimal("0.000001")
LARGEST = Decimal(10) ** 9
FIRST_DAY = date(1980, 1, 1)

Key = tuple[int, int | None, int]
"""Ids of lot, piece and place: what one balance stands for."""


@dataclass(frozen=True)
class Entry:
    """One signed line to be posted; qty in the item's stock unit."""

    lot: Lot
    place: Place
    qty: Decimal
    piece: Piece | None = None


def post(
    kind: str,
    entries: Iterable[Entry],
    *,
    day: date,
    by: User | None = None,
    reason: str = "",
    note: str = "",
    batch: Batch | None = None,
    reverses: Posting | None = None,
) -> Posting:
    """Write a posting, its movements and the balances they change.

    Call it inside an action. Refuses a future day and one before the lot came in, a movement of
    nothing, parts of a counted unit, and anything that would leave less than zero or less than what
    is held for a batch. Asks back (NotSure) where a count of a later day saw it.
    """
    entries = list(entries)
    _refuse_impossible(entries, day)
    lock_items(entry.lot.item_id for entry in entries)
    refuse_seen_by_count(kind, day, [(each.lot, each.piece, each.place) for each in entries])
    posting = Posting.objects.create(
        kind=kind, day=day, by=by, reason=reason, note=note, batch=batch, reverses=reverses
    )
    _write([(posting, entries)])
    return posting


@dataclass(frozen=True)
class NewPosting:
    """One of several postings that are written together."""

    entries: Sequence[Entry]
    day: date
    reason: str = ""
    note: str = ""


def post_together(
    kind: str, wanted: Sequence[NewPosting], *, by: User | None = None
) -> list[Posting]:
    """Write many postings of a kind at once, in a few questions; refuses what `post` refuses."""
    for new in wanted:
        _refuse_impossible(new.entries, new.day)
    lock_items(entry.lot.item_id for new in wanted for entry in new.entries)
    postings = Posting.objects.bulk_create(
        Posting(kind=kind, day=new.day, by=by, reason=new.reason, note=new.note) for new in wanted
    )
    _write([(posting, new.entries) for posting, new in zip(postings, wanted, strict=True)])
    return postings


def _write(posted: Sequence[tuple[Posting, Sequence[Entry]]]) -> None:
    Movement.objects.bulk_create(
        Movement(
            posting=posting,
            item_id=entry.lot.item_id,
            lot=entry.lot,
            piece=entry.piece,
            place=entry.place,
            qty=entry.qty,
            unit_cost=entry.lot.unit_cost,
            kind=posting.kind,
            day=posting.day,
        )
        for posting, entries in posted
        for entry in entries
    )
    _update_balances([entry for _, entries in posted for entry in entries])


def lock_items(item_ids: Iterable[int]) -> None:
    """Let one action at a time change these items; taken in order, so that two never cross.

    On SQLite the whole transaction already has the write lock.
    """
    if not connection.features.has_select_for_update:
        return
    wanted = sorted(set(item_ids))
    list(Item.objects.select_for_update().filter(pk__in=wanted).order_by("pk").values_list("pk"))


def refuse_impossible_day(day: date) -> None:
    """Raise Refused for a day that hasn't come yet, or long before any shop kept such records."""
    if day < FIRST_DAY:
        raise Refused(f"{show_day(day)} is before any record. Check the year.")
    if day > timezone.localdate():
        raise Refused(f"{show_day(day)} is in the future. Post it on the day it happens.")


def place_of(item: Item, place: Place | None) -> Place:
    """The place named, else the item's own, else the shop."""
    if place is not None:
        return place
    if item.place_id:
        return item.place
    return Place.objects.get_or_create(name=ORIGIN)[0]


def _refuse_impossible(entries: Iterable[Entry], day: date) -> None:
    refuse_impossible_day(day)
    for entry in entries:
        _refuse_odd_quantity(entry)
        refuse_before_receipt(entry.lot, day)


def _refuse_odd_quantity(entry: Entry) -> None:
    item = entry.lot.item
    if entry.qty == 0:
        raise Refused(f"{item.code}: a movement of nothing was asked for. Enter a quantity.")
    if entry.qty != entry.qty.quantize(FINEST) or abs(entry.qty) > LARGEST:
        raise WrongUnit(
            f"{item.code}: {entry.qty} is finer than a millionth or more than any shop holds. "
            "Check the number."
        )
    if item.is_service:
        raise Refused(f"{item.code} is an outside service; it isn't kept in stock.")
    if item.stock_unit == Item.Unit.EACH and entry.qty != entry.qty.to_integral_value():
        raise WrongUnit(f"{item.code} is counted in whole pieces, but got {entry.qty.normalize()}.")
    if item.in_pieces != (entry.piece is not None):
        raise WrongUnit(
            f"{item.code} is kept in pieces. Choose the piece it concerns."
            if item.in_pieces
            else f"{item.code} isn't kept in pieces."
        )


def _update_balances(entries: list[Entry]) -> None:
    changes: dict[Key, Decimal] = defaultdict(Decimal)
    by_key: dict[Key, Entry] = {}
    for entry in entries:
        key = (entry.lot.pk, entry.piece.pk if entry.piece else None, entry.place.pk)
        changes[key] += entry.qty
        by_key[key] = entry
    current = {
        (balance.lot_id, balance.piece_id, balance.place_id): balance
        for balance in Balance.objects.filter(lot__in={key[0] for key in changes})
    }
    _refuse_piece_twice(current, changes, by_key)
    gone, changed, new = [], [], []
    for key, change in changes.items():
        balance, entry = current.get(key), by_key[key]
        left = (balance.qty if balance else Decimal(0)) + change
        if left < 0:
            _refuse_below_zero(balance, entry, change)
        if balance is None:
            if left:
                new.append(_new_balance(entry, left))
        elif left:
            balance.qty = left
            changed.append(balance)
        else:
            gone.append(balance.pk)
    # In this order: a piece that moves leaves its old place before it stands in the new one.
    Balance.objects.filter(pk__in=gone).delete()
    Balance.objects.bulk_update(changed, ["qty"])
    Balance.objects.bulk_create(new)
    if any(change < 0 for change in changes.values()):
        _refuse_taking_held_stock({key[0] for key in changes})


def _refuse_piece_twice(
    current: Mapping[Key, Balance], changes: Mapping[Key, Decimal], entries: Mapping[Key, Entry]
) -> None:
    """A piece lies in one place with its whole size, or nowhere."""
    left: dict[int | None, Decimal] = defaultdict(Decimal)
    for (_, piece_id, _), balance in current.items():
        left[piece_id] += balance.qty
    for (_, piece_id, _), change in changes.items():
        left[piece_id] += change
    for entry in entries.values():
        piece = entry.piece
        if piece is not None and left[piece.pk] > piece.quantity:
            raise WrongState(
                f"Piece {piece.label} is in stock already and can't be there twice: it came back "
                "by another entry. Nothing was changed."
            )


def _new_balance(entry: Entry, qty: Decimal) -> Balance:
    return Balance(
        item_id=entry.lot.item_id, lot=entry.lot, piece=entry.piece, place=entry.place, qty=qty
    )


def _refuse_below_zero(balance: Balance | None, entry: Entry, change: Decimal) -> None:
    item = entry.lot.item
    unit = item.stock_unit
    there = show_quantity(balance.qty if balance else Decimal(0), unit)
    what = f"piece {entry.piece.label}" if entry.piece else f"lot {entry.lot.number}"
    raise NotEnough(
        f"{item.code}: {what} has {there or '0'} at {entry.place.name}, "
        f"{show_quantity(-change, unit)} was asked for. Receive or count it first, or take less."
    )


def _refuse_taking_held_stock(lot_ids: set[int]) -> None:
    held: dict[tuple[int, int | None], Decimal] = defaultdict(Decimal)
    open_ones = Reservation.objects.filter(lot__in=lot_ids, is_open=True).select_related(
        "item", "lot", "piece", "batch"
    )
    for reservation in open_ones:
        held[reservation.lot_id, reservation.piece_id] += reservation.qty
    if not held:
        return
    there: dict[tuple[int, int | None], Decimal] = defaultdict(Decimal)
    for balance in Balance.objects.filter(lot__in=lot_ids):
        there[balance.lot_id, balance.piece_id] += balance.qty
    for reservation in open_ones:
        key = reservation.lot_id, reservation.piece_id
        if there[key] < held[key]:
            _refuse_held(reservation)


def _refuse_held(reservation: Reservation) -> None:
    what = (
        f"piece {reservation.piece.label}" if reservation.piece else f"lot {reservation.lot.number}"
    )
    batch = reservation.batch
    first = (
        "Finish that batch first, with what it really used"
        if batch.state == Batch.State.IN_WORK
        else "Release that batch first"
    )
    raise NotEnough(
        f"{reservation.item.code}: {what} is held for batch {batch.number}. "
        f"{first}, or use another one."
    )
