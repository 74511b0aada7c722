"""Stock out of the shelf: used, scrapped, sampled; and back again."""

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import NoReturn

from inventory.actions.late_entry import refuse_before_receipt
from inventory.actions.posting import Entry, lock_items, place_of, post
from inventory.actions.request import action
from inventory.errors import NotEnough, NotUsable, Refused, WrongUnit
from inventory.models import Balance, Batch, Item, Lot, Piece, Place, Posting, User
from inventory.queries.availability import free_balances
from inventory.queries.lot_at_hand import out_of_lot
from inventory.queries.lot_match import lots_of, match_lots, must_match
from inventory.units import show_quantity

SCRAP, PRACTICE = "scrap", "practice"


@action
def issue_stock(
    *,
    item: Item,
    qty: Decimal,
    day: date,
    lot: Lot | None = None,
    place: Place | None = None,
    reason: str,
    batch: Batch | None = None,
    note: str = "",
    by: User | None = None,
) -> Posting:
    """Take a quantity out, first expired first out unless a lot is named.

    Only usable lots count, and only what isn't held for a batch. Scrapping may name any lot: an
    expired one is thrown away by it; practice may name an unknown one. What must match comes from
    one lot.
    """
    _refuse_bad_issue(item, qty, reason)
    if lot is not None:
        refuse_before_receipt(lot, day)
    lock_items([item.pk])
    if lot is not None and (reason == SCRAP or _is_practice(lot, reason)):
        entries = [Entry(lot, place or _place_holding(lot), -qty)]
    else:
        entries = _take(item, qty, day, lot, place, mixed=reason == SCRAP)
    kind = "scrap" if reason == SCRAP else "issue"
    return post(kind, entries, day=day, by=by, reason=reason, note=note, batch=batch)


@action
def issue_piece(
    *,
    piece: Piece,
    day: date,
    reason: str,
    batch: Batch | None = None,
    note: str = "",
    by: User | None = None,
) -> Posting:
    """Take a whole piece out."""
    balance = balance_of(piece)
    if reason != SCRAP:
        refuse_unusable(piece.lot, day, reason)
    kind = "scrap" if reason == SCRAP else "issue"
    entry = Entry(piece.lot, balance.place, -balance.qty, piece)
    return post(kind, [entry], day=day, by=by, reason=reason, note=note, batch=batch)


@action
def return_stock(
    *,
    lot: Lot,
    qty: Decimal,
    day: date,
    reason: str,
    place: Place | None = None,
    batch: Batch | None = None,
    note: str = "",
    by: User | None = None,
) -> Posting:
    """Put back what was taken but not used. Refuses more than is out of the lot."""
    if qty <= 0:
        raise Refused(f"{lot.item.code}: {qty} came back? Enter a quantity above zero.")
    lock_items([lot.item_id])
    _refuse_more_than_is_out(lot, qty)
    entry = Entry(lot, place_of(lot.item, place), qty)
    return post("return", [entry], day=day, by=by, reason=reason, note=note, batch=batch)


def take_first_expired(
    item: Item,
    qty: Decimal,
    day: date,
    *,
    lot: Lot | None = None,
    place: Place | None = None,
    free_stock: Iterable[tuple[Balance, Decimal]] | None = None,
) -> list[Entry]:
    """Entries that take `qty` from free, usable stock, the earliest expiry first.

    free_stock: balances of the item with what is free of each, when they were read before.
    Raises: NotEnough, naming what is there and what isn't usable.
    """
    entries: list[Entry] = []
    left = qty
    for balance, free in free_balances(item, day) if free_stock is None else free_stock:
        if (lot and balance.lot_id != lot.pk) or (place and balance.place_id != place.pk):
            continue
        taken = min(free, left)
        if taken > 0:
            entries.append(Entry(balance.lot, balance.place, -taken))
            left -= taken
        if not left:
            return entries
    raise NotEnough(_missing(item, qty, qty - left, lot, day))


def take_matching(
    item: Item, sets: Sequence[Decimal], day: date, free: Sequence[tuple[Balance, Decimal]]
) -> list[Entry]:
    """Entries that take each set from one lot.

    Raises: NotEnough, also when enough is there in total but not in one lot.
    """
    matched = match_lots(lots_of(free), sets)
    if matched.missing:
        _refuse_mixing(item, sets, day, free)
    return [
        entry
        for lot_id, qty in matched.by_lot.items()
        for entry in take_first_expired(
            item, qty, day, free_stock=[row for row in free if row[0].lot_id == lot_id]
        )
    ]


def balance_of(piece: Piece) -> Balance:
    """Where a piece lies. Raises: NotEnough when it is gone."""
    balance = Balance.objects.select_related("place").filter(piece=piece).first()
    if balance is None:
        refuse_gone(piece)
    return balance


def refuse_gone(piece: Piece) -> NoReturn:
    """Raise NotEnough for a piece that isn't in stock any more."""
    raise NotEnough(
        f"Piece {piece.label} of {piece.lot.item.code} isn't in stock any more. "
        "Choose another, or count it in if it lies there."
    )


def refuse_unusable(lot: Lot, day: date, reason: str = "") -> None:
    """Raise NotUsable, unless the lot may be used on that day, or is unknown and for practice.

    Raises: Refused for a day on which it wasn't here yet.
    """
    refuse_before_receipt(lot, day)
    if _is_practice(lot, reason):
        return
    if why := lot.why_unusable(day):
        raise NotUsable(
            f"{lot.item.code}: lot {lot.number} is {why}. Release or extend it with a note, "
            "or choose another lot."
        )


def _is_practice(lot: Lot, reason: str) -> bool:
    return lot.status == Lot.Status.UNKNOWN and reason == PRACTICE


def _take(
    item: Item, qty: Decimal, day: date, lot: Lot | None, place: Place | None, *, mixed: bool
) -> list[Entry]:
    """From one lot where lots must match, unless one is named or they may be mixed."""
    if lot is not None or mixed or not must_match(item):
        return take_first_expired(item, qty, day, lot=lot, place=place)
    free = [
        (balance, free)
        for balance, free in free_balances(item, day)
        if place is None or balance.place_id == place.pk
    ]
    return take_matching(item, [qty], day, free)


def _refuse_mixing(
    item: Item, sets: Sequence[Decimal], day: date, free: Sequence[tuple[Balance, Decimal]]
) -> NoReturn:
    asked, there = sum(sets), sum((qty for _, qty in free), Decimal(0))
    if there < asked:
        raise NotEnough(_missing(item, asked, there, None, day))
    unit, most = item.stock_unit, max(lots_of(free).values())
    raise NotEnough(
        f"{item.code}: {show_quantity(asked, unit)} asked for; that is here in total, but at most "
        f"{show_quantity(most, unit)} in one lot, and they must match. Take less, or name a lot and "
        "take the rest from another one by itself."
    )


def _refuse_bad_issue(item: Item, qty: Decimal, reason: str) -> None:
    if qty <= 0:
        raise Refused(f"{item.code}: {qty} is not a quantity to take. Enter one above zero.")
    if item.in_pieces:
        raise WrongUnit(f"{item.code} is kept in pieces. Choose a piece and cut it or use it up.")
    if not reason:
        raise Refused(f"{item.code}: say what it is for.")


def _refuse_more_than_is_out(lot: Lot, qty: Decimal) -> None:
    out = out_of_lot(lot)
    if qty > out:
        unit = lot.item.stock_unit
        raise NotEnough(
            f"{lot.item.code}: {show_quantity(out, unit)} of lot {lot.number} is out, but "
            f"{show_quantity(qty, unit)} came back. Check the count, or enter the rest as found."
        )


def _place_holding(lot: Lot) -> Place:
    balance = lot.balances.select_related("place").order_by("-qty").first()
    if balance is None:
        raise NotEnough(f"{lot.item.code}: nothing of lot {lot.number} is left.")
    return balance.place


def _missing(item: Item, asked: Decimal, free: Decimal, lot: Lot | None, day: date) -> str:
    unit = item.stock_unit
    where = f" in lot {lot.number}" if lot else ""
    lots = item.lots.filter(balances__isnull=False).distinct()
    unusable = [
        (other, reason)
        for other in lots
        if (reason := other.why_unusable(day)) and (lot is None or lot.pk == other.pk)
    ]
    why = "".join(f" Lot {other.number} is {reason}." for other, reason in unusable)
    is_early = any(other.received_on > day for other, _ in unusable)
    remedy = "Enter a later day, receive" if is_early else "Receive"
    return (
        f"{item.code}: {show_quantity(asked, unit)} asked for, {show_quantity(free, unit) or '0'} "
        f"free and usable{where}.{why} {remedy} or count more, release a batch, or take less."
    )
